"""How fast each arbor turns, as far as counts reach from what is known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from quarterjack.horology import beats_of_escape_wheel, chime_barrel_turns_per_hour, phrases_per_hour, turns_of_fall
from quarterjack.reckoning.reckoned import CannotSay, ExpectedSounding, ReckonedArbor, ReckonedTrain
from quarterjack.sheet import Arbor, Movement, Train

MINUTES_AN_HOUR, SECONDS_AN_HOUR = 60.0, 3600.0


@dataclass(frozen=True)
class Turning:
    """A train with the turns an hour of each arbor, None where unknown, and then why, with the key that would tell."""

    train: Train
    per_hour: tuple[float | None, ...]
    why: tuple[tuple[str, str] | None, ...]


def escape_at(train: Train) -> int | None:
    """Where the escape wheel's arbor stands in the list: the one whose name says so."""
    return next((i for i, arbor in enumerate(train.arbors) if "scape" in arbor.name.lower()), None)


def beats_per_turn(train: Train) -> int | None:
    """Beats in one turn of the escape wheel, as said or two for each tooth."""
    at = escape_at(train)
    if train.beats_per_turn is not None or at is None:
        return train.beats_per_turn
    teeth = train.arbors[at].wheel
    return None if teeth is None else round(beats_of_escape_wheel(float(teeth)))


def likely_start(train: Train) -> tuple[int, str, str] | None:
    """The arbor from which the train could most likely be reckoned, if none is given: its place, key and the task."""
    if not train.arbors:
        return None
    if train.name == "going":
        if any(arbor.turn_min is not None for arbor in train.arbors):
            return None
        i = _named(train, ("centre", "center"), 1)
        return (
            i,
            "turn_min",
            f"Find whether {train.arbors[i].name} carries the minute hand; then it turns in 60 minutes",
        )
    if train.name == "strike":
        if any(arbor.pins is not None for arbor in train.arbors):
            return None
        i = _named(train, ("pin",), 1)
        return i, "pins", f"Count the pins that lift the hour hammer, on {train.arbors[i].name} if they are there"
    if any(arbor.phrases_per_turn is not None for arbor in train.arbors):
        return None
    i = _named(train, ("barrel", "cylinder"), len(train.arbors) - 1)
    return i, "phrases_per_turn", f"Count the phrases pinned around {train.arbors[i].name}, if it is the chime barrel"


def _named(train: Train, names: tuple[str, ...], otherwise: int) -> int:
    found = (i for i, arbor in enumerate(train.arbors) if any(name in arbor.name.lower() for name in names))
    return next(found, min(otherwise, len(train.arbors) - 1))


def turning_of_going(train: Train, heard_beats_per_hour: float | None) -> Turning:
    """Turns of the going train from the arbors of known period; where none is said, from the beats."""
    known = {i: MINUTES_AN_HOUR / arbor.turn_min for i, arbor in enumerate(train.arbors) if arbor.turn_min is not None}
    at, per_turn = escape_at(train), beats_per_turn(train)
    if not known and at is not None and per_turn is not None and heard_beats_per_hour is not None:
        known[at] = heard_beats_per_hour / per_turn
    return _spread(train, known, "no arbor is said to turn in a known time, as the minute hand's does in 60 minutes")


def turning_of_strike(movement: Movement, train: Train, day: tuple[ExpectedSounding, ...]) -> Turning:
    """Mean turns of the strike train from its pins and the blows of a day."""
    sounds = movement.sounds
    if sounds.quarters is None or sounds.hours is None or sounds.half_hour is None:
        return _spread(train, {}, "how many blows a day it strikes is not said", "sounds")
    if sounds.tune is not None and movement.train("chime") is None:
        return _spread(train, {}, "it may play the quarters too, as no chime train is listed", "trains")
    blows_per_hour = sum(sounding.blows or 0 for sounding in day) / 12.0
    known = {i: blows_per_hour / arbor.pins for i, arbor in enumerate(train.arbors) if arbor.pins is not None}
    return _spread(train, known, "the pins that lift the hammer are not counted")


def turning_of_chime(movement: Movement, train: Train, *, at_hour: bool) -> Turning:
    """Mean turns of the chime train from the phrases pinned around its barrel."""
    tune = movement.sounds.tune
    if tune is None:
        return _spread(train, {}, "which tune it plays is not said", "sounds.quarters")
    phrases = float(phrases_per_hour(tune, at_hour=at_hour))
    known = {
        i: chime_barrel_turns_per_hour(phrases, arbor.phrases_per_turn)
        for i, arbor in enumerate(train.arbors)
        if arbor.phrases_per_turn is not None
    }
    return _spread(train, known, "the phrases in a turn of the chime barrel are not counted")


