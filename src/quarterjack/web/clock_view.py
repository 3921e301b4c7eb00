"""What a clock's page says of the clock, in plain words, and what a person types there."""

from __future__ import annotations

import re
from collections.abc import Iterable

from quarterjack.errors import UnitNotUnderstood
from quarterjack.paper import printed
from quarterjack.paper.words import plural, tune_title
from quarterjack.reckoning import ExpectedSounding, ReckonedBar, Reckoning

_DIAL = re.compile(r"(\d{1,2})[:.h ](\d{2})")


def dial_time(text: str) -> str:
    """Read what the hands said ("2:58", "14.58", "0:05") as dial time ("2:58", "12:05").

    Raises
    ------
    UnitNotUnderstood
        If it is not a time.
    """
    found = _DIAL.fullmatch(text.strip())
    if not found or int(found[1]) > 24 or int(found[2]) > 59:
        raise UnitNotUnderstood(
            f"{text!r} is not a time on a dial; write hours and minutes, for example 2:58.", value=text
        )
    return f"{int(found[1]) % 12 or 12}:{found[2]}"


def known_in_words(reckoning: Reckoning) -> list[tuple[str, str]]:
    """What must be, as pairs of a word and a sentence; what is not known is left out."""
    told = [("Sounds", _sounds(reckoning.soundings))]
    for word, hour in (("Quarters struck on", False), ("Hour struck on", True)):
        bars = [bar for bar in reckoning.bars if bar.hour == hour]
        if bars:
            told.append((word, ", ".join(_bar(bar) for bar in bars)))
    if reckoning.beats_per_hour is not None:
        told.append(("Beats an hour", f"{reckoning.beats_per_hour:.6g}"))
    if reckoning.pendulum is not None:
        pendulum = reckoning.pendulum
        told.append(
            (
                "Pendulum",
                f"{1000 * pendulum.length_m:.1f} mm in theory; 1 mm longer loses "
                f"{abs(pendulum.rate_s_per_day_per_mm):.1f} s a day",
            )
        )
    for train in reckoning.trains:
        if train.run_time_h is not None:
            told.append((f"{train.name.capitalize()} train", f"goes {train.run_time_h / 24:.1f} days on one winding"))
    return told


def _bar(bar: ReckonedBar) -> str:
    return f"{printed(bar.note)} (bar {bar.bar})" if bar.note else f"bar {bar.bar}"


def _sounds(soundings: Iterable[ExpectedSounding]) -> str:
    quarters = [one for one in soundings if one.kind == "quarter"]
    parts = []
    if quarters:
        title = tune_title(quarters[0].tune) or "a tune of its own"
        at_hour = any(one.quarter == 4 for one in quarters)
        parts.append(f"{title}, at the quarters{' and at the hour' if at_hour else ', not at the hour'}")
    if any(one.kind == "hour" for one in soundings):
        parts.append("the hours")
    halves = {one.blows for one in soundings if one.kind == "half" and one.blows}
    if halves:
        parts.append(
            f"{plural(halves.pop(), 'blow')} at the half hour" if len(halves) == 1 else "blows at the half hour"
        )
    return "; ".join(parts) or "nothing; this clock is silent"
