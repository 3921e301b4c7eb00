"""Tunes laid beside chimes, pitches of bars, and how blows are parted."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from struck import FREE_BAR

from quarterjack.listening.bars import GRID_HZ, given_portrait, group
from quarterjack.listening.parting import by_silence, hour_starts, phrases
from quarterjack.listening.pitch import log_pitches
from quarterjack.listening.tune_match import edits, flat, match_tune
from quarterjack.tunes import CAMBRIDGE, SIX_BELL, TING_TANG, TUNES

PITCHES = {10: 4.0, 11: 2.0, 12: 0.0, 13: -5.0}
BAR = {1: 10, 2: 11, 3: 12, 4: 13}


def _chime(*bells: int) -> tuple[int, ...]:
    return tuple(BAR[bell] for bell in bells)


@pytest.mark.parametrize("quarter", [1, 2, 3, 4])
def test_each_printed_quarter_is_named(quarter: int) -> None:
    found = match_tune([_chime(*flat(CAMBRIDGE, quarter))], PITCHES, TUNES.values())
    assert found is not None
    assert (found.tune, found.quarters, found.bells) == (CAMBRIDGE, (quarter,), {10: 1, 11: 2, 12: 3, 13: 4})


def test_four_notes_fit_no_quarter_by_renaming_the_bars() -> None:
    """1 4 3 2 would be the plain scale under another naming, but the pitches say what it is."""
    assert match_tune([_chime(1, 4, 3, 2)], PITCHES, TUNES.values()) is None


def test_a_long_row_may_be_named_against_the_pitch() -> None:
    """Sixteen notes that fit throughout outweigh pitches that may be misjudged."""
    muddled = {10: 0.0, 11: 2.0, 12: 4.0, 13: -5.0}
    found = match_tune([_chime(*flat(CAMBRIDGE, 4))], muddled, TUNES.values())
    assert found is not None
    assert found.quarters == (4,)


def test_six_bells_need_not_all_sound_in_one_quarter() -> None:
    bars = {bell: 20 + bell for bell in range(1, 7)}
    pitches = {bars[bell]: -float(bell) for bell in bars}
    found = match_tune([tuple(bars[bell] for bell in flat(SIX_BELL, 1))], pitches, TUNES.values())
    assert found is not None
    assert (found.tune.name, found.quarters) == ("six-bell", (1,))


def test_pairs_are_ting_tang() -> None:
    found = match_tune([(5, 6, 5, 6, 5, 6)], {5: 1.0, 6: -1.0}, TUNES.values())
    assert found is not None
    assert (found.tune, found.quarters) == (TING_TANG, (3,))


@cache
def _edits_plainly(heard: tuple[int, ...], expected: tuple[int, ...]) -> int:
    if not heard or not expected:
        return len(heard) + len(expected)
    return min(
        _edits_plainly(heard[1:], expected) + 1,
        _edits_plainly(heard, expected[1:]) + 1,
        _edits_plainly(heard[1:], expected[1:]) + (heard[0] != expected[0]),
    )


@given(st.lists(st.integers(1, 3), max_size=7), st.lists(st.integers(1, 3), max_size=7))
def test_edits_are_those_of_the_definition(heard: list[int], expected: list[int]) -> None:
    assert edits(heard, expected) == _edits_plainly(tuple(heard), tuple(expected))


def test_pitches_of_bars_of_one_shape_are_their_intervals() -> None:
    """Free bars by the beam equation, tuned G# F# E B: 2, 2 and 5 semitones apart (handbook item 121)."""
    hz = [180.0 * 2 ** (semitone / 12) for semitone in (4, 2, 0, -5)]
    means = np.array([given_portrait([ratio * one for ratio in FREE_BAR]) for one in hz])
    semitones = log_pitches(means) * 12 / np.log(2)
    assert -np.diff(semitones) == pytest.approx([2.0, 2.0, 5.0], abs=0.15)


def test_a_week_of_strokes_is_grouped_from_what_the_first_taught() -> None:
    random = np.random.default_rng(2)
    bars = np.array([given_portrait(sorted(random.uniform(100, 4000, 9).tolist())) for _ in range(5)])
    true = random.integers(0, 4, 1500)
    true[1200:1210] = 4  # a bar that is first struck late
    noise = np.abs(random.standard_normal((true.size, GRID_HZ.size)).astype(np.float32))
    seen = bars[true] + np.float32(0.02) * noise
    labels = group(seen / np.sqrt((seen**2).sum(axis=1, keepdims=True)), np.ones(true.size))
    assert len({(a, b) for a, b in zip(true.tolist(), labels.tolist(), strict=True)}) == 5


def _every(count: int, seconds: float) -> NDArray[np.float64]:
    return np.arange(count, dtype=np.float64) * seconds


def test_silence_parts_by_the_rhythm_around_it() -> None:
    chime = _every(8, 0.6)
    assert by_silence(np.concatenate([chime, chime + 30.0])) == [(0, 8), (8, 16)]
    assert by_silence(_every(5, 9.0)) == [(0, 5)]


def test_phrases_are_parted_at_the_rests() -> None:
    seven_and_six = np.concatenate([_every(7, 0.4), 3.6 + _every(6, 0.4)])
    assert phrases(seven_and_six) == (7, 6)
    pairs = np.concatenate([[at, at + 0.5] for at in (0.0, 1.5, 3.0, 4.5)])
    assert phrases(pairs) == (2, 2, 2, 2)
    assert phrases(_every(4, 0.6)) == (4,)


def test_the_hour_is_a_tail_on_one_bar_after_a_rest() -> None:
    times = np.concatenate([_every(4, 0.6), [3.6, 5.4, 7.2]])
    assert hour_starts(times, [1, 2, 3, 4, 5, 5, 5])[0] == 4
    assert hour_starts(_every(4, 0.6), [1, 2, 3, 4])[0] == 4
    assert hour_starts(_every(3, 2.0), [1, 1, 1]) == [0]
