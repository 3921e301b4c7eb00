"""From `Movement` to `Reckoning`: what the clock must do, and what cannot be said yet."""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from quarterjack.horology import (
    STANDARD_GRAVITY_M_PER_S2,
    normal_gravity_m_per_s2,
    pendulum_beats_per_hour,
    pendulum_length_m,
    rate_per_mm_s_per_day,
)
from quarterjack.reckoning import sounding, turning
from quarterjack.reckoning.reckoned import CannotSay, ExpectedSounding, Pendulum, ReckonedTrain, Reckoning
from quarterjack.reckoning.settle import settle_next
from quarterjack.sheet import Movement

_AGREE = {"sheet": 0.02, "pendulum": 0.10}
"""Beats from counts and from elsewhere that differ by more contradict each other: no rating nut covers half an hour a
day, and a pendulum's theoretical length is seldom guessed to better than a fifth."""


_NOT_SEEN = ("assumed", "same movement")


class Beats(NamedTuple):
    """Beats an hour, and whether they come from the "train", the "sheet" or the "pendulum"."""

    per_hour: float | None
    come_from: str | None


def reckon(movement: Movement) -> Reckoning:
    """Work out what a clock must do.

    Parameters
    ----------
    movement : Movement
        The clock as far as it is known.

    Returns
    -------
    Reckoning
        Where the sheet says nothing of hammers and bars, bell 1 of the tune is taken to be hammer 1 and bar 1 and so
        on, and the hour the next; an hour on a ting-tang is taken to be on its low bar. Turns of a strike or chime
        train are means over the day, and it has no periods.
    """
    now = _reckon(movement)
    return replace(now, settle_next=settle_next(movement, now, _reckon))


def _reckon(movement: Movement) -> Reckoning:
    who = sounding.voices(movement)
    day = sounding.soundings(movement, who)
    trains, (beats, beats_from), open_ = _trains(movement, day)
    tune, going = movement.sounds.tune, movement.train("going")
    return Reckoning(
        clock=movement.name,
        soundings=day,
        tunes=(tune,) if tune else (),
        bars=who.bars,
        bells_to_bars=tuple(who.bar_of[hammers[0]] for hammers in who.bells),
        beats_per_hour=beats,
        beats_per_turn=turning.beats_per_turn(going) if going else None,
        trains=trains,
        going=going.name if going else None,
        pendulum=_pendulum(movement, beats),
        cannot_say=(*sounding.cannot_say(movement, who.bar_of), *open_),
        beats_from=beats_from,
        dial_starts=dict(movement.dial_starts),
        assumed=tuple(key for key, source in movement.comes_from.items() if source in _NOT_SEEN),
    )


def _trains(
    movement: Movement, day: tuple[ExpectedSounding, ...]
) -> tuple[tuple[ReckonedTrain, ...], Beats, list[CannotSay]]:
    trains: list[ReckonedTrain] = []
    beats, open_ = _beats_without_counts(movement), []
    why = "neither going train nor beats nor the pendulum's length are known", "trains.going.beats_per_hour"
    for train in movement.trains:
        if train.name == "going":
            turned = turning.turning_of_going(train, beats.per_hour)
            beats, more = _beats(turned, beats)
            open_ += more
            why = turning.why_no_beats(turned) if train.arbors and beats.per_hour is None else why
        elif train.name == "strike":
            turned = turning.turning_of_strike(movement, train, day)
        else:
            turned = turning.turning_of_chime(movement, train, at_hour=sounding.plays_at_hour(movement))
        done, more = turning.reckoned(turned)
        trains.append(done)
        open_ += more
    if beats.per_hour is None:
        open_.insert(0, CannotSay("how many beats an hour it makes", *why))
    return tuple(trains), beats, open_


def _beats_without_counts(movement: Movement) -> Beats:
    """Beats an hour as the sheet says them, or from the length of the pendulum."""
    going, length = movement.train("going"), movement.pendulum.length_m
    if going is not None and going.beats_per_hour is not None:
        return Beats(going.beats_per_hour, "sheet")
    if length is None or (going is not None and going.regulator == "balance"):
        return Beats(None, None)
    return Beats(pendulum_beats_per_hour(length, _gravity(movement)), "pendulum")


def _beats(turned: turning.Turning, otherwise: Beats) -> tuple[Beats, list[CannotSay]]:
    """Beats an hour from the counts where they reach, and a word where they contradict what is known otherwise."""
    at, per_turn = turning.escape_at(turned.train), turning.beats_per_turn(turned.train)
    turns = None if at is None else turned.per_hour[at]
    counted = any(arbor.turn_min is not None for arbor in turned.train.arbors)
    if turns is None or per_turn is None or not counted:
        return otherwise, []
    beats = turns * per_turn
    said, source = otherwise
    if said is None or source is None or abs(beats / said - 1.0) <= _AGREE[source]:
        return Beats(beats, "train"), []
    because = f"they give {beats:.6g} beats an hour, and the {source} otherwise {said:.6g}; the counts are taken"
    return Beats(beats, "train"), [CannotSay("whether the counts are right", because, "trains.going.arbors")]


def _gravity(movement: Movement) -> float:
    latitude = movement.pendulum.latitude_deg
    return STANDARD_GRAVITY_M_PER_S2 if latitude is None else normal_gravity_m_per_s2(latitude)


def _pendulum(movement: Movement, beats: float | None) -> Pendulum | None:
    going = movement.train("going")
    if beats is None or (going is not None and going.regulator == "balance"):
        return None
    gravity = _gravity(movement)
    length = pendulum_length_m(beats, gravity)
    return Pendulum(length, rate_per_mm_s_per_day(length), gravity)
