"""Short dry sounds: the impacts of which a tick is made, the clunk of a release, a hammer's leather on its bar.

Each is a sum of damped modes that start from rest at one instant, so that its onset is exact and a shift by part of
a sample needs no filter.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_LASTS = 6.0  # time constants until a mode is 52 dB down
FRACTIONS = 16
"""Events are placed on a grid of sixteenths of a sample; truth gives the place on that grid."""


@dataclass(frozen=True, eq=False)
class Knock:
    """A sum of damped modes.

    Parameters
    ----------
    frequencies_hz, decays_s, gains : float64[n]
        Frequency, time constant and signed amplitude of each mode, for a peak of about one.
    seconds : float
        After this time nothing is left.
    """

    frequencies_hz: NDArray[np.float64]
    decays_s: NDArray[np.float64]
    gains: NDArray[np.float64]
    seconds: float


def make_knock(
    rng: np.random.Generator,
    *,
    from_hz: float,
    to_hz: float,
    decay_s: float,
    tilt_db_per_octave: float = 0.0,
    tail_db: float = -18.0,
    modes: int = 48,
) -> Knock:
    """Invent a knock of a mechanism in a wooden case.

    A quarter of the modes are the case's: `tail_db` weaker and lasting five times as long.

    Parameters
    ----------
    rng : numpy.random.Generator
        Decides the modes.
    from_hz, to_hz : float
        Band in which the modes lie, evenly in octaves.
    decay_s : float
        Mean time constant of the short modes.
    tilt_db_per_octave : float
        Positive: brighter upwards.
    tail_db : float
        Level of the case's modes.
    modes : int
        How many.
    """
    octaves = np.log2(to_hz / from_hz)
    place = rng.uniform(0.0, octaves, modes)
    decays = decay_s * rng.uniform(0.6, 1.4, modes) * (1.5 - place / octaves)
    level_db = tilt_db_per_octave * place + rng.normal(0.0, 3.0, modes)
    case = np.arange(modes) % 4 == 0
    decays[case] *= 5.0
    level_db[case] += tail_db
    gains = 10 ** (level_db / 20) * rng.choice((-1.0, 1.0), modes)
    knock = Knock(from_hz * 2**place, decays, gains, float(_LASTS * decays.max()))
    peak = float(np.abs(_waves(knock, 48_000.0, np.zeros(1), 0.1)).max())
    return Knock(knock.frequencies_hz, decays, gains / peak, knock.seconds)


def _waves(
    knock: Knock, sample_rate_hz: float, shift: NDArray[np.float64], longest_s: float = np.inf
) -> NDArray[np.float64]:
    """Sample a knock that begins some parts of a sample late; each mode only for as long as it lasts."""
    heard = knock.frequencies_hz < 0.45 * sample_rate_hz
    waves = np.zeros((shift.size, max(1, int(min(knock.seconds, longest_s) * sample_rate_hz))))
    lasting = knock.decays_s > np.median(knock.decays_s) * 2
    for modes in (heard & lasting, heard & ~lasting):
        if modes.any():
            pole = (-1.0 / knock.decays_s[modes] + 2j * np.pi * knock.frequencies_hz[modes]) / sample_rate_hz
            n = min(waves.shape[1], int(_LASTS * knock.decays_s[modes].max() * sample_rate_hz))
            start = knock.gains[modes] * np.exp(-np.outer(shift, pole))
            waves[:, :n] += (start @ np.exp(np.outer(pole, np.arange(n)))).imag
    return waves


def shifted_waves(knock: Knock, sample_rate_hz: float) -> NDArray[np.float32]:
    """Sample a knock that begins 0, 1/16, … 15/16 of a sample after index 0.

    Returns
    -------
    float32[16, n]
        Modes above 0.45 of the sample rate are left out.
    """
    waves = _waves(knock, sample_rate_hz, np.arange(FRACTIONS) / FRACTIONS)
    waves[1:, 0] = 0.0  # the index lies before the onset
    return waves.astype(np.float32)
