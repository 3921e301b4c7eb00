"""A day's soundings: which hammers strike which bars at each quarter, half hour and hour."""

from __future__ import annotations

from dataclasses import dataclass

from quarterjack.reckoning.reckoned import DIAL_MINUTES, CannotSay, ExpectedSounding, ReckonedBar
from quarterjack.sheet import Bar, Movement
from quarterjack.tunes import Tune

Phrases = tuple[tuple[int, ...], ...]
DEFAULT_PLACE = "house"


@dataclass(frozen=True)
class Voices:
    """Who strikes what, with the usual order assumed where the sheet says nothing.

    `bells` gives the hammers of each bell of the tune, highest bell first; `hour` the hour hammers.
    """

    bells: Phrases
    hour: tuple[int, ...]
    bar_of: dict[int, int]
    note_of: dict[int, str]
    bars: tuple[ReckonedBar, ...]


def voices(movement: Movement) -> Voices:
    """Find hammers, bars and notes, assuming bell k, hammer k, bar k where nothing else is said."""
    sounds, tune = movement.sounds, movement.sounds.tune
    bells = sounds.quarter_hammers or tuple((bell,) for bell in range(1, tune.bells + 1)) if tune else ()
    struck = sounds.hours not in (None, "none") or sounds.half_hour not in (None, "none")
    hour = sounds.hour_hammers or ((_usual_hour_hammer(movement, bells),) if struck else ())
    played = {h for bell in bells for h in bell} | set(hour)
    bar_of = {hammer: _bar_of(movement, hammer) for hammer in sorted(played | {h.hammer for h in movement.hammers})}
    note_of: dict[int, str] = {}
    if tune:
        for hammers, note in zip(bells, tune.notes, strict=True):
            note_of.update({bar_of[hammer]: note for hammer in hammers})
    note_of.update({bar.bar: bar.note for bar in movement.bars if bar.note})
    return Voices(bells, hour, bar_of, note_of, _reckoned_bars(movement, bar_of, note_of, hour))


def _said_bars(movement: Movement, hammer: int) -> tuple[int, ...]:
    return next((said.bars for said in movement.hammers if said.hammer == hammer), ())


def _bar_of(movement: Movement, hammer: int) -> int:
    """The bar that a hammer strikes where the clock is; else its bar elsewhere; else the bar of its own number."""
    said = _said_bars(movement, hammer)
    here = [bar for bar in said if bar in _bars_in_place(movement)]
    return (*here, *said, hammer)[0]


def _usual_hour_hammer(movement: Movement, bells: Phrases) -> int:
    """A hammer that plays no quarter, if the sheet lists one; the low bell of a ting-tang; else the next number."""
    used = {hammer for bell in bells for hammer in bell}
    spare = [h.hammer for h in movement.hammers if h.hammer not in used]
    if spare:
        return min(spare)
    if movement.sounds.tune is not None and (movement.sounds.tune.name == "ting-tang" or movement.hammers):
        return bells[-1][0]
    return max(used, default=0) + 1


def place_of(movement: Movement) -> str:
    """Where the clock is: as said, or the only place that has bars, or the house."""
    places = {bar.place for bar in movement.bars if bar.place}
    return movement.place or (places.pop() if len(places) == 1 else DEFAULT_PLACE)


def _bars_in_place(movement: Movement) -> set[int]:
    place = place_of(movement)
    return {bar.bar for bar in movement.bars if bar.place in (None, place)}


def _reckoned_bars(
    movement: Movement, bar_of: dict[int, int], note_of: dict[int, str], hour: tuple[int, ...]
) -> tuple[ReckonedBar, ...]:
    said = {bar.bar: bar for bar in movement.bars}
    bars = []
    for number in sorted(_bars_in_place(movement) | set(bar_of.values())):
        bar = said.get(number, Bar(number))
        bars.append(
            ReckonedBar(
                bar=number,
                note=note_of.get(number),
                place=bar.place or place_of(movement),
                hammers=tuple(h for h, struck in bar_of.items() if struck == number),
                hour=number in {bar_of[hammer] for hammer in hour},
                partials_hz=bar.partials_hz,
                form=bar.form or "bar",
            )
        )
    return tuple(bars)


