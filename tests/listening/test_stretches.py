"""Stretches that may ring, from band energies."""

from __future__ import annotations

import itertools

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from struck import play, room, tick

from quarterjack.listening.front import Front
from quarterjack.listening.stretches import LEAD_S, LONGEST_S, TAIL_S, Stretches

RATE = 8000


def _energies(sound: NDArray[np.float32]) -> NDArray[np.float32]:
    return Front(RATE).push(sound)[1]


def _find(energies: NDArray[np.float32], cuts: list[int] | None = None) -> list[tuple[int, int]]:
    stretches = Stretches(0.001)
    found: list[tuple[int, int]] = []
    for piece in np.split(energies, sorted(cuts or [])):
        found += stretches.push(piece)
    return found + stretches.finish()


def test_a_stroke_has_its_lead_and_its_ring() -> None:
    found = _find(_energies(play([(20.0, 300.0)], RATE, ring_s=30.0)))
    assert len(found) == 2  # the beginning, and the stroke at 21.5 s
    start, end = found[1]
    assert start <= 21_500 - 1000 * (LEAD_S - 0.3)
    assert end >= 21_500 + 1000 * (TAIL_S - 0.6)


def test_ticks_and_steady_noise_are_no_reason_to_look() -> None:
    sound = room(60.0, RATE, level=0.01)
    for number in range(110):
        tick(sound, RATE, 2.0 + 0.5 * number, level=0.5, seed=number)
    assert _find(_energies(sound)) == [(0, round(1000 * TAIL_S))]


def test_no_stretch_is_longer_than_memory_allows_and_each_cut_leaves_a_lead() -> None:
    notes = [(0.8 * number, 300.0 + 7.0 * (number % 9)) for number in range(150)]
    found = _find(_energies(play(notes, RATE)))
    assert max(end - start for start, end in found) <= 1000 * (LONGEST_S + TAIL_S)
    for (_, end), (start, _) in itertools.pairwise(found):
        assert start <= end


@settings(deadline=None, max_examples=20)
@given(st.lists(st.integers(0, 52_000), max_size=12))
def test_stretches_do_not_depend_on_how_the_frames_came(cuts: list[int]) -> None:
    assert _find(_ENERGIES, cuts) == _find(_ENERGIES)


_ENERGIES = _energies(play([(5.0, 300.0), (9.0, 250.0), (30.0, 400.0)], RATE, ring_s=20.0))


def test_sound_is_kept_while_it_may_be_needed() -> None:
    stretches = Stretches(0.001)
    done: list[tuple[int, int]] = []
    for start in range(0, len(_ENERGIES), 700):
        needed = stretches.needed_from
        new = stretches.push(_ENERGIES[start : start + 700])
        assert all(first >= needed for first, _ in new)
        done += new
    assert done
