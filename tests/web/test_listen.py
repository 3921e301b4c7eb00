"""The first door, from sound to a kept clock: without a browser, then in one."""

from __future__ import annotations

import contextlib
import json
import struct
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import av
import httpx
import numpy as np
import pytest
import soundfile
from numpy.typing import NDArray
from page_checks import violations
from playwright.sync_api import Page
from websockets.sync.client import ClientConnection, connect

from quarterjack.listening import Heard, hear
from quarterjack.records import from_json
from quarterjack.web import listen_pages, live

OpenPage = Callable[..., Page]
CLIP = "ticks/floor_clock_3600_out_of_beat.ogg"


def send(client: httpx.Client, path: Path, name: str | None = None) -> dict[str, Any]:
    """Send a file and wait until it is heard."""
    answer = client.post("/api/listenings", params={"name": name or path.name}, content=path.read_bytes())
    assert answer.status_code == 202, answer.text
    return wait(client, answer.json()["id"])


def wait(client: httpx.Client, key: str) -> dict[str, Any]:
    give_up = time.monotonic() + 60
    while True:
        document: dict[str, Any] = client.get(f"/api/listenings/{key}").json()
        if document["state"] != "reading":
            return document
        assert time.monotonic() < give_up
        time.sleep(0.05)


def folders_in_spool(client: httpx.Client) -> list[str]:
    """Listenings that are held, as the page lists them."""
    return client.get("/listen", headers={"accept": "text/html"}).text.split('href="/listen#')[1:]


# Files


def test_a_file_is_heard_as_hear_hears_it(client: httpx.Client, recordings: Path) -> None:
    path = recordings / CLIP
    document = send(client, path)
    known = hear(path)
    assert document["state"] == "done"
    assert known.going is not None
    assert document["going"]["beats_per_hour"] == known.going.beats_per_hour
    whole = client.get(f"/api/listenings/{document['id']}/heard")
    assert from_json(Heard, whole.content) == known


def test_presses_name_the_sides_and_measures_narrow_the_range(client: httpx.Client, recordings: Path) -> None:
    document = send(client, recordings / CLIP)
    key, ticks = document["id"], hear(recordings / CLIP).ticks
    assert document["right_side"] is None
    middle = float(ticks.t_s[1:3].mean())
    pressed = client.post(f"/api/listenings/{key}/presses", json={"presses_s": [middle]}).json()
    side = "ab"[int(ticks.side[1])]
    assert pressed["right_side"] == side
    way = "right" if pressed["going"]["long_side"] == side else "left"
    assert f"Raise the {way} foot" in pressed["html"]
    measured = client.post(f"/api/listenings/{key}/measures", json={"crutch": "9 1/2 in", "feet": ""}).json()
    assert "a crutch of" not in measured["more_html"]
    assert "feet 300 to 500 mm apart" in measured["more_html"]
    refused = client.post(f"/api/listenings/{key}/measures", json={"crutch": "9 1/2 ells"})
    assert (refused.status_code, refused.json()["code"]) == (422, "unit-not-understood")


def test_what_is_kept_stands_in_the_clocks_folder_and_what_is_not_is_gone(
    client: httpx.Client, recordings: Path, tmp_path: Path
) -> None:
    kept = send(client, recordings / CLIP, "2026-03-04 11-58-00 hall.ogg")
    let_go = send(client, recordings / CLIP)
    answer = client.post(f"/api/listenings/{kept['id']}/keep", json={"name": "Hall clock, Mrs Ohm"})
    assert answer.status_code == 201
    folder = tmp_path / "bench" / answer.json()["clock"]
    (recording,) = (folder / "recordings").glob("*.ogg")
    assert recording.read_bytes() == (recordings / CLIP).read_bytes()
    (heard,) = (folder / "heard").glob("*.json")
    assert from_json(Heard, heard.read_bytes()).recording.file == recording.name
    assert "Hall clock, Mrs Ohm" in (folder / "sheet.toml").read_text()
    assert client.get(answer.json()["url"], headers={"accept": "text/html"}).status_code == 200
    assert client.get(f"/api/listenings/{kept['id']}").status_code == 404
    assert client.delete(f"/api/listenings/{let_go['id']}").status_code == 204
    assert folders_in_spool(client) == []


def test_a_second_recording_can_join_a_kept_clock(client: httpx.Client, recordings: Path, tmp_path: Path) -> None:
    first = send(client, recordings / CLIP)
    slug = client.post(f"/api/listenings/{first['id']}/keep", json={"name": "Shelf"}).json()["clock"]
    second = send(client, recordings / "ticks/mantel_10800_out_of_beat.ogg")
    assert client.post(f"/api/listenings/{second['id']}/keep", json={"clock": slug}).json()["clock"] == slug
    assert len(list((tmp_path / "bench" / slug / "recordings").glob("*.ogg"))) == 2
    third = send(client, recordings / CLIP)
    assert client.post(f"/api/listenings/{third['id']}/keep", json={"clock": "../.."}).status_code == 404


