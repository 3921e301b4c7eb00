"""How the clock goes: one slope and one offset a side, fitted to beat number over all that was heard of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quarterjack.listening.heard import SIDES, Going

RECORDER_LIMIT = 50e-6
"""A recorder's own clock, unchecked, is taken to be within this share of right: a rectangular distribution."""
LEAST_TICKS = 5
# A tick's typical distance from midway between its neighbours, as a share of a beat, beyond which no rate is honest.
_MOST_UNEVEN_SHARE = 0.022
_OUTLIER = 5.0
_OWN_UNEVENNESS_S = 0.001


@dataclass(frozen=True)
class Counted:
    """Ticks in unbroken count: beat number (even ones are side a) and onset in seconds, both rising; its doubt."""

    number: NDArray[np.int64]
    t_s: NDArray[np.float64]
    u_s: NDArray[np.float64]


def fit_going(counted: Sequence[Counted], *, onset_u_s: float = 0.0, beats_per_turn: int | None = None) -> Going | None:
    """Fit beats an hour and the beat difference, or return None where neither can honestly be given.

    Parameters
    ----------
    counted : sequence of Counted
        Stretches of one clock; each has its own offsets, all share the slope and the beat difference.
    onset_u_s : float
        Standard uncertainty of a side's offset as a whole (how well its onset is known), seconds.
    beats_per_turn : int or None
        Beats in a turn of the escape wheel: the beat difference is then averaged over whole turns where one is heard.

    Notes
    -----
    The fit is least squares on beat number with outliers left out in rounds. The uncertainty of the slope is widened
    where neighbouring deviations go together, as they do when the rate wanders; a rectangular +-50 ppm stands for the
    recorder's own clock.
    """
    useful = [c for c in counted if c.number.size >= 3]
    total = sum(c.number.size for c in useful)
    if total < LEAST_TICKS:
        return None
    which = np.repeat(np.arange(len(useful)), [c.number.size for c in useful])
    number = np.concatenate([c.number for c in useful])
    t_s = np.concatenate([c.t_s for c in useful])
    side = number % 2
    # A tick heard through a chime is less sure; below a clock's own unevenness that does not matter.
    weight = 1.0 / (np.concatenate([c.u_s for c in useful]) ** 2 + _OWN_UNEVENNESS_S**2)
    weight /= weight.mean()
    keep = np.ones(number.size, bool)
    for _ in range(6):
        beat_s, half_difference_s, offsets = _fit(number, t_s, which, keep * weight, len(useful))
        off = t_s - (offsets[which] + number * beat_s + side * half_difference_s)
        limit = _OUTLIER * 1.4826 * float(np.median(np.abs(off[keep]))) + 2e-5
        new = np.abs(off) <= limit
        if np.array_equal(new, keep):
            break
        keep = new
    if beat_s <= 0 or keep.sum() < max(LEAST_TICKS, 0.8 * total):
        return None
    if unevenness_of(useful) > _MOST_UNEVEN_SHARE * beat_s + 0.0003:
        return None
    rest = off[keep]
    free = max(int(keep.sum()) - len(useful) - 2, 1)
    scatter_s = float(np.sqrt((rest**2).sum() / free))
    centred = np.concatenate(
        [
            number[keep & (which == w)] - number[keep & (which == w)].mean()
            for w in range(len(useful))
            if (keep & (which == w)).any()
        ]
    )
    slope_u_s = scatter_s * _together(rest) / float(np.sqrt(max((centred**2).sum(), 1e-12)))
    per_hour = 3600.0 / beat_s
    per_hour_u = per_hour * float(np.hypot(slope_u_s / beat_s, RECORDER_LIMIT / np.sqrt(3.0)))
    if not all((keep & (side == s)).sum() >= 2 for s in (0, 1)):
        return Going(total, per_hour, per_hour_u, None, None, None)
    if beats_per_turn:
        half_difference_s = _over_whole_turns(number, off, which, keep, half_difference_s, beats_per_turn)
    # Side b comes `beat + half difference` after side a: a's silence is longer by twice that half difference.
    spread = [float(np.std(off[keep & (side == s)], ddof=1)) / np.sqrt((keep & (side == s)).sum()) for s in (0, 1)]
    difference_u_s = 2.0 * float(np.hypot(np.hypot(*spread), np.sqrt(2.0) * onset_u_s))
    difference_ms = 2.0 * half_difference_s * 1e3
    return Going(
        beats=total,
        beats_per_hour=per_hour,
        beats_per_hour_u=per_hour_u,
        beat_difference_ms=abs(difference_ms),
        beat_difference_u_ms=difference_u_s * 1e3,
        long_side=SIDES[0] if difference_ms >= 0 else SIDES[1],
    )


def _fit(
    number: NDArray[np.int64],
    t_s: NDArray[np.float64],
    which: NDArray[np.int64],
    weight: NDArray[np.float64],
    stretches: int,
) -> tuple[float, float, NDArray[np.float64]]:
    """Least squares for seconds a beat, how late side b is against even beats, and an offset a stretch."""
    x = np.column_stack([number, number % 2]).astype(np.float64)
    total = np.maximum(np.bincount(which, weight, stretches), 1e-12)
    means = np.column_stack([np.bincount(which, weight * x[:, k], stretches) / total for k in (0, 1)])
    mean_t = np.bincount(which, weight * t_s, stretches) / total
    root = np.sqrt(weight)
    answer, *_ = np.linalg.lstsq((x - means[which]) * root[:, None], (t_s - mean_t[which]) * root, rcond=None)
    return float(answer[0]), float(answer[1]), mean_t - means @ answer


def _together(rest: NDArray[np.float64]) -> float:
    """How much wider a mean is than independent deviations would make it, from their first autocorrelation."""
    if rest.size < 8:
        return 1.0
    first = float((rest[1:] * rest[:-1]).sum() / max((rest**2).sum(), 1e-30))
    first = min(max(first, 0.0), 0.98)
    return float(np.sqrt((1.0 + first) / (1.0 - first)))


def _over_whole_turns(
    number: NDArray[np.int64],
    off: NDArray[np.float64],
    which: NDArray[np.int64],
    keep: NDArray[np.bool_],
    half_difference_s: float,
    beats_per_turn: int,
) -> float:
    """Correct the beat difference so that each tooth of the escape wheel counts alike, where all were heard."""
    corrections, weights = [], []
    for w in np.unique(which):
        mine = keep & (which == w)
        place = number[mine] % beats_per_turn
        count = np.bincount(place, minlength=beats_per_turn)
        if not count.all():
            continue
        mean = np.bincount(place, off[mine], beats_per_turn) / count
        even = np.arange(beats_per_turn) % 2 == 0
        if beats_per_turn % 2:
            continue
        corrections.append(mean[~even].mean() - mean[even].mean())
        weights.append(mine.sum())
    return half_difference_s + (float(np.average(corrections, weights=weights)) if corrections else 0.0)


def unevenness_of(counted: Sequence[Counted]) -> float:
    """Typical deviation of a tick from halfway between its neighbours of the same side, seconds, over all stretches."""
    bends = []
    for c in counted:
        position = np.full(int(c.number[-1] - c.number[0]) + 1, np.nan)
        position[c.number - c.number[0]] = c.t_s
        bend = position[2:-2] - 0.5 * (position[:-4] + position[4:])
        bends.append(bend[np.isfinite(bend)])
    every = np.concatenate(bends) if bends else np.empty(0)
    return float(np.sqrt(np.mean(every**2))) if every.size else 0.0
