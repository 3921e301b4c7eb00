"""Lines and cables: what winds on the barrel, how far the weight falls, and how long a new line must be."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Generic

from quarterjack.horology.numbers import Number, checked

# What is taken where a number is not given: usual, least and most, metres. With a pulley the usual drop and fastening
# come to the 12 inches that Goodrich adds to what winds on the barrel; the spread around them is common practice.
USUAL_LINE: dict[str, tuple[float, float, float]] = {
    "line_m": (0.0014, 0.0010, 0.0020),
    "falls": (2.0, 1.0, 2.0),
    "drop_m": (0.10, 0.05, 0.20),
    "fastening_m": (0.10, 0.05, 0.20),
}


def working_diameter_m(barrel_m: Number, line_m: Number) -> Number:
    """Give the diameter at which a line pulls: to the middle of the line on both sides.

    Parameters
    ----------
    barrel_m : float or float64[...]
        Diameter of the barrel where the line lies (in the groove, if there is one), m, above 0.
    line_m : float or float64[...]
        Diameter of the line, m, at least 0.

    Returns
    -------
    float or float64[...]
        m.

    Raises
    ------
    OutOfRange
        Outside those bounds.

    Notes
    -----
    Barrel and one line [goodrich1905 ch. XV].
    """
    return checked("the barrel's diameter", barrel_m, above=0.0, unit="m") + checked(
        "the line's diameter", line_m, low=0.0, unit="m"
    )


def line_wound_m(turns: Number, barrel_m: Number, line_m: Number) -> Number:
    """Give the length of line that winds on a barrel in one layer.

    Parameters
    ----------
    turns : float or float64[...]
        Turns of the barrel, at least 0.
    barrel_m, line_m : float or float64[...]
        As for `working_diameter_m`.

    Returns
    -------
    float or float64[...]
        m.

    Raises
    ------
    OutOfRange
        Outside those bounds.

    Notes
    -----
    π (D + d) for a turn [goodrich1905 ch. XV].
    """
    return checked("the turns", turns, low=0.0) * math.pi * working_diameter_m(barrel_m, line_m)


def weight_fall_m(wound_m: Number, falls: Number) -> Number:
    """Give how far the weight falls while so much line runs off the barrel.

    Parameters
    ----------
    wound_m : float or float64[...]
        Line that runs off, m, at least 0.
    falls : float or float64[...]
        Lines that carry the weight, at least 1: 1 without a pulley, 2 with one.

    Returns
    -------
    float or float64[...]
        m. A pulley halves the fall and asks for twice the weight.

    Raises
    ------
    OutOfRange
        Outside those bounds.

    Notes
    -----
    [goodrich1905 ch. XV]
    """
    return checked("the line wound", wound_m, low=0.0, unit="m") / checked("the falls", falls, low=1.0)


def barrel_circumference_m(turns: Number, fall_m: Number, falls: Number) -> Number:
    """Give the circumference, at the middle of the line, of the barrel that uses up a fall in so many turns.

    Parameters
    ----------
    turns : float or float64[...]
        Turns of the barrel, above 0.
    fall_m : float or float64[...]
        How far the weight can fall, m, at least 0.
    falls : float or float64[...]
        Lines that carry the weight, at least 1.

    Returns
    -------
    float or float64[...]
        m; divided by π it is the working diameter.

    Raises
    ------
    OutOfRange
        Outside those bounds.

    Notes
    -----
    [goodrich1905 ch. XIV]
    """
    wound = checked("the fall", fall_m, low=0.0, unit="m") * checked("the falls", falls, low=1.0)
    return wound / checked("the turns", turns, above=0.0)


def turns_of_fall(fall_m: Number, falls: Number, barrel_m: Number, line_m: Number) -> Number:
    """Give the barrel turns that a fall allows.

    Parameters
    ----------
    fall_m : float or float64[...]
        How far the weight can fall, m, at least 0.
    falls : float or float64[...]
        Lines that carry the weight, at least 1.
    barrel_m, line_m : float or float64[...]
        As for `working_diameter_m`.

    Returns
    -------
    float or float64[...]
        Turns.

    Raises
    ------
    OutOfRange
        Outside those bounds.

    Notes
    -----
    The inverse of `weight_fall_m` of `line_wound_m` [goodrich1905 ch. XIV].
    """
    wound = checked("the fall", fall_m, low=0.0, unit="m") * checked("the falls", falls, low=1.0)
    return wound / (math.pi * working_diameter_m(barrel_m, line_m))


@dataclass(frozen=True)
class LineLength(Generic[Number]):
    """How long a line must be, with the range that the numbers not given allow.

    Parameters
    ----------
    length_m, low_m, high_m : float or float64[...]
        Length to cut, and its least and most, m.
    wound_m : float or float64[...]
        What of it winds on the barrel, m.
    fall_m : float or float64[...]
        How far the weight then falls, m.
    assumed : tuple of str
        Names of the numbers that were not given and were taken as usual.
    """

    length_m: Number
    low_m: Number
    high_m: Number
    wound_m: Number
    fall_m: Number
    assumed: tuple[str, ...]


def line_length(
    turns: Number,
    barrel_m: Number,
    *,
    line_m: float | None = None,
    falls: float | None = None,
    drop_m: float | None = None,
    fastening_m: float | None = None,
) -> LineLength[Number]:
    """Give the length of a new line: roughly from two numbers, better from all six.

    Parameters
    ----------
    turns : float or float64[...]
        Turns that the barrel holds: its grooves, or the key turns from run down to wound up; at least 0.
    barrel_m : float or float64[...]
        Diameter of the barrel where the line lies, m, above 0.
    line_m : float, optional
        Diameter of the line, m.
    falls : float, optional
        Lines that carry the weight, 1 to 4: 1 without a pulley, 2 with one.
    drop_m : float, optional
        From the seat board down to the pulley (without one, to the weight's hook) when wound up, m.
    fastening_m : float, optional
        What both knots and the way to the seat board take, m.

    Returns
    -------
    LineLength
        Cut to the upper end of the range and shorten on the clock: the weight must end its fall above the floor with
        the line still taut, and the barrel must keep a dead turn that is not counted here.

    Raises
    ------
    OutOfRange
        Outside those bounds.

    Notes
    -----
    Turns times π (D + d), the drop once for each fall, and the fastening [goodrich1905 ch. XV]. What is usual where a
    number is missing is common practice.
    """
    given = {"line_m": line_m, "falls": falls, "drop_m": drop_m, "fastening_m": fastening_m}
    turns_ = checked("the turns", turns, low=0.0)
    barrel = checked("the barrel's diameter", barrel_m, above=0.0, unit="m")

    def reckoned(which: int) -> tuple[Number, Number, float]:
        use = {name: USUAL_LINE[name][which] if value is None else value for name, value in given.items()}
        carried = checked("the falls", use["falls"], low=1.0, high=4.0)
        drop = checked("the drop", use["drop_m"], low=0.0, unit="m")
        fastening = checked("the fastening", use["fastening_m"], low=0.0, unit="m")
        wound = turns_ * math.pi * (barrel + checked("the line's diameter", use["line_m"], low=0.0, unit="m"))
        return wound, wound + carried * drop + fastening, carried

    wound, length, carried = reckoned(0)
    return LineLength(
        length_m=length,
        low_m=reckoned(1)[1],
        high_m=reckoned(2)[1],
        wound_m=wound,
        fall_m=wound / carried,
        assumed=tuple(name for name, value in given.items() if value is None),
    )
