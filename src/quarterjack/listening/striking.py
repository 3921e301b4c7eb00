"""Hears struck bars in a stream: finds the stretches that may ring, looks closely at each, names all at the end.

Memory holds the sound of at most one open stretch, and of each stroke only its lines.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quarterjack.listening.front import hop_samples
from quarterjack.listening.heard import Blow, Sounding, TrainNoise
from quarterjack.listening.hints import NO_HINTS, Hints
from quarterjack.listening.sounding import name_blows
from quarterjack.listening.stretches import Stretches
from quarterjack.listening.strokes import APART_S, Noise, Stroke, gather
from quarterjack.listening.train_noise import train_noise
from quarterjack.records import to_ns


class Striking:
    """Hears the blows in one channel.

    Parameters
    ----------
    sample_rate_hz : int
        Samples a second.
    hints : Hints
        What is known of the clock.
    """

    def __init__(self, sample_rate_hz: int, hints: Hints = NO_HINTS) -> None:
        self._rate, self._hints = sample_rate_hz, hints
        self._hop = hop_samples(sample_rate_hz)
        self._stretches = Stretches(self._hop / sample_rate_hz)
        self._kept: list[NDArray[np.float32]] = []
        self._kept_from = 0
        self._strokes: list[Stroke] = []
        self._noises: list[Noise] = []

    def page(self, samples: NDArray[np.float32], energies: NDArray[np.float32]) -> None:
        """Take the next samples and the frames that they completed.

        Parameters
        ----------
        samples : float32[n]
            They follow straight on what came before.
        energies : float32[frames, bands]
            From `front.Front`, fed the same samples.
        """
        self._kept.append(samples)
        for start, end in self._stretches.push(energies):
            self._look(start * self._hop, end * self._hop)
        needed = self._stretches.needed_from * self._hop
        while self._kept and self._kept_from + self._kept[0].size <= needed:
            self._kept_from += self._kept.pop(0).size

    def finish(self) -> None:
        """Look at what is left."""
        for start, _ in self._stretches.finish():
            self._look(start * self._hop, self._kept_from + sum(piece.size for piece in self._kept))

    def named(self) -> tuple[tuple[Blow, ...], tuple[Sounding, ...], tuple[TrainNoise, ...]]:
        """Blows, soundings and turning trains in all that was looked at so far."""
        blows, soundings = name_blows(self._strokes, self._hints)
        return blows, soundings, train_noise(self._noises, soundings)

    def _look(self, start: int, stop: int) -> None:
        """Gather the strokes from one sample to another."""
        joined = np.concatenate(self._kept) if len(self._kept) != 1 else self._kept[0]
        samples = joined[start - self._kept_from : stop - self._kept_from]
        strokes, noise = gather(samples, self._rate, start)
        self._noises.append(noise)
        for stroke in strokes:
            # Where a long stretch was cut, both parts may have heard a stroke: keep the one with more evidence.
            if self._strokes and stroke.t_ns - self._strokes[-1].t_ns < to_ns(APART_S):
                if stroke.weight > self._strokes[-1].weight:
                    self._strokes[-1] = stroke
            else:
                self._strokes.append(stroke)
