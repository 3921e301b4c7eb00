"""Does the record repeat itself? A loop proves nothing beyond its first turn.

A true copy repeats the noise between the ticks as well as the ticks, so that the samples themselves, not only the
beat, agree at the loop's period.
"""

from __future__ import annotations

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from quarterjack.listening.heard import Repeat

EXAMINED_S = 40.0
LEAST_CORRELATION = 0.9
_SHORTEST_S = 0.25
_LEAST_OVERLAP_S, _LEAST_OVERLAP_SHARE = 1.0, 0.2
_RATE_HZ = 11_025
_HIGH_PASS_HZ, _PASS_SHARE = 300.0, 0.35
_PEAK_S, _BESIDE_S, _BESIDE_SHARE = 0.01, 0.05, 0.7
_MOST_PEAKS = 8
_PARTS, _LEAST_PART = 64, 0.4


def find_repeats(samples: NDArray[np.float32], sample_rate_hz: int) -> tuple[Repeat, ...]:
    """Find the period at which a stretch repeats itself.

    Parameters
    ----------
    samples : float32[n]
        One channel; the opening of the record.

    Returns
    -------
    tuple of Repeat
        Empty, or the shortest period at which the normalised autocorrelation of the samples exceeds 0.9.
    """
    from scipy import signal  # takes a second to load, which the first page must not wait for

    step = max(1, sample_rate_hz // _RATE_HZ)
    if step > 1:
        # So far below half the lower rate that half a sample between two copies costs little.
        taps = signal.firwin(32 * step + 1, _PASS_SHARE / step).astype(np.float32)
        kept = np.asarray(signal.upfirdn(taps, samples, 1, step), np.float64)
    else:
        kept = samples.astype(np.float64)
    rate = sample_rate_hz / step
    # Below 300 Hz hum and rumble agree with themselves at many lags.
    high = signal.butter(2, _HIGH_PASS_HZ, "highpass", fs=rate, output="sos")
    filtered = np.asarray(signal.sosfilt(high, kept), np.float64)
    return tuple(
        Repeat(round(lag / rate, 4), round(min(value, 1.0), 4))
        for lag, value in _peaks(filtered, rate)
        if _holds_throughout(filtered, lag)
    )[:1]


def autocorrelation(samples: NDArray[np.float64], lags: NDArray[np.int64]) -> NDArray[np.float64]:
    """Normalised autocorrelation: each lag's overlap is divided by the energy of its own two parts."""
    n = samples.size
    size = scipy.fft.next_fast_len(2 * n, real=True)
    spectrum = scipy.fft.rfft(samples, size)
    product = scipy.fft.irfft(spectrum.real**2 + spectrum.imag**2, size)[lags]
    energy = np.concatenate([[0.0], np.cumsum(samples**2)])
    least = 1e-12 * max(energy[n], 1e-30)
    value: NDArray[np.float64] = product / np.sqrt(
        np.maximum(energy[n - lags], least) * np.maximum(energy[n] - energy[lags], least)
    )
    return value


def _peaks(samples: NDArray[np.float64], rate: float) -> list[tuple[int, float]]:
    """Lags at which the samples agree and a little to either side do not, as they would in a held tone."""
    n = samples.size
    least_overlap = int(max(_LEAST_OVERLAP_S * rate, _LEAST_OVERLAP_SHARE * n))
    lags = np.arange(int(_SHORTEST_S * rate), n - least_overlap)
    if not lags.size or not np.any(samples):
        return []
    value = autocorrelation(samples, lags)
    found = []
    near, beside = round(_PEAK_S * rate), round(_BESIDE_S * rate)
    while value.size and (peak := int(np.argmax(value))) >= 0 and value[peak] > LEAST_CORRELATION:
        around = np.abs(value[max(peak - beside, 0) : peak + beside + 1])
        inner = np.abs(np.arange(max(peak - beside, 0), min(peak + beside + 1, value.size)) - peak) > near
        if not inner.any() or around[inner].max() < _BESIDE_SHARE * value[peak]:
            found.append((int(lags[peak]), float(value[peak])))
        value[max(peak - beside, 0) : peak + beside + 1] = 0.0
        if len(found) >= _MOST_PEAKS:
            break
    return sorted(found)


def _holds_throughout(samples: NDArray[np.float64], lag: int) -> bool:
    """Whether the quiet parts agree too: one bang that comes twice, or ticks that are all alike, make no loop."""
    early, late = samples[: samples.size - lag], samples[lag:]
    size = early.size // _PARTS
    early, late = early[: size * _PARTS].reshape(_PARTS, size), late[: size * _PARTS].reshape(_PARTS, size)
    power = np.sqrt((early**2).sum(axis=1) * (late**2).sum(axis=1))
    part = (early * late).sum(axis=1)[power > 0] / power[power > 0]
    return part.size > 0 and float(np.median(part)) > _LEAST_PART
