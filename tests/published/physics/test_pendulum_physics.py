"""Rates of an ideal pendulum against independent computations (mpmath's elliptic integral, 50 digits) and print."""

from __future__ import annotations

import math

import mpmath
import numpy as np
import pytest

from quarterjack.horology import (
    STANDARD_GRAVITY_M_PER_S2,
    circular_loss_s_per_day,
    normal_gravity_m_per_s2,
    pendulum_beats_per_hour,
    pendulum_length_m,
    rate_after_lengthening_s_per_day,
    rate_after_move_s_per_day,
    rate_per_mm_s_per_day,
)


@pytest.mark.parametrize(
    ("gravity", "length_m"),
    [
        (STANDARD_GRAVITY_M_PER_S2, 0.993621385566),  # also on a public physics course page, to 1e-6 m
        (normal_gravity_m_per_s2(0.0), 0.990954139441),
        (normal_gravity_m_per_s2(45.0), 0.993575565024),
        (normal_gravity_m_per_s2(51.5), 0.994166855763),
        (normal_gravity_m_per_s2(90.0), 0.996208615695),
    ],
)
def test_seconds_pendulum(gravity: float, length_m: float) -> None:
    assert pendulum_length_m(3600.0, gravity) == pytest.approx(length_m, abs=3e-11)  # gravity is good to 2e-10


def test_regulation() -> None:
    assert rate_per_mm_s_per_day(pendulum_length_m(3600.0)) == pytest.approx(43.4774, abs=1e-4)
    assert rate_per_mm_s_per_day(0.25) == pytest.approx(172.8, abs=1e-9)


def test_a_tenth_of_a_millimetre_short() -> None:
    """The worked case of a public physics course: period 1.99990 s on a pendulum of 0.993621 m."""
    length = 0.993621
    assert 7200 / pendulum_beats_per_hour(length - 1e-4) == pytest.approx(1.99990, abs=5e-6)
    assert rate_after_lengthening_s_per_day(length, -1e-4) == pytest.approx(4.348, abs=5e-4)


def test_moved_by_height_and_latitude() -> None:
    at_45 = normal_gravity_m_per_s2(45.0)
    equator, pole = normal_gravity_m_per_s2(0.0), normal_gravity_m_per_s2(90.0)
    up = rate_after_move_s_per_day(at_45, normal_gravity_m_per_s2(45.0, 100.0))
    assert up == pytest.approx(-1.35928, abs=5e-5)  # 1e-5 s/day for each 2e-9 m/s²
    assert rate_after_move_s_per_day(at_45, equator) == pytest.approx(-114.0531, abs=1e-4)
    assert rate_after_move_s_per_day(equator, pole) == pytest.approx(228.7626, abs=1e-4)


CIRCULAR = [
    (0.5, 0.411233354),
    (1.0, 1.64493146),
    (1.5, 3.70108844),
    (2.0, 6.57969452),
    (2.5, 10.280736),
    (3.0, 14.8041953),
    (4.0, 26.3182773),
    (5.0, 41.1217218),
    (6.0, 59.2142477),
    (8.0, 105.265111),
    (10.0, 164.467385),
    (20.0, 657.560976),
    (60.0, 5891.75496),
    (90.0, 13200.7895),
]


@pytest.mark.parametrize(("swing_deg", "loss"), CIRCULAR)
def test_circular_error_table(swing_deg: float, loss: float) -> None:
    assert circular_loss_s_per_day(swing_deg) == pytest.approx(loss, rel=1e-8)  # nine printed digits


def test_circular_error_against_mpmath() -> None:
    swings = np.array([0.1, 1.75, 3.3, 12.0, 45.0])
    with mpmath.workdps(50):
        wanted = [
            float(86400 * (1 - mpmath.pi / 2 / mpmath.ellipk(mpmath.sin(mpmath.radians(swing) / 2) ** 2)))
            for swing in swings
        ]
    # Double precision leaves 1e-16 of a day in T/T0.
    np.testing.assert_allclose(circular_loss_s_per_day(swings), wanted, rtol=1e-9, atol=1e-10)


def test_circular_error_of_small_swings_is_5400_a_squared() -> None:
    a = math.radians(0.5)
    assert circular_loss_s_per_day(0.5) == pytest.approx(5400 * a**2, rel=1e-6)


def test_circular_error_differences() -> None:
    assert circular_loss_s_per_day(2.1) - circular_loss_s_per_day(2.0) == pytest.approx(0.67441, abs=1e-5)
    assert circular_loss_s_per_day(2.0) - circular_loss_s_per_day(1.5) == pytest.approx(2.87861, abs=1e-5)
