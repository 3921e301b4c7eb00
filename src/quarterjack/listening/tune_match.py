"""Which tune a record's chimes are, and which quarter each is, without putting right what was heard.

Bars are numbers without meaning until a tune is laid beside them: a naming gives each bar one bell, the same for the
whole record. A naming in the order of pitch is believed before any other, because four different notes fit the plain
scale of a first quarter under some naming whatever their order. What was heard is never changed to fit; a tune that
fits in most notes is named, and the notes stay as they are.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from quarterjack.tunes import Tune

_MOST_WRONG = 0.2
"""Share of notes that may differ for a quarter, or all quarters together, still to be named."""
_ENOUGH_NOTES = 8
"""Notes from which a naming that is not in the order of pitch may be believed, if all fit."""
_MOST_NAMINGS = 400
_NO_BELL = 0


@dataclass(frozen=True)
class TuneMatch:
    """A tune laid beside the chimes of a record.

    Parameters
    ----------
    tune : Tune
        The tune that fits.
    bells : dict of int to int
        Bell (from 1, the highest) of each bar; bars that are none of the tune's are missing.
    quarters : tuple of int or None
        The quarter that each chime is, None where none fits or two fit alike.
    """

    tune: Tune
    bells: dict[int, int]
    quarters: tuple[int | None, ...]


def edits(heard: Sequence[int], expected: Sequence[int]) -> int:
    """Fewest notes to leave out, put in or change to turn one row of notes into the other."""
    row = list(range(len(expected) + 1))
    for at, note in enumerate(heard, 1):
        above, row[0] = row[0], at
        for other, wanted in enumerate(expected, 1):
            above, row[other] = row[other], min(row[other] + 1, row[other - 1] + 1, above + (note != wanted))
    return row[-1]


def match_tune(
    chimes: Sequence[Sequence[int]],
    pitches: dict[int, float],
    tunes: Iterable[Tune],
    known: dict[int, int] | None = None,
) -> TuneMatch | None:
    """Find the tune that fits all chimes of a record best, or None where none fits clearly.

    Parameters
    ----------
    chimes : sequence of sequences of int
        Bars struck in each chime, in order.
    pitches : dict of int to float
        Relative pitch of each bar; only the order counts.
    tunes : iterable of Tune
        The tunes that may be named.
    known : dict of int to int, optional
        Bell of each bar where that is known beforehand; then no other naming is tried for tunes of so many bells.
    """
    notes = sum(len(chime) for chime in chimes)
    if not notes:
        return None
    found: list[tuple[float, float, TuneMatch]] = []
    for tune in tunes:
        sure = known is not None and len(set(known.values())) == tune.bells
        for naming, by_pitch in [(known or {}, True)] if sure else _namings(chimes, pitches, tune):
            wrong, quarters = _judge(chimes, naming, tune)
            share = wrong / notes
            if not by_pitch and (wrong or notes < _ENOUGH_NOTES):
                continue
            if share > _MOST_WRONG:
                continue
            unused = 1.0 - len(set(naming.values())) / tune.bells
            found.append((share, unused + (not by_pitch), TuneMatch(tune, naming, quarters)))
    if not found:
        return None
    found.sort(key=lambda one: one[:2])
    best = found[0]
    rivals = [one for one in found if one[2].tune.name != best[2].tune.name and one[:2] <= best[:2]]
    return None if rivals else best[2]


def quarter_of(chime: Sequence[int], match: TuneMatch) -> tuple[int | None, int]:
    """Which quarter of a matched tune a chime is, or None, and how many of its notes differ from the best fit."""
    wrong, quarters = _judge([chime], match.bells, match.tune)
    return quarters[0], wrong


def flat(tune: Tune, quarter: int) -> tuple[int, ...]:
    """All bells of a quarter in order."""
    return tuple(itertools.chain.from_iterable(tune.quarters[quarter - 1]))


def _judge(chimes: Sequence[Sequence[int]], naming: dict[int, int], tune: Tune) -> tuple[int, tuple[int | None, ...]]:
    """Notes that do not fit under a naming, each chime taken for the quarter that fits it best."""
    wrong = 0
    quarters: list[int | None] = []
    phrases = {phrase for quarter in tune.quarters for phrase in quarter}
    for chime in chimes:
        heard = [naming.get(bar, _NO_BELL) for bar in chime]
        costs = [edits(heard, flat(tune, quarter)) for quarter in range(1, len(tune.quarters) + 1)]
        least = min(costs)
        fits = least <= _MOST_WRONG * len(heard) and costs.count(least) == 1
        quarters.append(costs.index(least) + 1 if fits else None)
        # Phrases of the tune in another order are still the tune, though no quarter of it.
        wrong += 0 if _made_of(tuple(heard), phrases) else least
    return wrong, tuple(quarters)


def _made_of(heard: tuple[int, ...], phrases: Iterable[tuple[int, ...]]) -> bool:
    """Whether a row of notes is whole phrases end to end."""
    reached = {0}
    for at in range(len(heard)):
        if at in reached:
            reached |= {at + len(phrase) for phrase in phrases if heard[at : at + len(phrase)] == phrase}
    return len(heard) in reached and len(heard) > 0


def _namings(
    chimes: Sequence[Sequence[int]], pitches: dict[int, float], tune: Tune
) -> Iterable[tuple[dict[int, int], bool]]:
    """Namings worth trying: every one in the order of pitch, then the one that fits best whatever the pitch."""
    bars = sorted({bar for chime in chimes for bar in chime}, key=lambda bar: -pitches.get(bar, 0.0))
    size = min(len(bars), tune.bells)
    pairs = itertools.product(
        itertools.combinations(bars, size), itertools.combinations(range(1, tune.bells + 1), size)
    )
    seen = []
    for some, bells in itertools.islice(pairs, _MOST_NAMINGS):
        naming = dict(zip(some, bells, strict=True))
        seen.append(naming)
        yield naming, True
    together: NDArray[np.float64] = np.zeros((len(bars), tune.bells))
    for chime in chimes:
        same = [quarter for quarter in range(1, len(tune.quarters) + 1) if len(flat(tune, quarter)) == len(chime)]
        for quarter in same:
            for bar, bell in zip(chime, flat(tune, quarter), strict=True):
                together[bars.index(bar), bell - 1] += 1.0
    rows, columns = linear_sum_assignment(-together)
    naming = {bars[row]: int(column) + 1 for row, column in zip(rows, columns, strict=True) if together[row, column]}
    if naming not in seen:
        yield naming, False
