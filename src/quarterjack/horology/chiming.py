"""Quarter tunes as counts: phrases and notes an hour, turns of the chime barrel, and what is hard to play."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

from quarterjack.errors import OutOfRange
from quarterjack.horology.numbers import Number, checked
from quarterjack.tunes import Tune

QUARTERS_AN_HOUR = 4


def phrases_of_quarter(tune: Tune, quarter: int) -> tuple[tuple[int, ...], ...]:
    """Give the phrases of one quarter, as bells counted from the highest.

    Parameters
    ----------
    tune : Tune
        The tune.
    quarter : int
        1 to 4; the fourth plays at the hour.

    Returns
    -------
    tuple of tuple of int

    Raises
    ------
    OutOfRange
        For another quarter.

    Notes
    -----
    The Cambridge quarters and the ting-tang are those of [beckett1903 Quarters].
    """
    if not 1 <= quarter <= QUARTERS_AN_HOUR:
        raise OutOfRange(f"quarter {quarter} is in no hour; allowed is 1 to 4.", name="quarter", value=quarter)
    return tune.quarters[quarter - 1]


def _hour(tune: Tune, at_hour: bool) -> list[tuple[int, ...]]:
    quarters = range(1, QUARTERS_AN_HOUR + (1 if at_hour else 0))
    return [phrase for quarter in quarters for phrase in phrases_of_quarter(tune, quarter)]


def phrases_per_hour(tune: Tune, *, at_hour: bool = True) -> int:
    """Give the phrases that a tune plays in an hour.

    Parameters
    ----------
    tune : Tune
        The tune.
    at_hour : bool, optional
        Whether the fourth quarter plays.

    Returns
    -------
    int
        Ten for the Cambridge quarters, six where they are silent at the hour.

    Notes
    -----
    [beckett1903 Quarters]
    """
    return len(_hour(tune, at_hour))


def notes_per_hour(tune: Tune, *, at_hour: bool = True) -> int:
    """Give the notes that a tune plays in an hour.

    Parameters
    ----------
    tune : Tune
        The tune.
    at_hour : bool, optional
        Whether the fourth quarter plays.

    Returns
    -------
    int
        Forty for the Cambridge quarters, twenty for the ting-tang.

    Notes
    -----
    [beckett1903 Quarters]
    """
    return sum(len(phrase) for phrase in _hour(tune, at_hour))


def barrel_phrases(tune: Tune, *, at_hour: bool = True) -> tuple[tuple[int, ...], ...]:
    """Give the shortest run of phrases which, played round and round, gives the tune hour after hour.

    Parameters
    ----------
    tune : Tune
        The tune.
    at_hour : bool, optional
        Whether the fourth quarter plays.

    Returns
    -------
    tuple of phrases
        What the barrel is pinned with, beginning at the first quarter: five phrases for the Cambridge quarters.

    Notes
    -----
    [beckett1903 Quarters]
    """
    played = _hour(tune, at_hour)
    for length in range(1, len(played)):
        if len(played) % length == 0 and played == played[:length] * (len(played) // length):
            return tuple(played[:length])
    return tuple(played)


def chime_barrel_turns_per_hour(phrases_an_hour: Number, phrases_per_turn: Number) -> Number:
    """Give the turns of a chime barrel in an hour.

    Parameters
    ----------
    phrases_an_hour : float or float64[...]
        Phrases played in an hour, at least 0 (see `phrases_per_hour`).
    phrases_per_turn : float or float64[...]
        Phrases pinned around the barrel, above 0.

    Returns
    -------
    float or float64[...]
        Turns; two for the Cambridge quarters on a barrel of five phrases.

    Raises
    ------
    OutOfRange
        Outside those bounds.

    Notes
    -----
    [beckett1903 Quarters]
    """
    return checked("phrases an hour", phrases_an_hour, low=0.0) / checked(
        "phrases in a turn", phrases_per_turn, above=0.0
    )


def strokes_of_bells(phrases: tuple[tuple[int, ...], ...]) -> dict[int, int]:
    """Count how often each bell is struck in a run of phrases.

    Parameters
    ----------
    phrases : tuple of phrases
        Bells counted from the highest.

    Returns
    -------
    dict of int to int
        Strokes of each bell that occurs, in order of bells.

    Notes
    -----
    A count, no formula.
    """
    return dict(sorted(Counter(bell for phrase in phrases for bell in phrase).items()))


def bells_twice_running(tune: Tune, *, at_hour: bool = True) -> dict[int, tuple[int, ...]]:
    """Find the bells that come twice running in a quarter, so that one hammer has little time to rise again.

    Parameters
    ----------
    tune : Tune
        The tune.
    at_hour : bool, optional
        Whether the fourth quarter plays.

    Returns
    -------
    dict of int to tuple of int
        For each such bell the quarters in which it happens; a second hammer on that bell is the cure.

    Notes
    -----
    [beckett1903 Quarters]
    """
    found: dict[int, list[int]] = {}
    for quarter in range(1, QUARTERS_AN_HOUR + (1 if at_hour else 0)):
        notes = [bell for phrase in phrases_of_quarter(tune, quarter) for bell in phrase]
        for bell in sorted({after for before, after in pairwise(notes) if before == after}):
            found.setdefault(bell, []).append(quarter)
    return {bell: tuple(quarters) for bell, quarters in sorted(found.items())}
