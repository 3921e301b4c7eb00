"""Coloured noise that is the same whatever part of it is asked for first.

Frames of Gaussian spectra, each seeded by its own absolute number, overlap by half under sine windows, whose squares
add to one: the power is steady and frame k needs no memory of frame k - 1.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
import scipy.fft
from numpy.typing import NDArray

Colour = Callable[[NDArray[np.float64]], NDArray[np.float64]]
"""Relative amplitude at each frequency in Hz."""


def room(f_hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """A quiet room: falling 6 dB an octave from 120 Hz, rolled off below 40 Hz, level above 4 kHz."""
    return np.asarray(f_hz**2 / (f_hz**2 + 40.0**2) * (1 / np.hypot(1.0, f_hz / 120.0) + 0.02))


def train(f_hz: NDArray[np.float64]) -> NDArray[np.float64]:
    """Wheels and fly in a case: strongest from 1 to 2 kHz and reaching high, with a second hump near 200 Hz."""
    octaves = np.log2(np.maximum(f_hz, 1.0))
    return np.asarray(np.exp(-((octaves - np.log2(1500.0)) ** 2) / 6.0) + 0.7 * np.exp(-((octaves - 7.6) ** 2) / 0.8))


class ColouredNoise:
    """Endless noise in chunks of fixed length.

    Parameters
    ----------
    colour : callable
        Shape of the spectrum.
    level_db : float
        Root mean square over the whole band, dB relative to full scale.
    chunk : int
        Samples in a chunk.
    sample_rate_hz : float
        Sample rate.
    seed : tuple of int
        Seed and stream; the frame's number is appended.
    """

    def __init__(
        self, colour: Colour, level_db: float, *, chunk: int, sample_rate_hz: float, seed: tuple[int, ...]
    ) -> None:
        shape = colour(scipy.fft.rfftfreq(2 * chunk, 1 / sample_rate_hz))
        shape[0] = shape[-1] = 0.0
        # Real and imaginary parts have unit variance, so that a bin adds shape squared times 4 / (2 chunk)^2.
        power = np.sum(shape**2) / chunk**2
        self._shape = (shape * 10 ** (level_db / 20) / np.sqrt(power)).astype(np.float32)
        self._window = np.sin(np.pi * (np.arange(2 * chunk) + 0.5) / (2 * chunk)).astype(np.float32)
        self._chunk = chunk
        self._seed = seed
        self._frame = lru_cache(maxsize=3)(self._make_frame)

    def _make_frame(self, k: int) -> NDArray[np.float32]:
        rng = np.random.default_rng((*self._seed, k))
        parts = rng.standard_normal((self._shape.size, 2), np.float32)
        parts *= self._shape[:, None]
        spectrum = parts.view(np.complex64)[:, 0]
        frame: NDArray[np.float32] = scipy.fft.irfft(spectrum, 2 * self._chunk)
        return frame * self._window

    def samples(self, k: int) -> NDArray[np.float32]:
        """Chunk number k, counted from 0: float32[chunk]."""
        return self._frame(k)[self._chunk :] + self._frame(k + 1)[: self._chunk]
