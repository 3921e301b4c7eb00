"""Struck bars made from the beam equation, for tests of listening: no code is shared with what listens."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

# (beta_n / beta_1)^2 of a free-free beam: mpmath roots of cos(x) cosh(x) = 1, the first five as in textbook tables.
FREE_BAR = (1.0, 2.7565385071, 5.403917632, 8.932950352, 13.344286694, 18.637887887, 24.813756066)
# Roots of cos(x) cosh(x) = -1: a rod held at one end.
HELD_ROD = (1.0, 6.266893026, 17.547481937, 34.386061157)
# Hum, prime, tierce, quint, nominal and above of a tuned bell, common practice.
BELL = (0.5, 1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0)


def strike(
    sound: NDArray[np.float32],
    rate_hz: int,
    at_s: float,
    hz: float,
    *,
    level: float = 0.1,
    ratios: Sequence[float] = FREE_BAR,
    t60_s: float = 9.0,
    seed: int = 0,
) -> None:
    """Add one stroke to `sound`; high partials die sooner, and phases and levels differ from stroke to stroke."""
    start = round(at_s * rate_hz)
    length = min(sound.size - start, round(12.0 * rate_hz))
    time = np.arange(length) / rate_hz
    random = np.random.default_rng(seed)
    fixed = np.random.default_rng(round(hz * 100))
    for ratio in ratios:
        if hz * ratio < min(0.45 * rate_hz, 6000.0):
            amplitude = fixed.uniform(0.3, 1.0) * random.uniform(0.7, 1.3)
            decay = t60_s / (0.5 + (hz * ratio / 1000.0) ** 0.5)
            wave = np.sin(2 * np.pi * hz * ratio * time + random.uniform(0.0, 2 * np.pi)) * 10.0 ** (
                -3.0 * time / decay
            )
            sound[start : start + length] += (level * amplitude * wave).astype(np.float32)
    knock = min(round(0.008 * rate_hz), sound.size - start)
    sound[start : start + knock] += (
        0.3 * level * random.standard_normal(knock) * np.exp(-np.arange(knock) / (0.002 * rate_hz))
    ).astype(np.float32)


def room(seconds: float, rate_hz: int, *, level: float = 2e-4, seed: int = 1) -> NDArray[np.float32]:
    """A quiet room."""
    noise: NDArray[np.float32] = np.random.default_rng(seed).standard_normal(round(seconds * rate_hz), np.float32)
    return noise * np.float32(level)


def tick(sound: NDArray[np.float32], rate_hz: int, at_s: float, *, level: float = 0.1, seed: int = 0) -> None:
    """Add one tick: a burst of noise of a few milliseconds and a trace of echo."""
    start = round(at_s * rate_hz)
    length = min(round(0.25 * rate_hz), sound.size - start)
    time = np.arange(length) / rate_hz
    shape = np.exp(-time / 0.003) + 0.02 * np.exp(-time / 0.06)
    sound[start : start + length] += (level * np.random.default_rng(seed).standard_normal(length) * shape).astype(
        np.float32
    )


def play(
    notes: Sequence[tuple[float, float]],
    rate_hz: int = 24000,
    *,
    lead_s: float = 1.5,
    ring_s: float = 6.0,
    **kind: object,
) -> NDArray[np.float32]:
    """Play (seconds, hertz) pairs in a quiet room."""
    sound = room(lead_s + max(at for at, _ in notes) + ring_s, rate_hz)
    for number, (at, hz) in enumerate(notes):
        strike(sound, rate_hz, lead_s + at, hz, seed=number + 1, **kind)  # type: ignore[arg-type]
    return sound
