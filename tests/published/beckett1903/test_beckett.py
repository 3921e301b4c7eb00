"""Pendulums, trains, striking and quarters: Beckett, *A Rudimentary Treatise on Clocks, Watches and Bells* (1903)."""

from __future__ import annotations

import pytest

from quarterjack.horology import (
    barrel_phrases,
    beats_of_escape_wheel,
    bells_twice_running,
    chime_barrel_turns_per_hour,
    count_wheel_divisions,
    gravity_from_seconds_length_m_per_s2,
    notes_per_hour,
    pendulum_beats_per_hour,
    pendulum_length_m,
    periods_of_arbors_s,
    phrases_of_quarter,
    phrases_per_hour,
    strokes_of_bells,
    train_beats_per_hour,
)
from quarterjack.tunes import CAMBRIDGE, TING_TANG

INCH_M = 0.0254
LONDON = gravity_from_seconds_length_m_per_s2(39.1393 * INCH_M)


@pytest.mark.parametrize(
    ("beat_s", "inches"),
    [
        (4.0, 52 * 12 + 2),
        (3.0, 29 * 12 + 4),
        (2.5, 20 * 12 + 5),
        (2.0, 13 * 12 + 0.5),
        (1.5, 7 * 12 + 4),
        (1.25, 61),
        (1.0, 39.14),
        (0.75, 22),
        (2 / 3, 17.4),
        (0.5, 9.78),
    ],
)
def test_short_table_of_lengths(beat_s: float, inches: float) -> None:
    """Section "Pendulums". Most entries are in whole inches, hence 0.6 inch."""
    assert pendulum_length_m(3600 / beat_s, LONDON) / INCH_M == pytest.approx(inches, abs=0.6)


def test_thirty_six_inches_is_a_slip() -> None:
    """Printed 0.846 s and 70.92 a minute, from the ratio of lengths instead of its root."""
    beats = pendulum_beats_per_hour(36 * INCH_M, LONDON)
    assert 3600 / beats == pytest.approx(0.9591, abs=5e-5)
    assert beats / 60 == pytest.approx(62.56, abs=0.005)
    assert abs(3600 / beats - 0.846) > 0.1
    assert abs(beats / 60 - 70.92) > 8


@pytest.mark.parametrize(
    ("wheels", "pinions"),
    [((96, 80), (8, 8)), ((84, 80), (8, 7)), ((72, 60), (6, 6))],
)
def test_half_seconds_pendulum(wheels: tuple[int, ...], pinions: tuple[int, ...]) -> None:
    """Section "Going part": 120 turns of a 30-tooth escape wheel for one of the centre wheel."""
    assert train_beats_per_hour(wheels, pinions, beats_of_escape_wheel(30.0)) == pytest.approx(7200.0, abs=1e-9)


def test_wheels_of_a_half_seconds_pendulum_multiply_to_7680() -> None:
    assert 96 * 80 == 120 * 8 * 8 == 7680
    assert train_beats_per_hour((7680.0,), (64.0,), beats_of_escape_wheel(30.0)) == pytest.approx(7200.0, abs=1e-9)


def test_great_wheel_of_96_with_seconds_on_the_escape_arbor() -> None:
    """Also Derham, chapter II: 43200 beats for a turn of the great wheel, 720 = 12 × 8 × 7.5."""
    periods = periods_of_arbors_s((96, 64, 60), (8, 8, 8), 12 * 3600.0)
    assert periods == pytest.approx((3600.0, 450.0, 60.0), abs=1e-9)
    beats = train_beats_per_hour((96, 64, 60), (8, 8, 8), beats_of_escape_wheel(30.0), 12 * 3600.0)
    assert 12 * beats == pytest.approx(43200.0, abs=1e-6)
    assert 12 * 3600.0 / periods[-1] == pytest.approx(12 * 8 * 7.5, abs=1e-9)


def test_great_wheel_of_120_and_the_slip_of_eight_minutes() -> None:
    """The text says that the next arbor turns in 8 minutes; 60 / 8 is 7.5."""
    centre, third, escape = periods_of_arbors_s((120, 64, 60), (10, 8, 8), 12 * 3600.0)
    assert centre == pytest.approx(3600.0, abs=1e-9)
    assert third == pytest.approx(7.5 * 60, abs=1e-9)
    assert abs(third - 8 * 60) > 15
    assert escape == pytest.approx(60.0, abs=1e-9)


def test_count_wheel_with_all_half_hours_and_with_two_silent() -> None:
    """Section on striking: 90 divisions, and 88 where half past twelve and half past one are silent."""
    assert count_wheel_divisions(silent_half_hours=0) == 90
    assert count_wheel_divisions(silent_half_hours=2) == 88
    assert count_wheel_divisions(silent_half_hours=2) - count_wheel_divisions() == 10


A, B, C, D, E = (1, 2, 3, 4), (3, 1, 2, 4), (3, 2, 1, 3), (1, 3, 2, 4), (4, 2, 1, 3)


@pytest.mark.parametrize(("quarter", "phrases"), [(1, (A,)), (2, (B, C)), (3, (D, E, A)), (4, (B, C, D, E))])
def test_cambridge_quarters(quarter: int, phrases: tuple[tuple[int, ...], ...]) -> None:
    """Table of quarters; Grove and Goodrich chapter XX agree. Bell 1 is the highest."""
    assert phrases_of_quarter(CAMBRIDGE, quarter) == phrases


def test_cambridge_quarters_are_two_turns_of_five_phrases() -> None:
    assert phrases_per_hour(CAMBRIDGE) == 10
    assert barrel_phrases(CAMBRIDGE) == (A, B, C, D, E)
    assert chime_barrel_turns_per_hour(10.0, 5.0) == pytest.approx(2.0, abs=1e-12)
    # The counts of notes follow from the table; the book does not print them.
    assert notes_per_hour(CAMBRIDGE) == 40
    assert 24 * notes_per_hour(CAMBRIDGE) == 960


def test_cambridge_strokes_of_each_bell() -> None:
    """Derived from the table: the third phrase has bell 3 twice and bell 4 never, the others each bell once."""
    assert strokes_of_bells((C,)) == {1: 1, 2: 1, 3: 2}
    assert all(strokes_of_bells((phrase,)) == {1: 1, 2: 1, 3: 1, 4: 1} for phrase in (A, B, D, E))
    assert strokes_of_bells((A, B, C, D, E)) == {1: 5, 2: 5, 3: 6, 4: 4}


def test_low_bell_comes_twice_running() -> None:
    """A second hammer is wanted for bell 4, which ends the fourth phrase and begins the fifth."""
    assert bells_twice_running(CAMBRIDGE) == {4: (3, 4)}


def test_quarters_silent_at_the_hour_are_six_chimes() -> None:
    assert phrases_per_hour(CAMBRIDGE, at_hour=False) == 6


def test_ting_tang() -> None:
    """Two bells, one to four pairs; twenty blows an hour follow."""
    assert [len(phrases_of_quarter(TING_TANG, quarter)) for quarter in (1, 2, 3, 4)] == [1, 2, 3, 4]
    assert notes_per_hour(TING_TANG) == 20
