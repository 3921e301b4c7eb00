"""How suddenly the sound rises, every millisecond: the curve on which ticks stand out as teeth.

In each band the cube root of the energy is compared with what it was a few milliseconds before. The rise is
measured in units of how much that band fluctuates of its own accord, taken as a median over cells of half a second
on the absolute frame grid, so that neither a tick itself nor the way in which the record was cut moves the measure.
A ringing chime fluctuates in the low bands and leaves the high ones alone; the curve follows by itself.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quarterjack.listening.front import BANDS

CELL_FRAMES = 500
_AFTER, _BEFORE, _APART = 3, 8, 1
_LEAST_ENERGY = 1e-13
_LEAST_FLUCTUATION = 1e-5
_UNMOVED = 2.5
_POWER = 0.65
_FLUCTUATION_SHARE = 1.5
_NEIGHBOUR_SHARE = 0.7


def rises(energies: NDArray[np.float32]) -> NDArray[np.float32]:
    """Measure the rise of each band in units of its own fluctuation.

    Parameters
    ----------
    energies : float32[n, bands]
        From `Front.push`; the first frame must lie on a multiple of `CELL_FRAMES`.

    Returns
    -------
    float32[n, bands]
        Not negative; zero where the band falls or holds nothing.
    """
    frames = len(energies)
    if not frames:
        return np.zeros((0, energies.shape[1] if energies.ndim == 2 else BANDS), np.float32)
    level = np.cbrt(energies + np.float32(_LEAST_ENERGY)).astype(np.float64)
    lead = _BEFORE + _APART
    padded = np.concatenate([level[:1].repeat(lead, 0), level, level[-1:].repeat(_AFTER, 0)])
    summed = np.concatenate([np.zeros((1, level.shape[1])), np.cumsum(padded, axis=0)])
    at = np.arange(frames) + lead
    after = (summed[at + _AFTER] - summed[at]) / _AFTER
    before = (summed[at - _APART] - summed[at - _APART - _BEFORE]) / _BEFORE
    change = after - before
    cells = max(1, frames // CELL_FRAMES)
    cell_of = np.minimum(np.arange(frames) // CELL_FRAMES, cells - 1)
    size = np.abs(change)
    whole = np.median(size[: cells * CELL_FRAMES].reshape(cells, -1, size.shape[1]), axis=1)
    usual = whole.copy()
    usual[1:] = np.maximum(usual[1:], _NEIGHBOUR_SHARE * whole[:-1])
    usual[:-1] = np.maximum(usual[:-1], _NEIGHBOUR_SHARE * whole[1:])
    unit = _FLUCTUATION_SHARE * usual + _LEAST_FLUCTUATION
    rise: NDArray[np.float32] = (np.maximum(change, 0.0) / unit[cell_of]).astype(np.float32)
    return rise


def suddenness(rise: NDArray[np.float32]) -> NDArray[np.float32]:
    """Fold the rises of all bands into one curve.

    The power keeps one loud band, or one loud bang, from outweighing many ticks.

    Parameters
    ----------
    rise : float32[n, bands]
        From `rises`.

    Returns
    -------
    float32[n]
        About 0 in steady noise, 1 at a faint tick, 5 at a clear one.
    """
    curve: NDArray[np.float32] = (
        (np.maximum(rise - np.float32(_UNMOVED), 0) ** np.float32(_POWER)).mean(axis=1).astype(np.float32)
    )
    return curve


def pick_peaks(curve: NDArray[np.float32], least: float, apart: int) -> NDArray[np.int64]:
    """Return the frames of the peaks of at least `least`, strongest first, none closer than `apart` frames."""
    inner = np.flatnonzero((curve >= least) & (curve >= np.roll(curve, 1)) & (curve > np.roll(curve, -1)))
    taken = np.zeros(curve.size + 2 * apart, bool)
    peaks = []
    for frame in inner[np.argsort(-curve[inner], kind="stable")]:
        if not taken[frame + apart]:
            taken[frame : frame + 2 * apart + 1] = True
            peaks.append(int(frame))
    return np.array(peaks, np.int64)
