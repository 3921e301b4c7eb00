"""Trains of wheels and pinions: ratios, beats an hour, periods, barrel turns and run time.

A train is written as its wheels and its pinions in the order in which they drive: each wheel drives the pinion at the
same place of the other list. Counts may be arrays, so that many trains are reckoned at once.
"""

from __future__ import annotations

from collections.abc import Sequence

from quarterjack.errors import OutOfRange
from quarterjack.horology.numbers import Number, checked


def turns_of_arbors(wheels: Sequence[Number], pinions: Sequence[Number]) -> tuple[Number, ...]:
    """Give the turns that each driven arbor makes for one turn of the first wheel.

    Parameters
    ----------
    wheels, pinions : sequence of float or float64[...]
        Teeth of each wheel and leaves of the pinion that it drives, above 0; at least one of each, and as many of
        the one as of the other.

    Returns
    -------
    tuple of float or float64[...]
        One value for each pinion, in order; the first wheel itself (1 turn) is not among them.

    Raises
    ------
    OutOfRange
        If there are not as many pinions as wheels, or none, or a count is not above 0.

    Notes
    -----
    Running product of wheel over pinion [derham1696 ch. II; goodrich1905 ch. XIV].
    """
    if len(wheels) != len(pinions) or not wheels:
        raise OutOfRange(
            f"{len(wheels)} wheels and {len(pinions)} pinions make no train; each wheel needs the pinion it drives.",
            wheels=tuple(wheels),
            pinions=tuple(pinions),
        )
    turns: list[Number] = []
    for wheel, pinion in zip(wheels, pinions, strict=True):
        ratio = checked("a wheel's teeth", wheel, above=0.0) / checked("a pinion's leaves", pinion, above=0.0)
        turns.append(turns[-1] * ratio if turns else ratio)
    return tuple(turns)


def train_ratio(wheels: Sequence[Number], pinions: Sequence[Number]) -> Number:
    """Give how many turns the last pinion makes for one turn of the first wheel.

    Parameters
    ----------
    wheels, pinions : sequence of float or float64[...]
        As for `turns_of_arbors`.

    Returns
    -------
    float or float64[...]
        Turns for a turn.

    Raises
    ------
    OutOfRange
        As for `turns_of_arbors`.

    Notes
    -----
    Product of the wheels over product of the pinions [derham1696 ch. II; goodrich1905 ch. XIV].
    """
    return turns_of_arbors(wheels, pinions)[-1]


def periods_of_arbors_s(
    wheels: Sequence[Number], pinions: Sequence[Number], first_period_s: float = 3600.0
) -> tuple[Number, ...]:
    """Give the time of one turn of each driven arbor.

    Parameters
    ----------
    wheels, pinions : sequence of float or float64[...]
        As for `turns_of_arbors`.
    first_period_s : float, optional
        Time of one turn of the first wheel, s, above 0; an hour, as for a centre wheel, if left out.

    Returns
    -------
    tuple of float or float64[...]
        Seconds, one value for each pinion, in order.

    Raises
    ------
    OutOfRange
        As for `turns_of_arbors`, or if the first wheel does not turn.

    Notes
    -----
    The period of the first wheel over the turns of the arbor [derham1696 ch. II].
    """
    period = checked("the first wheel's period", first_period_s, above=0.0, unit="s")
    return tuple(period / turns for turns in turns_of_arbors(wheels, pinions))


def beats_of_escape_wheel(teeth: Number) -> Number:
    """Give the beats in one turn of an ordinary escape wheel, on which each tooth acts once on each pallet.

    Parameters
    ----------
    teeth : float or float64[...]
        Teeth of the escape wheel, above 0.

    Returns
    -------
    float or float64[...]
        Two for each tooth. Not for a gravity escapement: a double three-legged one has six beats a turn.

    Raises
    ------
    OutOfRange
        If there are no teeth.

    Notes
    -----
    [goodrich1905 ch. XIV]
    """
    return 2.0 * checked("the escape wheel's teeth", teeth, above=0.0)


def train_beats_per_hour(
    wheels: Sequence[Number],
    pinions: Sequence[Number],
    beats_per_escape_turn: Number,
    first_period_s: float = 3600.0,
) -> Number:
    """Give the beats an hour of a going train.

    Parameters
    ----------
    wheels, pinions : sequence of float or float64[...]
        As for `turns_of_arbors`, from a wheel of known period to the escape pinion. The escape wheel is not among
        them.
    beats_per_escape_turn : float or float64[...]
        Beats in one turn of the escape wheel, above 0 (`beats_of_escape_wheel` for the ordinary kinds; 6 for a double
        three-legged gravity escapement).
    first_period_s : float, optional
        Time of one turn of the first wheel, s, above 0; an hour, as for a centre wheel, if left out.

    Returns
    -------
    float or float64[...]
        Beats an hour.

    Raises
    ------
    OutOfRange
        As for `turns_of_arbors`, or if there are no beats or no period.

    Notes
    -----
    [goodrich1905 ch. XIV]
    """
    beats = checked("beats in a turn of the escape wheel", beats_per_escape_turn, above=0.0)
    return beats * (3600.0 / periods_of_arbors_s(wheels, pinions, first_period_s)[-1])


def barrel_turns(run_time_h: Number, hours_per_turn: Number) -> Number:
    """Give the turns of the barrel in a run of so many hours.

    Parameters
    ----------
    run_time_h : float or float64[...]
        Hours from wound up to run down, at least 0.
    hours_per_turn : float or float64[...]
        Hours for one turn of the barrel, above 0.

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
    [goodrich1905 ch. XIV; derham1696 ch. II]
    """
    return checked("the run time", run_time_h, low=0.0, unit="h") / checked(
        "hours for a turn", hours_per_turn, above=0.0, unit="h"
    )


def run_time_h(turns: Number, hours_per_turn: Number) -> Number:
    """Give how long a train runs on so many turns of its barrel.

    Parameters
    ----------
    turns : float or float64[...]
        Turns of the barrel from wound up to run down, at least 0.
    hours_per_turn : float or float64[...]
        Hours for one turn of the barrel, above 0.

    Returns
    -------
    float or float64[...]
        Hours.

    Raises
    ------
    OutOfRange
        Outside those bounds.

    Notes
    -----
    [goodrich1905 ch. XV; derham1696 ch. X]
    """
    return checked("the turns", turns, low=0.0) * checked("hours for a turn", hours_per_turn, above=0.0, unit="h")
