"""Laws that hold for every number: inverses return, arrays equal scalars, scaling, inputs stay as they were."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from quarterjack import horology as h
from quarterjack.errors import OutOfRange, UnknownChoice
from quarterjack.tunes import CAMBRIDGE, SIX_BELL, TUNES, Tune

beats = st.floats(60.0, 72000.0)
lengths = st.floats(0.005, 60.0)
rates = st.floats(-3600.0, 3600.0)
latitudes = st.floats(-90.0, 90.0)
swings = st.floats(0.0, 90.0)
counts = st.integers(6, 200)

Floats = NDArray[np.float64]

ONE_ARGUMENT: list[tuple[Callable[[float], float], Callable[[Floats], Floats], float, float]] = [
    (h.pendulum_length_m, h.pendulum_length_m, 60.0, 72000.0),
    (h.pendulum_beats_per_hour, h.pendulum_beats_per_hour, 0.005, 60.0),
    (h.rate_per_mm_s_per_day, h.rate_per_mm_s_per_day, 0.005, 60.0),
    (h.normal_gravity_m_per_s2, h.normal_gravity_m_per_s2, -90.0, 90.0),
    (h.gravity_from_seconds_length_m_per_s2, h.gravity_from_seconds_length_m_per_s2, 0.98, 1.0),
    (h.circular_loss_s_per_day, h.circular_loss_s_per_day, 0.0, 90.0),
    (h.beats_of_escape_wheel, h.beats_of_escape_wheel, 4.0, 60.0),
]


@pytest.mark.parametrize(("of_one", "of_many", "low", "high"), ONE_ARGUMENT)
def test_arrays_equal_scalars_and_stay_as_they_were(
    of_one: Callable[[float], float], of_many: Callable[[Floats], Floats], low: float, high: float
) -> None:
    values = np.linspace(low, high, 12).reshape(3, 4)
    values.flags.writeable = False
    before = values.copy()
    found = of_many(values)
    assert found.shape == values.shape
    assert found.dtype == np.float64
    # One unit in the last place: numpy's vector loops may round differently from its scalar ones.
    np.testing.assert_allclose(found, [[of_one(float(x)) for x in row] for row in values], rtol=4e-16, atol=1e-300)
    np.testing.assert_array_equal(values, before)
    assert type(of_one(float(values[1, 1]))) is float


@given(beats, st.floats(9.7, 9.9))
def test_length_and_beats_are_inverse(beats_per_hour: float, gravity: float) -> None:
    length = h.pendulum_length_m(beats_per_hour, gravity)
    assert h.pendulum_beats_per_hour(length, gravity) == pytest.approx(beats_per_hour, rel=1e-12)


@given(beats)
def test_half_the_beats_want_four_times_the_length(beats_per_hour: float) -> None:
    half = h.pendulum_length_m(beats_per_hour / 2)
    assert half == pytest.approx(4 * h.pendulum_length_m(beats_per_hour), rel=1e-12)


@given(lengths, rates)
def test_lengthening_gives_the_rate_that_was_wanted(length_m: float, rate: float) -> None:
    longer = h.lengthening_for_rate_m(length_m, rate)
    assert h.rate_after_lengthening_s_per_day(length_m, longer) == pytest.approx(rate, abs=1e-7)
    assert (longer > 0) == (rate < 0) or abs(rate) < 1e-9


@given(lengths)
def test_small_changes_follow_the_rate_per_millimetre(length_m: float) -> None:
    small = length_m * 1e-6
    gain = h.rate_after_lengthening_s_per_day(length_m, -small)
    assert gain == pytest.approx(1000 * small * h.rate_per_mm_s_per_day(length_m), rel=1e-5)


@given(latitudes)
def test_gravity_lies_between_equator_and_pole(latitude: float) -> None:
    assert 9.7803 < h.normal_gravity_m_per_s2(latitude) < 9.8322
    assert h.normal_gravity_m_per_s2(latitude) == h.normal_gravity_m_per_s2(-latitude)


@given(st.floats(9.7, 9.9), st.floats(9.7, 9.9))
def test_a_clock_carried_there_and_back_is_right_again(here: float, there: float) -> None:
    out = 1 + h.rate_after_move_s_per_day(here, there) / h.SECONDS_A_DAY
    back = 1 + h.rate_after_move_s_per_day(there, here) / h.SECONDS_A_DAY
    assert out * back == pytest.approx(1.0, abs=1e-12)


@given(swings, swings)
def test_a_larger_swing_loses_more(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert h.circular_loss_s_per_day(low) <= h.circular_loss_s_per_day(high)


pairs = st.lists(st.tuples(counts, counts), min_size=1, max_size=6)


@given(pairs)
def test_a_train_turned_round_undoes_itself(train: list[tuple[int, int]]) -> None:
    wheels, pinions = [float(w) for w, _ in train], [float(p) for _, p in train]
    there = h.train_ratio(wheels, pinions)
    assert there * h.train_ratio(pinions, wheels) == pytest.approx(1.0, rel=1e-12)
    assert there == pytest.approx(math.prod(wheels) / math.prod(pinions), rel=1e-12)


@given(pairs, st.floats(1.0, 1e6))
def test_periods_and_turns_agree(train: list[tuple[int, int]], first_s: float) -> None:
    wheels, pinions = [float(w) for w, _ in train], [float(p) for _, p in train]
    turns, periods = h.turns_of_arbors(wheels, pinions), h.periods_of_arbors_s(wheels, pinions, first_s)
    assert len(turns) == len(periods) == len(train)
    for turn, period in zip(turns, periods, strict=True):
        assert turn * period == pytest.approx(first_s, rel=1e-12)


def test_many_trains_at_once() -> None:
    thirds = np.array([56.0, 60.0, 64.0])
    many = h.train_beats_per_hour(
        [np.full(3, 64.0), thirds], [np.full(3, 8.0), np.full(3, 8.0)], h.beats_of_escape_wheel(np.full(3, 30.0))
    )
    one_by_one = [h.train_beats_per_hour((64.0, third), (8.0, 8.0), 60.0) for third in thirds]
    np.testing.assert_allclose(many, one_by_one, rtol=1e-15)


@given(st.floats(0.5, 50.0), st.floats(0.1, 1000.0))
def test_run_time_and_barrel_turns_are_inverse(turns: float, hours_per_turn: float) -> None:
    assert h.barrel_turns(h.run_time_h(turns, hours_per_turn), hours_per_turn) == pytest.approx(turns, rel=1e-12)


@given(st.floats(1.0, 40.0), st.floats(0.02, 1.0), st.floats(0.0, 0.01), st.sampled_from([1.0, 2.0, 3.0]))
def test_turns_and_fall_are_inverse(turns: float, barrel: float, line: float, falls: float) -> None:
    fall = h.weight_fall_m(h.line_wound_m(turns, barrel, line), falls)
    assert h.turns_of_fall(fall, falls, barrel, line) == pytest.approx(turns, rel=1e-12)
    around = h.barrel_circumference_m(turns, fall, falls)
    assert around / math.pi == pytest.approx(h.working_diameter_m(barrel, line), rel=1e-12)


@given(st.floats(1.0, 40.0), st.floats(0.02, 0.2))
def test_line_of_two_numbers_covers_that_of_six(turns: float, barrel: float) -> None:
    rough = h.line_length(turns, barrel)
    better = h.line_length(turns, barrel, line_m=0.0018, falls=1, drop_m=0.06, fastening_m=0.19)
    assert rough.low_m <= better.low_m == better.length_m == better.high_m <= rough.high_m
    assert rough.low_m < rough.length_m < rough.high_m
    assert rough.assumed == ("line_m", "falls", "drop_m", "fastening_m")
    assert better.assumed == ()


def test_line_measured_with_the_weight_down() -> None:
    """The other way round the same line: seat board to pulley with the weight down, twice, and the fastening."""
    found = h.line_length(16.0, 0.045, line_m=0.0014, falls=2, drop_m=0.12, fastening_m=0.1)
    assert found.length_m == pytest.approx(2 * (0.12 + found.fall_m) + 0.1, abs=1e-12)


def test_lines_of_several_barrels() -> None:
    barrels = np.array([0.045, 0.050])
    found = h.line_length(np.array([16.0, 14.0]), barrels)
    for i, (turns, barrel) in enumerate(((16.0, 0.045), (14.0, 0.050))):
        one = h.line_length(turns, barrel)
        assert (found.length_m[i], found.low_m[i], found.high_m[i]) == pytest.approx(
            (one.length_m, one.low_m, one.high_m), rel=1e-15
        )


geometries = st.tuples(st.floats(0.5, 4.0), st.floats(1.05, 3.0), st.floats(-1.0, 1.0))


@given(beats, geometries)
def test_beat_error_returns(beats_per_hour: float, geometry: tuple[float, float, float]) -> None:
    release, over, part = geometry
    swing = release * over
    error = 0.999 * part * (swing - release)
    difference = h.beat_difference_s(beats_per_hour, error, swing, release)
    assert h.beat_error_deg(beats_per_hour, difference, swing, release) == pytest.approx(error, abs=1e-7)
    assert h.beat_difference_s(beats_per_hour, -error, swing, release) == pytest.approx(-difference, abs=1e-12)


@given(geometries, st.floats(1.5, 4.0))
def test_beat_error_does_not_know_the_unit_of_angle(geometry: tuple[float, float, float], scale: float) -> None:
    """All angles doubled give the same difference, and slower beats a longer one in proportion."""
    release, over, part = geometry
    swing, error = release * over, 0.9 * part * release * (over - 1)
    difference = h.beat_difference_s(7200.0, error, swing, release)
    assert h.beat_difference_s(7200.0, scale * error, scale * swing, scale * release) == pytest.approx(
        difference, abs=1e-12
    )
    assert h.beat_difference_s(3600.0, error, swing, release) == pytest.approx(2 * difference, abs=1e-12)


@given(st.floats(0.001, 0.2))
def test_correction_contains_every_geometry_in_its_ranges(difference: float) -> None:
    found = h.beat_correction(3600.0, difference, long_side="right")
    assert 0 < found.angle_deg[0] < found.angle_deg[1]
    for swing, release in ((2.5, 1.75), (3.0, 1.5), (3.4, 1.9)):
        try:
            error = h.beat_error_deg(3600.0, difference, swing, release)
        except OutOfRange:
            continue
        # The ranges are walked in 61 steps, so their ends are met exactly but not every extreme between.
        assert 0.98 * found.angle_deg[0] <= error <= 1.02 * found.angle_deg[1]


def test_arrays_of_beat_differences() -> None:
    many = np.array([0.01, 0.02, 0.05])
    same = np.ones(3)
    found = h.beat_error_deg(3600.0 * same, many, 2.5 * same, 1.75 * same)
    np.testing.assert_allclose(found, [h.beat_error_deg(3600.0, float(d), 2.5, 1.75) for d in many], rtol=1e-14)


@pytest.mark.parametrize(
    "call",
    [
        lambda: h.pendulum_length_m(0.0),
        lambda: h.pendulum_length_m(-3600.0),
        lambda: h.pendulum_length_m(float("nan")),
        lambda: h.pendulum_length_m(np.array([3600.0, np.inf])),
        lambda: h.pendulum_beats_per_hour(0.0),
        lambda: h.pendulum_beats_per_hour(1.0, 0.0),
        lambda: h.normal_gravity_m_per_s2(90.1),
        lambda: h.normal_gravity_m_per_s2(45.0, 1e5),
        lambda: h.rate_after_lengthening_s_per_day(0.5, -0.5),
        lambda: h.lengthening_for_rate_m(0.5, -86400.0),
        lambda: h.circular_loss_s_per_day(90.5),
        lambda: h.train_ratio((64.0,), ()),
        lambda: h.train_ratio((), ()),
        lambda: h.train_ratio((64.0,), (0.0,)),
        lambda: h.train_beats_per_hour((64.0,), (8.0,), 0.0),
        lambda: h.run_time_h(-1.0, 12.0),
        lambda: h.line_length(16.0, 0.0),
        lambda: h.line_length(16.0, 0.05, falls=5),
        lambda: h.beat_difference_s(3600.0, 0.6, 2.0, 1.5),
        lambda: h.beat_error_deg(3600.0, 0.9, 2.0, 1.9),
        lambda: h.beat_error_deg(3600.0, 0.01, 1.5, 1.75),
        lambda: h.beat_correction(3600.0, -0.1),
        lambda: h.beat_correction(3600.0, 1.5),
        lambda: h.beat_correction(3600.0, 0.01, swing_deg=(3.0, 2.0)),
        lambda: h.blows_at_hour(0),
        lambda: h.blows_at_hour(25),
        lambda: h.blows_in_hours(-1),
        lambda: h.count_wheel_divisions(silent_half_hours=13),
        lambda: h.phrases_of_quarter(CAMBRIDGE, 5),
        lambda: h.chime_barrel_turns_per_hour(10.0, 0.0),
    ],
)
def test_out_of_range(call: Callable[[], object]) -> None:
    with pytest.raises(OutOfRange):
        call()


def test_out_of_range_says_value_and_bounds() -> None:
    with pytest.raises(OutOfRange, match=r"the latitude is 91 degrees; allowed is at least -90 and at most 90 degrees"):
        h.normal_gravity_m_per_s2(np.array([0.0, 91.0]))


def test_unknown_choices() -> None:
    with pytest.raises(UnknownChoice):
        h.blows_at_hour(3, "thirteen")
    with pytest.raises(UnknownChoice):
        h.beat_correction(3600.0, 0.01, long_side="a")


@pytest.mark.parametrize("tune", TUNES.values())
def test_barrel_played_round_gives_the_hour(tune: Tune) -> None:
    hour = [phrase for quarter in tune.quarters for phrase in quarter]
    barrel = h.barrel_phrases(tune)
    assert hour == [barrel[i % len(barrel)] for i in range(len(hour))]
    assert h.phrases_per_hour(tune) == len(hour)
    assert h.notes_per_hour(tune) == sum(h.strokes_of_bells(tuple(hour)).values())


def test_six_bell_barrel_is_the_whole_hour() -> None:
    assert len(h.barrel_phrases(SIX_BELL)) == h.phrases_per_hour(SIX_BELL) == 10
