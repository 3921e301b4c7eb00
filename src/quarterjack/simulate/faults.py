"""Four faults that can be put into a clock on purpose, each with one value.

As text: `out-of-beat` or `out-of-beat=120` (ms, negative where side b has the longer silence), `dead-hammer=3`,
`barrel-one-phrase-out`, `stop=12:13` or `stop=812` (dial time, or seconds from the start), `stop=12:13,died away`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from quarterjack.errors import FaultNotPossible, UnitNotUnderstood, UnknownChoice
from quarterjack.reckoning.reckoned import ExpectedSounding, Reckoning
from quarterjack.units import number

FAULTS: dict[str, str] = {
    "out-of-beat": "the silences after tick and after tock differ; value: by how many milliseconds "
    "(default: 8 % of the swing's period)",
    "dead-hammer": "one hammer never strikes; value: its number",
    "barrel-one-phrase-out": "the chime barrel stands one phrase further on than it should; no value",
    "stop": "the clock stops; value: dial time or seconds from the start, then ',died away' where the swing fails "
    "slowly instead of being cut off",
}
ENDINGS = ("cut off", "died away")
HALF_DIAL_S = 43_200
_OUT_OF_BEAT = 0.08


@dataclass(frozen=True)
class Fault:
    """One fault by its name among `FAULTS`, with its value as text."""

    name: str
    value: str = ""

    def __str__(self) -> str:
        return f"{self.name}={self.value}" if self.value else self.name


@dataclass(frozen=True)
class Broken:
    """What the faults together do to a clock.

    Parameters
    ----------
    beat_difference_s : float or None
        Silence after side a less silence after side b.
    dead_hammers : frozenset of int
        Hammers that never strike.
    phrases_out : int
        How many phrases the barrel stands ahead.
    stop_s : float or None
        When the clock stops, true seconds from the start.
    ended : str
        One of `ENDINGS`.
    """

    beat_difference_s: float | None = None
    dead_hammers: frozenset[int] = frozenset()
    phrases_out: int = 0
    stop_s: float | None = None
    ended: str = "cut off"


def read_fault(text: str) -> Fault:
    """Read a fault as people type it (see the module's head).

    Raises
    ------
    UnknownChoice
        If there is no fault of that name.
    """
    name, _, value = text.strip().partition("=")
    if name.strip() not in FAULTS:
        raise UnknownChoice("fault", name.strip(), FAULTS)
    return Fault(name.strip(), value.strip())


def dial_seconds(text: str) -> float:
    """Read a dial time, `3:58` or `3:58:30`, as seconds after twelve, 0 to 43199; hours to 24 are accepted.

    Raises
    ------
    UnitNotUnderstood
        If the text is not a time of day.
    """
    found = re.fullmatch(r"(\d{1,2}):([0-5]\d)(?::([0-5]\d))?", text.strip())
    if not found or int(found.group(1)) > 24:
        raise UnitNotUnderstood(f"{text!r} is not a dial time; write for example 12:00, 3:58 or 3:58:30.", value=text)
    hour, minute, second = (int(part or 0) for part in found.groups())
    return float((hour % 12) * 3600 + minute * 60 + second)


def _stop(value: str, dial_start_s: float, seconds: float) -> tuple[float, str]:
    at, _, ended = (part.strip() for part in value.partition(","))
    if ended and ended not in ENDINGS:
        raise UnknownChoice("way to stop", ended, ENDINGS)
    if not at:
        raise FaultNotPossible("The fault 'stop' needs a time, for example stop=12:13 or stop=812.", value=value)
    stop_s = (dial_seconds(at) - dial_start_s) % HALF_DIAL_S if ":" in at else number(at)
    if not 0 < stop_s < seconds:
        raise FaultNotPossible(
            f"A stop at {at} lies outside the {seconds:g} s that are simulated.", value=value, seconds=seconds
        )
    return stop_s, ended or "cut off"


def _dead(value: str, reckoning: Reckoning) -> int:
    hammers = sorted({hammer for s in reckoning.soundings for phrase in s.hammers for hammer in phrase})
    if not value.isdecimal() or int(value) not in hammers:
        raise FaultNotPossible(
            f"{value or 'nothing'!r} is not the number of a hammer of this clock; its hammers: "
            f"{', '.join(map(str, hammers)) or 'none'}.",
            value=value,
            allowed=tuple(hammers),
        )
    return int(value)


def break_clock(
    faults: Sequence[Fault | str], reckoning: Reckoning, *, beat_s: float, dial_start_s: float, seconds: float
) -> tuple[tuple[Fault, ...], Broken]:
    """Work out what faults do to one clock.

    Parameters
    ----------
    faults : sequence of Fault or str
        At most one of each name, save that several hammers may be dead.
    reckoning : Reckoning
        The clock.
    beat_s : float
        Seconds between ticks.
    dial_start_s, seconds : float
        Dial time at the start in seconds after twelve, and how long is simulated.

    Raises
    ------
    UnknownChoice
        If a fault or an ending has no such name.
    FaultNotPossible
        If the clock cannot have the fault, or it could not be heard.
    """
    read = tuple(read_fault(fault) if isinstance(fault, str) else read_fault(str(fault)) for fault in faults)
    broken = Broken()
    for fault in read:
        if fault.name != "dead-hammer" and sum(other.name == fault.name for other in read) > 1:
            raise FaultNotPossible(f"The fault {fault.name!r} is given twice.", value=str(fault))
        if fault.name == "out-of-beat":
            difference = number(fault.value) / 1000 if fault.value else _OUT_OF_BEAT * 2 * beat_s
            # Beyond this a swing of 3 degrees no longer reaches one of the releases and the clock does not go.
            if abs(difference) > 0.8 * beat_s:
                raise FaultNotPossible(
                    f"Out of beat by {1000 * difference:g} ms this clock would not go; at most "
                    f"{800 * beat_s:.0f} ms either way.",
                    value=fault.value,
                )
            broken = replace(broken, beat_difference_s=difference)
        elif fault.name == "dead-hammer":
            broken = replace(broken, dead_hammers=broken.dead_hammers | {_dead(fault.value, reckoning)})
        elif fault.name == "stop":
            stop_s, ended = _stop(fault.value, dial_start_s, seconds)
            broken = replace(broken, stop_s=stop_s, ended=ended)
        else:
            if shift_barrel(reckoning.soundings, 1) == reckoning.soundings:
                raise FaultNotPossible("This clock plays no chime on which a turned barrel could be heard.")
            broken = replace(broken, phrases_out=1)
    return read, broken


def shift_barrel(soundings: tuple[ExpectedSounding, ...], phrases: int) -> tuple[ExpectedSounding, ...]:
    """Give what is chimed when the barrel stands some phrases further on than it should.

    The phrases of one hour's chimes follow one another round the barrel; each quarter plays as many as it should,
    from the wrong place.
    """
    hour = {s.quarter: s for s in soundings if s.kind == "quarter" and s.quarter is not None}
    ring: list[tuple[tuple[int, ...], tuple[int, ...], tuple[str, ...]]] = []
    start: dict[int, int] = {}
    for quarter in sorted(hour):
        start[quarter] = len(ring)
        ring += zip(hour[quarter].hammers, hour[quarter].bars, hour[quarter].notes, strict=True)
    shifted = []
    for sounding in soundings:
        if sounding.kind == "quarter" and sounding.quarter is not None and sounding.hammers:
            first = start[sounding.quarter] + phrases
            played = [ring[(first + i) % len(ring)] for i in range(len(sounding.hammers))]
            hammers, bars, notes = zip(*played, strict=True)
            shifted.append(replace(sounding, hammers=tuple(hammers), bars=tuple(bars), notes=tuple(notes)))
        else:
            shifted.append(sounding)
    return tuple(shifted)
