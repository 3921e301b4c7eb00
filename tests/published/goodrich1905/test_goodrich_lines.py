"""Lines and pulleys: Goodrich, *The Modern Clock* (1905), chapter XV."""

from __future__ import annotations

import math

import pytest

from quarterjack.horology import line_length, line_wound_m, weight_fall_m, working_diameter_m

INCH_M = 0.0254


def test_working_diameter_is_barrel_and_one_line() -> None:
    assert working_diameter_m(2.0 * INCH_M, 0.0625 * INCH_M) / INCH_M == pytest.approx(2.0625, abs=1e-12)


def test_line_is_pi_times_working_diameter_times_turns() -> None:
    assert line_wound_m(16.0, 0.045, 0.0014) == pytest.approx(math.pi * 0.0464 * 16, abs=1e-12)


def test_pulley_halves_the_fall() -> None:
    assert weight_fall_m(2.4, 2.0) == pytest.approx(weight_fall_m(2.4, 1.0) / 2, abs=1e-12)


def test_about_twelve_inches_more_for_a_pulley() -> None:
    """The book adds "about 12 inches" to what winds on the barrel; within half an inch of it."""
    found = line_length(16.0, 0.045, line_m=0.0014, falls=2)
    assert (found.length_m - found.wound_m) / INCH_M == pytest.approx(12.0, abs=0.5)
