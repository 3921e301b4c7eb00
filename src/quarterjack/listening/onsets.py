"""The instant of a blow: where the sound stops being what the sound before it foretold.

A ring, however many bars it comes from, is foretold from its own past by linear prediction; what is left over is the
noise floor. A hammer's blow is new and stands above it from its first millisecond, even where its level is far below
the ring that it falls into. The predictor is fitted to the 0.3 s or so before the instant that is looked at.
"""

from __future__ import annotations

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from scipy.linalg import solve_toeplitz

_ORDER = 48
_FIT_S = 0.37
_SEARCH_S = 0.15
_HALF_S = 0.02
_SMOOTH_S = 0.002
_RISE_S = 0.012
_LEAST_STEP_DB = 1.5
_APART_S = 0.03
_ONSET_SHARE = 0.35
_QUIET = 1e-13


def steps_near(samples: NDArray[np.float32], rate_hz: float, around_s: float) -> list[tuple[float, float]]:
    """Instants at which the unforetold part of the sound steps up, within 0.15 s of an instant.

    Parameters
    ----------
    samples : float32[n]
        One channel.
    rate_hz : float
        Its sample rate.
    around_s : float
        Where to look, seconds from the first sample.

    Returns
    -------
    list of (float, float)
        Seconds from the first sample, and the step: mean level of the next 20 ms over the last 20 ms, dB.
    """
    half = round(_HALF_S * rate_hz)
    middle, reach = round(around_s * rate_hz), round(_SEARCH_S * rate_hz) + half
    start = middle - reach
    history = _cut(samples, start - round(_FIT_S * rate_hz), start)
    here = _cut(samples, start - _ORDER, middle + reach)
    level = _left_over_db(history, here, max(1, round(_SMOOTH_S * rate_hz)))
    total = np.concatenate([[0.0], np.cumsum(level)])
    at = np.arange(half, level.size - half)
    step = (total[at + half] - 2.0 * total[at] + total[at - half]) / half
    apart = round(_APART_S * rate_hz)
    found = []
    for peak in _peaks(step, apart):
        foot = _foot(level, peak + half, half, rate_hz)
        found.append(((start + foot) / rate_hz, float(step[peak])))
    return found


def _cut(samples: NDArray[np.float32], start: int, stop: int) -> NDArray[np.float64]:
    """Samples from `start` to `stop`, zeros where there are none."""
    piece = np.zeros(stop - start)
    low, high = max(start, 0), min(stop, samples.size)
    if high > low:
        piece[low - start : high - start] = samples[low:high]
    return piece


def _left_over_db(history: NDArray[np.float64], here: NDArray[np.float64], smooth: int) -> NDArray[np.float64]:
    """Level of `here` (after its first `_ORDER` samples) less what a predictor fitted to `history` foretells, dB."""
    tapered = history * np.hanning(history.size)
    size = scipy.fft.next_fast_len(tapered.size + _ORDER, real=True)
    lags = scipy.fft.irfft(np.abs(scipy.fft.rfft(tapered, size)) ** 2, size)[: _ORDER + 1]
    # A trace of white noise keeps the equations well posed where the history is silence or a single pure line.
    lags[0] = lags[0] * (1.0 + 1e-7) + 1e-12
    predictor = solve_toeplitz(lags[:-1], lags[1:])
    left = np.convolve(here, np.concatenate([[1.0], -predictor]), "valid")
    power = np.convolve(left * left, np.full(smooth, 1.0 / smooth), "same")
    level: NDArray[np.float64] = 10.0 * np.log10(power + _QUIET)
    return level


def _peaks(step: NDArray[np.float64], apart: int) -> list[int]:
    """The highest peak, and every other of at least `_LEAST_STEP_DB` that no higher one stands near."""
    top = np.zeros(step.size, bool)
    top[1:-1] = (step[1:-1] >= step[:-2]) & (step[1:-1] > step[2:]) & (step[1:-1] > 0.0)
    tops = np.flatnonzero(top)
    peaks: list[int] = []
    for at in tops[np.argsort(step[tops])[::-1]].tolist():
        if peaks and step[at] < _LEAST_STEP_DB:
            break
        if all(abs(at - other) > apart for other in peaks):
            peaks.append(at)
    return sorted(peaks)


def _foot(level: NDArray[np.float64], middle: int, half: int, rate_hz: float) -> float:
    """Where the rise through `middle` begins: the last sample below a third of the step within the 12 ms before."""
    low, high = np.median(level[middle - half : middle]), np.median(level[middle : middle + half])
    start = max(0, middle - round(_RISE_S * rate_hz))
    stop = min(level.size, middle + round(_RISE_S / 3 * rate_hz))
    below = np.flatnonzero(level[start:stop] < low + _ONSET_SHARE * (high - low))
    # The level is smoothed over 2 ms, centred, so that the rise shows half of that early.
    return (start + int(below[-1]) + 1 if below.size else start) + _SMOOTH_S / 2 * rate_hz
