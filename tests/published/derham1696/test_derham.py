"""Pendulums and trains: Derham, *The Artificial Clock-Maker* (1696), chapters II, V and X."""

from __future__ import annotations

import pytest

from quarterjack.horology import (
    beats_of_escape_wheel,
    blows_in_hours,
    gravity_from_seconds_length_m_per_s2,
    pendulum_beats_per_hour,
    pendulum_length_m,
    periods_of_arbors_s,
    run_time_h,
    train_beats_per_hour,
    train_ratio,
)

INCH_M = 0.0254
DERHAM = gravity_from_seconds_length_m_per_s2(39.2 * INCH_M)


def beats_per_minute(inches: float) -> float:
    return pendulum_beats_per_hour(inches * INCH_M, DERHAM) / 60


@pytest.mark.parametrize("beats", [60.0, 90.0, 153.0])
def test_length_times_beats_squared_is_constant(beats: float) -> None:
    """Page 76: 141120, from 39.2 inches at 60 beats a minute."""
    inches = pendulum_length_m(60 * beats, DERHAM) / INCH_M
    assert inches * beats**2 == pytest.approx(141120.0, abs=0.5)


def test_six_inches() -> None:
    """Pages 76 and 77: 153 beats want "about 6" inches, and 6 inches make "153 and somewhat more"."""
    assert pendulum_length_m(153 * 60.0, DERHAM) / INCH_M == pytest.approx(6.03, abs=0.005)
    assert beats_per_minute(6.0) == pytest.approx(153.4, abs=0.05)


# inches, beats a minute, beats an hour
TABLE = [
    (1, 375.7, 22542),
    (2, 265.6, 15936),
    (3, 216.9, 13014),
    (4, 187.8, 11268),
    (5, 168.0, 10080),
    (6, 153.3, 9204),
    (7, 142.0, 8520),
    (8, 132.8, 7968),
    (9, 125.2, 7512),
    (10, 118.8, 7128),
    (20, 84.0, 5040),
    (30, 68.6, 4116),
    (39.2, 60.0, 3600),
    (50, 53.1, 3186),
    (60, 48.5, 2910),
    (70, 44.9, 2694),
    (80, 42.0, 2520),
    (90, 39.6, 2376),
    (100, 37.5, 2250),
]


@pytest.mark.parametrize(("inches", "a_minute", "an_hour"), TABLE)
def test_table_of_beats(inches: float, a_minute: float, an_hour: int) -> None:
    """Page 78. The hours are the printed minutes times sixty, so they carry sixty times their rounding."""
    assert beats_per_minute(inches) == pytest.approx(a_minute, abs=0.11)
    assert 60 * beats_per_minute(inches) == pytest.approx(an_hour, abs=6.1)


def test_forty_inches_is_a_slip() -> None:
    """Page 78: 59.4 a minute is right; the 3264 an hour beside it should be 3564."""
    assert beats_per_minute(40.0) == pytest.approx(59.4, abs=0.05)
    assert abs(60 * beats_per_minute(40.0) - 3264) > 290
    assert 60 * beats_per_minute(40.0) == pytest.approx(3564, abs=0.5)


def test_great_wheel_of_96() -> None:
    """Page 32: 12 hours for a turn, seconds on the escape arbor."""
    assert periods_of_arbors_s((96, 64, 60), (8, 8, 8), 12 * 3600.0) == pytest.approx((3600, 450, 60), abs=1e-9)


def test_eight_day_piece_of_sixteen_turns() -> None:
    """Page 110: 96/8, 60/8, 56/7 and 30, with motion work 48/48 and 72/6."""
    wheels, pinions = (96.0, 60.0, 56.0), (8.0, 8.0, 7.0)
    assert train_beats_per_hour(wheels, pinions, beats_of_escape_wheel(30.0), 12 * 3600.0) == pytest.approx(
        3600, abs=1e-6
    )
    hours_per_turn = train_ratio((96.0,), (8.0,))
    assert hours_per_turn == pytest.approx(12.0, abs=1e-12)
    assert run_time_h(16.0, hours_per_turn) == pytest.approx(192.0, abs=1e-9)
    assert train_ratio((48.0, 72.0), (48.0, 6.0)) == pytest.approx(12.0, abs=1e-12)


def test_blows_of_a_day_and_of_thirty_hours() -> None:
    """Pages 34 to 36."""
    assert blows_in_hours(12) == 78
    assert blows_in_hours(24) == 156
    assert blows_in_hours(30) - blows_in_hours(24) == 21
