"""From struck bars to soundings, on made sound: other tunes, other bars, other speeds."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
import pytest
from numpy.typing import NDArray
from struck import BELL, FREE_BAR, HELD_ROD, play

from quarterjack.listening.front import Front
from quarterjack.listening.heard import Blow, Sounding
from quarterjack.listening.hints import NO_HINTS, BarHint, Hints
from quarterjack.listening.striking import Striking
from quarterjack.tunes import CAMBRIDGE, SIX_BELL, TING_TANG, Tune

RATE = 24000
SEMITONES = {"cambridge": (4, 2, 0, -5), "ting-tang": (5, 0), "six-bell": (10, 9, 7, 5, 2, 0)}
"""Bells above a common note: handbook items 121, 126 (a fourth) and 125."""


def _notes(
    phrases: Sequence[Sequence[int]], semitones: Sequence[int], hz: float, note_s: float, rest_s: float
) -> list[tuple[float, float]]:
    at, notes = 0.0, []
    for phrase in phrases:
        for bell in phrase:
            notes.append((at, hz * 2 ** (semitones[bell - 1] / 12)))
            at += note_s
        at += rest_s
    return notes


def _quarter(
    tune: Tune, quarter: int, hz: float, note_s: float = 0.55, rest_s: float = 0.5
) -> list[tuple[float, float]]:
    return _notes(tune.quarters[quarter - 1], SEMITONES[tune.name], hz, note_s, rest_s)


def _hear(
    sound: NDArray[np.float32], hints: Hints = NO_HINTS, block: int = 60_000
) -> tuple[tuple[Blow, ...], tuple[Sounding, ...]]:
    front, striking = Front(RATE), Striking(RATE, hints)
    for start in range(0, sound.size, block):
        samples = sound[start : start + block]
        striking.page(samples, front.push(samples)[1])
    striking.finish()
    blows, soundings, _ = striking.named()
    return blows, soundings


@pytest.mark.parametrize(("ratios", "hz"), [(FREE_BAR, 180.0), (HELD_ROD, 90.0), (BELL, 400.0)])
@pytest.mark.parametrize(("tune", "quarter"), [(CAMBRIDGE, 1), (CAMBRIDGE, 2), (TING_TANG, 2), (SIX_BELL, 2)])
def test_quarters_are_named_whatever_the_bars(tune: Tune, quarter: int, ratios: tuple[float, ...], hz: float) -> None:
    blows, soundings = _hear(play(_quarter(tune, quarter, hz), RATE, ratios=ratios))
    assert [blow.bar for blow in blows] == list(itertools.chain.from_iterable(tune.quarters[quarter - 1]))
    assert [(s.kind, s.quarter, s.tune) for s in soundings] == [("quarter", quarter, tune.name)]
    assert soundings[0].phrases == tuple(len(phrase) for phrase in tune.quarters[quarter - 1])


def test_the_hour_is_told_from_the_quarters_even_on_a_bar_of_theirs() -> None:
    chime = _quarter(TING_TANG, 4, 200.0)
    hours = [(chime[-1][0] + 2.5 + 1.7 * blow, chime[-1][1]) for blow in range(4)]
    blows, soundings = _hear(play([*chime, *hours], RATE))
    assert [(s.kind, s.quarter, s.n_blows) for s in soundings] == [("quarter", 4, 8), ("hour", None, 4)]
    assert [blow.kind for blow in blows] == ["chime"] * 8 + ["hour"] * 4


def test_what_was_heard_is_not_put_right() -> None:
    """Two notes of a second quarter changed places: the tune is still known, and the notes stay as they fell."""
    phrases = ((3, 1, 2, 4), (3, 1, 2, 3))
    blows, soundings = _hear(play(_notes(phrases, SEMITONES["cambridge"], 180.0, 0.55, 0.5), RATE))
    assert [blow.bar for blow in blows] == [3, 1, 2, 4, 3, 1, 2, 3]
    assert soundings[0].tune in (None, "cambridge")


def test_phrases_of_the_tune_in_another_order_are_no_quarter() -> None:
    """A barrel one phrase out, as trade practice calls it: right phrases, wrong quarter."""
    phrases = ((3, 2, 1, 3), (1, 3, 2, 4))
    blows, soundings = _hear(play(_notes(phrases, SEMITONES["cambridge"], 180.0, 0.55, 0.5), RATE))
    assert [blow.note for blow in blows] == ["E", "F#", "G#", "E", "G#", "E", "F#", "B"]
    assert (soundings[0].tune, soundings[0].quarter) == ("cambridge", None)


def test_a_tune_that_is_none_of_the_known_is_not_named() -> None:
    phrases = ((1, 1, 4, 4), (2, 2, 4, 1), (4, 3, 3, 4))
    _, soundings = _hear(play(_notes(phrases, SEMITONES["cambridge"], 180.0, 0.6, 0.5), RATE))
    assert [(s.kind, s.tune, s.quarter) for s in soundings] == [("quarter", None, None)]


def test_soundings_far_apart_are_two_and_their_bars_are_the_same() -> None:
    first = _quarter(CAMBRIDGE, 1, 180.0)
    second = [(at + 20.0, hz) for at, hz in _quarter(CAMBRIDGE, 2, 180.0)]
    blows, soundings = _hear(play([*first, *second], RATE))
    assert [(s.quarter, s.n_blows) for s in soundings] == [(1, 4), (2, 8)]
    assert [blow.bar for blow in blows] == [1, 2, 3, 4, 3, 1, 2, 4, 3, 2, 1, 3]


def test_hour_blows_alone_are_counted_and_a_lone_blow_is_not_named() -> None:
    _, many = _hear(play([(2.0 * blow, 150.0) for blow in range(7)], RATE))
    assert [(s.kind, s.n_blows) for s in many] == [("hour", 7)]
    _, lone = _hear(play([(0.0, 150.0)], RATE))
    assert [(s.kind, s.n_blows) for s in lone] == [("unknown", 1)]


def test_bars_of_the_clock_are_numbered_as_its_own() -> None:
    """Bells say which bars; the hour has its own; a hammer is named only where one alone strikes the bar."""
    hints = Hints(
        bars=(
            BarHint(7, note="A", hammers=(1,)),
            BarHint(6, note="G", hammers=(2,)),
            BarHint(5, note="F", hammers=(3,)),
            BarHint(4, note="C", hammers=(4, 5)),
            BarHint(2, note="C", hammers=(6,), hour=True),
        ),
        bells_to_bars=(7, 6, 5, 4),
    )
    chime = _quarter(CAMBRIDGE, 4, 180.0)
    hours = [(chime[-1][0] + 3.0 + 2.0 * blow, 97.0) for blow in range(2)]
    blows, _ = _hear(play([*chime, *hours], RATE), hints)
    expected = [(7, 6, 5, 4)[bell - 1] for phrase in CAMBRIDGE.quarters[3] for bell in phrase]
    assert [blow.bar for blow in blows] == [*expected, 2, 2]
    assert {blow.hammer for blow in blows if blow.bar == 4} == {None}
    assert {(blow.note, blow.hammer) for blow in blows if blow.bar == 7} == {("A", 1)}


@pytest.mark.parametrize("block", [997, 24_000, 10**7])
def test_blows_do_not_depend_on_how_the_sound_was_handed_over(block: int) -> None:
    sound = play([*_quarter(CAMBRIDGE, 1, 180.0), (14.0, 110.0), (40.0, 110.0)], RATE)
    assert _hear(sound, block=block) == _hear(sound)
