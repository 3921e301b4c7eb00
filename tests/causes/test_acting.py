"""What acts at a dial minute."""

from __future__ import annotations

from dataclasses import replace

import pytest

from quarterjack.causes import what_acts_at
from quarterjack.errors import OutOfRange
from quarterjack.reckoning import Reckoning, reckon
from quarterjack.sheet import parse_sheet, quick_sheet

# The eleven crossings to the minute; the period 65 min 27 s stands in trade practice, section 0.
CROSSINGS = (0, 65, 131, 196, 262, 327, 393, 458, 524, 589, 655)


def clock(quarters: str = "cambridge", half_hour: str = "none") -> Reckoning:
    sheet = quick_sheet("Hall clock", quarters=quarters, quarters_at_hour=True, hours=True, half_hour=half_hour)
    return reckon(parse_sheet(sheet))


def codes(minute: float, reckoning: Reckoning | None = None) -> list[str]:
    return [one.code for one in what_acts_at(minute, reckoning)]


def test_hands_cross_eleven_times() -> None:
    met = [minute for minute in range(720) if "hands-cross" in codes(minute)]
    assert all(any(abs(minute - crossing) <= 3 for crossing in CROSSINGS) for minute in met if minute < 717)
    assert all(crossing in met for crossing in CROSSINGS)
    crossing = next(one for one in what_acts_at(65) if one.code == "hands-cross")
    assert crossing.every_min == pytest.approx(65 + 27 / 60, abs=0.01)
    assert "1:05" in crossing.text


@pytest.mark.parametrize(
    ("minute", "there", "absent"),
    [
        (57, {"lifting", "warning", "snail-rise"}, {"release", "count"}),
        (60, {"release", "count"}, {"lifting", "warning", "snail-rise"}),
        (61.5, {"count"}, {"release", "lifting"}),
        (12, {"lifting", "warning"}, {"release", "count"}),
        (15, {"release"}, {"count", "lifting"}),
        (142, {"moon", "hand-place"}, {"lifting", "warning", "release", "date"}),
        (710, {"date", "hand-rises"}, {"count"}),
    ],
)
def test_what_acts_when(minute: float, there: set[str], absent: set[str]) -> None:
    found = set(codes(minute))
    assert there <= found
    assert not absent & found


def test_a_sheet_makes_it_certain_and_leaves_out_what_is_not_there() -> None:
    chiming = next(one for one in what_acts_at(12, clock()) if one.code == "lifting")
    assert (chiming.sure, chiming.basis) == ("certain", "sheet")
    assert "first quarter" in chiming.text
    hours_only = clock(quarters="none")
    assert "lifting" not in codes(12, hours_only)
    assert "lifting" in codes(57, hours_only)
    assert next(one for one in what_acts_at(12) if one.code == "lifting").sure == "if fitted"
    assert not {"lifting", "warning", "release"} & set(codes(57, replace(hours_only, soundings=())))


def test_a_minute_that_is_not_on_the_dial_is_refused() -> None:
    for minute in (-1, 720, 1000):
        with pytest.raises(OutOfRange):
            what_acts_at(minute)
