"""Do times folded on a period stand together? Two exact tests on directions, for any number of them.

Both ask how often so close a cluster would come of itself if every phase were equally likely.
"""

from __future__ import annotations

from functools import lru_cache
from math import comb

import numpy as np
from numpy.typing import NDArray
from scipy.special import j0, j1

_TURN = 2 * np.pi
_STEP = 0.02
# The integrand falls as t to the power -(n + 1) / 2, so few directions need a long way.
_FAR = {3: 3000.0, 4: 600.0}
_FAR_ELSE = 200.0
RAYLEIGH_GOOD_TO = 1e-4
"""Below this chance the integral's own error shows, and the range of the directions says more."""


def resultant(angles_rad: NDArray[np.float64]) -> tuple[float, float]:
    """Mean direction (radians, 0 to 2 pi) and mean resultant length r (0 scattered, 1 all alike).

    Source: Zar, Biostatistical Analysis, 5th ed., ch. 26.
    """
    mean = np.mean(np.exp(1j * np.asarray(angles_rad, float)))
    return float(np.angle(mean) % _TURN), float(abs(mean))


@lru_cache(maxsize=256)
def rayleigh_p(n: int, r: float) -> float:
    """Chance that n directions at random have a mean resultant length of r or more; not told apart under 0.0001.

    The exact distribution of the resultant R = n r, one less R times the integral of J1(R t) J0(t)^n over t from 0
    (Kluyver's integral; Mardia and Jupp, Directional Statistics, sec. 4.4, from memory), since the usual short
    formulas are far out for the handful of stops that a bench sees.

    Parameters
    ----------
    n : int
        How many directions, 3 at least.
    r : float
        Mean resultant length, 0 to 1.
    """
    big = n * r
    if r <= 0:
        return 1.0
    if r >= 1:
        return RAYLEIGH_GOOD_TO
    t = np.arange(_STEP / 2, _FAR.get(n, _FAR_ELSE), _STEP)
    middles = big * float(np.sum(j1(big * t) * j0(t) ** n)) * _STEP
    # Middles of steps leave out the slope at 0, which is half the square of R (Euler and Maclaurin's correction).
    inside = middles - _STEP**2 / 24 * big**2 / 2
    return float(np.clip(1 - inside, RAYLEIGH_GOOD_TO, 1.0))


def circular_range(angles_rad: NDArray[np.float64]) -> float:
    """The shortest arc that holds all directions, radians."""
    ordered = np.sort(np.asarray(angles_rad, float) % _TURN)
    return float(_TURN - np.max(np.diff(ordered, append=ordered[0] + _TURN)))


def range_p(n: int, arc_rad: float) -> float:
    """Chance that n directions at random lie within an arc.

    Inclusion and exclusion over the empty arc (Mardia and Jupp, Directional Statistics, sec. 6.3, from memory); for
    arcs up to half a turn it is n (arc / turn)^(n - 1).
    """
    empty = 1 - min(max(arc_rad / _TURN, 0.0), 1.0)
    total = 0.0
    for k in range(1, n + 1):
        left = 1 - k * empty
        if left <= 0:
            break
        total += (-1) ** (k - 1) * comb(n, k) * left ** (n - 1)
    return min(max(total, 0.0), 1.0)
