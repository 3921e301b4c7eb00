"""What several stops share: their dial times folded on the periods of the parts that turn with the hands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from quarterjack.causes.acting import CROSSING_MIN, Acting, crossing_off, dial_name, dial_place, what_acts_at
from quarterjack.causes.circular import circular_range, range_p, rayleigh_p, resultant
from quarterjack.reckoning import DIAL_MINUTES, Reckoning

FEWEST = 3
RESOLUTION_MIN = 1.0
"""People read a dial to the minute, so no cluster is taken to be narrower."""
POINTS_P, SETTLED_P = 0.05, 0.01
_SHORTEST_MIN = 5.0
_TESTS = 2
_MOST_MORE = 12
_NEAR_CROSSING_MIN = 3.0

MOVED_HANDS = (
    "If the hands were moved between the stops, the dial no longer places the going train: what is said of the hands, "
    "the cam, the snail and the motion work still holds, what is said of the train's wheels does not."
)
SECONDS_NOT_SEEN = (
    "Minutes cannot show what comes round in a minute, such as the escape wheel: note where the seconds hand stands."
)


@dataclass(frozen=True)
class Fold:
    """The stops folded on one period.

    Parameters
    ----------
    period_min : float
        The period, dial minutes.
    what : str
        What comes round in it.
    with_hands : bool
        True where it turns with the hands, so that it holds even if they were moved.
    at_min : float
        Where in the period the stops stand on average, minutes, 0 to the period.
    within_min : float
        Shortest stretch of the period that holds them all, minutes.
    r : float
        Mean resultant length, 0 scattered to 1 all alike.
    p : float
        Chance of so close a cluster if the stops had nothing in common, for this period alone.
    p_all : float
        The same, allowing for every period and test that was tried.
    more_to_settle : int or None
        How many further stops in the same stretch would bring `p_all` under 0.01; 0 if it is there, None if more than
        a dozen.
    """

    period_min: float
    what: str
    with_hands: bool
    at_min: float
    within_min: float
    r: float
    p: float
    p_all: float
    more_to_settle: int | None


@dataclass(frozen=True)
class Folded:
    """What stops have in common.

    `points` is "settled", "points" or "nothing yet" ("too few" under three stops); `best` is the number of the fold
    among `folds` that the text speaks of; `acting` lists what acts where the stops cluster, or at every one of them.
    """

    stops: tuple[str, ...]
    folds: tuple[Fold, ...]
    best: int | None
    points: str
    text: str
    acting: tuple[Acting, ...]
    cautions: tuple[str, ...]


def fold_stops(dial_minutes: Sequence[float], reckoning: Reckoning | None = None) -> Folded:
    """Say what several stops share.

    Parameters
    ----------
    dial_minutes : sequence of float
        Dial time of each stop, minutes after twelve, 0 to less than 720.
    reckoning : Reckoning, optional
        What this clock must do; its wheels of five minutes a turn and more are then folded on too.

    Raises
    ------
    OutOfRange
        If a time is not on the dial.
    """
    minutes = tuple(dial_place(minute) for minute in dial_minutes)
    stops = tuple(dial_name(minute) for minute in minutes)
    if len(minutes) < FEWEST:
        need = FEWEST - len(minutes)
        text = f"{need} more {'stop' if need == 1 else 'stops'} with dial time, and they begin to point."
        return Folded(stops, (), None, "too few", text, _common(minutes, reckoning), ())
    periods = _periods(reckoning)
    folds = tuple(_fold(minutes, period, what, hands, _TESTS * len(periods)) for period, what, hands in periods)
    best = _best(folds)
    chosen = folds[best]
    points = "settled" if chosen.p_all < SETTLED_P else "points" if chosen.p_all < POINTS_P else "nothing yet"
    acting = what_acts_at(_where(chosen), reckoning) if points != "nothing yet" else _common(minutes, reckoning)
    if points != "nothing yet":
        acting = tuple(one for one in acting if _comes_round_in(one.every_min, chosen.period_min))
    cautions = (MOVED_HANDS, SECONDS_NOT_SEEN)
    return Folded(stops, folds, best, points, _in_words(chosen, points, len(minutes)), acting, cautions)


def _periods(reckoning: Reckoning | None) -> list[tuple[float, str, bool]]:
    """Periods to fold on, shortest first, with what comes round in each and whether it turns with the hands."""
    found: list[tuple[float, str, bool]] = [
        (15.0, "the quarters: lifting, warning and letting-off of each", True),
        (60.0, "the minute hand, the cannon and its cam, the centre wheel, the letting-off of the hour", True),
        (CROSSING_MIN, "the hands passing each other", True),
        (180.0, "the minute wheel where it turns once in three hours", True),
        (
            float(DIAL_MINUTES),
            "the hour hand, the hour wheel and snail, a count wheel, the great wheel or barrel",
            True,
        ),
    ]
    known = {period for period, _, _ in found}
    for train in reckoning.trains if reckoning else ():
        if reckoning is None or train.name != reckoning.going:
            continue
        for arbor in train.arbors:
            period = (arbor.period_s or 0.0) / 60
            whole_turns = DIAL_MINUTES / period if period else 0.0
            # Only what comes round a whole number of times in 12 hours stands at the same place at the same dial time.
            fits = period and abs(whole_turns - round(whole_turns)) < 1e-6
            if fits and period >= _SHORTEST_MIN and not any(abs(period - other) < 0.01 for other in known):
                known.add(period)
                found.append((period, f"the {arbor.name} arbor ({_length(period)} a turn)", False))
    return sorted(found)


def _fold(minutes: Sequence[float], period: float, what: str, with_hands: bool, tries: int) -> Fold:
    angles = np.asarray(minutes, float) / period * 2 * np.pi
    mean, r = resultant(angles)
    within = circular_range(angles) / (2 * np.pi) * period
    n = len(minutes)
    seen = min(within + RESOLUTION_MIN, period)
    # A dial read to the minute cannot show a cluster tighter than a minute allows.
    loose = r * float(np.sinc(RESOLUTION_MIN / period))
    p = min(rayleigh_p(n, loose), range_p(n, seen / period * 2 * np.pi))
    return Fold(
        period_min=period,
        what=what,
        with_hands=with_hands,
        at_min=mean / (2 * np.pi) * period % period,
        within_min=within,
        r=r,
        p=p,
        p_all=min(1.0, p * tries),
        more_to_settle=_more(n, seen / period, loose, tries),
    )


def _more(n: int, share: float, r: float, tries: int) -> int | None:
    """How many more stops as close as these would settle it."""
    enough = SETTLED_P / tries
    for total in range(n, n + _MOST_MORE + 1):
        # A chance this small needs n r squared well above 3; the integral is not worth its time before.
        by_length = total * r**2 > 3 and rayleigh_p(total, r) < enough
        if by_length or range_p(total, share * 2 * np.pi) < enough:
            return total - n
    return None


def _best(folds: Sequence[Fold]) -> int:
    """The fold that says most: of those that point, the longest, since a shorter one follows from it.

    Stops at the same minute of every hour also stand together in the quarter hour, which is then no news of its own.
    The hands' crossings count only where the stops stand at them.
    """

    def counts(at: int) -> bool:
        return folds[at].period_min != CROSSING_MIN or abs(crossing_off(folds[at].at_min)) <= _NEAR_CROSSING_MIN

    eligible = [at for at in range(len(folds)) if counts(at)]
    lowest = min(folds[at].p_all for at in eligible)
    if lowest >= POINTS_P:
        return min(eligible, key=lambda at: folds[at].p_all)
    near = [at for at in eligible if folds[at].p_all < POINTS_P and folds[at].p_all <= 10 * max(lowest, 1e-12)]
    return max(near, key=lambda at: folds[at].period_min)


def _where(fold: Fold) -> float:
    """A dial minute at which the stops of a fold stand."""
    return fold.at_min % DIAL_MINUTES if round(fold.at_min) < DIAL_MINUTES else 0.0


def _comes_round_in(every_min: float, period_min: float) -> bool:
    """Whether something that comes every so often comes at the same place of each period."""
    turns = period_min / every_min
    return abs(turns - round(turns)) < 0.01 and round(turns) >= 1


def _common(minutes: Sequence[float], reckoning: Reckoning | None) -> tuple[Acting, ...]:
    """What acts at every one of some dial minutes."""
    if not minutes:
        return ()
    each = [what_acts_at(minute, reckoning) for minute in minutes]
    shared = set.intersection(*({one.code for one in acting} for acting in each))
    return tuple(one for one in each[0] if one.code in shared)


def _length(minutes: float) -> str:
    if abs(minutes - CROSSING_MIN) < 0.01:
        return "65 min 27 s"
    return f"{minutes / 60:g} h" if minutes >= 120 else f"{minutes:g} min"


def _in_words(fold: Fold, points: str, n: int) -> str:
    if points == "nothing yet":
        more = f" {fold.more_to_settle} more in the same stretch would settle it." if fold.more_to_settle else ""
        nearest = f"The nearest is what comes round every {_length(fold.period_min)}: {fold.what}."
        return f"These {n} stops share nothing that could not be chance. {nearest}{more}"
    if fold.period_min == CROSSING_MIN:
        place = "where the hands pass each other"
    elif fold.period_min == DIAL_MINUTES:
        place = f"about {dial_name(_where(fold))}"
    else:
        place = f"about {fold.at_min:.0f} min into every {_length(fold.period_min)}"
    text = f"All {n} stops stand within {fold.within_min:.0f} min, {place}. In that time comes round: {fold.what}."
    if points == "settled":
        return f"{text} Chance alone would bring them so close once in {1 / fold.p_all:.0f} times."
    more = f" {fold.more_to_settle} more like these would settle it." if fold.more_to_settle else ""
    return f"{text} That points there, but is not settled (chance {fold.p_all:.0%}).{more}"
