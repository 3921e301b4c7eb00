"""Normal gravity: World Geodetic System 1984, from its defining constants (computed in extended precision)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import constants

from quarterjack.horology import STANDARD_GRAVITY_M_PER_S2, normal_gravity_m_per_s2

LATITUDES = [0, 15, 30, 40, 45, 50, 52, 60, 75, 90]
GRAVITY = [
    9.7803253359,
    9.7837849624,
    9.7932472692,
    9.8016968628,
    9.8061977694,
    9.8107021356,
    9.8124740779,
    9.8191769531,
    9.8286966275,
    9.8321849379,
]


def test_standard_gravity_is_exact() -> None:
    # 3rd General Conference on Weights and Measures, 1901.
    assert STANDARD_GRAVITY_M_PER_S2 == constants.g == 9.80665


def test_gravity_by_latitude() -> None:
    # 2e-10: an older report prints the pole with another last digit.
    found = normal_gravity_m_per_s2(np.array(LATITUDES, dtype=float))
    np.testing.assert_allclose(found, GRAVITY, rtol=0, atol=2e-10)


@pytest.mark.parametrize(
    ("height_m", "gravity"), [(100.0, 9.80588922171), (1000.0, 9.80311294356), (2000.0, 9.80002956406)]
)
def test_gravity_by_height_at_45_degrees(height_m: float, gravity: float) -> None:
    # The series of second order, printed to 1e-11.
    assert normal_gravity_m_per_s2(45.0, height_m) == pytest.approx(gravity, abs=1e-10)


def test_gradient_is_the_free_air_one() -> None:
    gradient = (normal_gravity_m_per_s2(45.0, 1.0) - normal_gravity_m_per_s2(45.0)) / 1.0
    assert gradient == pytest.approx(-3.0855e-6, abs=1e-10)


def test_south_is_like_north() -> None:
    assert normal_gravity_m_per_s2(-52.0) == normal_gravity_m_per_s2(52.0)
