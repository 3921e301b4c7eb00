"""The first look at the sound: how much of it there is in each band, every millisecond.

Frames of one millisecond stand end to end on the absolute sample grid, so that no value depends on how the samples
came in blocks. The two highest thirds of the spectrum are taken from the second difference of the samples: it takes
the long inharmonic ring of a chime and the rumble of a room down by tens of decibels before the short frame smears
them upwards, where the ticks stand alone.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

HOP_S = 0.001
BAND_EDGES_HZ = (0.0, 500.0, 1500.0, 3500.0, 6500.0, 12500.0, float("inf"))
BANDS = len(BAND_EDGES_HZ) - 1
_FIRST_DIFFERENCED_BAND = 3
_FRAMES_AT_ONCE = 4000


def hop_samples(sample_rate_hz: int) -> int:
    """Samples in a frame: the whole number nearest to one millisecond."""
    return max(1, round(sample_rate_hz * HOP_S))


def _transform(sample_rate_hz: int, hop: int) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """What takes a frame to its spectrum, and the spectrum's squares to bands.

    A frame comes with the two samples before it. For so short a frame one matrix is quicker than a fast Fourier
    transform of the plain samples and another of the differenced ones.
    """
    n = np.arange(hop)
    columns, band_of = [], []
    for k in range(hop // 2 + 1):
        band = int(np.searchsorted(BAND_EDGES_HZ, k * sample_rate_hz / hop, side="right")) - 1
        twice = 1.0 if 2 * k in (0, hop) else 2.0
        for wave in (np.cos(2.0 * np.pi * k * n / hop), np.sin(2.0 * np.pi * k * n / hop)):
            column = np.zeros(hop + 2)
            if band < _FIRST_DIFFERENCED_BAND:
                column[2:] = wave
            else:
                for late, factor in enumerate((1.0, -2.0, 1.0)):
                    column[2 - late : hop + 2 - late] += factor * wave
                column /= (2.0 * np.sin(np.pi * k / hop)) ** 2
            columns.append(column * np.sqrt(twice) / hop)
            band_of.append(band)
    bands = np.arange(BANDS) == np.array(band_of)[:, None]
    return np.stack(columns, axis=1).astype(np.float32), bands.astype(np.float32)


class Front:
    """Band energies of a stream of samples.

    Parameters
    ----------
    sample_rate_hz : int
        Samples a second.

    Attributes
    ----------
    hop : int
        Samples in a frame; frame `i` holds the samples from `i * hop` to `(i + 1) * hop`.
    frame_s : float
        Seconds in a frame, within 7 % of `HOP_S` from 8 kHz up.
    """

    def __init__(self, sample_rate_hz: int) -> None:
        self.hop = hop_samples(sample_rate_hz)
        self.frame_s = self.hop / sample_rate_hz
        self._to_spectrum, self._to_bands = _transform(sample_rate_hz, self.hop)
        self._next_frame = 0
        # The last two samples of the frame before (for the second difference), then what does not fill a frame yet.
        self._held: NDArray[np.float32] | None = None

    def push(self, samples: NDArray[np.float32]) -> tuple[int, NDArray[np.float32]]:
        """Take the next samples and return the frames that they complete.

        Parameters
        ----------
        samples : float32[n]
            One channel; it follows straight on what was pushed before.

        Returns
        -------
        first_frame : int
            Index of the first frame returned.
        energies : float32[frames, 6]
            Mean square of the samples in each band of `BAND_EDGES_HZ`; zero where a band lies above half the
            sample rate.
        """
        samples = samples.astype(np.float32, copy=False)
        if self._held is None:
            if not samples.size:
                return 0, np.zeros((0, BANDS), np.float32)
            # Nothing is known of what came before the first sample; it shall not look like a click.
            self._held = np.full(2, samples[0], np.float32)
        joined = np.concatenate([self._held, samples])
        frames = (joined.size - 2) // self.hop
        used = frames * self.hop
        self._held = joined[used:].copy()
        first, self._next_frame = self._next_frame, self._next_frame + frames
        energies = np.zeros((frames, BANDS), np.float32)
        for start in range(0, frames, _FRAMES_AT_ONCE):
            stop = min(start + _FRAMES_AT_ONCE, frames)
            energies[start:stop] = self._energies(joined[start * self.hop : stop * self.hop + 2])
        return first, energies

    def _energies(self, samples: NDArray[np.float32]) -> NDArray[np.float32]:
        """Band energies of whole frames; `samples` begins two samples before the first of them."""
        frames = np.lib.stride_tricks.sliding_window_view(samples, self.hop + 2)[:: self.hop]
        spectrum: NDArray[np.float32] = frames @ self._to_spectrum
        total: NDArray[np.float32] = np.square(spectrum, out=spectrum) @ self._to_bands
        return total
