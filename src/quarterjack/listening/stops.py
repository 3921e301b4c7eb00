"""Where the clock stopped, and how: cut off while it still swung well, or died away."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quarterjack.listening.heard import Stop
from quarterjack.records import to_ns

LEAST_SILENT_BEATS, LEAST_SILENT_S = 8, 6.0
# What a missed tick of usual strength would have stood out by, in standard deviations, to be called silence.
_AUDIBLE = 8.0
_AUDIBLE_SHARE = 0.8
_LAST_TICKS = 16
_LEAST_TICKS = 48
_BEFORE_S = 300.0
_FADED_DB = 4.0
_SHIFTED_SHARE = 0.04


def find_stop(
    t_s: NDArray[np.float64],
    number: NDArray[np.int64],
    level_db: NDArray[np.float64],
    missed_s: NDArray[np.float64],
    missed_clearness: NDArray[np.float64],
    beat_s: float,
    heard_until_s: float,
) -> Stop | None:
    """Say whether the ticks end in a stop rather than with the record or under a louder noise.

    Parameters
    ----------
    t_s, number, level_db : arrays of n
        The ticks of one stretch: onset, beat number, level.
    missed_s, missed_clearness : arrays of m
        Ticks expected but not heard: where, and how clear a usual one would have been there.
    beat_s : float
        Seconds a beat.
    heard_until_s : float
        Where the record, or the silence after this stretch, ends.

    Returns
    -------
    Stop or None
        None unless several beats of a silence follow in which ticks would have been heard.
    """
    if not t_s.size:
        return None
    end_s = float(t_s[-1])
    if heard_until_s - end_s < max(LEAST_SILENT_S, LEAST_SILENT_BEATS * beat_s):
        return None
    after = missed_clearness[missed_s > end_s]
    after = after[: 4 * LEAST_SILENT_BEATS]
    if after.size < LEAST_SILENT_BEATS or float(np.mean(after >= _AUDIBLE)) < _AUDIBLE_SHARE:
        return None
    return Stop(to_ns(end_s), "died away" if _died_away(t_s, number, level_db, beat_s) else "cut off")


def _died_away(
    t_s: NDArray[np.float64], number: NDArray[np.int64], level_db: NDArray[np.float64], beat_s: float
) -> bool:
    """Whether the ticks grew fainter, or the beat difference shifted, over the last minutes."""
    recent = t_s > t_s[-1] - _BEFORE_S
    t_s, number, level_db = t_s[recent], number[recent], level_db[recent]
    if t_s.size < _LEAST_TICKS:
        return False
    early, late = slice(0, t_s.size // 3), slice(-_LAST_TICKS, None)
    faded = float(np.median(level_db[early]) - np.median(level_db[late]))
    shifts = [_half_difference(t_s[part], number[part]) for part in (early, late)]
    return faded >= _FADED_DB or abs(shifts[1] - shifts[0]) >= _SHIFTED_SHARE * beat_s


def _half_difference(t_s: NDArray[np.float64], number: NDArray[np.int64]) -> float:
    """How late odd ticks come against even ones, seconds."""
    design = np.column_stack([np.ones(number.size), number, number % 2]).astype(np.float64)
    answer, *_ = np.linalg.lstsq(design, t_s, rcond=None)
    return float(answer[2])
