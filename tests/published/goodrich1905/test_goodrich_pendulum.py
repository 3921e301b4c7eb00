"""Pendulum lengths and their tables: Goodrich, *The Modern Clock* (1905), chapter II.

His lengths rest on the measured seconds pendulum of London, 39.1393 inches; the millimetre tables (taken over from
Gourdin) on 12,880,337.93 m for one beat an hour.
"""

from __future__ import annotations

import math

import pytest

from quarterjack.horology import (
    gravity_from_seconds_length_m_per_s2,
    lengthening_for_rate_m,
    pendulum_beats_per_hour,
    pendulum_length_m,
    rate_per_mm_s_per_day,
)

INCH_M = 0.0254
LONDON = gravity_from_seconds_length_m_per_s2(39.1393 * INCH_M)
GOURDIN = gravity_from_seconds_length_m_per_s2(12_880_337.93 / 3600**2)


@pytest.mark.parametrize(
    ("beat_s", "inches", "tolerance_in"),
    [
        (1.0, 39.1393, 5e-5),  # printed to 1e-4 in
        (3.0, 352.2537, 5e-5),
        (60 / 90, 17.3952, 5e-5),
        (0.5, 9.7848, 5e-5),
    ],
)
def test_length_of_a_beat_in_inches(beat_s: float, inches: float, tolerance_in: float) -> None:
    assert pendulum_length_m(3600 / beat_s, LONDON) / INCH_M == pytest.approx(inches, abs=tolerance_in)


def test_three_second_pendulum_in_feet() -> None:
    # Printed 29.3544, cut off after the fourth place (29.35448).
    assert pendulum_length_m(1200.0, LONDON) / INCH_M / 12 == pytest.approx(29.3544, abs=1e-4)


def test_gravity_of_the_text_gives_the_measured_length_only_nearly() -> None:
    # With g = 32.2 ft/s² the seconds pendulum is 3.2625 ft; the book's 3.2616 ft is the measured one.
    foot_m = 0.3048
    assert pendulum_length_m(3600.0, 32.2 * foot_m) / foot_m == pytest.approx(3.2625, abs=5e-5)
    assert pendulum_length_m(3600.0, LONDON) / foot_m == pytest.approx(3.2616, abs=5e-5)


# beats an hour, length in mm, change of length in mm for one minute a day
GOURDIN_TABLE = [
    (3600, 993.9, 1.38),
    (4000, 805.0, 1.09),
    (4500, 636.1, 0.86),
    (5000, 515.2, 0.70),
    (6000, 357.8, 0.48),
    (6600, 295.7, 0.40),
    (7200, 248.5, 0.34),
    (7500, 229.0, 0.31),
    (8000, 201.3, 0.27),
    (9000, 159.0, 0.22),
    (10000, 128.8, 0.18),
    (12000, 89.5, 0.12),
    (14400, 62.1, 0.09),
    (18000, 39.8, 0.05),
    (20000, 32.2, 0.04),
]


@pytest.mark.parametrize(("beats", "millimetres", "a_minute_mm"), GOURDIN_TABLE)
def test_length_table_in_millimetres(beats: int, millimetres: float, a_minute_mm: float) -> None:
    length = pendulum_length_m(float(beats), GOURDIN)
    # Printed to 0.1 mm; 0.06 because some entries are cut off instead of rounded.
    assert 1000 * length == pytest.approx(millimetres, abs=0.06)
    # Printed to 0.01 mm; between 3650 and 6000 the column lies up to 2.8 % low, as if its two companions were averaged.
    assert 60 / rate_per_mm_s_per_day(length) == pytest.approx(a_minute_mm, abs=0.006 + 0.028 * a_minute_mm)


@pytest.mark.parametrize(
    ("beats", "metres", "tolerance_m"),
    [
        (3000, 1.4312, 1e-4),  # printed to 0.1 mm, some cut off
        (2700, 1.7669, 1e-4),
        (2400, 2.2362, 1e-4),
        (2000, 3.2201, 1e-4),
        (1800, 3.975, 1e-3),  # printed to 1 mm
        (1200, 8.945, 1e-3),
        (900, 15.902, 1e-3),
        (600, 35.779, 1e-3),
        (60, 3577.871, 1e-3),
        (1, 12_880_337.93, 0.005),
    ],
)
def test_slow_end_of_the_table(beats: int, metres: float, tolerance_m: float) -> None:
    assert pendulum_length_m(float(beats), GOURDIN) == pytest.approx(metres, abs=tolerance_m)


@pytest.mark.parametrize(("beats", "millimetres"), [(3600, 1.38), (3000, 1.99), (2400, 3.11), (2000, 4.48)])
def test_lengthening_for_a_minute_lost_a_day(beats: int, millimetres: float) -> None:
    length = pendulum_length_m(float(beats), GOURDIN)
    assert 1000 * lengthening_for_rate_m(length, -60.0) == pytest.approx(millimetres, abs=0.005)  # printed to 0.01 mm


def test_the_column_of_shortening_is_a_slip() -> None:
    """Printed 1.32 mm for a minute gained a day at 3600 beats; it is 1.38, as for a minute lost."""
    shortening = -1000 * lengthening_for_rate_m(pendulum_length_m(3600.0, GOURDIN), 60.0)
    assert abs(shortening - 1.32) > 0.05
    assert shortening == pytest.approx(1.38, abs=0.005)


@pytest.mark.parametrize(
    ("beats", "printed_mm", "corrected_mm"),
    [(16000, 50.0, 50.31), (8600, 173.7, 174.15), (7100, 255.7, 255.51), (5400, 440.1, 441.71), (3700, 940.1, 940.86)],
)
def test_five_rows_of_the_table_are_misprints(beats: int, printed_mm: float, corrected_mm: float) -> None:
    millimetres = 1000 * pendulum_length_m(float(beats), GOURDIN)
    assert abs(millimetres - printed_mm) > 0.15  # more than the print's own 0.1 mm
    assert millimetres == pytest.approx(corrected_mm, abs=0.006)
    assert pendulum_beats_per_hour(corrected_mm / 1000, GOURDIN) == pytest.approx(beats, rel=1e-4)


def test_london_and_gourdin_differ_by_less_than_a_millimetre() -> None:
    assert 1000 * abs(pendulum_length_m(3600.0, LONDON) - pendulum_length_m(3600.0, GOURDIN)) < 1.0
    assert math.isclose(LONDON, 9.8118, abs_tol=5e-5)
