"""Which of several bars sounds higher, by how far their patterns of partials must be slid to lie on one another.

Bars of one set are alike in shape, so that their partials stand in about the same proportions whatever these are: on a
scale of log frequency one bar's pattern is the other's, shifted. The shift needs no harmonic and no strike note.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quarterjack.listening.bars import GRID_HZ

_STEP = 0.004
_MOST_SHIFT = 0.9
_USUAL_SHIFT = 0.6
_LEAST_SHIFT = 0.04
_BLUR_STEPS = 2
_ROUNDS = 5


def log_pitches(means: NDArray[np.float32]) -> NDArray[np.float64]:
    """Pitch of each bar relative to their common middle, as natural log of frequency.

    Parameters
    ----------
    means : float32[bars, cells]
        Mean portrait of each bar (see `bars.py`).
    """
    count = len(means)
    if count < 2:
        return np.zeros(count)
    patterns = _on_log_scale(_own_lines(means))
    reach = round(_MOST_SHIFT / _STEP)
    curves = np.zeros((count, count, 2 * reach + 1))
    for first in range(count):
        for second in range(count):
            if first != second:
                curves[first, second] = np.correlate(np.pad(patterns[first], reach), patterns[second], "valid")
    # Where two shifts fit alike the smaller is the likelier: the bells of a quarter tune keep within an octave or so.
    shift = (np.arange(2 * reach + 1) - reach) * _STEP
    curves *= np.exp(-0.5 * (shift / _USUAL_SHIFT) ** 2)
    # No two bars of a set are one pitch, but a line that beats or rings on shows in both portraits unshifted.
    curves[:, :, np.abs(shift) < _LEAST_SHIFT] = 0.0
    steps = _lay_out(curves, reach)
    pitches: NDArray[np.float64] = (steps - steps.mean()) * _STEP
    return pitches


def _own_lines(means: NDArray[np.float32]) -> NDArray[np.float32]:
    """What each bar has beyond half of any other's; a line that beats shows in all portraits and would pin them."""
    others = np.array([np.delete(means, bar, axis=0).max(axis=0) for bar in range(len(means))])
    own: NDArray[np.float32] = np.maximum(means - 0.5 * others, 0.0)
    return own


def _on_log_scale(means: NDArray[np.float32]) -> NDArray[np.float64]:
    scale = np.arange(np.log(GRID_HZ[0]), np.log(GRID_HZ[-1]), _STEP)
    blur = np.exp(-0.5 * (np.arange(-3 * _BLUR_STEPS, 3 * _BLUR_STEPS + 1) / _BLUR_STEPS) ** 2)
    rows = []
    for mean in means:
        row = np.convolve(np.interp(scale, np.log(GRID_HZ), mean), blur, "same")
        rows.append(row / max(np.sqrt(row @ row), 1e-12))
    return np.array(rows)


def _lay_out(curves: NDArray[np.float64], reach: int) -> NDArray[np.float64]:
    """One place a bar, in steps, so that all pairs together agree best.

    Bars are laid one by one where they agree best with those already laid, the surest first; then each is laid again
    beside all the others until nothing moves.
    """
    count = len(curves)
    best = curves.max(axis=2)
    first = int(best.sum(axis=1).argmax())
    places = {first: 0}
    while len(places) < count:
        found = {bar: _place(curves, places, bar, reach) for bar in range(count) if bar not in places}
        bar = max(found, key=lambda one: found[one][1])
        places[bar] = found[bar][0]
    for _ in range(_ROUNDS):
        before = dict(places)
        for bar in range(count):
            others = {other: place for other, place in places.items() if other != bar}
            places[bar] = _place(curves, others, bar, reach)[0]
        if places == before:
            break
    return np.array([places[bar] for bar in range(count)], np.float64)


def _place(curves: NDArray[np.float64], places: dict[int, int], bar: int, reach: int) -> tuple[int, float]:
    """Where a bar agrees best with the bars already laid, and how well a bar it does so."""
    low, high = min(places.values()) - reach, max(places.values()) + reach
    total = np.zeros(high - low + 1)
    for other, place in places.items():
        start = place - reach - low
        total[start : start + 2 * reach + 1] += curves[bar, other] ** 2
    at = int(total.argmax())
    return low + at, float(total[at]) / len(places)