def _spread(train: Train, known: dict[int, float], no_start: str, no_start_key: str = "") -> Turning:
    """Carry known turns along the train in both directions, as far as the counts reach."""
    arbors = train.arbors
    turns = dict(known)
    for i in range(1, len(arbors)):
        ratio = _ratio(arbors, i)
        if i not in turns and i - 1 in turns and ratio is not None:
            turns[i] = turns[i - 1] * ratio
    for i in reversed(range(1, len(arbors))):
        ratio = _ratio(arbors, i)
        if i - 1 not in turns and i in turns and ratio is not None:
            turns[i - 1] = turns[i] / ratio
    start = likely_start(train)
    start_key = no_start_key or (f"trains.{train.name}.arbors[{start[0] + 1}].{start[1]}" if start else "trains")
    why: list[tuple[str, str] | None] = [None] * len(arbors)
    for i in set(range(len(arbors))) - set(turns):
        why[i] = _missing(train, i, turns) if turns else (no_start, start_key)
    return Turning(train, tuple(turns.get(i) for i in range(len(arbors))), tuple(why))


def why_no_beats(turning: Turning) -> tuple[str, str]:
    """Why the going train does not give beats an hour, and the key that would settle it."""
    at = escape_at(turning.train)
    if at is None:
        return 'none of its arbors is called "escape"', "trains.going.arbors"
    return turning.why[at] or (
        f"the wheel of {turning.train.arbors[at].name} is not counted",
        f"trains.going.arbors[{at + 1}].wheel",
    )


def listed(words: Sequence[str]) -> str:
    """Words as in a sentence: a, b and c."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _ratio(arbors: tuple[Arbor, ...], i: int) -> float | None:
    """Turns of arbor i for one turn of the arbor before it."""
    wheel, pinion = arbors[i - 1].wheel, arbors[i].pinion
    return wheel / pinion if wheel and pinion else None


def _missing(train: Train, i: int, turns: dict[int, float]) -> tuple[str, str]:
    """The first count that is missing on the way from the nearest known arbor to arbor i, and its key."""
    start = min(turns, key=lambda known: abs(known - i))
    step = 1 if i > start else -1
    for at in range(start, i, step):
        driver, driven = (at, at + 1) if step > 0 else (at - 1, at)
        for place, part in ((driver, "wheel"), (driven, "pinion")):
            if getattr(train.arbors[place], part) is None:
                text = f"the {part} of {train.arbors[place].name} is not counted"
                return text, f"trains.{train.name}.arbors[{place + 1}].{part}"
    raise AssertionError("an arbor between counted ones is always reached")


def reckoned(turning: Turning) -> tuple[ReckonedTrain, list[CannotSay]]:
    """The train as it stands in a `Reckoning`; trains that do not run all the time have no period."""
    going = turning.train.name == "going"
    arbors = tuple(
        ReckonedArbor(
            name=arbor.name,
            wheel=arbor.wheel,
            pinion=arbor.pinion,
            period_s=SECONDS_AN_HOUR / turns if turns and going else None,
            turns_per_hour=turns,
        )
        for arbor, turns in zip(turning.train.arbors, turning.per_hour, strict=True)
    )
    run, limit, open_ = _run_time(turning)
    return ReckonedTrain(turning.train.name, arbors, run, limit), [*_unknown_turns(turning), *open_]


def _unknown_turns(turning: Turning) -> list[CannotSay]:
    """One sentence for all arbors that wait for the same count."""
    waiting: dict[tuple[str, str], list[str]] = {}
    for arbor, why in zip(turning.train.arbors, turning.why, strict=True):
        if why is not None:
            waiting.setdefault(why, []).append(arbor.name)
    return [
        CannotSay(f"how fast {listed(names)} of the {turning.train.name} train turn{'s' * (len(names) == 1)}", *why)
        for why, names in waiting.items()
    ]


def _run_time(turning: Turning) -> tuple[float | None, str | None, list[CannotSay]]:
    train, drive = turning.train, turning.train.drive
    if drive is None or not turning.per_hour:
        return None, None, []
    limits: dict[str, float] = {}
    if drive.turns is not None:
        limits["the turns of the barrel"] = drive.turns
    if drive.fall_m is not None and drive.falls is not None and drive.barrel_m is not None:
        limits["the fall of the weight"] = turns_of_fall(
            drive.fall_m, float(drive.falls), drive.barrel_m, drive.line_m or 0.0
        )
    if not limits:
        because = "neither the barrel's turns nor the whole of fall, falls and barrel diameter are known"
        return (
            None,
            None,
            [CannotSay(f"how long the {train.name} train runs", because, f"trains.{train.name}.drive.turns")],
        )
    per_hour = turning.per_hour[0]
    if not per_hour:
        return None, None, []
    limit, turns = min(limits.items(), key=lambda item: item[1])
    return turns / per_hour, limit, []
