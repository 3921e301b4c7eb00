"""What the hands said may stand in the sheet, beside the name of the recording."""

from __future__ import annotations

from made_heard import Struck, made

from quarterjack.proving import prove
from quarterjack.reckoning import reckon
from quarterjack.sheet import parse_sheet, quick_sheet

# The first quarter, one minute into the recording.
FIRST_QUARTER = [Struck(60.0 + n, label, 0.0) for n, label in enumerate(("G#", "F#", "E", "B"))]


def dials(noted: str, **more: list[str | None]) -> list[str | None]:
    text = quick_sheet("A", quarters="cambridge", quarters_at_hour=True, hours=True, half_hour="none")
    movement = parse_sheet(f'{text}\n[[recordings]]\nfile = "evening.flac"\ndial_start = "{noted}"\n')
    heard = made(FIRST_QUARTER, file="somewhere/evening.flac", seconds=80.0)
    proof = prove(reckon(movement), [heard], dial_starts=more.get("dial_starts"))
    return [sounding.dial for sounding in proof.soundings if sounding.verdict == "right"]


def test_dial_time_of_the_sheet_is_used_for_the_recording_of_that_name() -> None:
    assert dials("4:14") == ["4:15"]
    assert dials("7:14", dial_starts=[None]) == ["7:15"]


def test_dial_time_given_wins_over_the_sheet() -> None:
    assert dials("4:14", dial_starts=["9:14"]) == ["9:15"]
