"""Parts a row of blows into what belongs together: silences, the hour after the chime, phrases."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

_LONG_SILENCE_S = 8.0
_LONG_SILENCE = 3.0
"""A silence parts two soundings if it is longer than both: seconds, and so many times the usual interval."""
_NEIGHBOURS = 5
_HOUR_GAP = 1.35
"""The rest before the hour's first blow is at least this many times the usual interval of the chime."""
_PHRASE_GAP = 1.3


def by_silence(times_s: NDArray[np.float64]) -> list[tuple[int, int]]:
    """Part blows at long silences: first and one past the last of each group.

    How long a silence must be depends on the rhythm around it: a tower clock's hour may take five seconds a blow.
    """
    gaps = np.diff(times_s)
    cuts = [0]
    for at, gap in enumerate(gaps):
        if gap <= _LONG_SILENCE_S:
            continue
        beside = [gaps[max(0, at - _NEIGHBOURS) : at], gaps[at + 1 : at + 1 + _NEIGHBOURS]]
        usual = max((float(np.median(one)) for one in beside if one.size), default=0.0)
        if gap > _LONG_SILENCE * usual:
            cuts.append(at + 1)
    cuts.append(len(times_s))
    return [(start, end) for start, end in itertools.pairwise(cuts) if end > start]


def hour_starts(times_s: NDArray[np.float64], bars: Sequence[int]) -> list[int]:
    """Places at which the hour may begin in one group, the likeliest first; `len(bars)` means that it has none.

    The hour is one bar struck again and again, so that it can only be the tail on one bar: one that the chime does
    not use and that comes after a rest, or one that comes after a rest.
    """
    count = len(bars)
    run = count
    while run and bars[run - 1] == bars[-1]:
        run -= 1
    if run == 0:
        return [0]
    likely: list[int] = []
    inner = np.diff(times_s[:run])
    usual = float(np.median(inner)) if inner.size else 0.0
    before = np.diff(times_s)[run - 1 :]
    rests = [run + at for at, gap in enumerate(before) if gap >= _HOUR_GAP * usual]
    own = bars[-1] not in bars[:run]
    if run >= 2 and own and (run in rests or count - run >= 3):
        likely.append(run)
    likely.append(count)
    likely += [at for at in rests[:1] if run >= 2 and at not in likely]
    # Where the last note of the chime and the hour share a bar, the tune must say where the one ends.
    likely += [at for at in range(run + 1, count) if at not in likely]
    return likely


def phrases(times_s: NDArray[np.float64]) -> tuple[int, ...]:
    """Number of blows in each phrase: intervals fall into notes and rests, parted where they leave the widest gap."""
    gaps = np.diff(times_s)
    if gaps.size < 2:
        return (len(times_s),)
    steps = np.sort(gaps)
    ratios = steps[1:] / np.maximum(steps[:-1], 1e-9)
    # Rests are fewer than notes, except in ting-tang's pairs, where there is one less of them.
    allowed = np.arange(1, steps.size) >= steps.size // 2
    widest = int(np.where(allowed, ratios, 0.0).argmax())
    if ratios[widest] < _PHRASE_GAP:
        return (len(times_s),)
    limit = float(np.sqrt(steps[widest] * steps[widest + 1]))
    ends = [*(np.flatnonzero(gaps > limit) + 1), len(times_s)]
    return tuple(int(size) for size in np.diff([0, *ends]))
