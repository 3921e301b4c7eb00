"""The front against a slow plain twin, and its independence of how samples come in blocks."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from quarterjack.listening.front import BAND_EDGES_HZ, BANDS, Front, hop_samples
from quarterjack.listening.picks import CELL_FRAMES, rises, suddenness

NOISE = np.random.default_rng(5).standard_normal(20_000).astype(np.float32)


def slow_energies(samples: NDArray[np.float32], rate: int) -> NDArray[np.float64]:
    """Band energies one frame at a time, by a plain discrete Fourier sum in double precision."""
    hop = hop_samples(rate)
    x = samples.astype(np.float64)
    padded = np.concatenate([[x[0], x[0]], x])
    second = padded[2:] - 2.0 * padded[1:-1] + padded[:-2]
    n = np.arange(hop)
    frames = []
    for start in range(0, x.size - hop + 1, hop):
        bands = np.zeros(BANDS)
        for k in range(hop // 2 + 1):
            turn = np.exp(-2j * np.pi * k * n / hop)
            twice = 1.0 if k == 0 or 2 * k == hop else 2.0
            band = next(b for b in range(BANDS) if BAND_EDGES_HZ[b] <= k * rate / hop < BAND_EDGES_HZ[b + 1])
            if band < 3:
                power = abs(np.sum(x[start : start + hop] * turn)) ** 2
            else:
                power = abs(np.sum(second[start : start + hop] * turn)) ** 2 / (2.0 * np.sin(np.pi * k / hop)) ** 4
            bands[band] += twice * power / hop**2
        frames.append(bands)
    return np.array(frames)


@pytest.mark.parametrize("rate", [8_000, 11_025, 44_100, 48_000, 96_000])
def test_energies_agree_with_a_plain_fourier_sum(rate: int) -> None:
    samples = NOISE[: hop_samples(rate) * 20]
    first, energies = Front(rate).push(samples)
    assert first == 0
    np.testing.assert_allclose(energies, slow_energies(samples, rate), rtol=2e-3, atol=1e-6)


@given(cuts=st.lists(st.integers(0, NOISE.size), max_size=12))
@settings(max_examples=40)
def test_energies_do_not_depend_on_blocks(cuts: list[int]) -> None:
    _, whole = Front(48_000).push(NOISE)
    front = Front(48_000)
    edges = [0, *sorted(cuts), NOISE.size]
    parts = [front.push(NOISE[a:b]) for a, b in itertools.pairwise(edges)]
    assert [first for first, _ in parts] == np.cumsum([0, *[len(e) for _, e in parts]])[:-1].tolist()
    np.testing.assert_allclose(np.concatenate([e for _, e in parts]), whole, rtol=1e-4, atol=1e-10)


def test_a_band_above_half_the_rate_is_empty() -> None:
    _, energies = Front(8_000).push(NOISE)
    assert not energies[:, 4:].any()
    assert energies[:, :4].all()


def test_a_tone_stands_in_its_own_band() -> None:
    tone = np.sin(2 * np.pi * 5_000 * np.arange(48_000) / 48_000).astype(np.float32)
    _, energies = Front(48_000).push(tone)
    np.testing.assert_allclose(energies[10:, 3], 0.5, rtol=1e-3)
    assert energies[10:, [0, 1, 2, 5]].max() < 1e-3


def test_the_curve_rises_at_a_click_and_not_in_noise() -> None:
    rng = np.random.default_rng(1)
    energies = (1e-6 * rng.chisquare(10, (4 * CELL_FRAMES, BANDS))).astype(np.float32)
    energies[1000:1020] *= 1000.0
    curve = suddenness(rises(energies))
    assert int(np.argmax(curve)) == pytest.approx(1000, abs=2)
    assert np.percentile(curve, 99) < 0.25 * curve.max()


def test_no_frames_give_no_curve() -> None:
    assert suddenness(rises(np.zeros((0, BANDS), np.float32))).shape == (0,)
