"""Silence that a browser puts in is taken out; silence that is there stays."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from quarterjack.web.mending import Mender

RATE = 44_100
BUFFER = 441


def sound(n: int, seed: int = 1) -> NDArray[np.float32]:
    """Noise without a single zero."""
    drawn = np.random.default_rng(seed)
    return np.asarray(drawn.uniform(0.001, 0.1, n) * drawn.choice([-1.0, 1.0], n), np.float32)


def put_in(samples: NDArray[np.float32], places: list[tuple[int, int]]) -> NDArray[np.float32]:
    """Put runs of zeros in before the given samples."""
    pieces, at = [], 0
    for place, length in sorted(places):
        pieces += [samples[at:place], np.zeros(length, np.float32)]
        at = place
    return np.concatenate([*pieces, samples[at:]])


def mended(samples: NDArray[np.float32], cuts: list[int]) -> tuple[NDArray[np.float32], Mender]:
    mender = Mender(RATE)
    parts = [mender.feed(part) for part in np.split(samples, sorted(cuts))]
    return np.concatenate([*parts, mender.rest()]), mender


@given(
    places=st.lists(st.integers(1, 19_999), min_size=0, max_size=5, unique=True),
    blocks=st.lists(st.sampled_from([BUFFER, 2 * BUFFER, 128, 3 * 128]), min_size=5, max_size=5),
    cuts=st.lists(st.integers(0, 20_000), max_size=6),
)
def test_buffers_put_in_are_taken_out_however_the_stream_is_cut(
    places: list[int], blocks: list[int], cuts: list[int]
) -> None:
    whole = sound(20_000)
    broken = put_in(whole, list(zip(places, blocks, strict=False)))
    got, mender = mended(broken, cuts)
    np.testing.assert_array_equal(got, whole)
    assert mender.taken_out == broken.size - whole.size
    assert mender.times == len(places)


def test_silence_of_another_length_stays() -> None:
    for length in (1, 50, 127, 200, 300, 1000, 4500, 44_100):
        broken = put_in(sound(10_000), [(5000, length)])
        got, mender = mended(broken, [5100])
        np.testing.assert_array_equal(got, broken)
        assert mender.times == 0


def test_a_muted_microphone_is_passed_on_as_silence() -> None:
    silence = np.zeros(3 * RATE, np.float32)
    got, mender = mended(silence, list(range(4410, silence.size, 4410)))
    np.testing.assert_array_equal(got, silence)
    assert mender.times == 0


def test_silence_before_the_first_sound_stays() -> None:
    opening = np.concatenate([np.zeros(3 * BUFFER, np.float32), sound(1000)])
    got, _ = mended(opening, [100, 500])
    np.testing.assert_array_equal(got, opening)
