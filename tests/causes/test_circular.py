"""Circular tests against printed tables and another library."""

from __future__ import annotations

import numpy as np
import pytest

from quarterjack.causes import circular_range, range_p, rayleigh_p, resultant

# Zar, Biostatistical Analysis, 5th ed. (2010), example 27.1, p. 667.
ZAR_27_1_DEG = (45, 55, 81, 96, 110, 117, 132, 154)

# Mardia (1972) as printed in Davis, Statistics and Data Analysis in Geology, table A.10: n, critical r at .10 .05 .025
# .01. Printed to three places after an approximation; the largest printed step from the exact value is 0.003.
MARDIA = (
    (6, (0.618, 0.690, 0.753, 0.825)),
    (7, (0.572, 0.642, 0.702, 0.771)),
    (8, (0.535, 0.602, 0.660, 0.725)),
    (9, (0.504, 0.569, 0.624, 0.687)),
    (10, (0.478, 0.540, 0.594, 0.655)),
    (12, (0.437, 0.494, 0.544, 0.602)),
    (15, (0.391, 0.443, 0.489, 0.542)),
    (20, (0.339, 0.385, 0.425, 0.472)),
)
ALPHAS = (0.10, 0.05, 0.025, 0.01)


def test_zar_example() -> None:
    mean, r = resultant(np.deg2rad(ZAR_27_1_DEG))
    assert 8 * r == pytest.approx(6.60174, abs=5e-6)
    assert np.rad2deg(mean) == pytest.approx(98.988, abs=5e-4)
    assert 8 * r**2 == pytest.approx(5.448, abs=5e-4)
    p = rayleigh_p(8, r)
    assert 0.001 < p < 0.002
    # Exact by the same integral elsewhere 0.001655; four million draws at random 0.0016465.
    assert p == pytest.approx(0.001655, abs=1e-5)


@pytest.mark.parametrize(("n", "row"), MARDIA)
def test_critical_values_as_printed(n: int, row: tuple[float, ...]) -> None:
    for alpha, r in zip(ALPHAS, row, strict=True):
        low, high = rayleigh_p(n, r + 0.0035), rayleigh_p(n, r - 0.0035)
        assert low <= alpha <= high


@pytest.mark.parametrize("n", [3, 4, 5, 8])
def test_both_against_drawing_at_random(n: int) -> None:
    rng = np.random.default_rng(20)
    angles = rng.uniform(0, 2 * np.pi, (100_000, n))
    drawn = np.abs(np.exp(1j * angles).mean(axis=1))
    ordered = np.sort(angles, axis=1)
    gaps = np.diff(ordered, axis=1, append=ordered[:, :1] + 2 * np.pi)
    arcs = 2 * np.pi - gaps.max(axis=1)
    for r in (0.4, 0.7, 0.9):
        share = float((drawn >= r).mean())
        assert rayleigh_p(n, r) == pytest.approx(share, abs=4 * np.sqrt(share * (1 - share) / 100_000) + 1e-4)
    for arc in (0.8, 2.5, 4.0):
        share = float((arcs <= arc).mean())
        assert range_p(n, arc) == pytest.approx(share, abs=4 * np.sqrt(share * (1 - share) / 100_000) + 1e-4)


def test_range_by_geometry() -> None:
    # Two directions lie within an arc w of each other with the chance w / pi.
    assert range_p(2, np.pi / 3) == pytest.approx(1 / 3)
    assert range_p(5, 2 * np.pi) == pytest.approx(1)
    assert circular_range(np.deg2rad([350, 10, 20])) == pytest.approx(np.deg2rad(30))
