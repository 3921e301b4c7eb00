"""Time each tick to a fraction of a sample against what this clock's ticks have in common.

Around each expected tick the steps up in the whitened envelope (see `windows.py`) are laid against the mean of those
of the same side. Which of the several knocks of a tick begins it is settled once for the clock (see `learn.py`), never
tick by tick.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from quarterjack.listening.windows import Sound, Steps, Windows

CORE_S = 0.045
"""How far a core reaches before and after the middle."""
_OPENING_REACH_S = 0.0035
_OPENING_CLEAR = 6.0
_OPENING_SHARE = 0.4
# A tick that stands out by one standard deviation is known to this, and better in proportion (measured in noise).
_DOUBT_S = 0.015
_FAR = 0.3
_FEW_BENDS = 5


@dataclass(frozen=True)
class Template:
    """What the ticks of one clock have in common.

    Parameters
    ----------
    band_energy : float64[bands]
        Mean square of a tick above the noise in each band of the front.
    core : float64[2, k]
        Steps up in the envelope of each side, around the middle of the window; the strongest is 1.
    opening : float64[2, k]
        The same, but only of the knock that begins the tick.
    onset_s, onset_u_s : float64[2]
        From the middle of a window that is aligned with `core` to the first rise, and its standard uncertainty.
    """

    band_energy: NDArray[np.float64]
    core: NDArray[np.float64]
    opening: NDArray[np.float64]
    onset_s: NDArray[np.float64]
    onset_u_s: NDArray[np.float64]

    def swapped(self) -> Template:
        """The same with the sides exchanged."""
        return Template(self.band_energy, self.core[::-1], self.opening[::-1], self.onset_s[::-1], self.onset_u_s[::-1])


@dataclass(frozen=True)
class Expected:
    """Ticks that are expected.

    Parameters
    ----------
    t_s : float64[n]
        Where, seconds from the first sample of the record.
    number : int64[n]
        Their beat numbers.
    noise : float64[n, bands]
        Mean square in each band of the front without them.
    """

    t_s: NDArray[np.float64]
    number: NDArray[np.int64]
    noise: NDArray[np.float64]

    @property
    def side(self) -> NDArray[np.int64]:
        """0 or 1 for each."""
        side: NDArray[np.int64] = self.number % 2
        return side

    def only(self, which: NDArray[np.int64]) -> Expected:
        """Only these ticks."""
        return Expected(self.t_s[which], self.number[which], self.noise[which])


@dataclass(frozen=True)
class Measured:
    """Ticks as measured in their windows, one value a tick.

    Parameters
    ----------
    t_s : float64[n]
        Onset, seconds from the first sample of the record.
    u_s : float64[n]
        Standard uncertainty of it.
    strength : float64[n]
        How far the tick steps up, in units that do not depend on the noise; about 0.3 to 1 as learned.
    clearness : float64[n]
        The same in standard deviations of the noise.
    level_db : float64[n]
        Peak level, rumble left out, dB relative to full scale.
    """

    t_s: NDArray[np.float64]
    u_s: NDArray[np.float64]
    strength: NDArray[np.float64]
    clearness: NDArray[np.float64]
    level_db: NDArray[np.float64]

    def only(self, which: NDArray[np.int64] | NDArray[np.bool_]) -> Measured:
        """Only these ticks."""
        return Measured(*(getattr(self, f.name)[which] for f in fields(self)))

    def put(self, which: NDArray[np.int64], other: Measured) -> Measured:
        """The same with these ticks taken from `other`, in its order."""
        columns = []
        for f in fields(self):
            column = getattr(self, f.name).copy()
            column[which] = getattr(other, f.name)
            columns.append(column)
        return Measured(*columns)


class Look:
    """A look at expected ticks through a template: the windows are cut once and can be read at several reaches.

    Parameters
    ----------
    windows : Windows
        How windows are cut at this sample rate.
    sound : Sound
        Sound that holds the ticks.
    expected : Expected
        The ticks, as onsets.
    template : Template
        What to look for.
    """

    def __init__(self, windows: Windows, sound: Sound, expected: Expected, template: Template) -> None:
        self._windows, self._template, self._side = windows, template, expected.side
        self._middles = windows.samples_at(expected.t_s - template.onset_s[self._side])
        weights, self._usual = windows.weights(template.band_energy, expected.noise)
        self._steps: Steps = windows.steps(sound, self._middles, weights)

    def measured(self, reach_s: float) -> Measured:
        """Measure the ticks, looking `reach_s` either way."""
        template, side, noise = self._template, self._side, self._steps.noise
        up = self._steps.up
        lead = round(CORE_S / self._windows.step_s)
        middle = np.full(len(up), self._windows.lead - lead)
        reach = round(reach_s / self._windows.step_s)
        place, height, square = lay(up, template.core[side], middle, reach)
        clearness = height * np.sqrt(square) / noise
        # The knocks of one tick wander against one another: settle on the knock that begins it where it is clear.
        reach = round(_OPENING_REACH_S / self._windows.step_s)
        rough = np.round(place).astype(np.int64)
        first, first_height, first_square = lay(up, template.opening[side], rough, reach)
        clear = first_height * np.sqrt(first_square) / noise
        use = (clear > _OPENING_CLEAR) & (first_height > _OPENING_SHARE * height)
        shift = np.where(use, first, place) - middle
        t_s = self._middles / self._windows.rate + shift * self._windows.step_s + template.onset_s[side]
        doubt = _DOUBT_S / np.maximum(np.where(use, clear, clearness), 1.0)
        u_s = np.hypot(template.onset_u_s[side], doubt)
        return Measured(t_s, u_s, height / self._usual, clearness, self._steps.peak_db)


def lay(
    rows: NDArray[np.float64], cores: NDArray[np.float64], around: NDArray[np.int64], reach: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Lay each core against its row at every place within `reach` of `around`, and keep the best.

    Parameters
    ----------
    rows : float64[n, points]
        Curves.
    cores : float64[n, k]
        What is sought in each; k < points.
    around : int64[n]
        Index in the row at which the core is expected to begin.
    reach : int
        How far from it to look, points; far places count for a little less.

    Returns
    -------
    place : float64[n]
        Where the core fits best, to a fraction of a point by a parabola.
    height : float64[n]
        Its height there: 1 for a copy of the core.
    square : float64[n]
        Sum of the squares of each core.
    """
    reach = max(1, reach)
    width = cores.shape[1]
    lag = np.arange(-reach, reach + 1)
    place = np.clip(around[:, None] + lag, 0, rows.shape[1] - width)
    at = np.arange(len(rows))
    views = np.lib.stride_tricks.sliding_window_view(rows, width, axis=1)
    square = np.maximum((cores**2).sum(axis=1), 1e-12)
    # Cores are zero but for their knocks: only those columns are laid.
    used = np.flatnonzero(cores.any(axis=0))
    span = slice(int(used[0]), int(used[-1]) + 1) if used.size else slice(0, 1)
    match = np.stack([views[i, place[i], span] @ cores[i, span] for i in at]) / square[:, None]
    best = np.argmax(match * (1.0 - _FAR * (lag / reach) ** 2), axis=1)
    inner = np.clip(best, 1, match.shape[1] - 2)
    left, top, right = match[at, inner - 1], match[at, inner], match[at, inner + 1]
    bend = left - 2.0 * top + right
    part = np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, -1.0), 0.0)
    return place[at, best] + np.where(best == inner, np.clip(part, -0.5, 0.5), 0.0), match[at, best], square


def unevenness_s(number: NDArray[np.int64], t_s: NDArray[np.float64]) -> float:
    """Typical deviation of a tick from halfway between its neighbours of the same side, as the mean of both sides."""
    if not number.size:
        return 0.0
    at = np.full(int(number.max() - number.min()) + 1, np.nan)
    at[number - number.min()] = t_s
    bend = np.abs(at[2:-2] - 0.5 * (at[:-4] + at[4:]))
    sides = []
    for side in (0, 1):
        bends = bend[side::2]
        bends = bends[np.isfinite(bends)]
        if bends.size >= _FEW_BENDS:
            sides.append(1.4826 * float(np.median(bends)))
        elif bends.size:
            sides.append(float(np.sqrt(np.mean(bends**2))))
    return float(np.mean(sides)) if sides else 0.0
