"""The bench folder: what is put in is there, what is broken is said, and nothing is lost."""

from __future__ import annotations

import io
import os
import shutil
import subprocess
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from quarterjack.errors import RecordingNotFound, SheetNotFound
from quarterjack.listening.heard import Heard, RecordingFacts, Ticks
from quarterjack.proving import Proof
from quarterjack.sheet import quick_sheet
from quarterjack.workshop import Bench, ClockFolder

SHEET = quick_sheet("Hall clock", quarters="cambridge", quarters_at_hour=True, hours=True, half_hour="none")
PROOF = Proof("Hall clock", "on-time", "right", (), None)


@pytest.fixture
def clock(tmp_path: Path) -> ClockFolder:
    return Bench(tmp_path / "bench").new_clock("Hall clock", SHEET)


def test_an_empty_bench_has_no_clocks(tmp_path: Path) -> None:
    assert Bench(tmp_path / "not there").clocks() == ()


def test_two_clocks_of_one_name(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    assert [bench.new_clock("Hall clock", SHEET).slug for _ in range(3)] == [
        "hall-clock",
        "hall-clock-2",
        "hall-clock-3",
    ]
    assert [clock.name for clock in bench.clocks()] == ["Hall clock"] * 3
    assert bench.clock("hall-clock-2").sheet_text() == SHEET
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".")]


@pytest.mark.parametrize("slug", ["nothing", "..", "../bench", "", "a/b"])
def test_no_such_clock(tmp_path: Path, slug: str) -> None:
    bench = Bench(tmp_path)
    bench.new_clock("Hall clock", SHEET)
    with pytest.raises(SheetNotFound, match="hall-clock"):
        bench.clock(slug)


def test_a_recording_is_kept_once_under_a_safe_name(clock: ClockFolder, tmp_path: Path) -> None:
    first = clock.add_recording(b"sound", "../evening of 3 March.wav")
    assert first.file == "evening_of_3_March.wav"
    assert first.path.read_bytes() == b"sound"
    same = clock.add_recording(io.BytesIO(b"sound"), "other name.wav")
    assert same.file == first.file
    source = tmp_path / "source.wav"
    source.write_bytes(b"another sound")
    other = clock.add_recording(source, "evening of 3 March.wav")
    assert other.file == "evening_of_3_March-2.wav"
    assert source.read_bytes() == b"another sound"
    assert [one.file for one in clock.recordings()] == [other.file, first.file]
    assert clock.recording(first.file) == first
    with pytest.raises(RecordingNotFound):
        clock.recording("../sheet.toml")


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="no sha256sum here")
def test_the_sums_are_those_of_sha256sum(clock: ClockFolder) -> None:
    one = clock.add_recording(b"sound", "a b.wav")
    told = subprocess.run(
        ["sha256sum", "--check", f"{one.file}.sha256"], cwd=one.path.parent, capture_output=True, text=True, check=False
    )
    assert told.returncode == 0, told.stderr
    assert told.stdout == "a_b.wav: OK\n"


def test_a_recording_put_there_by_hand_counts_too_and_is_looked_at_again_when_it_changes(clock: ClockFolder) -> None:
    folder = clock.folder / "recordings"
    folder.mkdir()
    path = folder / "by hand.wav"
    path.write_bytes(b"one")
    first = clock.recording("by hand.wav")
    path.write_bytes(b"two")
    later = path.stat().st_mtime_ns + 5_000_000_000
    os.utime(path, ns=(later, later))
    assert clock.recording("by hand.wav").sha256 != first.sha256


def heard(level: float = -30.0) -> Heard:
    facts = RecordingFacts("a.wav", "ab" * 32, 10.0, 48_000, 1)
    return Heard(recording=facts, going=None, ticks=Ticks([10**9], [10**5], [0], [level]))  # type: ignore[arg-type]


def test_what_was_heard_is_kept_with_the_sheet_it_was_heard_under(clock: ClockFolder) -> None:
    recording = replace(clock.add_recording(b"sound", "a.wav"), sha256="ab" * 32)
    assert clock.heard_of(recording) is None
    path = clock.keep_heard(heard())
    assert clock.heard_of(recording) == heard()
    assert clock.heard_at(clock.heard_place(recording)) == heard()
    # The same again is nothing new; something else under the same name is kept beside it.
    assert clock.keep_heard(heard()) == path
    assert clock.keep_heard(heard(-20.0)) != path
    assert clock.heard_of(recording) == heard()
    clock.sheet_path.write_text(SHEET + "\n# counted anew\n", "utf-8")
    assert clock.heard_of(recording) is None
    assert path.is_file()


@pytest.mark.parametrize("place", [None, "", "../x.json", "heard/../../x.json", "/etc/passwd", "heard/none.json"])
def test_a_heard_document_comes_only_from_its_own_folder(clock: ClockFolder, place: str | None) -> None:
    assert clock.heard_at(place) is None


def test_proofs_sort_by_time_and_are_never_lost(clock: ClockFolder) -> None:
    before = datetime.now(UTC)
    with ThreadPoolExecutor(8) as pool:
        made = list(pool.map(lambda n: clock.keep_proof(replace(PROOF, clock=f"{n}")), range(40)))
    assert len({one.id for one in made}) == 40
    assert [one.id for one in clock.proofs()] == sorted(one.id for one in made)
    assert {one.proof.clock for one in clock.proofs()} == {f"{n}" for n in range(40)}
    assert all(before.replace(microsecond=0) <= one.made <= datetime.now(UTC) for one in made)
    assert clock.proof(made[0].id) == made[0]
    with pytest.raises(FileNotFoundError):
        clock.proof("../sheet")


def test_what_cannot_be_read_is_said_and_the_rest_loads(clock: ClockFolder) -> None:
    kept = clock.keep_proof(PROOF)
    clock.add_recording(b"sound", "a.wav")
    proofs = clock.folder / "proofs"
    (proofs / "20200101T000000-000000.json").write_text("{ half a docu", "utf-8")
    (proofs / "20200101T000000-000001.json").write_text('{"format": "quarterjack.proof/9"}', "utf-8")
    (proofs / "notes.json").write_text("{}", "utf-8")
    clock.sheet_path.write_text('name = "Hall clock"\n[sounds]\nquarters = "no such tune"\nhours = 3\n', "utf-8")
    assert clock.proofs() == (kept,)
    assert [one.file for one in clock.recordings()] == ["a.wav"]
    assert clock.name == "Hall clock"
    faults = clock.faults()
    assert [(one.file, one.line) for one in faults if one.file == "sheet.toml"] == [
        ("sheet.toml", 3),
        ("sheet.toml", 4),
    ]
    assert [one.file for one in faults if one.file != "sheet.toml"] == [
        "proofs/20200101T000000-000000.json",
        "proofs/20200101T000000-000001.json",
        "proofs/notes.json",
    ]


@pytest.mark.parametrize("text", ["", "name = ", "\x00\xff", "name = 3\n", "[clock"])
def test_a_broken_sheet_still_gives_a_folder(clock: ClockFolder, text: str) -> None:
    clock.sheet_path.write_text(text, "utf-8")
    assert clock.name == "hall-clock"
    assert clock.faults()
    assert Bench(clock.folder.parent).clocks()


def test_a_folder_without_a_sheet_says_so(clock: ClockFolder) -> None:
    clock.sheet_path.unlink()
    (fault,) = clock.faults()
    assert fault.file == "sheet.toml"
    assert "cannot be read" in fault.text
