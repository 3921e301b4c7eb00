"""Hear and prove the real floor clock: the five files as one clock, and edited sound for the right reason."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import pytest
from cases import CASES, Case
from edit_sound import edited
from made_heard import FILES, PARTIALS_HZ, floor_clock, truth

from quarterjack.listening import NO_HINTS, Heard, hear
from quarterjack.proving import hints_for, prove

DIALS = {"quarter1": "12:15", "half": "12:30", "threequarter": "12:45", "hour1": "1:00", "hour2": "2:00"}
CLOCK = floor_clock()
KNOWN = replace(CLOCK, bars=tuple(replace(bar, partials_hz=PARTIALS_HZ[bar.note or "HOUR"]) for bar in CLOCK.bars))
ALONE = ("dead-hammer", "barrel-phase")
"""Faults that other recordings in good order would contradict, so that the faulty one is proved by itself."""


@lru_cache(maxsize=10)
def heard(folder: Path, name: str, given: bool) -> Heard:
    return hear(folder / "chimes" / f"floor_clock_{name}.flac", hints_for(KNOWN) if given else NO_HINTS)


@pytest.mark.parametrize("given", [True, False], ids=["bars given", "bars unknown"])
def test_the_five_recordings_as_one_clock_come_out_right(recordings: Path, given: bool) -> None:
    proof = prove(KNOWN if given else CLOCK, [heard(recordings, name, given) for name in FILES])
    assert proof.verdict == "right"
    assert [one.verdict for one in proof.soundings] == ["right"] * 7
    assert [one.dial for one in proof.soundings] == ["?:15", "?:30", "?:45", "1:00", "1:00", "2:00", "2:00"]
    # The two hour files are 326 and 323 ms out of beat; the others, of another time, are not.
    out = next(one for one in proof.findings if one.code == "out-of-beat")
    assert [row["recording"] for row in out.evidence["recordings"]] == [3, 4]
    assert [row["beat_difference_ms"] for row in out.evidence["recordings"]] == pytest.approx([326, 323], abs=5)
    assert proof.going is not None
    assert abs(proof.going.beats_per_hour / 3600 - 1) < 0.003


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_bars_given_a_fault_comes_out_for_the_right_reason(recordings: Path, tmp_path: Path, case: Case) -> None:
    path = edited(recordings, case.file, case.edit(truth(recordings, case.file)[0]), tmp_path / "edited.flac")
    proof = prove(KNOWN, [hear(path, hints_for(KNOWN))], dial_starts=[case.dial])
    assert proof.verdict == "wrong"
    kind = {"chime": "quarter", "blows": "hour"}[case.part]
    assert [one.verdict for one in proof.soundings if one.kind == kind] == [case.verdict]
    assert proof.findings[0].code == case.code


@pytest.mark.parametrize("case", [case for case in CASES[::3] if case.code not in ALONE], ids=lambda case: case.name)
def test_bars_unknown_a_fault_comes_out_beside_the_others(recordings: Path, tmp_path: Path, case: Case) -> None:
    path = edited(recordings, case.file, case.edit(truth(recordings, case.file)[0]), tmp_path / "edited.flac")
    records = [hear(path) if name == case.file else heard(recordings, name, False) for name in FILES]
    proof = prove(CLOCK, records, dial_starts=[case.dial if name == case.file else DIALS[name] for name in FILES])
    assert proof.verdict == "wrong"
    at = FILES.index(case.file)
    kind = {"chime": "quarter", "blows": "hour"}[case.part]
    assert [one.verdict for one in proof.soundings if one.recording == at and one.kind == kind] == [case.verdict]
    assert {one.verdict for one in proof.soundings if one.recording != at} == {"right"}
    assert proof.findings[0].code == case.code
