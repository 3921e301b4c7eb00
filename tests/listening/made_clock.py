"""A ticking clock made for tests: ticks of several knocks, two sides, jitter, noise; written apart from the rooms."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Knock:
    """One knock of a tick: when (after the tick begins), how loud, how long it rings, and up to which pitch."""

    late_s: float
    gain: float
    decay_s: float = 0.004
    highest_hz: float = 12_000.0


SINGLE = (Knock(0.0, 1.0),)
DROP_THEN_CRUTCH = (Knock(0.0, 0.8), Knock(0.012, 1.0, 0.008, 6_000.0))
THREE = (Knock(0.0, 0.7, 0.003), Knock(0.006, 1.0), Knock(0.019, 0.5, 0.010, 5_000.0))
FAINT_UNLOCKING = (Knock(-0.018, 0.05, 0.002), Knock(0.0, 1.0))


def made_clock(
    *,
    rate: int = 44_100,
    seconds: float = 12.0,
    beats_per_hour: float = 7200.0,
    difference_s: float = 0.0,
    knocks: tuple[Knock, ...] = SINGLE,
    jitter_s: float = 0.0002,
    noise: float = 0.001,
    first_s: float = 0.13,
    level: float = 0.2,
    seed: int = 1,
) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
    """Samples, and the true onsets in seconds; the silence after even ticks is longer by `difference_s`."""
    rng = np.random.default_rng(seed)
    sound = noise * rng.standard_normal(round(seconds * rate))
    beat_s = 3600.0 / beats_per_hour
    number = np.arange(int(seconds / beat_s) + 2)
    onset_s = first_s + number * beat_s + (number % 2) * difference_s / 2 + jitter_s * rng.standard_normal(number.size)
    onset_s = onset_s[onset_s < seconds - 0.05]
    shapes = [[_knock(rate, knock, rng) for knock in knocks] for _ in (0, 1)]
    for n, t in enumerate(onset_s):
        for knock, shape in zip(knocks, shapes[n % 2], strict=True):
            first = round((t + knock.late_s) * rate)
            if first >= 0:
                piece = shape[: max(0, sound.size - first)]
                sound[first : first + piece.size] += level * (1.0 + 0.1 * rng.standard_normal()) * piece
    return sound.astype(np.float32), onset_s


def _knock(rate: int, knock: Knock, rng: np.random.Generator) -> NDArray[np.float64]:
    """A burst of noise that begins at once and dies away, rolled off above `highest_hz`."""
    n = round(8 * knock.decay_s * rate)
    burst = rng.standard_normal(n)
    spectrum = np.fft.rfft(burst)
    spectrum *= 1.0 / (1.0 + (np.fft.rfftfreq(n, 1.0 / rate) / knock.highest_hz) ** 4)
    shape = np.fft.irfft(spectrum, n) * np.exp(-np.arange(n) / (knock.decay_s * rate))
    return np.asarray(knock.gain * shape / np.abs(shape).max(), np.float64)
