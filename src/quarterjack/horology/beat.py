"""Putting a clock in beat: from the beat difference to which way, and how far.

The pendulum swings as x = A sin ωt, A the swing each side of rest. The escape wheel is let go at d + a while the bob
goes right and at d − a while it goes left: a is the angle of release and d the beat error, by which the middle of the
escapement lies to the right of rest. The two silences then differ by (T/π)(asin((d + a)/A) + asin((d − a)/A)), T the
time of two beats. This is derived, not quoted; unequal drops also make a beat difference and are not seen here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from quarterjack.errors import OutOfRange, UnknownChoice
from quarterjack.horology.numbers import Number, checked

Range = tuple[float, float]

LEAST_OVERSWING_DEG = 0.25
"""A clock that goes at all is taken to swing so much past release; common practice asks for 0.5 on its worst day."""

_STEPS = 61


def beat_difference_s(beats_per_hour: Number, beat_error_deg: Number, swing_deg: Number, release_deg: Number) -> Number:
    """Give how much longer the silence after the tick of the leftward swing is than the other.

    Parameters
    ----------
    beats_per_hour : float or float64[...]
        Beats an hour, above 0.
    beat_error_deg : float or float64[...]
        Angle from rest to the middle of the escapement, degrees, positive to the right.
    swing_deg : float or float64[...]
        Swing each side of rest, degrees, above 0 and at most 90.
    release_deg : float or float64[...]
        Angle each side of the escapement's middle at which a tooth is let go, degrees, above 0.

    Returns
    -------
    float or float64[...]
        s; half of it is what each silence differs from the mean.

    Raises
    ------
    OutOfRange
        Outside those bounds, or if the swing does not reach the release on both sides.

    Notes
    -----
    Derived (see the module).
    """
    period = 7200.0 / checked("beats an hour", beats_per_hour, above=0.0)
    swing = checked("the swing", swing_deg, above=0.0, high=90.0, unit="degrees")
    release = checked("the release", release_deg, above=0.0, unit="degrees")
    error = checked("the beat error", beat_error_deg, unit="degrees")
    checked("the swing past release on the worse side", swing - release - abs(error), low=0.0, unit="degrees")
    return period / math.pi * (_arcsine((error + release) / swing) + _arcsine((error - release) / swing))


def _arcsine(value: Number) -> Number:
    angle: Number = np.arcsin(value)
    return angle


def beat_error_deg(beats_per_hour: Number, beat_difference_s: Number, swing_deg: Number, release_deg: Number) -> Number:
    """Give the beat error that makes a beat difference.

    Parameters
    ----------
    beats_per_hour : float or float64[...]
        Beats an hour, above 0.
    beat_difference_s : float or float64[...]
        Silence after the tick of the leftward swing less the other, s.
    swing_deg, release_deg : float or float64[...]
        As for `beat_difference_s`.

    Returns
    -------
    float or float64[...]
        Degrees, positive where the escapement's middle lies to the right of rest.

    Raises
    ------
    OutOfRange
        Outside those bounds, or if a pendulum of this swing would not reach the release on one side.

    Notes
    -----
    Closed form of the inverse: A sin(S/2) √(1 − (a/A)²/cos²(S/2)) with S = πD/T. Derived (see the module).
    """
    period = 7200.0 / checked("beats an hour", beats_per_hour, above=0.0)
    swing = checked("the swing", swing_deg, above=0.0, high=90.0, unit="degrees")
    release = checked("the release", release_deg, above=0.0, unit="degrees")
    half = math.pi * checked("the beat difference", beat_difference_s, unit="s") / period / 2.0
    checked("the beat difference as a part of the beat", half / (math.pi / 2.0), low=-1.0, high=1.0)
    error, good = _beat_error(half, swing, release)
    if not good.all():
        raise OutOfRange(
            "With this swing and release the clock could not go and show this beat difference: the bob would not reach "
            "the release on one side. Give a larger swing or a smaller release.",
            beat_difference_s=beat_difference_s,
            swing_deg=swing_deg,
            release_deg=release_deg,
        )
    result: Number = error  # type: ignore[assignment]
    return checked("the beat error", result)


def _beat_error(half: ArrayLike, swing: ArrayLike, release: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Beat error, and whether a pendulum of that swing reaches the release on both sides."""
    half, swing, release = (np.asarray(value, dtype=np.float64) for value in (half, swing, release))
    sine = release / swing / np.cos(half)
    error = np.asarray(swing * np.sin(half) * np.sqrt(np.maximum(1.0 - sine**2, 0.0)))
    # On the late side the release must come before the bob turns, a quarter of a period after rest.
    return error, np.asarray((sine <= 1.0) & (np.abs(half) + np.arcsin(np.minimum(sine, 1.0)) <= math.pi / 2.0))


@dataclass(frozen=True)
class Geometry:
    """Ranges within which the swing, the release, the crutch and the feet of a clock are taken to lie."""

    swing_deg: Range
    release_deg: Range
    crutch_m: Range
    feet_m: Range


