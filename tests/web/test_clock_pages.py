"""Clocks and proofs asked for without a browser: what is kept, what is refused, and in which shape."""

from __future__ import annotations

import io
import shutil
import time
from pathlib import Path

import av
import httpx
import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray

from quarterjack.errors import OutOfRange, UnitNotUnderstood
from quarterjack.proving import Proof
from quarterjack.records import from_json
from quarterjack.sheet import quick_sheet
from quarterjack.web import media
from quarterjack.web.clock_view import dial_time
from quarterjack.workshop import Bench, ClockFolder

Ramp = tuple[Path, NDArray[np.int16]]
PAGE = {"accept": "text/html"}


@pytest.fixture
def bench(client: httpx.Client, tmp_path: Path) -> Bench:
    return Bench(tmp_path / "bench")


@pytest.fixture
def clock(bench: Bench) -> ClockFolder:
    sheet = quick_sheet("Hall clock", quarters="cambridge", quarters_at_hour=True, hours=True, half_hour="none")
    return bench.new_clock("Hall clock", sheet)


def wav(seconds: float = 2.0, rate: int = 8000) -> bytes:
    sheet = io.BytesIO()
    soundfile.write(sheet, np.sin(np.arange(round(seconds * rate)) / 5).astype(np.float32) / 4, rate, format="WAV")
    return sheet.getvalue()


def finished(client: httpx.Client, address: str, seconds: float = 60.0) -> dict[str, object]:
    give_up = time.monotonic() + seconds
    while time.monotonic() < give_up:
        told: dict[str, object] = client.get(f"{address}/state").json()
        if told["state"] not in ("waiting", "running"):
            return told
        time.sleep(0.05)
    raise AssertionError("the work did not end")


def test_an_empty_bench_says_what_to_do(client: httpx.Client) -> None:
    assert "None is kept yet" in client.get("/clocks", headers=PAGE).text


@pytest.mark.parametrize("path", ["/clocks/none", "/clocks/..%2f..", "/clocks/A", "/clocks/hall-clock/proofs/none"])
def test_what_is_not_there_is_404(client: httpx.Client, clock: ClockFolder, path: str) -> None:
    assert client.get(path, headers=PAGE).status_code == 404


def test_a_clock_is_shown_with_its_sheet_and_what_is_not_known(client: httpx.Client, clock: ClockFolder) -> None:
    text = client.get(f"/clocks/{clock.slug}", headers=PAGE).text
    assert "<h1>Hall clock</h1>" in text
    assert "Cambridge quarters, called Westminster, at the quarters and at the hour; the hours" in text
    assert "quarters_at_hour = true" in text
    assert "What cannot be said yet" in text
    assert client.get(f"/clocks/{clock.slug}/sheet.toml").text == clock.sheet_text()


def test_faults_of_the_sheet_stand_with_their_lines_and_the_rest_still_loads(
    client: httpx.Client, clock: ClockFolder
) -> None:
    clock.add_recording(wav(), "evening.wav")
    clock.sheet_path.write_text('name = "Hall clock"\n[sounds]\nquarters = "<script>"\n', "utf-8")
    answer = client.get(f"/clocks/{clock.slug}", headers=PAGE)
    assert answer.status_code == 200
    assert "sheet.toml, line 3" in answer.text
    assert "<script>&#34;" not in answer.text
    assert "quarters = &#34;&lt;script&gt;&#34;" in answer.text
    assert "evening.wav" in answer.text
    refused = client.post(f"/clocks/{clock.slug}/prove", data={"files": "evening.wav"})
    assert (refused.status_code, refused.json()["code"]) == (422, "sheet-invalid")


def test_recordings_are_uploaded_kept_once_and_named_safely(client: httpx.Client, clock: ClockFolder) -> None:
    address = f"/clocks/{clock.slug}/recordings"
    files = [("recordings", ("../a b.wav", wav())), ("recordings", ("a b.wav", wav(3.0)))]
    first = client.post(address, files=files)
    assert (first.status_code, first.text) == (200, "a_b.wav\na_b-2.wav")
    again = client.post(address, files=files[:1], headers=PAGE)
    assert (again.status_code, again.headers["location"]) == (303, f"/clocks/{clock.slug}#recordings")
    assert [one.file for one in clock.recordings()] == ["a_b-2.wav", "a_b.wav"]
    assert clock.recording("a_b.wav").path.read_bytes() == wav()


