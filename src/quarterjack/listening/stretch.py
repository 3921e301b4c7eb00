"""A stretch of ticks of one clock in unbroken count, and the straight lines that its two sides follow."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from quarterjack.listening.refine import Measured, Template, unevenness_s

MODEL_TICKS = 40
_CLEAR = 5.0
_STRONG_SHARE = 0.25
_SAME_PERIOD = 0.015
_SAME_PHASE = 0.12
_CLEARLY_SHARE = 0.4
_BETTER = 0.8
_WELL_LEARNED, _LEARNED_CLEARNESS = 12, 0.6


@dataclass
class Stretch:
    """Ticks as columns that grow; tick `number` belongs to side `number % 2`, and numbers without a tick are misses.

    Parameters
    ----------
    template : Template
        What its ticks have in common.
    usual_strength : float
        Median strength of the ticks that the template was learned from.
    usual_clearness : float
        Their median clearness.
    double_beat_s : float
        Seconds from a tick to the next of the same side, as last fitted.
    learned_from : int
        How many ticks the template was learned from.
    missed_s, missed_clearness : list of float
        Ticks expected but not heard: where, and how clear a usual one would have been there.
    """

    template: Template
    usual_strength: float
    usual_clearness: float
    double_beat_s: float
    learned_from: int = 0
    number: list[int] = field(default_factory=list)
    t_s: list[float] = field(default_factory=list)
    u_s: list[float] = field(default_factory=list)
    level_db: list[float] = field(default_factory=list)
    clearness: list[float] = field(default_factory=list)
    missed_s: list[float] = field(default_factory=list)
    missed_clearness: list[float] = field(default_factory=list)
    next_number: int = 0

    def hears(self, measured: Measured) -> NDArray[np.bool_]:
        """Which of the measured ticks are there: clear of the noise, and not far weaker than they use to be."""
        return (measured.clearness >= _CLEAR) & (measured.strength >= _STRONG_SHARE * self.usual_strength)

    def hears_clearly(self, measured: Measured) -> NDArray[np.bool_]:
        """Which are there even where nothing was expected: nearly as clear and strong as they use to be."""
        clear = measured.clearness >= max(_CLEAR, _CLEARLY_SHARE * self.usual_clearness)
        return clear & (measured.strength >= _CLEARLY_SHARE * self.usual_strength)

    def add(
        self,
        number: NDArray[np.int64],
        measured: Measured,
        expected_s: NDArray[np.float64],
        *,
        before: bool = False,
    ) -> None:
        """Put measured ticks (rising in number) after those that are there, or before them."""
        heard = self.hears(measured)
        for column, values in (
            (self.number, number),
            (self.t_s, measured.t_s),
            (self.u_s, measured.u_s),
            (self.level_db, measured.level_db),
            (self.clearness, measured.clearness),
        ):
            place = 0 if before else len(column)
            column[place:place] = values[heard].tolist()
        would_be = measured.clearness * self.usual_strength / np.maximum(measured.strength, 1e-9)
        for column, missing in (
            (self.missed_s, expected_s[~heard]),
            (self.missed_clearness, would_be[~heard]),
        ):
            place = 0 if before else len(column)
            column[place:place] = missing.tolist()
        if number.size and not before:
            self.next_number = max(self.next_number, int(number[-1]) + 1)

    def expected_s(self, numbers: NDArray[np.int64], *, early: bool = False) -> NDArray[np.float64]:
        """Where ticks of these numbers are expected, from the last ticks that were heard (or the first)."""
        part = slice(None, MODEL_TICKS) if early else slice(-MODEL_TICKS, None)
        # What was hardly heard says little about where the clock is.
        weight = np.minimum(np.array(self.clearness[part]) / max(self.usual_clearness, 1e-9), 1.0) ** 2 + 1e-4
        slope, offsets = fit_sides(np.array(self.number[part]), np.array(self.t_s[part]), self.double_beat_s, weight)
        if not early:
            self.double_beat_s = slope
        expected: NDArray[np.float64] = numbers / 2.0 * slope + offsets[numbers % 2]
        return expected

    def unevenness_s(self) -> float:
        """Typical deviation of a late tick from halfway between its neighbours of the same side."""
        return unevenness_s(np.array(self.number[-MODEL_TICKS:]), np.array(self.t_s[-MODEL_TICKS:]))

    def heard_share(self, since_s: float) -> float:
        """Share of the ticks expected from `since_s` on that were heard; 1 where none was expected."""
        heard = len(self.t_s) - bisect_left(self.t_s, since_s)
        missed = len(self.missed_s) - bisect_left(self.missed_s, since_s)
        return heard / (heard + missed) if heard + missed else 1.0

    def follow_on(self, new: Stretch) -> bool:
        """Take `new` (found afresh) into this stretch if it keeps the period and the count; say whether it did."""
        if abs(new.double_beat_s / self.double_beat_s - 1.0) > _SAME_PERIOD:
            return False
        number, t_s = np.array(new.number), np.array(new.t_s)
        # Lay the new ticks against the old ones where they overlap, else against where those were heading.
        shared = slice(bisect_left(self.t_s, new.t_s[0] - 0.5 * self.double_beat_s), None)
        known_n, known_t = np.array(self.number[shared]), np.array(self.t_s[shared])
        if known_n.size < 4:
            known_n, known_t = np.array(self.number[-MODEL_TICKS:]), np.array(self.t_s[-MODEL_TICKS:])
        slope, offsets = fit_sides(known_n, known_t, self.double_beat_s)
        first = round((t_s[0] - float(offsets.mean())) / slope * 2.0)
        off, shift = min(
            (float(np.median(np.abs(t_s - ((number + s) / 2.0 * slope + offsets[(number + s) % 2])))), s)
            for s in range(first - number[0] - 1, first - number[0] + 2)
        )
        if off > _SAME_PHASE * slope / 2:
            return False
        clearness = dict(zip(self.number, self.clearness, strict=True))
        ratio = [
            c / clearness[n + shift] for n, c in zip(new.number, new.clearness, strict=True) if n + shift in clearness
        ]
        if not ratio or float(np.median(ratio)) >= _BETTER:
            self._replace(new, shift)
        return True

    def _replace(self, new: Stretch, shift: int) -> None:
        """Put the ticks of `new` in place of those from its beginning on, and its template in place of this one's."""
        number = np.array(new.number) + shift
        known = dict(zip(self.number, self.t_s, strict=True))
        keep = bisect_left(self.t_s, new.t_s[0] - 0.15 * self.double_beat_s)
        moved = [
            [t - known[n] for n, t in zip(number.tolist(), new.t_s, strict=True) if n in known and n % 2 == s]
            for s in (0, 1)
        ]
        step = np.array([float(np.median(m)) if len(m) >= 2 else 0.0 for m in moved])
        # A new template may set the onset on another knock of the tick. Where the old one was learned well its choice
        # stays, so that a long record has one; else the older ticks of each side are moved along.
        if self.learned_from >= _WELL_LEARNED and self.usual_clearness >= _LEARNED_CLEARNESS * new.usual_clearness:
            new.t_s = [t - float(step[n % 2]) for n, t in zip(number.tolist(), new.t_s, strict=True)]
            sides = (np.arange(2) + shift) % 2
            new.template = replace(new.template, onset_s=new.template.onset_s - step[sides])
            new.learned_from = self.learned_from
            step = np.zeros(2)
        self.t_s = [t + float(step[n % 2]) for n, t in zip(self.number[:keep], self.t_s[:keep], strict=True)] + new.t_s
        self.number = self.number[:keep] + number.tolist()
        self.u_s = self.u_s[:keep] + new.u_s
        self.level_db = self.level_db[:keep] + new.level_db
        self.clearness = self.clearness[:keep] + new.clearness
        missed = bisect_left(self.missed_s, new.t_s[0] - 0.15 * self.double_beat_s)
        self.missed_s = self.missed_s[:missed] + new.missed_s
        self.missed_clearness = self.missed_clearness[:missed] + new.missed_clearness
        self.next_number = new.next_number + shift
        self.double_beat_s, self.learned_from = new.double_beat_s, new.learned_from
        self.template = new.template if shift % 2 == 0 else new.template.swapped()
        self.usual_strength, self.usual_clearness = new.usual_strength, new.usual_clearness


