"""Short dry sounds: the impacts of which a tick is made, the clunk of a release, a hammer's leather on its bar.

Each is a sum of damped modes that start from rest at one instant, so that its onset is exact and a shift by part of
a sample needs no filter.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
    knock = Knock(from_hz * 2**place, decays, gains, float(6.0 * decays.max()))
    peak = float(np.abs(shifted_waves(knock, 48_000.0)[0]).max())
    return Knock(knock.frequencies_hz, decays, gains / peak, knock.seconds)


def shifted_waves(knock: Knock, sample_rate_hz: float) -> NDArray[np.float32]:
    """Sample a knock that begins 0, 1/16, … 15/16 of a sample after index 0.

    Returns
    -------
    float32[16, n]
        Modes above 0.45 of the sample rate are left out.
    """
    heard = knock.frequencies_hz < 0.45 * sample_rate_hz
    pole = (-1.0 / knock.decays_s[heard] + 2j * np.pi * knock.frequencies_hz[heard]) / sample_rate_hz
    n = max(1, int(knock.seconds * sample_rate_hz))
    shift = np.arange(FRACTIONS) / FRACTIONS
    start = knock.gains[heard] * np.exp(-np.outer(shift, pole))
    ring = np.exp(np.outer(pole, np.arange(n)))
    waves: NDArray[np.float64] = (start @ ring).imag
    waves[1:, 0] = 0.0  # the index lies before the onset
    return waves.astype(np.float32)
