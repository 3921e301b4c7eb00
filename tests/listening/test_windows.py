"""Windows and the laying of cores against slow plain twins."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from quarterjack.listening.front import BANDS
from quarterjack.listening.learn import align
from quarterjack.listening.refine import lay, unevenness_s
from quarterjack.listening.windows import AFTER, BEFORE, Sound, Windows

RATE = 16_000
RNG = np.random.default_rng(7)
SAMPLES = (0.1 * RNG.standard_normal(RATE)).astype(np.float32)


def slow_cut(windows: Windows, middle: int, size: int) -> list[float]:
    lead = round(windows.lead * windows.step_s * RATE)
    cut = []
    for i in range(middle - lead, middle - lead + size):
        if i < 0:
            cut.append(2.0 * SAMPLES[0] - SAMPLES[-i])
        elif i >= SAMPLES.size:
            cut.append(2.0 * SAMPLES[-1] - SAMPLES[2 * (SAMPLES.size - 1) - i])
        else:
            cut.append(float(SAMPLES[i]))
    return cut


@pytest.mark.parametrize("middle", [30, 5_000, RATE - 20])
def test_windows_are_cut_as_by_hand(middle: int) -> None:
    windows = Windows(RATE, 0.05, 0.05)
    cut, real = windows.cut(Sound(SAMPLES, 0), np.array([middle]))
    np.testing.assert_allclose(cut[0], slow_cut(windows, middle, cut.shape[1]), atol=1e-6)
    inside = np.arange(cut.shape[1])
    begin = middle - round(windows.lead * windows.step_s * RATE)
    expected = (inside + begin >= 0) & (inside + begin < SAMPLES.size)
    np.testing.assert_array_equal((inside >= real[0, 0]) & (inside < real[0, 1]), expected)


def test_the_absolute_number_of_the_first_sample_counts() -> None:
    windows = Windows(RATE, 0.05, 0.05)
    here, _ = windows.cut(Sound(SAMPLES, 0), np.array([8_000]))
    there, _ = windows.cut(Sound(SAMPLES[3_000:], 3_000), np.array([8_000]))
    np.testing.assert_array_equal(here, there)


def test_steps_up_agree_with_a_plain_sum() -> None:
    windows = Windows(RATE, 0.05, 0.05)
    weights, _ = windows.weights(np.full(BANDS, 0.01), np.full(BANDS, 0.001))
    steps = windows.steps(Sound(SAMPLES, 0), np.array([4_000, 9_000]), weights)
    for row in range(2):
        level = steps.level[row].astype(float)
        for i in range(BEFORE, windows.points - AFTER):
            change = level[i : i + AFTER].mean() - level[i - BEFORE : i].mean()
            assert steps.up[row, i] == pytest.approx(max(change, 0.0), abs=1e-5)


def test_the_noise_weighs_one_in_all() -> None:
    windows = Windows(44_100, 0.05, 0.05)
    noise = 10.0 ** RNG.uniform(-8, -4, BANDS)
    weights, usual = windows.weights(np.full(BANDS, 1e-4), np.stack([noise, noise]))
    one, _ = windows.weights(np.full(BANDS, 1e-4), noise)
    np.testing.assert_allclose(weights[0], one)
    edges = np.flatnonzero(np.diff(one)) + 1
    level = np.array([part[0] for part in np.split(one, edges)], float)
    assert float((level**2 * noise).sum()) == pytest.approx(1.0, rel=1e-3)
    assert usual[0] > 0


def slow_lay(row: NDArray[np.float64], core: NDArray[np.float64], around: int, reach: int) -> tuple[int, float]:
    best, worth, height = 0, -np.inf, 0.0
    for lag in range(-reach, reach + 1):
        place = min(max(around + lag, 0), row.size - core.size)
        fit = sum(row[place + i] * core[i] for i in range(core.size)) / sum(core**2)
        if fit * (1.0 - 0.3 * (lag / reach) ** 2) > worth:
            best, worth, height = place, fit * (1.0 - 0.3 * (lag / reach) ** 2), fit
    return best, height


def test_laying_agrees_with_a_plain_search() -> None:
    rows = np.abs(RNG.standard_normal((12, 90)))
    cores = np.maximum(RNG.standard_normal((12, 30)), 0.0)
    around = RNG.integers(5, 50, 12)
    place, height, square = lay(rows, cores, around, 9)
    for i in range(12):
        best, fit = slow_lay(rows[i], cores[i], int(around[i]), 9)
        assert place[i] == pytest.approx(best, abs=0.5)
        assert height[i] == pytest.approx(fit)
        assert square[i] == pytest.approx(float((cores[i] ** 2).sum()))


def test_laying_is_exact_to_a_fraction_of_a_point() -> None:
    x = np.arange(120)
    true = 41.0 + np.array([0.0, 0.2, 0.45, -0.3])
    rows = np.exp(-(((x - (true + 15.0)[:, None]) / 5.0) ** 2))
    core = np.exp(-(((np.arange(30) - 15.0) / 5.0) ** 2))
    place, _, _ = lay(rows, np.tile(core, (4, 1)), np.full(4, 40), 8)
    np.testing.assert_allclose(place, true, atol=0.03)


def test_rows_are_aligned() -> None:
    x = np.arange(200)
    late = np.array([0, 7, -5, 12, -9])
    rows = np.exp(-np.abs(x - 100 - late[:, None]) / 2.0) + 0.5 * np.exp(-np.abs(x - 130 - late[:, None]) / 3.0)
    shift = align(rows, 20)
    np.testing.assert_array_equal(shift - shift[0], late - late[0])


def test_unevenness_is_about_the_jitter() -> None:
    number = np.arange(400)
    t_s = number * 0.5 + (number % 2) * 0.05 + 1e-3 * RNG.standard_normal(400)
    # A point less the mean of two others scatters by the square root of 3/2.
    assert unevenness_s(number, t_s) == pytest.approx(1e-3 * np.sqrt(1.5), rel=0.15)
    assert unevenness_s(number[:2], t_s[:2]) == 0.0
    assert unevenness_s(np.empty(0, np.int64), np.empty(0)) == 0.0
