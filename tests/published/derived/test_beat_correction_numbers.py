"""Putting in beat: numbers worked out beforehand from the geometry of swing and release, by hand and not by this code.

They are derived, not published. The direction agrees with the rule of the trade: raise the foot, or bend the crutch,
on the side whose tick is followed by the longer silence.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from quarterjack.horology import beat_correction, beat_difference_s, beat_error_deg


def test_twenty_milliseconds_on_a_seconds_pendulum() -> None:
    """Swing 3, release 1.75: about 0.04 degrees, 0.17 mm at a 250 mm crutch, 0.28 mm under a 400 mm base."""
    error = beat_error_deg(3600.0, 0.020, 3.0, 1.75)
    assert error == pytest.approx(0.04, abs=0.005)
    exact = beat_error_deg(3600.0, beat_difference_s(3600.0, 0.04, 3.0, 1.75), 3.0, 1.75)
    found = beat_correction(
        3600.0,
        beat_difference_s(3600.0, 0.04, 3.0, 1.75),
        long_side="left",
        swing_deg=(3.0, 3.0),
        release_deg=(1.75, 1.75),
        crutch_m=(0.25, 0.25),
        feet_m=(0.40, 0.40),
    )
    assert exact == pytest.approx(0.04, abs=1e-12)
    assert 1000 * found.crutch_m[0] == pytest.approx(0.17, abs=0.005)
    assert 1000 * found.foot_m[0] == pytest.approx(0.28, abs=0.005)
    assert found.crutch_m[0] == found.crutch_m[1]
    assert found.side == "left"


@pytest.mark.parametrize(("swing_deg", "milliseconds"), [(3.0, 21.0), (2.5, 28.0), (2.0, 53.0), (1.85, 87.0)])
def test_the_same_error_reads_more_on_a_smaller_swing(swing_deg: float, milliseconds: float) -> None:
    # 0.6 ms: the 28 was cut off from 28.54.
    assert 1000 * beat_difference_s(3600.0, 0.04, swing_deg, 1.75) == pytest.approx(milliseconds, abs=0.6)


def silences_s(error_deg: float, swing_deg: float, release_deg: float) -> tuple[float, float]:
    """Follow x = A sin ωt through a fine grid and read off when each tooth is let go."""
    t = np.linspace(0.0, 6.0, 6_000_001)
    x = swing_deg * np.sin(math.pi * t)
    right = t[1:][(x[:-1] < error_deg + release_deg) & (x[1:] >= error_deg + release_deg)]
    left = t[1:][(x[:-1] > error_deg - release_deg) & (x[1:] <= error_deg - release_deg)]
    after_right = left[left > right[0]][0] - right[0]
    after_left = right[right > left[0]][0] - left[0]
    return float(after_left), float(after_right)


@pytest.mark.parametrize("error_deg", [0.3, 0.04, -0.2])
def test_against_a_pendulum_followed_in_small_steps(error_deg: float) -> None:
    after_left, after_right = silences_s(error_deg, 2.5, 1.75)
    assert beat_difference_s(3600.0, error_deg, 2.5, 1.75) == pytest.approx(after_left - after_right, abs=5e-6)


def test_middle_to_the_right_means_the_longer_silence_follows_the_leftward_tick() -> None:
    after_left, after_right = silences_s(0.1, 3.0, 1.75)
    assert after_left > after_right
    assert beat_difference_s(3600.0, 0.1, 3.0, 1.75) > 0


def test_raising_the_left_foot_brings_the_bob_to_the_right_in_the_case() -> None:
    """Case turned clockwise as seen from the front by a raised left foot: hanging plumb, in the case's own axes."""
    tilt = math.radians(1.0)
    right_of_case = np.array([math.cos(tilt), -math.sin(tilt)])  # its left foot higher, its right side lower
    bob = np.array([0.0, -1.0])
    assert bob @ right_of_case > 0