LONG_PENDULUM = Geometry(swing_deg=(2.0, 3.5), release_deg=(1.5, 2.0), crutch_m=(0.15, 0.30), feet_m=(0.30, 0.50))
"""A seconds pendulum and its like, down to three quarters of a second; common practice."""

SHORT_PENDULUM = Geometry(swing_deg=(3.0, 6.0), release_deg=(2.0, 4.0), crutch_m=(0.04, 0.12), feet_m=(0.12, 0.35))
"""Mantel, bracket and wall clocks; the swing is common practice, the rest is assumed."""

_LONG_UP_TO_BEATS = 4800.0


def usual_geometry(beats_per_hour: float) -> Geometry:
    """Give the ranges that are usual for a pendulum of so many beats an hour, to be narrowed by what is measured.

    Parameters
    ----------
    beats_per_hour : float
        Beats an hour, above 0.

    Returns
    -------
    Geometry
        `LONG_PENDULUM` up to 4800 beats an hour, else `SHORT_PENDULUM`.

    Raises
    ------
    OutOfRange
        For no beats.

    Notes
    -----
    Common practice where the two say so; the rest is assumed.
    """
    long_one = checked("beats an hour", beats_per_hour, above=0.0) <= _LONG_UP_TO_BEATS
    return LONG_PENDULUM if long_one else SHORT_PENDULUM


@dataclass(frozen=True)
class BeatCorrection:
    """How to bring a clock into beat.

    Parameters
    ----------
    side : str or None
        "left" or "right" as seen facing the dial: raise that foot, or bend the crutch to that side. None while it is
        not known which tick is which.
    angle_deg : (float, float)
        Least and most of the beat error, degrees.
    crutch_m : (float, float)
        How far the crutch's lower end moves, m.
    foot_m : (float, float)
        How far the foot is raised, m. A clock that must stay plumb for its weights or its case is corrected at the
        crutch, not leaned; a tall case must be held so that it cannot tip.
    """

    side: str | None
    angle_deg: Range
    crutch_m: Range
    foot_m: Range


def beat_correction(
    beats_per_hour: float,
    beat_difference_s: float,
    *,
    long_side: str | None = None,
    swing_deg: Range | None = None,
    release_deg: Range | None = None,
    crutch_m: Range | None = None,
    feet_m: Range | None = None,
) -> BeatCorrection:
    """Say which way and how far to correct the beat, as a range that the geometry allows.

    Parameters
    ----------
    beats_per_hour : float
        Beats an hour, above 0.
    beat_difference_s : float
        The longer silence less the shorter, s, at least 0.
    long_side : str, optional
        "left" or "right": the side to which the bob was swinging at the tick that the longer silence follows.
    swing_deg, release_deg : (float, float), optional
        Least and most, degrees; equal numbers where measured. What is usual for these beats if left out.
    crutch_m, feet_m : (float, float), optional
        Least and most length of the crutch, and distance of the left from the right foot, m, above 0.

    Returns
    -------
    BeatCorrection

    Raises
    ------
    OutOfRange
        Outside those bounds, or if no swing and release in these ranges give this beat difference.
    UnknownChoice
        For another side.

    Notes
    -----
    The cure lies on the side whose tick is followed by the longer silence. Derived (see the module); it agrees with
    the rule of the trade.
    """
    if long_side not in (None, "left", "right"):
        raise UnknownChoice("side", long_side, ("left", "right"))
    usual = usual_geometry(beats_per_hour)
    swing = np.linspace(*_range("the swing", swing_deg or usual.swing_deg, high=90.0), _STEPS)[:, None]
    release = np.linspace(*_range("the release", release_deg or usual.release_deg, high=90.0), _STEPS)[None, :]
    difference = checked("the beat difference", beat_difference_s, low=0.0, high=7200.0 / beats_per_hour, unit="s")
    error, good = _beat_error(math.pi * difference * beats_per_hour / 14400.0, swing, release)
    measured = swing_deg is not None and release_deg is not None
    good &= swing - release >= (0.0 if measured else LEAST_OVERSWING_DEG)
    if not good.any():
        raise OutOfRange(
            f"A beat difference of {1000 * difference:.0f} ms does not fit a swing of {swing[0, 0]:g} to "
            f"{swing[-1, 0]:g} and a release of {release[0, 0]:g} to {release[0, -1]:g} degrees; measure the swing.",
            beat_difference_s=difference,
        )
    angle = (float(error[good].min()), float(error[good].max()))
    crutch, feet = _range("the crutch", crutch_m or usual.crutch_m), _range("the feet", feet_m or usual.feet_m)
    low, high = (math.tan(math.radians(value)) for value in angle)
    return BeatCorrection(long_side, angle, (low * crutch[0], high * crutch[1]), (low * feet[0], high * feet[1]))


def _range(name: str, value: Range, high: float | None = None) -> Range:
    low_end = checked(f"the least of {name}", value[0], above=0.0, high=high)
    return low_end, checked(f"the most of {name}", value[1], low=low_end, high=high)
