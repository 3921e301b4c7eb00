"""Windows around expected ticks: the sound cut out, whitened band by band, and how it steps up.

The sound in a window is weighted by how well the clock is heard in each band against the noise there; of its envelope
the cube root is taken, and what comes after is compared with what was before, every quarter of a millisecond.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from quarterjack.listening.front import BAND_EDGES_HZ, BANDS

STEP_S = 0.00025
AFTER, BEFORE = 4, 6
"""Steps after and before that are compared: 1 ms with 1.5 ms."""
_EDGE_POINTS = 4
_SPARSE = 3
_LEAST_ENERGY = 1e-11
# Half the change over a sixth of a millisecond is as high as the sound itself at 3 kHz, and leaves rumble out.
_PEAK_APART_S, _PEAK_LEAD_S, _PEAK_TAIL_S = 1.0 / 6000.0, 0.010, 0.035


@dataclass(frozen=True)
class Sound:
    """Samples of one channel and the absolute number of the first."""

    samples: NDArray[np.float32]
    first_sample: int


@dataclass(frozen=True)
class Steps:
    """Windows as curves, one row a tick.

    Parameters
    ----------
    up : float64[n, points]
        How far the compressed envelope steps up at each point; not negative.
    noise : float64[n]
        What such steps come to without a tick.
    level : float32[n, points]
        The compressed envelope itself.
    peak_db : float64[n]
        Peak near the middle, rumble left out, dB relative to full scale.
    """

    up: NDArray[np.float64]
    noise: NDArray[np.float64]
    level: NDArray[np.float32]
    peak_db: NDArray[np.float64]


class Windows:
    """Geometry of the windows at one sample rate, and the cutting.

    Parameters
    ----------
    sample_rate_hz : int
        Samples a second.
    lead_s, tail_s : float
        How far a window reaches before and after its middle.

    Attributes
    ----------
    step_s : float
        Seconds from point to point.
    lead, points : int
        Points before the middle, and in all.
    """

    def __init__(self, sample_rate_hz: int, lead_s: float, tail_s: float) -> None:
        self.rate = sample_rate_hz
        self._step = max(1, round(sample_rate_hz * STEP_S))
        self.step_s = self._step / sample_rate_hz
        self.lead = round(lead_s / self.step_s)
        self.points = self.lead + round(tail_s / self.step_s)
        self._size = self.points * self._step
        self._fft_size = scipy.fft.next_fast_len(self._size, real=True)
        frequency = scipy.fft.rfftfreq(self._fft_size, 1.0 / sample_rate_hz)
        self._band_of = np.clip(np.searchsorted(BAND_EDGES_HZ, frequency, side="right") - 1, 0, BANDS - 1)
        self._width_hz = np.maximum(np.bincount(self._band_of, minlength=BANDS), 1) * frequency[1]
        middle = self.lead * self._step
        self._near = slice(middle - round(_PEAK_LEAD_S * self.rate), middle + round(_PEAK_TAIL_S * self.rate))
        self._apart = max(1, round(_PEAK_APART_S * self.rate))

    def samples_at(self, t_s: NDArray[np.float64]) -> NDArray[np.int64]:
        """Nearest sample numbers."""
        return np.round(t_s * self.rate).astype(np.int64)

    def weights(
        self, band_energy: NDArray[np.float64], noise: NDArray[np.float64]
    ) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
        """Weight of each bin, such that the noise weighs 1 in all; and the cube root of what the ticks then weigh.

        `noise` holds the mean square in each band, for all ticks or (as rows) for each.
        """
        noise = np.maximum(noise, _LEAST_ENERGY)
        ratio = band_energy / noise
        weight = np.sqrt(self._width_hz / noise) * ratio / (1.0 + ratio)
        total = np.sqrt((weight**2 * noise).sum(axis=-1, keepdims=True))
        weight = weight / np.maximum(total, 1e-30)
        usual = np.cbrt((weight**2 * band_energy).sum(axis=-1) + 1e-30)
        return weight[..., self._band_of].astype(np.float32), usual

    def cut(self, sound: Sound, middles: NDArray[np.int64]) -> tuple[NDArray[np.float32], NDArray[np.int64]]:
        """Cut out the sound around each of `middles` (absolute sample numbers).

        Returns
        -------
        windows : float32[n, k]
            The sound; beyond its ends it is turned about its last sample, so that no click stands at the edge.
        real : int64[n, 2]
            From and to which sample of each window there really is sound.
        """
        starts = middles - self.lead * self._step - sound.first_sample
        last = sound.samples.size - 1
        index = starts[:, None] + np.arange(self._size)
        real = np.stack([-starts, sound.samples.size - starts], axis=1)
        outside = np.flatnonzero((starts < 0) | (starts + self._size > last + 1))
        if not outside.size:
            return sound.samples[index], real
        windows = sound.samples[np.clip(index, 0, last)]
        for row in outside:
            early, late = index[row] < 0, index[row] > last
            turned = sound.samples[np.clip(np.where(early, -index[row], 2 * last - index[row]), 0, last)]
            windows[row, early] = 2.0 * sound.samples[0] - turned[early]
            windows[row, late] = 2.0 * sound.samples[last] - turned[late]
        return windows, real

    def steps(self, sound: Sound, middles: NDArray[np.int64], weights: NDArray[np.float32]) -> Steps:
        """Cut windows and see how the weighted sound steps up in them."""
        windows, real = self.cut(sound, middles)
        spectrum = scipy.fft.rfft(windows, self._fft_size, axis=1)
        shaped = scipy.fft.irfft(spectrum * weights, self._fft_size, axis=1)[:, : self._size]
        power = np.square(shaped).reshape(len(windows), self.points, self._step).mean(axis=2)
        smooth = power.copy()
        smooth[:, 1:-1] = 0.25 * (power[:, :-2] + 2.0 * power[:, 1:-1] + power[:, 2:])
        level = np.cbrt(smooth)
        self._level_ends(level, real)
        ends = np.repeat(level[:, :1], BEFORE + 1, axis=1), np.repeat(level[:, -1:], AFTER, axis=1)
        summed = np.cumsum(np.concatenate([ends[0], level, ends[1]], axis=1), axis=1, dtype=np.float64)
        here = summed[:, BEFORE : BEFORE + self.points]
        after = (summed[:, BEFORE + AFTER : BEFORE + AFTER + self.points] - here) / AFTER
        change = after - (here - summed[:, : self.points]) / BEFORE
        noise = 1.5 * np.median(np.abs(change[:, ::_SPARSE]), axis=1) + 1e-9
        near = windows[:, self._near]
        peak = 0.5 * np.abs(near[:, self._apart :] - near[:, : -self._apart]).max(axis=1)
        return Steps(np.maximum(change, 0.0), noise, level, 20.0 * np.log10(np.maximum(peak, 1e-9)))

    def _level_ends(self, level: NDArray[np.float32], real: NDArray[np.int64]) -> None:
        """Hold the level where there is no sound, and at the ends, round which the filter reaches."""
        first = np.clip(-(-real[:, 0] // self._step), _EDGE_POINTS, self.points - 1)
        after = np.clip(real[:, 1] // self._step, 1, self.points - _EDGE_POINTS)
        level[:, :_EDGE_POINTS] = level[:, _EDGE_POINTS : _EDGE_POINTS + 1]
        level[:, -_EDGE_POINTS:] = level[:, -_EDGE_POINTS - 1 : -_EDGE_POINTS]
        for row in np.flatnonzero((first > _EDGE_POINTS) | (after < self.points - _EDGE_POINTS)):
            level[row, : first[row]] = level[row, first[row] : first[row] + BEFORE].mean()
            level[row, after[row] :] = level[row, after[row] - 1]
