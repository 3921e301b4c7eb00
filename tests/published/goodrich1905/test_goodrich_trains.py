"""Going trains, their beats and pendulums: Goodrich, *The Modern Clock* (1905), chapters XIII to XV."""

from __future__ import annotations

import pytest

from quarterjack.horology import (
    barrel_circumference_m,
    barrel_turns,
    beats_of_escape_wheel,
    gravity_from_seconds_length_m_per_s2,
    pendulum_length_m,
    periods_of_arbors_s,
    run_time_h,
    train_beats_per_hour,
    train_ratio,
)

INCH_M = 0.0254
LONDON = gravity_from_seconds_length_m_per_s2(39.1393 * INCH_M)

# wheels from the centre wheel, pinions, escape teeth, beats a minute, pendulum in inches
TRAIN_TABLE = [
    ((64, 60), (8, 8), 30, 60.0, 39.14),
    ((80, 75), (10, 10), 30, 60.0, 39.14),
    ((96, 90), (12, 12), 30, 60.0, 39.14),
    ((112, 105), (14, 14), 30, 60.0, 39.14),
    ((128, 120), (16, 16), 30, 60.0, 39.14),
    ((68, 64), (8, 8), 30, 68.0, 30.49),
    ((70, 64), (8, 8), 30, 70.0, 28.75),
    ((72, 64), (8, 8), 30, 72.0, 27.17),
    ((75, 60), (8, 8), 32, 75.0, 25.05),
    ((72, 65), (8, 8), 32, 78.0, 23.15),
    ((75, 64), (8, 8), 32, 80.0, 22.01),
    ((84, 64), (8, 8), 30, 84.0, 19.97),
    ((86, 64), (8, 8), 30, 86.0, 19.06),
    ((88, 64), (8, 8), 30, 88.0, 18.19),
    ((80, 72), (8, 8), 30, 90.0, 17.39),
    ((94, 64), (8, 8), 30, 94.0, 15.94),
    ((108, 100), (12, 10), 32, 96.0, 15.28),
    ((84, 84), (9, 8), 30, 98.0, 14.66),
    ((80, 80), (8, 8), 30, 100.0, 14.09),
    ((85, 72), (8, 8), 32, 102.0, 13.54),
    ((84, 78), (8, 8), 30, 102.4, 13.44),
    ((105, 100), (10, 10), 30, 105.0, 12.78),
    ((96, 72), (8, 8), 30, 108.0, 12.08),
    ((84, 78), (8, 8), 32, 109.2, 11.82),
    ((88, 80), (8, 8), 30, 110.0, 11.64),
    ((84, 77), (7, 7), 25, 110.0, 11.64),
    ((84, 80), (8, 8), 32, 112.0, 11.22),
    ((115, 100), (10, 10), 30, 115.0, 10.65),
    ((96, 80), (8, 8), 30, 120.0, 9.78),
    ((84, 70), (7, 7), 30, 120.0, 9.78),
    ((84, 78), (7, 7), 27, 120.3, 9.73),
    ((100, 80), (8, 8), 30, 125.0, 9.01),
    ((100, 96), (10, 10), 40, 128.0, 8.59),
    ((84, 77), (7, 7), 30, 132.0, 8.08),
    ((90, 90), (8, 8), 32, 135.0, 7.73),
    ((84, 80), (8, 8), 40, 140.0, 7.18),
    ((100, 96), (8, 8), 30, 150.0, 6.26),
    ((104, 96), (8, 8), 30, 156.0, 5.78),
    ((120, 96), (9, 8), 30, 160.0, 5.50),
    ((128, 102), (8, 8), 25, 170.0, 4.87),
    ((36, 36, 35), (6, 6, 6), 25, 175.0, 4.60),
    ((45, 36, 36), (6, 6, 6), 20, 180.0, 4.35),
    ((47, 36, 36), (6, 6, 6), 20, 188.0, 3.99),
]


def beats_per_minute(wheels: tuple[int, ...], pinions: tuple[int, ...], escape_teeth: int) -> float:
    return train_beats_per_hour(wheels, pinions, beats_of_escape_wheel(float(escape_teeth))) / 60


@pytest.mark.parametrize(("wheels", "pinions", "escape", "printed", "inches"), TRAIN_TABLE)
def test_train_table(
    wheels: tuple[int, ...], pinions: tuple[int, ...], escape: int, printed: float, inches: float
) -> None:
    beats = beats_per_minute(wheels, pinions, escape)
    assert beats == pytest.approx(printed, abs=0.063)  # the table's worst rounding; most rows are whole numbers
    # Printed to 0.01 in, and in places rounded from rounded beats.
    assert pendulum_length_m(60 * beats, LONDON) / INCH_M == pytest.approx(inches, abs=0.021)