def test_what_cannot_be_heard_says_why(client: httpx.Client, tmp_path: Path) -> None:
    text = tmp_path / "notes.wav"
    text.write_text("not a sound")
    document = send(client, text)
    assert document["state"] == "failed"
    assert document["error"]["code"] == "recording-unreadable"
    empty = client.post("/api/listenings", params={"name": "empty.wav"}, content=b"")
    assert (empty.status_code, empty.json()["code"]) == (422, "recording-unreadable")
    assert client.post("/api/listenings", content=b"x").json()["code"] == "request-invalid"
    assert folders_in_spool(client) == []


def test_a_name_from_outside_stays_inside_its_folder(client: httpx.Client, recordings: Path) -> None:
    document = send(client, recordings / CLIP, "../../../etc/passwd.ogg")
    assert document["name"] == "passwd.ogg"
    assert document["state"] == "done"


def test_a_file_that_is_too_large_is_refused_before_and_during(
    client: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(listen_pages, "LARGEST_FILE", 1000)
    told = client.post("/api/listenings", params={"name": "long.wav"}, content=b"x" * 2000)
    assert (told.status_code, told.json()["code"]) == (413, "too-large")

    def untold() -> Any:
        for _ in range(4):
            yield b"x" * 500

    streamed = client.post("/api/listenings", params={"name": "long.wav"}, content=untold())
    assert (streamed.status_code, streamed.json()["code"]) == (413, "too-large")
    assert folders_in_spool(client) == []


def test_hearing_can_be_called_off(client: httpx.Client, tmp_path: Path) -> None:
    path = tmp_path / "long.wav"
    soundfile.write(path, np.random.default_rng(1).normal(0, 0.01, 16_000 * 900), 16_000)
    answer = client.post("/api/listenings", params={"name": path.name}, content=path.read_bytes()).json()
    assert answer["state"] == "reading"
    assert client.delete(f"/api/listenings/{answer['id']}").status_code == 204
    assert client.get(f"/api/listenings/{answer['id']}").status_code == 404


# The live line, without a browser


def batch(sequence: int, first: float, samples: NDArray[np.float32]) -> bytes:
    return struct.pack("<IId", sequence, samples.size, first) + samples.astype("<f4").tobytes()


def live_line(client: httpx.Client) -> ClientConnection:
    return connect(str(client.base_url).replace("http://", "ws://") + "/api/listen", max_size=None)


def hello(line: ClientConnection, rate: int, **more: Any) -> None:
    line.send(json.dumps({"sample_rate_hz": rate, **more}))


def until_done(line: ClientConnection) -> dict[str, Any]:
    while True:
        document: dict[str, Any] = json.loads(line.recv(timeout=30))
        if document["format"] == "quarterjack.error/1" or document["state"] == "done":
            return document


def sit(client: httpx.Client, rate: int, *batches: bytes) -> dict[str, Any]:
    """One sitting from hello to stop; returns what was heard, or why not."""
    with live_line(client) as line:
        hello(line, rate)
        for one in batches:
            line.send(one)
        line.send(json.dumps({"stop": True}))
        return until_done(line)


def clip(recordings: Path) -> tuple[NDArray[np.float32], int]:
    samples, rate = soundfile.read(recordings / CLIP, dtype="float32")
    return samples, int(rate)


def test_live_sound_is_heard_as_the_file_is(client: httpx.Client, recordings: Path) -> None:
    samples, rate = clip(recordings)
    known = hear(recordings / CLIP).going
    starts = range(0, samples.size, 5512)
    document = sit(client, rate, *(batch(n, first, samples[first : first + 5512]) for n, first in enumerate(starts)))
    assert known is not None
    assert document["going"]["beats_per_hour"] == pytest.approx(known.beats_per_hour, rel=1e-4)
    assert document["going"]["beat_difference_ms"] == pytest.approx(known.beat_difference_ms, abs=0.5)
    heard = from_json(Heard, client.get(f"/api/listenings/{document['id']}/heard").content)
    assert heard.recording.started_utc is not None
    assert heard.recording.seconds == pytest.approx(samples.size / rate, abs=1e-9)


def test_the_kept_live_sound_is_what_came_in(client: httpx.Client, recordings: Path, tmp_path: Path) -> None:
    samples, rate = clip(recordings)
    document = sit(client, rate, batch(0, 0, samples[:60_000]))
    kept = client.post(f"/api/listenings/{document['id']}/keep", json={"name": "Live"}).json()
    (flac,) = (tmp_path / "bench" / kept["clock"] / "recordings").glob("*.flac")
    written, rate_written = soundfile.read(flac, dtype="float32")
    assert rate_written == rate
    np.testing.assert_allclose(written, samples[:60_000], atol=1.5 / 2**23)


def test_lost_batches_leave_a_gap_and_are_said(client: httpx.Client, recordings: Path) -> None:
    samples, rate = clip(recordings)
    document = sit(client, rate, batch(0, 0, samples[:44_100]), batch(5, 66_150, samples[66_150:]))
    assert any("lost" in text for text in document["wrong"])
    heard = from_json(Heard, client.get(f"/api/listenings/{document['id']}/heard").content)
    assert [(gap.from_ns, gap.to_ns) for gap in heard.recording.gaps] == [(1_000_000_000, 1_500_000_000)]


def test_a_quarter_is_listed_while_it_is_listened_to(client: httpx.Client, recordings: Path) -> None:
    samples, rate = soundfile.read(recordings / "chimes/floor_clock_half.flac", dtype="float32")
    left = np.ascontiguousarray(samples[:, 0])
    with live_line(client) as line:
        hello(line, rate)
        for number, first in enumerate(range(0, left.size, rate)):
            line.send(batch(number, first, left[first : first + rate]))
        # One answer comes a second; a last batch of room noise asks for the next one.
        heard: list[dict[str, Any]] = []
        quiet = np.random.default_rng(1).normal(0, 1e-3, rate // 2).astype(np.float32)
        first = left.size
        give_up = time.monotonic() + 30
        while not (heard and heard[-1]["soundings"]):
            assert time.monotonic() < give_up
            line.send(batch(0, first, quiet))
            first += quiet.size
            with contextlib.suppress(TimeoutError):
                heard.append(json.loads(line.recv(timeout=0.3)))
    assert heard[-1]["state"] == "reading"
    assert [(one["kind"], one["quarter"]) for one in heard[-1]["soundings"]] == [("quarter", 2)]
    assert "E G♯ F♯ B, E F♯ G♯ E" in heard[-1]["more_html"]


@pytest.mark.parametrize(
    ("broken", "words"),
    [
        (b"short", "heading"),
        (batch(0, 0, np.zeros(100, np.float32))[:-4], "count must be true"),
        (struct.pack("<IId", 0, 10**9, 0.0), "count must be true"),
        (batch(0, -5, np.zeros(10, np.float32)), "begins at sample"),
        (batch(0, 1e18, np.zeros(10, np.float32)), "begins at sample"),
        (batch(0, float("nan"), np.zeros(10, np.float32)), "begins at sample"),
        (batch(0, 0, np.full(10, np.nan, np.float32)), "not numbers"),
    ],
)
def test_a_broken_batch_is_refused_in_words(client: httpx.Client, broken: bytes, words: str) -> None:
    with live_line(client) as line:
        hello(line, 48_000)
        line.send(broken)
        document = until_done(line)
    assert document["code"] == "out-of-range"
    assert words in document["message"]


def test_a_page_that_goes_away_leaves_what_was_heard(client: httpx.Client, recordings: Path) -> None:
    samples, rate = clip(recordings)
    with live_line(client) as line:
        hello(line, rate)
        line.send(batch(0, 0, samples[:100_000]))
        line.send(batch(1, 100_000, samples[100_000:]))
    give_up = time.monotonic() + 20
    while not folders_in_spool(client):
        assert time.monotonic() < give_up
        time.sleep(0.1)
    document = client.get(f"/api/listenings/{folders_in_spool(client)[0].split(chr(34))[0]}").json()
    assert document["going"]["beats"] > 0


def test_a_sitting_ends_by_itself_when_it_is_too_long(client: httpx.Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(live, "LONGEST_SITTING_S", 1.0)
    with live_line(client) as line:
        hello(line, 8000)
        for number in range(4):
            line.send(batch(number, number * 4000, np.zeros(4000, np.float32)))
        assert until_done(line)["state"] == "done"


# In a browser


def test_a_file_chosen_in_the_browser_gives_what_hear_gives(open_page: OpenPage, recordings: Path) -> None:
    known = hear(recordings / CLIP).going
    assert known is not None
    page = open_page("/listen")
    page.set_input_files("#file", recordings / CLIP)
    page.wait_for_selector("#keep:not([hidden])")
    shown = page.locator("#heard .big").inner_text()
    assert float(shown.replace("\u2009", "")) == pytest.approx(known.beats_per_hour, rel=0.003)
    assert "Out of beat" in page.locator("#heard").inner_text()
    assert page.locator("#no-bob").is_visible()
    assert violations(page) == []


def test_a_file_dropped_is_taken_in_and_kept_under_one_name(
    open_page: OpenPage, recordings: Path, tmp_path: Path
) -> None:
    page = open_page("/listen", width=390)
    data = list((recordings / CLIP).read_bytes())
    transfer = page.evaluate_handle(
        """(bytes) => {
            const held = new DataTransfer();
            held.items.add(new File([new Uint8Array(bytes)], "hall.ogg", { type: "audio/ogg" }));
            return held;
        }""",
        data,
    )
    page.dispatch_event("main", "drop", {"dataTransfer": transfer})
    page.wait_for_selector("#keep:not([hidden])")
    assert page.locator("#now-title").inner_text() == "Heard in hall.ogg"
    page.fill("#name", "Hall clock")
    page.get_by_role("button", name="Keep this").click()
    page.wait_for_url("**/clocks/hall-clock/sounds")
    assert page.locator("h1").inner_text() == "What should it do?"
    assert violations(page) == []
    assert (tmp_path / "bench" / "hall-clock" / "sheet.toml").is_file()


def test_taking_a_file_in_can_be_cancelled(open_page: OpenPage, tmp_path: Path) -> None:
    path = tmp_path / "long.wav"
    soundfile.write(path, np.random.default_rng(1).normal(0, 0.01, 16_000 * 900), 16_000)
    page = open_page("/listen")
    page.set_input_files("#file", path)
    page.get_by_role("button", name="Cancel").click()
    page.wait_for_selector("#now", state="hidden")
    assert page.locator("#trouble").is_hidden()
    page.reload()
    assert page.locator("#held").is_hidden()


def video(path: Path, samples: NDArray[np.float32], rate: int) -> None:
    """A small film with the sound of a clock."""
    with av.open(str(path), "w") as film:
        picture = film.add_stream("libvpx", rate=5)
        picture.width, picture.height, picture.pix_fmt = 64, 48, "yuv420p"
        sound = film.add_stream("libopus", rate=48_000)
        sound.layout = "mono"
        for number in range(int(5 * samples.size / rate)):
            frame = av.VideoFrame.from_ndarray(np.full((48, 64, 3), number * 5 % 255, np.uint8), format="rgb24")
            frame.pts = number
            film.mux(picture.encode(frame))
        film.mux(picture.encode())
        resampler = av.AudioResampler(format="flt", layout="mono", rate=48_000, frame_size=960)
        whole = av.AudioFrame.from_ndarray(samples[np.newaxis, :], format="flt", layout="mono")
        whole.sample_rate = rate
        for part in [*resampler.resample(whole), *resampler.resample(None)]:
            film.mux(sound.encode(part))
        film.mux(sound.encode())


def test_a_film_is_pressed_while_it_is_watched(open_page: OpenPage, recordings: Path, tmp_path: Path) -> None:
    samples, rate = clip(recordings)
    path = tmp_path / "hall.webm"
    video(path, samples, rate)
    heard = hear(path)
    assert heard.going is not None
    page = open_page("/listen")
    page.set_input_files("#file", path)
    page.wait_for_selector("#video:not([hidden])")
    page.wait_for_function("document.getElementById('video').readyState >= 1")
    # The bob hangs on the right halfway through the longer silence: then its tick is the right one.
    ticks = heard.ticks
    long_ones = [n for n in range(len(ticks) - 1) if "ab"[int(ticks.side[n])] == heard.going.long_side]
    middle = float(ticks.t_s[long_ones[0] : long_ones[0] + 2].mean())
    page.evaluate(
        """(at) => new Promise((done) => {
            const video = document.getElementById("video");
            video.onseeked = done;
            video.currentTime = at;
        })""",
        middle,
    )
    page.get_by_role("button", name="The bob is on the right now").click()
    page.get_by_text("Raise the right foot of the case").wait_for()
    assert violations(page) == []
    page.get_by_role("button", name="Begin anew").click()
    page.get_by_text("left is not known yet").wait_for()


def test_what_was_left_is_found_again(open_page: OpenPage, recordings: Path) -> None:
    page = open_page("/listen")
    page.set_input_files("#file", recordings / CLIP)
    page.wait_for_selector("#keep:not([hidden])")
    page.goto("/")
    page.goto("/listen")
    page.locator("#held a").click()
    page.wait_for_selector("#keep:not([hidden])")
    assert "Out of beat" in page.locator("#heard").inner_text()
    page.get_by_role("button", name="Let it go").click()
    page.wait_for_selector("#held", state="hidden")