def test_another_site_may_not_put_anything_in(client: httpx.Client, clock: ClockFolder) -> None:
    answer = client.post(
        f"/clocks/{clock.slug}/recordings",
        files={"recordings": ("a.wav", wav())},
        headers={"origin": "http://elsewhere.example"},
    )
    assert answer.status_code == 403
    assert clock.recordings() == ()


def test_proving_is_refused_before_it_begins(client: httpx.Client, clock: ClockFolder) -> None:
    clock.add_recording(wav(), "a.wav")
    address = f"/clocks/{clock.slug}/prove"
    assert client.post(address, data={}).json()["code"] == "recording-not-found"
    assert client.post(address, data={"files": "a.wav", "mode": "by-ear"}).json()["code"] == "unknown-choice"
    told = client.post(address, data={"files": "a.wav", "dials": "half past"}).json()
    assert told["code"] == "unit-not-understood"
    assert "2:58" in told["message"]
    assert client.post(address, data={"files": "b.wav"}).json()["code"] == "recording-not-found"


def test_what_fails_in_the_background_is_told_and_kept_apart(client: httpx.Client, clock: ClockFolder) -> None:
    clock.add_recording(b"this is no sound", "a.wav")
    begun = client.post(f"/clocks/{clock.slug}/prove", data={"files": "a.wav"})
    assert begun.status_code == 303
    told = finished(client, begun.headers["location"])
    assert told["state"] == "failed"
    assert told["error"]["code"] == "recording-unreadable"  # type: ignore[index]
    page = client.get(begun.headers["location"], headers=PAGE)
    assert "No sound can be read" in page.text
    assert clock.proofs() == ()
    assert [one.file for one in clock.recordings()] == ["a.wav"]