@pytest.mark.parametrize(
    ("escape", "printed"),
    [
        (20, 89.1),
        (21, 93.6),
        (22, 98.06),
        (23, 102.5),
        (24, 107.0),
        (25, 111.4),
        (26, 115.9),
        (28, 124.8),
        (30, 133.7),
        (32, 142.6),
        (36, 160.5),
        (40, 178.3),
    ],
)
def test_one_train_with_twelve_escape_wheels(escape: int, printed: float) -> None:
    assert beats_per_minute((84, 78), (7, 7), escape) == pytest.approx(printed, abs=0.06)  # printed to 0.1


def test_escape_turns_for_one_of_the_centre_wheel() -> None:
    turns = train_ratio((84.0, 78.0), (7.0, 7.0))
    assert turns == pytest.approx(6552 / 49, rel=1e-12)
    assert turns == pytest.approx(133.7, abs=0.05)
    assert turns / 60 == pytest.approx(2.229, abs=0.0005)


def test_half_seconds_with_pinions_of_seven() -> None:
    beats = beats_per_minute((84, 70), (7, 7), 30)
    assert beats == pytest.approx(120.0, abs=1e-9)
    assert pendulum_length_m(60 * beats, LONDON) / INCH_M == pytest.approx(9.78, abs=0.006)


@pytest.mark.parametrize(
    ("wheels", "pinions", "printed", "inches"),
    [((120, 90, 75), (10, 10, 9), 30.0, 156.56), ((120, 90, 90), (10, 9, 9), 40.0, 88.07)],
)
def test_gravity_escapement_with_six_beats_a_turn(
    wheels: tuple[int, ...], pinions: tuple[int, ...], printed: float, inches: float
) -> None:
    """A double three-legged escape wheel; the great wheel turns once in three hours."""
    beats = train_beats_per_hour(wheels, pinions, 6.0, 3 * 3600.0)
    assert beats / 60 == pytest.approx(printed, abs=1e-9)
    assert pendulum_length_m(beats, LONDON) / INCH_M == pytest.approx(inches, abs=0.011)


def test_alarm_balance_counts_double_vibrations() -> None:
    """The book counts one vibration for each escape tooth; a listener hears two beats for it."""
    train = ((48, 48, 45), (6, 6, 6))
    assert train_beats_per_hour(*train, 15.0) == pytest.approx(7200.0, abs=1e-9)
    assert train_beats_per_hour(*train, beats_of_escape_wheel(15.0)) == pytest.approx(14400.0, abs=1e-9)


@pytest.mark.parametrize(
    ("beats", "printed_in", "corrected_in"),
    [
        (6552 / 49 * 40 / 60, 17.72, 17.73),  # printed as 89.1 beats: 17.75 from those, 17.73 from the exact 89.143
        (89.1, 17.72, 17.75),
        (114.0, 10.82, 10.84),
        (124.8, 9.02, 9.05),
        (151.6, 6.10, 6.13),
        (164.9, 5.15, 5.18),
        (169.4, 4.88, 4.91),
    ],
)
def test_six_lengths_of_the_train_table_are_slips(beats: float, printed_in: float, corrected_in: float) -> None:
    inches = pendulum_length_m(60 * beats, LONDON) / INCH_M
    assert inches == pytest.approx(corrected_in, abs=0.006)
    assert abs(inches - printed_in) > 0.006  # more than half of the print's last digit
    assert abs(inches - printed_in) < 0.033


def test_barrel_for_a_fall_with_a_pulley() -> None:
    """Eight days: 192 turns of the centre wheel at 12 for one of the barrel; 40 inches of fall on two lines."""
    turns = barrel_turns(192.0, 12.0)
    assert turns == pytest.approx(16.0, abs=1e-12)
    assert barrel_circumference_m(turns, 40 * INCH_M, 2.0) / INCH_M == pytest.approx(5.0, abs=1e-12)


def test_run_of_a_barrel_wheel_of_144() -> None:
    hours_per_turn = train_ratio((144.0,), (8.0,))
    assert hours_per_turn == pytest.approx(18.0, abs=1e-12)
    assert run_time_h(10.0, hours_per_turn) == pytest.approx(180.0, abs=1e-9)
    assert run_time_h(10.0, hours_per_turn) / 24 == pytest.approx(7.5, abs=1e-9)


def test_period_of_the_centre_wheel_from_the_barrel() -> None:
    assert periods_of_arbors_s((144.0,), (8.0,), 18 * 3600.0)[0] == pytest.approx(3600.0, abs=1e-9)
