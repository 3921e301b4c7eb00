"""Adds up struck bars and knocks, chunk by chunk, at places counted in sixteenths of a sample.

A ringing bar is linear: at the head of a chunk all earlier blows on it make one complex amplitude for each component,
so that a bar struck forty times costs no more than one struck once. Within a chunk every sample is the sum of the
same terms in the same order, whatever was asked for before.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from quarterjack.simulate.bars import Voice
from quarterjack.simulate.knocks import FRACTIONS, Knock, shifted_waves

_FAINTEST = 10 ** (-105 / 20)
_LONGEST_RING_S = 40.0


def on_grid(t_s: float, sample_rate_hz: float) -> int:
    """Nearest place on the grid of sixteenths of a sample."""
    return round(t_s * sample_rate_hz * FRACTIONS)


def first_sample(place: NDArray[np.int64]) -> NDArray[np.int64]:
    """First sample that is not before each place."""
    return -(-place // FRACTIONS)


class RingingBar:
    """One bar with all its blows.

    Parameters
    ----------
    voice : Voice
        Its sound.
    places : int64[n]
        Where it is struck, in sixteenths of a sample, rising.
    gains : float64[n, p]
        How strongly each blow excites each partial, beside the voice's own.
    sample_rate_hz : float
        Samples in a true second.
    chunk : int
        Samples in a chunk.
    """

    def __init__(
        self,
        voice: Voice,
        places: NDArray[np.int64],
        gains: NDArray[np.float64],
        *,
        sample_rate_hz: float,
        chunk: int,
    ) -> None:
        heard = voice.partials_hz < 0.45 * sample_rate_hz
        self._pole = (-voice.decays_per_s[heard] + 2j * np.pi * voice.partials_hz[heard]) / sample_rate_hz
        self._gains = gains[:, voice.partial_of[heard]] * voice.gains[heard]
        self._places = places
        self._chunk = chunk
        self._longest = int(_LONGEST_RING_S * sample_rate_hz)
        table = np.exp(np.outer(self._pole, np.arange(chunk)))
        self._real, self._imag = table.real.astype(np.float32), table.imag.astype(np.float32)

    def _ring(self, out: NDArray[np.float32], amplitudes: NDArray[np.complex128]) -> None:
        for j in np.flatnonzero(np.abs(amplitudes) > _FAINTEST):
            out += self._imag[j, : out.size] * np.float32(amplitudes[j].real)
            out += self._real[j, : out.size] * np.float32(amplitudes[j].imag)

    def add_to(self, out: NDArray[np.float32], start: int) -> None:
        """Add this bar to a chunk that begins at sample `start`."""
        first = first_sample(self._places)
        low = int(np.searchsorted(first, start - self._longest))
        here = int(np.searchsorted(first, start))
        end = int(np.searchsorted(first, start + out.size))
        if here > low:
            since = start - self._places[low:here] / FRACTIONS
            amplitudes = (self._gains[low:here] * np.exp(np.multiply.outer(since, self._pole))).sum(axis=0)
            self._ring(out, amplitudes)
        for i in range(here, end):
            late = float(first[i]) - self._places[i] / FRACTIONS
            self._ring(out[int(first[i]) - start :], self._gains[i] * np.exp(late * self._pole))


class Knocks:
    """All knocks of a simulation, sorted by place.

    Parameters
    ----------
    kinds : dict of str to Knock
        The sounds.
    events : sequence of (str, int64[n], float64[n])
        Kind, places in sixteenths of a sample, and gains.
    sample_rate_hz : float
        Samples in a true second.
    """

    def __init__(
        self,
        kinds: dict[str, Knock],
        events: Sequence[tuple[str, NDArray[np.int64], NDArray[np.float64]]],
        *,
        sample_rate_hz: float,
    ) -> None:
        names = list(kinds)
        self._waves = [shifted_waves(kinds[name], sample_rate_hz) for name in names]
        self._longest = max(wave.shape[1] for wave in self._waves)
        places = np.concatenate([at for _, at, _ in events])
        which = np.concatenate([np.full(at.size, names.index(name), np.int16) for name, at, _ in events])
        gains = np.concatenate([gain for _, _, gain in events]).astype(np.float32)
        order = np.argsort(places, kind="stable")
        self._places, self._kinds, self._gains = places[order], which[order], gains[order]

    def add_to(self, out: NDArray[np.float32], start: int) -> None:
        """Add the knocks to a chunk that begins at sample `start`."""
        low, high = np.searchsorted(self._places, ((start - self._longest) * FRACTIONS, (start + out.size) * FRACTIONS))
        for place, kind, gain in zip(self._places[low:high], self._kinds[low:high], self._gains[low:high], strict=True):
            base, fraction = divmod(int(place), FRACTIONS)
            wave = self._waves[kind][fraction]
            head, tail = max(base, start), min(base + wave.size, start + out.size)
            if head < tail:
                out[head - start : tail - start] += wave[head - base : tail - base] * gain
