"""The day as the clock must sound it, and dial times as people write them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from quarterjack.errors import OutOfRange
from quarterjack.proving.content import Bars, Chimed, Repertoire, judge_chime
from quarterjack.reckoning.reckoned import DIAL_MINUTES, ExpectedSounding, Reckoning

_DIAL = re.compile(r"(\d{1,2})[:.h](\d{2})(?:[:.](\d{2}))?")
_ORDINALS = {1: "first", 2: "second", 3: "third", 4: "fourth"}


@dataclass(frozen=True)
class Call:
    """Everything that one dial minute calls for: a chime, blows, or both."""

    minute: int
    chime: ExpectedSounding | None
    blows: ExpectedSounding | None

    @property
    def dial(self) -> str:
        """Dial time as text."""
        return dial_text(self.minute)


@dataclass(frozen=True)
class Content:
    """What a group sounded, in the clock's own bars."""

    chime: Bars
    blows: int


def calls_of(reckoning: Reckoning) -> tuple[Call, ...]:
    """Every dial minute that calls for a sounding, in dial order."""
    by_minute: dict[int, dict[str, ExpectedSounding]] = {}
    for sounding in reckoning.soundings:
        part = "chime" if sounding.kind == "quarter" else "blows"
        by_minute.setdefault(sounding.dial_minute, {})[part] = sounding
    return tuple(Call(minute, part.get("chime"), part.get("blows")) for minute, part in sorted(by_minute.items()))


def dial_minutes(text: str) -> float:
    """Read a dial time such as `12:14`, `3:07:30` or `15:30` as minutes after twelve, 0 to 720.

    Raises
    ------
    OutOfRange
        If it is not a time.
    """
    found = _DIAL.fullmatch(text.strip())
    if found:
        hour, minute, second = int(found[1]), int(found[2]), int(found[3] or 0)
        if hour <= 24 and minute < 60 and second < 60:
            return hour % 12 * 60 + minute + second / 60
    raise OutOfRange(f"{text!r} is not a dial time; write hours and minutes, as 12:14 or 12:14:30.", value=text)


def dial_text(minutes: float, *, hour_known: bool = True) -> str:
    """A dial time as text, `12:15`, or `?:15` where the hour is not known."""
    whole = int(minutes // 1) % DIAL_MINUTES
    hour, minute = divmod(whole, 60)
    return f"{(hour or 12) if hour_known else '?'}:{minute:02d}"


def started(text: str | None) -> datetime | None:
    """The moment at which a recording began, None where it is unknown, unreadable or without a zone."""
    try:
        moment = datetime.fromisoformat(text) if text else None
    except ValueError:
        return None
    return moment if moment is not None and moment.tzinfo is not None else None


def local_dial(text: str | None) -> float | None:
    """What a clock set to time would say when a recording began, minutes after twelve in this computer's own zone.

    A time in a recording's name stands in local time; the listener reads it in the same zone, so it comes back as it
    was written.
    """
    moment = started(text)
    if moment is None:
        return None
    here = moment.astimezone()
    return here.hour % 12 * 60 + here.minute + here.second / 60


def apart_min(later: float, earlier: float) -> float:
    """Minutes from one dial time to another by the shorter way round the dial, -360 to 360."""
    return (later - earlier + DIAL_MINUTES / 2) % DIAL_MINUTES - DIAL_MINUTES / 2


def quarter_name(quarter: int | None) -> str:
    """For example "the third quarter"; the fourth is "the chime at the hour"."""
    if quarter == 4:
        return "the chime at the hour"
    return f"the {_ORDINALS[quarter]} quarter" if quarter in _ORDINALS else "the chime"


def chimed(call: Call, content: Content, repertoires: dict[str | None, Repertoire], may_be_off: bool) -> Chimed | None:
    """The chime of a group judged against what is due; None where either is missing."""
    due = call.chime
    if due is None or due.quarter is None or not content.chime:
        return None
    return judge_chime(repertoires[due.tune], due.quarter, due.bars, content.chime, may_be_off)


def fit(call: Call, content: Content, repertoires: dict[str | None, Repertoire], may_be_off: bool = True) -> float:
    """How well a group fits what is due at a dial minute: 1 for a perfect fit, down to -1.

    Blows where none are due speak most strongly against a place, since no fault of the quarters brings them; blows that
    did not come may only have run down.
    """
    score = weight = 0.0
    if call.chime or content.chime:
        judged = chimed(call, content, repertoires, may_be_off)
        score, weight = (judged.score if judged else 0.0), 1.0
    due = (call.blows.blows or 0) if call.blows else 0
    if due and content.blows:
        score += 1.0 if due == content.blows else 0.5 * min(due, content.blows) / max(due, content.blows)
        weight += 1.0
    elif content.blows:
        score -= 1.0
        weight += 1.0
    elif due:
        weight += 0.5
    return score / weight if weight else 0.0


def nearest_calls(calls: Sequence[Call], minute: float, reach_min: float) -> list[tuple[int, float]]:
    """Calls within reach of a dial time: (number in `calls`, minutes by which the time is later than the call)."""
    found = [(at, apart_min(minute, call.minute)) for at, call in enumerate(calls)]
    return [(at, late) for at, late in found if abs(late) <= reach_min]
