"""Pendulums: length and beats, gravity, and what a change of length, place or swing does to the rate.

Lengths are those of the theoretical (simple) pendulum. A rate is in seconds a day, gaining positive. A swing is the
angle each side of rest.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.special import ellipk

from quarterjack.horology.numbers import Number, checked, root

STANDARD_GRAVITY_M_PER_S2 = 9.80665
"""Standard gravity, exact (3rd CGPM 1901)."""

SECONDS_A_DAY = 86400.0
SECONDS_AN_HOUR = 3600.0

# World Geodetic System 1984: semi-major axis, flattening, GM of the Earth, rotation.
_A_M, _F, _GM, _OMEGA = 6378137.0, 1.0 / 298.257223563, 3.986004418e14, 7.292115e-5
_E2 = _F * (2.0 - _F)
_GRAVITY_EQUATOR = 9.7803253359
_SOMIGLIANA_K = 0.00193185265246
_M = _OMEGA**2 * _A_M**2 * _A_M * (1.0 - _F) / _GM


def normal_gravity_m_per_s2(latitude_deg: Number, height_m: float = 0.0) -> Number:
    """Give gravity by latitude and height: the normal gravity of the World Geodetic System 1984.

    Parameters
    ----------
    latitude_deg : float or float64[...]
        Geodetic latitude, degrees, -90 to 90.
    height_m : float, optional
        Height above the ellipsoid, m, -500 to 10000; the sea lies within 110 m of it.

    Returns
    -------
    float or float64[...]
        m/s². Real gravity differs by up to 0.001 m/s² with the rock below, which is 4 s/day.

    Raises
    ------
    OutOfRange
        Outside those bounds.

    Notes
    -----
    Somigliana's closed form and the series of second order in height [wgs84].
    """
    latitude = checked("the latitude", latitude_deg, low=-90.0, high=90.0, unit="degrees")
    height = checked("the height", height_m, low=-500.0, high=10000.0, unit="m")
    sin2 = np.sin(np.radians(latitude)) ** 2
    at_sea = _GRAVITY_EQUATOR * (1.0 + _SOMIGLIANA_K * sin2) / np.sqrt(1.0 - _E2 * sin2)
    factor = 1.0 - 2.0 / _A_M * (1.0 + _F + _M - 2.0 * _F * sin2) * height + 3.0 * height**2 / _A_M**2
    gravity: Number = at_sea * factor
    return checked("gravity", gravity)


def gravity_from_seconds_length_m_per_s2(length_m: Number) -> Number:
    """Give gravity where the pendulum that beats seconds has been measured.

    Parameters
    ----------
    length_m : float or float64[...]
        Length of the theoretical pendulum that makes 3600 beats an hour there, m, 0.9 to 1.1.

    Returns
    -------
    float or float64[...]
        m/s².

    Raises
    ------
    OutOfRange
        Outside those bounds.

    Notes
    -----
    From T = 2π √(L/g) with T = 2 s [goodrich1905 ch. II].
    """
    length = checked("the length of the seconds pendulum", length_m, low=0.9, high=1.1, unit="m")
    return math.pi**2 * length


def pendulum_length_m(beats_per_hour: Number, gravity_m_per_s2: float = STANDARD_GRAVITY_M_PER_S2) -> Number:
    """Give the length of the theoretical pendulum that makes so many beats an hour.

    Parameters
    ----------
    beats_per_hour : float or float64[...]
        Beats (single swings) an hour, above 0.
    gravity_m_per_s2 : float, optional
        m/s², above 0; standard gravity if left out.

    Returns
    -------
    float or float64[...]
        m. The rod is longer than this: the bob's middle hangs somewhat below the end of it.

    Raises
    ------
    OutOfRange
        For no beats, or none of gravity.

    Notes
    -----
    L = g (t/π)² with t the time of one beat [goodrich1905 ch. II; beckett1903 Pendulums].
    """
    beats = checked("beats an hour", beats_per_hour, above=0.0)
    gravity = checked("gravity", gravity_m_per_s2, above=0.0, unit="m/s²")
    return gravity * (SECONDS_AN_HOUR / beats / math.pi) ** 2


def pendulum_beats_per_hour(length_m: Number, gravity_m_per_s2: float = STANDARD_GRAVITY_M_PER_S2) -> Number:
    """Give the beats an hour of a theoretical pendulum.

    Parameters
    ----------
    length_m : float or float64[...]
        Length, m, above 0.
    gravity_m_per_s2 : float, optional
        m/s², above 0; standard gravity if left out.

    Returns
    -------
    float or float64[...]
        Beats (single swings) an hour, at a swing so small that circular error does not count.

    Raises
    ------
    OutOfRange
        For no length, or none of gravity.

    Notes
    -----
    The inverse of `pendulum_length_m` [goodrich1905 ch. II].
    """
    length = checked("the length", length_m, above=0.0, unit="m")
    gravity = checked("gravity", gravity_m_per_s2, above=0.0, unit="m/s²")
    return SECONDS_AN_HOUR / math.pi * root(gravity / length)


def rate_per_mm_s_per_day(length_m: Number) -> Number:
    """Give how much a change of length by one millimetre changes the rate.

    Parameters
    ----------
    length_m : float or float64[...]
        Length of the theoretical pendulum, m, above 0.

    Returns
    -------
    float or float64[...]
        Seconds a day for each mm, positive: shortening gains so much, lengthening loses it.

    Raises
    ------
    OutOfRange
        For no length.

    Notes
    -----
    First order, 43200/L [beckett1903 Pendulums; goodrich1905 ch. V]. For large changes use
    `rate_after_lengthening_s_per_day`.
    """
    return SECONDS_A_DAY / 2.0 / (1000.0 * checked("the length", length_m, above=0.0, unit="m"))


def rate_after_lengthening_s_per_day(length_m: Number, lengthening_m: Number) -> Number:
    """Give the rate of a clock that was right, after its pendulum has been lengthened.

    Parameters
    ----------
    length_m : float or float64[...]
        Length of the theoretical pendulum before, m, above 0.
    lengthening_m : float or float64[...]
        How much longer it became, m; negative where shorter, and more than all of it is not allowed.

    Returns
    -------
    float or float64[...]
        Seconds a day, gaining positive.

    Raises
    ------
    OutOfRange
        If no length is left.

    Notes
    -----
    Exact, from the square root of the lengths [goodrich1905 ch. II].
    """
    before = checked("the length", length_m, above=0.0, unit="m")
    after = checked("the length after", before + lengthening_m, above=0.0, unit="m")
    return SECONDS_A_DAY * (root(before / after) - 1.0)


def lengthening_for_rate_m(length_m: Number, rate_s_per_day: Number) -> Number:
    """Give how much to lengthen a pendulum so that the clock's rate changes by so much.

    Parameters
    ----------
    length_m : float or float64[...]
        Length of the theoretical pendulum now, m, above 0.
    rate_s_per_day : float or float64[...]
        Wanted change of rate, seconds a day, gaining positive, above -86400. A clock that gains a minute a day
        wants -60.

    Returns
    -------
    float or float64[...]
        m; negative means to shorten.

    Raises
    ------
    OutOfRange
        Outside those bounds.

    Notes
    -----
    Exact: L ((86400/(86400 + r))² − 1) [goodrich1905 ch. II].
    """
    length = checked("the length", length_m, above=0.0, unit="m")
    rate = checked("the rate", rate_s_per_day, above=-SECONDS_A_DAY, unit="s/day")
    return length * ((SECONDS_A_DAY / (SECONDS_A_DAY + rate)) ** 2 - 1.0)


def rate_after_move_s_per_day(gravity_before_m_per_s2: Number, gravity_after_m_per_s2: Number) -> Number:
    """Give the rate of a clock that was right, after it has been carried to where gravity differs.

    Parameters
    ----------
    gravity_before_m_per_s2, gravity_after_m_per_s2 : float or float64[...]
        m/s², above 0 (see `normal_gravity_m_per_s2`).

    Returns
    -------
    float or float64[...]
        Seconds a day, gaining positive.

    Raises
    ------
    OutOfRange
        For none of gravity.

    Notes
    -----
    From T = 2π √(L/g) [beckett1903 Pendulums].
    """
    before = checked("gravity before", gravity_before_m_per_s2, above=0.0, unit="m/s²")
    after = checked("gravity after", gravity_after_m_per_s2, above=0.0, unit="m/s²")
    return SECONDS_A_DAY * (root(after / before) - 1.0)


def circular_loss_s_per_day(swing_deg: Number) -> Number:
    """Give the loss against a pendulum whose swing is vanishingly small (circular error).

    Parameters
    ----------
    swing_deg : float or float64[...]
        Swing each side of rest (half of the whole arc), degrees, 0 to 90.

    Returns
    -------
    float or float64[...]
        Seconds a day, positive: the clock loses so much. The escapement adds an error of its own.

    Raises
    ------
    OutOfRange
        Outside those bounds.

    Notes
    -----
    86400 (1 − T₀/T) with T/T₀ = 2K(sin²(a/2))/π, K the complete elliptic integral; for small swings 5400 a²
    [beckett1903 Pendulums].
    """
    swing = checked("the swing each side", swing_deg, low=0.0, high=90.0, unit="degrees")
    slower = 2.0 / math.pi * ellipk(np.sin(np.radians(swing) / 2.0) ** 2)
    loss: Number = SECONDS_A_DAY * (1.0 - 1.0 / slower)
    return checked("the loss", loss)
