"""When a simulated clock ticks.

The pendulum swings as x = A sin(wt); the pallets let a tooth go at d + a on the way to one side and at d - a on the
way to the other. From that follow the beat difference, its growth as the swing falls, and the stop when the swing no
longer reaches a release. Jitter is laid over it: white from blow to blow, a little that lingers for some twenty beats,
and the escape wheel's own uneven teeth, which come round with every turn.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quarterjack.horology import beat_error_deg

SWING_DEG = 3.0
RELEASE_DEG = 1.75
HEALTHY_DIFFERENCE = 0.004
"""Beat difference of a clock set up well, as a fraction of its beat: 4 ms on a seconds pendulum."""
FALL_BEATS = 300.0
"""Beats in which the swing of a dying clock falls to release (5 minutes for a seconds pendulum)."""
_WHITE_S, _LINGERING_S, _TOOTH_S = 0.15e-3, 0.12e-3, 0.10e-3
_LINGER = 0.95
_LEVEL_DB = 0.8


@dataclass(frozen=True, eq=False)
class Ticking:
    """Ticks in true seconds from the start.

    Parameters
    ----------
    t_s : float64[n]
        When each sounds, rising.
    side : int8[n]
        0 for a, the tick of the leftward swing; 1 for b.
    level_db : float64[n]
        Beside the usual level of its side.
    difference_s : float
        Silence after side a less silence after side b, at full swing.
    """

    t_s: NDArray[np.float64]
    side: NDArray[np.int8]
    level_db: NDArray[np.float64]
    difference_s: float


def tick(
    *,
    beat_s: float,
    teeth_beats: int | None,
    seconds: float,
    seed: tuple[int, ...],
    difference_s: float | None = None,
    stop_s: float | None = None,
    ended: str = "cut off",
) -> Ticking:
    """Let a clock tick.

    Parameters
    ----------
    beat_s : float
        Mean seconds from tick to tick.
    teeth_beats : int or None
        Beats in one turn of the escape wheel; None leaves its unevenness out.
    seconds : float
        How long.
    seed : tuple of int
        Same seed, same ticks; a longer simulation begins with the ticks of a shorter one.
    difference_s : float or None
        Beat difference wanted; None for a healthy clock's.
    stop_s : float or None
        When the last tick has fallen.
    ended : str
        "cut off" or "died away".
    """
    white, lingering, level, once = (np.random.default_rng((*seed, stream)) for stream in range(4))
    wanted = HEALTHY_DIFFERENCE * beat_s if difference_s is None else difference_s
    centre = float(beat_error_deg(3600.0 / beat_s, wanted, SWING_DEG, RELEASE_DEG))
    first = once.uniform(0.2, 0.8) * beat_s
    teeth = once.normal(0.0, _TOOTH_S, teeth_beats or 1)
    n = np.arange(int(seconds / beat_s) + 2)
    side = (n % 2).astype(np.int8)
    nominal = first + n * beat_s
    swing = np.full(n.size, SWING_DEG)
    if stop_s is not None and ended == "died away":
        least = RELEASE_DEG + abs(centre)
        fall_s = FALL_BEATS * beat_s
        lost = np.maximum(0.0, (nominal - (stop_s - fall_s)) / fall_s)
        swing = np.maximum(SWING_DEG * (least / SWING_DEG) ** lost, least)
    reach = np.where(side == 0, RELEASE_DEG - centre, RELEASE_DEG + centre) / swing
    at_rest = np.arcsin(RELEASE_DEG / SWING_DEG)
    t_s = nominal + beat_s / np.pi * (np.arcsin(np.clip(reach, -1.0, 1.0)) - at_rest)
    t_s += white.normal(0.0, _WHITE_S, n.size) + teeth[n % teeth.size] * (teeth_beats is not None)
    innovation = lingering.normal(0.0, _LINGERING_S * np.sqrt(1 - _LINGER**2), n.size)
    from scipy.signal import lfilter  # takes a second to load, which the first page must not wait for

    t_s += lfilter([1.0], [1.0, -_LINGER], innovation)
    level_db = level.normal(0.0, _LEVEL_DB, n.size)
    # The drop is as loud as the pendulum is quick when it lets the tooth go; what is left makes a faint tick.
    speed = np.sqrt(np.maximum(swing**2 - RELEASE_DEG**2, 0.0) / (SWING_DEG**2 - RELEASE_DEG**2))
    level_db += 20 * np.log10(np.maximum(speed, 0.1))
    keep = (t_s >= 0) & (t_s < (seconds if stop_s is None else min(stop_s, seconds)))
    return Ticking(t_s[keep], side[keep], level_db[keep], wanted)