def fit_sides(
    number: NDArray[np.int64],
    t_s: NDArray[np.float64],
    double_beat_s: float,
    weight: NDArray[np.float64] | None = None,
) -> tuple[float, NDArray[np.float64]]:
    """Fit one slope (seconds a double beat) and one offset a side; outliers are left out in rounds.

    A side without ticks is taken to lie halfway; with fewer than five ticks the slope given stays.
    """
    x, side = number / 2.0, number % 2
    weight = np.ones(number.size) if weight is None else weight
    keep = np.ones(number.size, bool)
    slope, offsets = double_beat_s, np.zeros(2)
    for _ in range(4):
        sides = [s for s in (0, 1) if (keep & (side == s)).any()]
        mean_x, mean_t = np.zeros(2), np.zeros(2)
        for s in sides:
            mine = keep & (side == s)
            mean_x[s], mean_t[s] = (
                np.average(x[mine], weights=weight[mine]),
                np.average(t_s[mine], weights=weight[mine]),
            )
        dx, dt = (x - mean_x[side])[keep], (t_s - mean_t[side])[keep]
        spread = float((weight[keep] * dx**2).sum())
        if dx.size >= 5 and spread > 0:
            slope = float((weight[keep] * dx * dt).sum() / spread)
        offsets = mean_t - slope * mean_x
        if len(sides) == 1:
            offsets[1 - sides[0]] = offsets[sides[0]]
        off = np.abs(t_s - (x * slope + offsets[side]))
        new = off <= max(5.0 * float(np.median(off[keep])), 0.001)
        if np.array_equal(new, keep) or new.sum() < 4:
            break
        keep = new
    return slope, offsets
