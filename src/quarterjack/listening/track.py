"""Find one clock's beat in a stretch of sound: how long a double beat lasts and where in it the two sides fall.

The curve of suddenness is folded at every double beat from 36,000 to 1,440 beats an hour. A clock leaves two teeth
in the fold, and the sum of the curve at all its expected ticks, over the square root of their number, is greatest
where the model explains every tick and expects none that is not there: half the rate leaves ticks unexplained,
double the rate expects ticks in vain.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from quarterjack.listening.picks import pick_peaks

SHORTEST_DOUBLE_BEAT_S, LONGEST_DOUBLE_BEAT_S = 0.2, 5.0
# The part of a double beat that the shorter of its two silences may take; a clock further out of beat stands still.
LEAST_SHARE = 0.27
_POOL = 3
_SHORTLIST, _CANDIDATES = 60, 14
_LEAST_TICKS = 4
_LEAST_FOUND = 0.6
_LEAST_STRENGTH = 0.5
_FOUND_SHARE, _LEAST_FOUND_STRENGTH = 0.2, 0.3
_SAME_PERIOD, _FAINT_SHARE, _FAINT_FOUND = 0.015, 0.12, 0.8
# Of all rises at least this share of a tick's height, this share by height must stand at the ticks.
_STANDS_OUT, _LEAST_EXPLAINED = 0.35, 0.4


@dataclass(frozen=True)
class Beat:
    """A beat found in a stretch: tick `n` belongs to side `n % 2`.

    Parameters
    ----------
    double_beat_s : float
        Seconds from a tick to the next of the same side.
    number : int64[n]
        Beat number of each tick expected in the stretch, rising by 1.
    t_s : float64[n]
        Where it was found, or is expected, seconds from the start of the stretch.
    found : bool[n]
        Whether a rise stands there.
    strength : float64[n]
        The curve there.
    score : float
        How far the ticks stand out, in standard deviations of the curve.
    """

    double_beat_s: float
    number: NDArray[np.int64]
    t_s: NDArray[np.float64]
    found: NDArray[np.bool_]
    strength: NDArray[np.float64]
    score: float


def search_width_s(double_beat_s: float) -> float:
    """How far from its expected place a tick may fall, seconds either way."""
    return float(np.clip(0.035 * double_beat_s, 0.008, 0.040))


def find_beat(curve: NDArray[np.float32], frame_s: float, *, near_beats_per_hour: float | None = None) -> Beat | None:
    """Find the beat of one clock, or None where there is none that can be trusted.

    Parameters
    ----------
    curve : float32[n]
        Suddenness a frame, from `picks.suddenness`; 3 s at least, 20 s serve well.
    frame_s : float
        Seconds in a frame.
    near_beats_per_hour : float or None
        Where given, only double beats within 6 % of it are tried.
    """
    peaks = pick_peaks(curve, 0.25, round(0.04 / frame_s))
    seconds = curve.size * frame_s
    if peaks.size < _LEAST_TICKS:
        return None
    # A bang counts no more than a tick: nothing exceeds the median of as many peaks as there are seconds.
    ceiling = float(np.median(curve[peaks[: max(_LEAST_TICKS, round(seconds))]]))
    if ceiling < _LEAST_STRENGTH:
        return None
    capped = np.minimum(curve, np.float32(ceiling))
    followed = [_follow(capped, frame_s, *candidate) for candidate in _candidates(capped, frame_s, near_beats_per_hour)]
    beats = [beat for beat in followed if beat is not None]
    standing_out = peaks[capped[peaks] >= _STANDS_OUT * ceiling]
    best: Beat | None = None
    best_rank = 0.0
    for beat in beats:
        share = _explained(beat, capped, standing_out, frame_s)
        if share < _LEAST_EXPLAINED:
            continue
        # Of two clocks the louder is meant.
        loudness = float(np.median(beat.strength[beat.found])) / ceiling
        rank = beat.score * _prior(beat) * share * np.sqrt(loudness)
        if rank > best_rank:
            best, best_rank = beat, rank
    return _with_faint_side(best, beats, capped, frame_s) if best is not None else None


def _with_faint_side(best: Beat, beats: list[Beat], curve: NDArray[np.float32], frame_s: float) -> Beat:
    """Take the beat of half the period instead where a fainter tick stands between all the loud ones."""
    for beat in beats:
        if abs(2.0 * beat.double_beat_s / best.double_beat_s - 1.0) > _SAME_PERIOD:
            continue
        away = np.abs(beat.t_s[:, None] - best.t_s).min(axis=1)
        between = away > 0.15 * beat.double_beat_s
        shared = away < search_width_s(best.double_beat_s)
        if shared.sum() < 0.8 * best.t_s.size or between.sum() < _LEAST_TICKS // 2:
            continue
        width = 2 * round(search_width_s(beat.double_beat_s) / frame_s) + 1
        silence = float(np.median(maximum_filter1d(curve, width)))
        faint, loud = beat.strength[between], float(np.median(best.strength))
        clear = float(np.median(faint)) >= max(_FAINT_SHARE * loud, 3.0 * silence)
        if clear and np.mean(faint >= 2.0 * silence) >= _FAINT_FOUND:
            return beat
    return best


def _candidates(curve: NDArray[np.float32], frame_s: float, near: float | None) -> list[tuple[float, float, float]]:
    """The most telling double beats, each with the places of its two teeth, all in seconds."""
    pooled_s = frame_s * _POOL
    usable = curve.size // _POOL * _POOL
    wide = maximum_filter1d(curve, 2 * _POOL + 1)[:usable].reshape(-1, _POOL).max(axis=1)
    wide = wide - wide.mean()
    seconds = wide.size * pooled_s
    longest = min(LONGEST_DOUBLE_BEAT_S, seconds / 1.5)
    # A step that moves the last tick of the stretch by no more than one and a half pooled frames either way.
    step = 3.0 * pooled_s / seconds
    grid = SHORTEST_DOUBLE_BEAT_S * np.exp(np.arange(0, np.log(longest / SHORTEST_DOUBLE_BEAT_S), step))
    if near is not None:
        grid = grid[np.abs(grid * near / 7200.0 - 1.0) < 0.06]
    scored = []
    for double_beat in _periodic(wide, grid / pooled_s) * pooled_s:
        period = double_beat / pooled_s
        turns = int(np.ceil(wide.size / period))
        width = int(period)
        index = np.round(np.arange(turns) * period).astype(np.int64)[:, None] + np.arange(width)
        inside = index < wide.size
        total = np.where(inside, wide[np.minimum(index, wide.size - 1)], 0.0).sum(axis=0)
        count = inside.sum(axis=0)
        first = int(np.argmax(total))
        apart = np.arange(int(np.ceil(LEAST_SHARE * width)), int((1 - LEAST_SHARE) * width) + 1)
        places = (first + apart) % width
        lean = 1.0 - 0.5 * np.abs(apart / width - 0.5)
        pair = (total[first] + total[places] * lean) / np.sqrt(count[first] + count[places])
        k = int(np.argmax(pair))
        scored.append((float(pair[k]), double_beat, first * pooled_s, places[k] * pooled_s))
    if not scored:
        return []
    scored.sort(reverse=True)
    return [one[1:] for one in scored[:_CANDIDATES]]


def _periodic(curve: NDArray[np.float32], periods: NDArray[np.float64]) -> NDArray[np.float64]:
    """Those of `periods` (in samples, rising) at whose multiples the curve is most like itself."""
    n = curve.size
    size = scipy.fft.next_fast_len(2 * n, real=True)
    spectrum = scipy.fft.rfft(curve.astype(np.float64), size)
    like = scipy.fft.irfft(spectrum.real**2 + spectrum.imag**2, size)[:n] / (n - np.arange(n) + 0.05 * n)
    multiples = np.arange(1, int(0.8 * n / periods[0]) + 1)
    place = np.round(periods[:, None] * multiples).astype(np.int64)
    inside = place < 0.8 * n
    worth = np.where(inside, like[np.minimum(place, n - 1)], 0.0).sum(axis=1) / np.maximum(inside.sum(axis=1), 1)
    worth *= np.minimum(inside.sum(axis=1), 4) ** 0.25
    local = (worth >= np.roll(worth, 1)) & (worth >= np.roll(worth, -1)) | (worth.size < 3)
    places = np.flatnonzero(local)
    chosen: NDArray[np.float64] = periods[places[np.argsort(-worth[places], kind="stable")[:_SHORTLIST]]]
    return chosen


def _follow(curve: NDArray[np.float32], frame_s: float, double_beat: float, first: float, second: float) -> Beat | None:
    """Follow the beat through the stretch from its strongest double beat, letting the period drift."""
    seconds = curve.size * frame_s
    early, late = sorted((first, second))
    gap = late - early
    # Beat numbers such that even ones fall at `early`; those whose place lies in the stretch.
    numbers = np.arange(-2, 2 * int(seconds / double_beat) + 4)
    places = early + (numbers // 2) * double_beat + (numbers % 2) * gap
    keep = (places >= -0.002) & (places < seconds - 0.002)
    numbers, places = numbers[keep], places[keep]
    if numbers.size < _LEAST_TICKS:
        return None
    width = search_width_s(double_beat)
    reach = max(1, round(width / frame_s))
    offsets = np.arange(-reach, reach + 1)
    taper = 1.0 - 0.4 * (offsets / reach) ** 2
    padded = np.concatenate([np.zeros(reach, np.float32), curve, np.zeros(reach + 1, np.float32)])
    t_s, strength = np.full(numbers.size, np.nan), np.zeros(numbers.size)
    usual = max(_FOUND_SHARE * float(curve.max()), _LEAST_FOUND_STRENGTH)
    near = np.clip(np.round(places / frame_s).astype(np.int64), 0, curve.size - 1)
    start = int(np.argmax(np.minimum(padded[near[:-1] + reach], padded[near[1:] + reach])))

    def run(order: range, anchor: dict[int, float], period: float) -> None:
        for i in order:
            side = int(numbers[i]) % 2
            expected = places[i] if side not in anchor else anchor[side] + period * order.step
            frame = round(float(expected) / frame_s)
            if not 0 <= frame < curve.size:
                anchor[side] = expected
                continue
            window = padded[frame : frame + 2 * reach + 1] * taper
            k = int(np.argmax(window))
            height = float(padded[frame + k])
            if height >= usual:
                t_s[i], strength[i] = (frame + k - reach) * frame_s, height
                period += 0.15 * (t_s[i] - expected) * order.step
                anchor[side] = expected + 0.6 * (t_s[i] - expected)
            else:
                t_s[i], strength[i] = expected, height
                anchor[side] = expected

    run(range(start, numbers.size), {}, double_beat)
    seeds = {int(numbers[i]) % 2: float(t_s[i]) for i in (start + 1, start) if i < numbers.size}
    run(range(start - 1, -1, -1), seeds, double_beat)
    here = np.isfinite(t_s) & (t_s >= 0) & (t_s < seconds)
    numbers, t_s, strength = numbers[here], t_s[here], strength[here]
    found = strength >= usual
    if numbers.size < _LEAST_TICKS or found.sum() < max(_LEAST_TICKS, _LEAST_FOUND * numbers.size):
        return None
    rms, double_beat = _straightness(numbers[found], t_s[found])
    if double_beat <= 0 or rms > max(0.008, 0.02 * double_beat):
        return None
    noise = float(curve.std())
    score = float((strength - curve.mean()).sum() / np.sqrt(numbers.size) / noise)
    return Beat(double_beat, numbers, t_s, found, strength, score)


def _straightness(numbers: NDArray[np.int64], t_s: NDArray[np.float64]) -> tuple[float, float]:
    """Root mean square about one slope and one offset a side, and that slope as seconds a double beat."""
    side = numbers % 2
    design = np.column_stack([numbers / 2.0, side == 0, side == 1]).astype(np.float64)
    design = design[:, [True, bool((side == 0).any()), bool((side == 1).any())]]
    answer, *_ = np.linalg.lstsq(design, t_s, rcond=None)
    return float(np.sqrt(np.mean((t_s - design @ answer) ** 2))), float(answer[0])


def _explained(beat: Beat, curve: NDArray[np.float32], peaks: NDArray[np.int64], frame_s: float) -> float:
    """Share of all rises, by height, that stand at the ticks or belong to one (its other knocks)."""
    near_s = min(0.13, 0.25 * beat.double_beat_s / 2)
    away = np.abs(peaks[:, None] * frame_s - beat.t_s[beat.found]).min(axis=1)
    height = curve[peaks]
    mine, others = float(height[away <= 0.02].sum()), float(height[away > near_s].sum())
    return mine / max(mine + others, 1e-9)


def _prior(beat: Beat) -> float:
    """Prefer, a little, the clock that is nearer to being in beat."""
    side = beat.number % 2
    even, odd = beat.t_s[side == 0], beat.t_s[side == 1]
    if not even.size or not odd.size:
        return 0.5
    share = float(np.median((odd[: even.size] - even[: odd.size]) / beat.double_beat_s)) % 1.0
    return 1.0 - 0.5 * abs(share - 0.5)