def soundings(movement: Movement, who: Voices) -> tuple[ExpectedSounding, ...]:
    """Twelve hours of soundings, in dial order from twelve o'clock."""
    sounds = movement.sounds
    every: list[ExpectedSounding] = []
    for minute in range(0, DIAL_MINUTES, 15):
        quarter, hour = minute // 15 % 4 or 4, minute // 60 or 12
        if sounds.tune and (quarter < 4 or plays_at_hour(movement)):
            every.append(_chime(sounds.tune, minute, quarter, who))
        if quarter == 2 and sounds.half_hour not in (None, "none"):
            blows = {"one": 1, "hour": hour, "next-hour": hour % 12 + 1}[sounds.half_hour]
            every.append(_blows(minute, "half", blows, who))
        if quarter == 4 and sounds.hours not in (None, "none"):
            every.append(_blows(minute, "hour", hour, who))
    return tuple(every)


def plays_at_hour(movement: Movement) -> bool:
    """Whether the fourth quarter plays; where nothing is said, all tunes but the ting-tang are taken to."""
    said, tune = movement.sounds.quarters_at_hour, movement.sounds.tune
    return said if said is not None else tune is not None and tune.name != "ting-tang"


def _chime(tune: Tune, minute: int, quarter: int, who: Voices) -> ExpectedSounding:
    hammers: list[tuple[int, ...]] = []
    last_bell, last_hammer = 0, 0
    for phrase in tune.quarters[quarter - 1]:
        struck = []
        for bell in phrase:
            choices = who.bells[bell - 1]
            # A second hammer on a bar is there because the first has no time to rise again.
            at = (choices.index(last_hammer) + 1) % len(choices) if bell == last_bell and last_hammer in choices else 0
            last_bell, last_hammer = bell, choices[at]
            struck.append(choices[at])
        hammers.append(tuple(struck))
    bars, notes = _bars_and_notes(tuple(hammers), "?", who)
    return ExpectedSounding(minute, "quarter", quarter, tune.name, tuple(hammers), bars, notes, None)


def _blows(minute: int, kind: str, blows: int, who: Voices) -> ExpectedSounding:
    hammers = ((who.hour[0],) * blows,)
    bars, notes = _bars_and_notes(hammers, "hour", who)
    return ExpectedSounding(minute, kind, None, None, hammers, bars, notes, blows)


def _bars_and_notes(hammers: Phrases, nameless: str, who: Voices) -> tuple[Phrases, tuple[tuple[str, ...], ...]]:
    bars = tuple(tuple(who.bar_of[hammer] for hammer in phrase) for phrase in hammers)
    return bars, tuple(tuple(who.note_of.get(bar, nameless) for bar in phrase) for phrase in bars)


def cannot_say(movement: Movement, bar_of: dict[int, int]) -> list[CannotSay]:
    """What the sheet leaves open about the sound."""
    sounds = movement.sounds
    open_: list[CannotSay] = []
    if sounds.quarters is None:
        because = "the sheet does not say which tune plays"
        open_.append(CannotSay("which notes the quarters have", because, "sounds.quarters"))
    elif sounds.tune and sounds.quarters_at_hour is None:
        assumed = "they are taken to" if plays_at_hour(movement) else "they are taken not to, as in many ting-tangs"
        because = f"the sheet does not say whether the quarters play at the hour too; {assumed}"
        open_.append(CannotSay("whether the fourth quarter plays", because, "sounds.quarters_at_hour"))
    if sounds.hours is None:
        open_.append(CannotSay("whether the hours are struck", "the sheet does not say it", "sounds.hours"))
    if sounds.half_hour is None:
        open_.append(CannotSay("whether the half hour is struck", "the sheet does not say it", "sounds.half_hour"))
    if not movement.hammers and (sounds.tune or sounds.hours not in (None, "none")):
        because = "the sheet lists no hammers; they are taken in the order of the bells, the hour's last"
        open_.append(CannotSay("which hammer strikes which bar", because, "hammers"))
    silent = [hammer for hammer in bar_of if movement.bars and bar_of[hammer] not in _bars_in_place(movement)]
    if silent:
        numbers = ", ".join(map(str, silent))
        because = (
            f"the sheet lists no bar in the {place_of(movement)} for {'hammers' if silent[1:] else 'hammer'} {numbers}"
        )
        open_.append(CannotSay("what can be heard of every hammer", because, "hammers"))
    if movement.place is None and len({bar.place for bar in movement.bars if bar.place}) > 1:
        because = f"bars are listed for both places, but not where the clock is now; taken: {DEFAULT_PLACE}"
        open_.append(CannotSay("which bars sound", because, "place"))
    return open_
