"""When a striking or chiming train was heard to turn: the noise between the lines around a sounding.

A train that runs fills the spectrum between the partials evenly, from the clunk of its release until it locks. It can
be told only where it begins clearly before the first blow; the noise that comes with the blows alone may be the bars'.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from quarterjack.listening.heard import Sounding, TrainNoise
from quarterjack.listening.strokes import Noise
from quarterjack.records import NS_PER_S, to_ns

_CALM_S = 0.5
_ABOVE_FLOOR_DB = 8.0
_LEAST_RUN_IN_S = 0.3
_LONGEST_RUN_IN_S = 20.0
_LONGEST_RUN_OUT_S = 6.0
_LOCKED_DB = 3.0


def train_noise(noises: Sequence[Noise], soundings: Sequence[Sounding]) -> tuple[TrainNoise, ...]:
    """Find the stretches in which a train was heard to turn, at most one for each sounding.

    Parameters
    ----------
    noises : sequence of Noise
        Noise between the lines in each stretch that was looked at, in order.
    soundings : sequence of Sounding
        All soundings of the record, in order.
    """
    found: list[TrainNoise] = []
    for sounding in soundings:
        first_s, last_s = sounding.from_ns / NS_PER_S, sounding.to_ns / NS_PER_S
        times, calm = _around(noises, first_s, last_s)
        if not times.size:
            continue
        follows = found[-1].to_ns / NS_PER_S if found else -np.inf
        start = _start(times, calm, first_s, follows)
        if start is None:
            continue
        running = float(np.median(calm[(times >= start) & (times <= max(last_s, first_s + _CALM_S))]))
        after = (times > last_s) & (calm < running - _LOCKED_DB)
        end = float(times[after][0]) if after.any() else float(times[-1])
        found.append(TrainNoise(to_ns(max(start, 0.0)), to_ns(end)))
    return tuple(found)


def _around(noises: Sequence[Noise], first_s: float, last_s: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Times and calm level from well before the first blow to some seconds after the last, as far as looked at."""
    times, levels = [], []
    for noise in noises:
        at = noise.from_s + noise.step_s * np.arange(len(noise.level_db))
        wanted = (at >= max(0.0, first_s - _LONGEST_RUN_IN_S)) & (at <= last_s + _LONGEST_RUN_OUT_S)
        if wanted.any():
            times.append(at[wanted])
            levels.append(_calm(noise.level_db, noise.step_s)[wanted])
    if not times:
        return np.empty(0), np.empty(0)
    time = np.concatenate(times)
    order = np.argsort(time, kind="stable")
    return time[order], np.concatenate(levels)[order]


def _calm(level_db: NDArray[np.float32], step_s: float) -> NDArray[np.float64]:
    """The level without ticks and attacks: the third-lowest tenth of half a second around each frame."""
    length = max(3, round(_CALM_S / step_s) | 1)
    padded = np.pad(level_db.astype(np.float64), length // 2, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, length)
    calm: NDArray[np.float64] = np.quantile(windows, 0.3, axis=1)
    return calm


def _start(times: NDArray[np.float64], calm: NDArray[np.float64], first_s: float, follows_s: float) -> float | None:
    """When the train that struck the first blow was released, or None where that cannot be told."""
    lead = (times < first_s - 0.1) & (times >= follows_s)
    if not lead.any():
        return None
    time, level = times[lead], calm[lead]
    floor = float(np.quantile(calm[times < first_s], 0.02))
    low = np.flatnonzero(level < floor + _ABOVE_FLOOR_DB)
    start_at = int(low[-1]) + 1 if low.size else 0
    if start_at >= time.size or first_s - time[start_at] < _LEAST_RUN_IN_S:
        return None
    # Right after a train that just locked, the next one's release cannot be told from it; before that, it must rise.
    if not low.size and follows_s == -np.inf:
        return None
    return float(time[start_at])