def test_proving_again_listens_only_once(
    client: httpx.Client, clock: ClockFolder, recordings: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept = clock.add_recording(recordings / "chimes" / "floor_clock_quarter1.flac", "q1.wav")
    address = f"/clocks/{clock.slug}/prove"
    ids = []
    for _ in range(2):
        begun = client.post(address, data={"files": "q1.wav", "dials": "", "mode": "by-hand"})
        told = finished(client, begun.headers["location"])
        assert told["state"] == "done", told
        ids.append(str(told["result"]).rsplit("/", 1)[-1])
        moved = client.get(begun.headers["location"], headers=PAGE)
        assert (moved.status_code, moved.headers["location"]) == (303, told["result"])
    heard = list((clock.folder / "heard").iterdir())
    assert len(heard) == 1
    assert heard[0].name.startswith(kept.sha256[:16])
    assert [one.id for one in clock.proofs()] == ids


@pytest.mark.parametrize(
    ("typed", "dial"), [("2:58", "2:58"), ("14.58", "2:58"), ("0:05", "12:05"), (" 12 00 ", "12:00"), ("3h15", "3:15")]
)
def test_dial_times_as_people_write_them(typed: str, dial: str) -> None:
    assert dial_time(typed) == dial


@pytest.mark.parametrize("typed", ["", "258", "2:5", "25:00", "2:60", "-1:00", "2:58:30", "two"])
def test_what_is_no_dial_time(typed: str) -> None:
    with pytest.raises(UnitNotUnderstood, match="2:58"):
        dial_time(typed)


# Sound


@pytest.fixture
def ramp(tmp_path: Path) -> Ramp:
    """A recording in which every sample is another number, so that a cut can be told to the sample."""
    samples = np.arange(20_000, dtype=np.int16)
    path = tmp_path / "ramp.flac"
    soundfile.write(path, samples, 8000, subtype="PCM_16")
    return path, samples


def test_a_cut_holds_the_very_samples(ramp: Ramp) -> None:
    path, samples = ramp
    got, rate = soundfile.read(io.BytesIO(media.cut(path, 0.5, 1.25)), dtype="int16")
    assert rate == 8000
    np.testing.assert_array_equal(got, samples[4000:10_000])
    # Beyond the end there is nothing to give, and what is left is given.
    tail, _ = soundfile.read(io.BytesIO(media.cut(path, 2.0, 60.0)), dtype="int16")
    np.testing.assert_array_equal(tail, samples[16_000:])


@pytest.mark.parametrize(("from_s", "to_s"), [(1.0, 1.0), (2.0, 1.0), (0.0, 121.0), (5.0, 6.0), (-1.0, 1.0)])
def test_a_cut_that_cannot_be(ramp: Ramp, from_s: float, to_s: float) -> None:
    with pytest.raises(OutOfRange):
        media.cut(ramp[0], from_s, to_s)


def test_sound_is_asked_for_by_address(client: httpx.Client, clock: ClockFolder) -> None:
    clock.add_recording(wav(), "Küche.wav")
    address = f"/clocks/{clock.slug}/recordings/K%C3%BCche.wav/sound.wav"
    answer = client.get(address, params={"from": 0.5, "to": 1.0})
    assert answer.headers["content-type"] == "audio/wav"
    assert soundfile.info(io.BytesIO(answer.content)).frames == 4000
    assert client.get(address, params={"from": 9, "to": 10}).json()["code"] == "out-of-range"
    assert client.get(address).status_code == 422
    assert client.get(address.replace("K%C3%BCche", "none"), params={"from": 0, "to": 1}).status_code == 404


# A whole proof, on the invented clock


def test_the_proof_page_and_its_documents(client: httpx.Client, bench: Bench, invented: Path) -> None:
    shutil.copytree(invented, bench.folder, dirs_exist_ok=True)
    (clock,) = bench.clocks()
    kept = clock.proofs()[-1]
    address = f"/clocks/{clock.slug}/proofs/{kept.id}"
    page = client.get(address, headers=PAGE)
    assert page.status_code == 200
    assert "(invented)" in page.text
    for number, sounding in enumerate(kept.proof.soundings, start=1):
        assert f'id="sounding-{number}"' in page.text
        assert f'href="#sounding-{number}"' in page.text
        assert sounding.verdict in page.text
        wanted = client.get(f"{address}/soundings/{number - 1}/expected.wav")
        assert soundfile.info(io.BytesIO(wanted.content)).duration > 2.0
    for finding in kept.proof.findings:
        assert finding.text.split("'")[0] in page.text
    assert from_json(Proof, client.get(f"{address}.json").content) == kept.proof
    for paper in ("a4", "letter"):
        pdf = client.get(f"{address}.pdf", params={"paper": paper})
        assert pdf.content.startswith(b"%PDF")
        assert pdf.headers["content-disposition"].startswith("attachment")
    assert client.get(f"{address}.pdf", params={"paper": "a5"}).json()["code"] == "unknown-choice"
    assert client.get(f"{address}/soundings/99/expected.wav").status_code == 404


def test_the_sound_expected_is_the_one_the_dial_calls_for(invented: Path) -> None:
    (clock,) = Bench(invented).clocks()
    reckoning = clock.reckoning()
    for kept in clock.proofs():
        for sounding in kept.proof.soundings:
            wanted = media.expected_for(reckoning, sounding)
            assert wanted is not None
            assert (wanted.dial, wanted.kind, wanted.quarter) == (sounding.dial, sounding.kind, sounding.quarter)
            assert wanted.blows == sounding.blows_expected


def test_a_proof_whose_recording_is_gone_can_still_be_read(client: httpx.Client, bench: Bench, invented: Path) -> None:
    shutil.copytree(invented, bench.folder, dirs_exist_ok=True)
    (clock,) = bench.clocks()
    for recording in clock.recordings():
        recording.path.unlink()
    shutil.rmtree(clock.folder / "heard")
    page = client.get(f"/clocks/{clock.slug}/proofs/{clock.proofs()[-1].id}", headers=PAGE)
    assert page.status_code == 200
    assert "The recording is no longer in the folder." in page.text


def test_what_a_telephone_records_is_cut_too(tmp_path: Path) -> None:
    path = tmp_path / "telephone.m4a"
    rate = 44_100
    with av.open(str(path), "w", format="mp4") as container:
        stream = container.add_stream("aac", rate=rate)
        stream.layout = "mono"
        tone = np.sin(np.arange(3 * rate) * 2 * np.pi * 1000 / rate).astype(np.float32) / 2
        frame = av.AudioFrame.from_ndarray(tone[None, :], format="fltp", layout="mono")
        frame.rate = rate
        for packet in [*stream.encode(frame), *stream.encode(None)]:
            container.mux(packet)
    got, got_rate = soundfile.read(io.BytesIO(media.cut(path, 1.0, 1.5)))
    assert (got_rate, len(got)) == (rate, rate // 2)
    spectrum = np.abs(np.fft.rfft(got * np.hanning(len(got))))
    assert np.argmax(spectrum) * rate / len(got) == pytest.approx(1000, abs=2)
