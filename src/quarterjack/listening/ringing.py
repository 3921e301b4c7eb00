"""Where in a stretch of sound something begins to ring: several narrow lines that rise together and stay.

A struck bar, tube, rod, gong or bell sets many partials going at once; each is a narrow line that dies away slowly. A
tick, a thump, a clunk and the room's echo of them fill the whole spectrum and are gone; speech and train noise have no
line that stands still. Frames of 90 ms tell lines from one another down to about 20 Hz; each line's level afterwards
(the least of three spans of 110 ms) is held against the highest it had in the third of a second before, so that the
beating of two near partials, which comes and goes, counts as a rise only if it is slow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from scipy.ndimage import median_filter

FRAME_S = 0.09
FRAMES_PER_WINDOW = 4
LOWEST_HZ, HIGHEST_HZ = 90.0, 5200.0
_SPAN = 5
"""Frames in one span of about 110 ms."""
_LEAD = 4
"""Frames from an instant to the middle of the first span after it, so that neither window touches the other side."""
_LEAST_RISE_DB = 1.5
_LEAST_PROMINENCE_DB = 8.0
_FLOOR_DB = -130.0
_RISE_SCALE_DB = 20.0


@dataclass(frozen=True, eq=False)
class Ringing:
    """What the frames of a stretch say.

    Parameters
    ----------
    first_s, step_s : float
        Middle of the first frame and distance of the frames, seconds from the stretch's first sample.
    score_db : float32[frames]
        Rises of all lines that begin to ring at each frame, compressed and summed, dB.
    noise_db : float32[frames]
        Level between the lines from 1 kHz up, dB of an arbitrary but constant reference.
    """

    first_s: float
    step_s: float
    score_db: NDArray[np.float32]
    noise_db: NDArray[np.float32]

    def candidates(self, least_db: float) -> NDArray[np.float64]:
        """Instants, seconds from the stretch's first sample, at which the score peaks at `least_db` or more."""
        if not self.score_db.size:
            return np.empty(0)
        peaks = (self.score_db >= _running_max(self.score_db[:, None], 11)[:, 0]) & (self.score_db >= least_db)
        peaks[1:] &= ~(peaks[:-1] & (self.score_db[1:] == self.score_db[:-1]))
        return np.asarray(self.first_s + self.step_s * np.flatnonzero(peaks), np.float64)


def levels_db(samples: NDArray[np.float32], rate_hz: float) -> tuple[float, float, NDArray[np.float32]]:
    """Level of each frequency in frames of `FRAME_S`, four to a window.

    Parameters
    ----------
    samples : float32[n]
        One channel at a rate of at least twice `HIGHEST_HZ`, or less where the record has no more.
    rate_hz : float
        Its sample rate.

    Returns
    -------
    first_s, step_s : float
        Middle of the first frame and distance of frames, seconds.
    levels : float32[frames, bins]
        Levels in dB of the bins between `LOWEST_HZ` and `HIGHEST_HZ`.
    """
    step = round(rate_hz * FRAME_S / FRAMES_PER_WINDOW)
    window = step * FRAMES_PER_WINDOW
    weights = (np.hanning(window + 1)[:-1] * (2.0 / window) * 2.0).astype(np.float32)
    low, high = round(LOWEST_HZ * window / rate_hz), min(round(HIGHEST_HZ * window / rate_hz), window // 2)
    count = max(0, (samples.size - window) // step + 1)
    levels = np.empty((count, high - low), np.float32)
    frames = np.lib.stride_tricks.sliding_window_view(samples, window)[::step] if count else np.empty((0, window))
    for start in range(0, count, 512):
        spectrum = scipy.fft.rfft(frames[start : start + 512] * weights, axis=1)[:, low:high]
        power = np.square(spectrum.real) + np.square(spectrum.imag)
        levels[start : start + 512] = np.log2(power + np.float32(10.0 ** (_FLOOR_DB / 10.0)))
    levels *= np.float32(10.0 * np.log10(2.0))
    return window / 2 / rate_hz, step / rate_hz, levels


def ringing(samples: NDArray[np.float32], rate_hz: float) -> Ringing:
    """Score every frame of a stretch by how much begins to ring there (see the module)."""
    first_s, step_s, levels = levels_db(samples, rate_hz)
    if len(levels) < 2:
        return Ringing(first_s, step_s, np.empty(0, np.float32), np.empty(0, np.float32))
    spans = _span_means(levels)
    first, third, late = (_later(spans, _LEAD + offset * _SPAN) for offset in (0, 2, 4))
    after = np.minimum(np.minimum(first, _later(spans, _LEAD + _SPAN)), third)
    before_frames = int(0.3 / step_s) | 1
    before = _later(_running_max(levels, before_frames), -2 - before_frames // 2)
    rise = after - before
    floor = _between_lines(after)
    is_line = np.zeros(after.shape, bool)
    is_line[:, 1:-1] = (after[:, 1:-1] >= after[:, :-2]) & (after[:, 1:-1] > after[:, 2:])
    stays = (first - third < 12.0) & (first - late < 18.0) & (late - before > -4.0)
    rings = is_line & stays & (rise > _LEAST_RISE_DB) & (after - floor > _LEAST_PROMINENCE_DB)
    rows, columns = np.nonzero(rings)
    gain = _RISE_SCALE_DB * np.log1p(np.minimum(rise[rows, columns], 40.0) / _RISE_SCALE_DB)
    score = np.bincount(rows, gain, len(levels)).astype(np.float32)
    bins_from_1khz = round((1000.0 - LOWEST_HZ) * FRAME_S)
    return Ringing(first_s, step_s, score, np.median(levels[:, bins_from_1khz:], axis=1).astype(np.float32))


def _later(values: NDArray[np.float32], frames: int) -> NDArray[np.float32]:
    """The values so many frames later (or earlier), the ends repeated."""
    taken: NDArray[np.float32] = values[np.clip(np.arange(len(values)) + frames, 0, len(values) - 1)]
    return taken


def _span_means(levels: NDArray[np.float32]) -> NDArray[np.float32]:
    """Mean over `_SPAN` frames around each frame."""
    total = levels.copy()
    for offset in range(1, _SPAN // 2 + 1):
        total += _later(levels, offset)
        total += _later(levels, -offset)
    total /= np.float32(_SPAN)
    return total


def _running_max(values: NDArray[np.float32], length: int) -> NDArray[np.float32]:
    """Highest value in `length` frames (odd) around each frame, by doubling: log2 of the length passes."""
    half = length // 2
    edge = np.full((half, values.shape[1]), -np.inf, np.float32)
    result, reach = np.concatenate([edge, values, edge]), 1
    while reach < length:
        step = min(reach, length - reach)
        result = np.maximum(result[:-step], result[step:])
        reach += step
    return result


def _between_lines(after: NDArray[np.float32]) -> NDArray[np.float32]:
    """Level between the lines: the median over some 400 Hz around each bin, on every sixth frame and third bin."""
    coarse = median_filter(after[::6, ::3], size=(1, 11), mode="nearest")
    floor: NDArray[np.float32] = coarse.repeat(6, axis=0)[: len(after)].repeat(3, axis=1)[:, : after.shape[1]]
    return floor
