"""The fit of rate and beat difference, on ticks whose answer is known."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from quarterjack.listening.going import RECORDER_LIMIT, Counted, fit_going


def ticks(
    number: NDArray[np.int64], beat_s: float, difference_s: float, jitter_s: float = 0.0, seed: int = 0
) -> Counted:
    """Ticks whose silence after side a is longer than that after side b by `difference_s`."""
    rng = np.random.default_rng(seed)
    t_s = 3.0 + number * beat_s + (number % 2) * difference_s / 2 + jitter_s * rng.standard_normal(number.size)
    return Counted(number, t_s, np.full(number.size, 3e-4))


def test_an_even_clock_is_read_exactly() -> None:
    going = fit_going([ticks(np.arange(600), 0.5, 0.030)])
    assert going is not None
    assert going.beats == 600
    assert going.beats_per_hour == pytest.approx(7200.0, abs=1e-6)
    assert going.beat_difference_ms == pytest.approx(30.0, abs=1e-6)
    assert going.long_side == "a"
    # With no scatter, only the recorder's own clock is left: rectangular, 50 parts in a million either way.
    assert going.beats_per_hour_u == pytest.approx(7200.0 * RECORDER_LIMIT / np.sqrt(3.0), rel=1e-3)


def test_the_difference_is_never_negative_and_names_the_other_side() -> None:
    going = fit_going([ticks(np.arange(100), 0.5, -0.012)])
    assert going is not None
    assert going.beat_difference_ms == pytest.approx(12.0, abs=1e-6)
    assert going.long_side == "b"


def test_missing_ticks_do_not_bend_the_rate() -> None:
    # A mean of intervals would be wrong here: half of the record is cut, an odd number of ticks is missing.
    number = np.concatenate([np.arange(41), np.arange(120, 201, 3)])
    going = fit_going([ticks(number, 0.9931, 0.1)])
    assert going is not None
    assert going.beats_per_hour == pytest.approx(3600.0 / 0.9931, rel=1e-9)
    assert going.beat_difference_ms == pytest.approx(100.0, abs=1e-6)


def test_stray_ticks_are_left_out() -> None:
    clock = ticks(np.arange(200), 0.4, 0.02, jitter_s=1e-4)
    clock.t_s[::37] += 0.03
    going = fit_going([clock])
    assert going is not None
    assert going.beats_per_hour == pytest.approx(9000.0, rel=1e-5)
    assert going.beat_difference_ms == pytest.approx(20.0, abs=0.1)


def test_the_uncertainty_covers_the_error() -> None:
    off = []
    for seed in range(60):
        going = fit_going([ticks(np.arange(60), 0.5, 0.01, jitter_s=1e-3, seed=seed)])
        assert going is not None
        assert going.beat_difference_ms is not None
        assert going.beat_difference_u_ms is not None
        # The made clock is timed by a perfect recorder: only the rest of the uncertainty is put to the test.
        fit_u = np.sqrt(going.beats_per_hour_u**2 - (7200.0 * RECORDER_LIMIT) ** 2 / 3.0)
        off.append(
            [(going.beats_per_hour - 7200.0) / fit_u,
             (going.beat_difference_ms - 10.0) / going.beat_difference_u_ms]
        )  # fmt: skip
    spread = np.sqrt(np.mean(np.square(off), axis=0))
    assert (spread > 0.5).all()
    assert (spread < 1.3).all()


def test_stretches_share_the_slope_but_not_the_offset() -> None:
    first, second = ticks(np.arange(100), 0.5, 0.02), ticks(np.arange(100), 0.5, 0.02)
    going = fit_going([first, Counted(second.number, second.t_s + 777.777, second.u_s)])
    assert going is not None
    assert going.beats == 200
    assert going.beats_per_hour == pytest.approx(7200.0, rel=1e-9)


def test_too_few_or_too_uneven_ticks_give_nothing() -> None:
    assert fit_going([]) is None
    assert fit_going([ticks(np.arange(4), 0.5, 0.0)]) is None
    assert fit_going([ticks(np.arange(40), 0.5, 0.0, jitter_s=0.04)]) is None


def test_the_difference_is_averaged_over_whole_turns_of_the_escape_wheel() -> None:
    # A wheel of 15 teeth, each with its own error, heard for a turn and a half.
    number = np.arange(45)
    error = 1e-3 * np.random.default_rng(4).standard_normal(30)
    clock = ticks(number, 0.5, 0.020)
    clock.t_s[:] += error[number % 30]
    plain, whole = fit_going([clock]), fit_going([clock], beats_per_turn=30)
    assert plain is not None
    assert whole is not None
    assert plain.beat_difference_ms is not None
    assert whole.beat_difference_ms is not None
    expected = 20.0 + 2e3 * (error[1::2].mean() - error[::2].mean())
    assert abs(whole.beat_difference_ms - expected) < 0.25 * abs(plain.beat_difference_ms - expected)
    assert whole.beat_difference_ms == pytest.approx(expected, abs=0.1)
