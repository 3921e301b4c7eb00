"""Which of the stretches that were followed are the same clock, and what that clock did as a whole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from quarterjack.listening.going import Counted, fit_going
from quarterjack.listening.heard import Going, Stop, Ticks
from quarterjack.listening.stops import find_stop
from quarterjack.listening.stretch import Stretch, fit_sides

_SAME_PERIOD = 0.015
_LEAST_FOR_LINE, _NEAR_TICKS = 12, 15
_STRAY, _STRAY_S, _STRAY_SHARE = 10.0, 0.006, 0.05


@dataclass(frozen=True)
class OneClock:
    """The ticks of one clock, how it goes, and where it stopped."""

    ticks: Ticks
    going: Going | None
    stops: tuple[Stop, ...]


def the_clock(stretches: Sequence[Stretch], end_s: float, beats_per_turn: int | None = None) -> OneClock:
    """Take the stretches of the clock that was heard most, and say what it did.

    Parameters
    ----------
    stretches : sequence of Stretch
        From the follower.
    end_s : float
        How much was heard, seconds.
    beats_per_turn : int or None
        As in `going.fit_going`.
    """
    mine = sorted(_most_heard([s for s in stretches if s.t_s]), key=lambda s: s.t_s[0])
    if not mine:
        return OneClock(Ticks.none(), None, ())
    columns, counted, stops = [], [], []
    after_s, reference = -np.inf, None
    for place, stretch in enumerate(mine):
        t_s, number = np.array(stretch.t_s), np.array(stretch.number)
        beat_s = stretch.double_beat_s / 2
        if reference is None:
            reference = number[0] % 2, _lag(number, t_s)
            number = number - number[0]
        else:
            number = number + _swap(number, t_s, reference[1], reference[0])
        fresh = (t_s > after_s + 0.3 * beat_s) & _in_line(number, t_s)
        if not fresh.any():
            continue
        level, u_s = np.array(stretch.level_db)[fresh], np.array(stretch.u_s)[fresh]
        t_s, number = t_s[fresh], number[fresh]
        after_s = float(t_s[-1])
        columns.append((t_s, u_s, number % 2, level))
        counted.append(Counted(number, t_s, u_s))
        until_s = mine[place + 1].t_s[0] if place + 1 < len(mine) else end_s
        missed = np.array(stretch.missed_s), np.array(stretch.missed_clearness)
        stop = find_stop(t_s, number, level, *missed, beat_s, until_s)
        if stop is not None:
            stops.append(stop)
    t_s, u_s, side, level = (np.concatenate(c) for c in zip(*columns, strict=True))
    # Nothing sounds before the record begins; a tick cut by its start is set on the first sample.
    ticks = Ticks(np.round(np.maximum(t_s, 0.0) * 1e9), np.round(u_s * 1e9), side, np.round(level, 2))
    onset_u_s = float(np.hypot(*mine[0].template.onset_u_s) / np.sqrt(2.0))
    return OneClock(ticks, fit_going(counted, onset_u_s=onset_u_s, beats_per_turn=beats_per_turn), tuple(stops))


def _most_heard(stretches: Sequence[Stretch]) -> list[Stretch]:
    """Stretches of the period that has most ticks; the others are other clocks, or chimes taken for one."""
    best: list[Stretch] = []
    for one in stretches:
        alike = [s for s in stretches if abs(s.double_beat_s / one.double_beat_s - 1.0) < _SAME_PERIOD]
        if sum(len(s.t_s) for s in alike) > sum(len(s.t_s) for s in best):
            best = alike
    return best


def _in_line(number: NDArray[np.int64], t_s: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which ticks stand where the others of their side near them let expect: what strays is some other sound."""
    inside = np.ones(t_s.size, bool)
    if t_s.size < _LEAST_FOR_LINE:
        return inside
    beat_s = float(np.median(np.diff(t_s)))
    slope, offsets = fit_sides(number, t_s, 2.0 * beat_s)
    off = t_s - (number / 2.0 * slope + offsets[number % 2])
    for side in (0, 1):
        mine = np.flatnonzero(number % 2 == side)
        if mine.size:
            off[mine] -= median_filter(off[mine], size=min(_NEAR_TICKS, mine.size), mode="mirror")
    off = np.abs(off)
    return off <= max(_STRAY * float(np.median(off)), _STRAY_S, _STRAY_SHARE * beat_s)


def _lag(number: NDArray[np.int64], t_s: NDArray[np.float64]) -> float:
    """How late odd ticks come after even ones, against halfway, as a share of a beat."""
    if number.size < 4 or (number % 2).min() == (number % 2).max():
        return 0.0
    design = np.column_stack([np.ones(number.size), number, number % 2]).astype(np.float64)
    answer, *_ = np.linalg.lstsq(design, t_s, rcond=None)
    return float(answer[2] / max(answer[1], 1e-9))


def _swap(number: NDArray[np.int64], t_s: NDArray[np.float64], lag: float, first: int) -> int:
    """0 or 1 to add to the numbers so that the longer silence is on the side on which the first stretch has it."""
    same, swapped = _lag(number, t_s), _lag(number + 1, t_s)
    lag = lag if first == 0 else -lag
    return 0 if abs(same - lag) <= abs(swapped - lag) else 1
