"""Which one count or measurement would settle most: each is tried in turn with a stand-in value."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from quarterjack.reckoning.reckoned import Reckoning
from quarterjack.reckoning.turning import escape_at, likely_start
from quarterjack.sheet import Arbor, Drive, Movement, Train
from quarterjack.tunes import CAMBRIDGE


@dataclass(frozen=True)
class Candidate:
    """Something that could be found out, in words, and the movement if it were."""

    words: str
    then: Movement


def settle_next(movement: Movement, now: Reckoning, reckon: Callable[[Movement], Reckoning]) -> str | None:
    """Say what would settle most, or None where nothing is open."""
    if not now.cannot_say:
        return None
    best, gain = None, 0
    for candidate in _candidates(movement):
        more = _known(reckon(candidate.then)) - _known(now)
        if more > gain:
            best, gain = candidate.words, more
        elif best is None and any(f"({item.key})" in candidate.words for item in now.cannot_say):
            # It settles nothing alone, but without it nothing further can be said.
            best = candidate.words
    return best


def _known(reckoning: Reckoning) -> int:
    """How much a reckoning says; an open question counts against it."""
    arbors = [arbor for train in reckoning.trains for arbor in train.arbors]
    return (
        sum(arbor.turns_per_hour is not None for arbor in arbors)
        + sum(train.run_time_h is not None for train in reckoning.trains)
        + (reckoning.beats_per_hour is not None)
        + (reckoning.pendulum is not None)
        + len({(sounding.kind, sounding.quarter) for sounding in reckoning.soundings})
        - len(reckoning.cannot_say)
    )


def _candidates(movement: Movement) -> Iterator[Candidate]:
    sounds = movement.sounds
    if sounds.quarters is None:
        words = "Listen which quarter tune plays, if any (sounds.quarters)."
        yield Candidate(words, replace(movement, sounds=replace(sounds, quarters=CAMBRIDGE.name, tune=CAMBRIDGE)))
    if sounds.hours is None:
        yield Candidate(
            "Listen whether the hours are struck (sounds.hours).",
            replace(movement, sounds=replace(sounds, hours="yes")),
        )
    if sounds.half_hour is None:
        words = "Listen whether the half hour is struck (sounds.half_hour)."
        yield Candidate(words, replace(movement, sounds=replace(sounds, half_hour="one")))
    if sounds.tune and sounds.quarters_at_hour is None:
        words = "Listen whether the quarters play at the hour too (sounds.quarters_at_hour)."
        yield Candidate(words, replace(movement, sounds=replace(sounds, quarters_at_hour=True)))
    for train in movement.trains:
        for words, then in _of_train(train):
            changed = tuple(then if other is train else other for other in movement.trains)
            yield Candidate(words, replace(movement, trains=changed))
    if movement.train("going") is None:
        trains = (Train("going", beats_per_hour=3600.0), *movement.trains)
        words = "Listen to the tick for a minute, or count the beats (trains.going.beats_per_hour)."
        yield Candidate(words, replace(movement, trains=trains))


def _of_train(train: Train) -> Iterator[tuple[str, Train]]:
    escape = escape_at(train)
    for i, arbor in enumerate(train.arbors):
        where, key = f"{arbor.name} in the {train.name} train", f"trains.{train.name}.arbors[{i + 1}]"
        if arbor.wheel is None and (i + 1 < len(train.arbors) or i == escape):
            yield f"Count the wheel of {where} ({key}.wheel).", _with(train, i, replace(arbor, wheel=60))
        if arbor.pinion is None and i > 0:
            yield f"Count the pinion of {where} ({key}.pinion).", _with(train, i, replace(arbor, pinion=8))
    start = likely_start(train)
    if start is not None:
        i, key, what = start
        value: dict[str, float] = {"turn_min": 60.0, "pins": 8, "phrases_per_turn": 5.0}
        then = replace(train.arbors[i], **{key: value[key]})  # type: ignore[arg-type]
        yield f"{what} (trains.{train.name}.arbors[{i + 1}].{key}).", _with(train, i, then)
    if train.name == "going" and train.beats_per_hour is None:
        words = "Listen to the tick for a minute, or count the beats (trains.going.beats_per_hour)."
        yield words, replace(train, beats_per_hour=3600.0)
    if train.drive is not None and train.drive.turns is None:
        words = f"Count the turns of the key from run down to wound up (trains.{train.name}.drive.turns)."
        yield words, replace(train, drive=replace(train.drive or Drive(), turns=16.0))


def _with(train: Train, i: int, arbor: Arbor) -> Train:
    return replace(train, arbors=(*train.arbors[:i], arbor, *train.arbors[i + 1 :]))
