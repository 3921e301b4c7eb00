"""Follow one clock through a record, page by page: find its beat, learn its ticks, bridge what drowns, find it again.

A page is a fixed number of frames counted from the first sample, so that nothing depends on how the sound was handed
over. While the beat is unknown, the last pages are searched; once it is known, each page costs a few windows.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from quarterjack.listening.front import Front
from quarterjack.listening.hints import NO_HINTS, Hints
from quarterjack.listening.picks import CELL_FRAMES, rises, suddenness
from quarterjack.listening.refine import LEAD_S, TAIL_S, Measured, Refiner, Template, unevenness_s
from quarterjack.listening.track import Beat, find_beat, search_width_s

PAGE_FRAMES = 8 * CELL_FRAMES
_KEPT_PAGES = 8
_SEARCHED_PAGES = 3
_LEAST_SEARCH_PAGES = 2
_LEAST_LAST_SEARCH_S = 1.5
_EAGER_SEARCHES, _LAZY_PAGES = 8, 4
_TICK_FRAMES = 6
_CLEAR = 5.0
_STRONG_SHARE = 0.25
_MODEL_TICKS = 40
_LEAST_REACH_S = 0.005
_MOST_UNEVEN_S, _MOST_UNEVEN_SHARE = 0.012, 0.04
_UNHEARD_S, _UNHEARD_BEATS = 8.0, 8
_LEAST_TICKS = 4
_REMEMBERED = 4
_SAME_PERIOD = 0.015
_SAME_PHASE = 0.12


@dataclass
class Stretch:
    """Ticks of one clock in unbroken count, as columns that grow; misses are numbers without a tick.

    Parameters
    ----------
    template : Template
        What its ticks have in common.
    usual_strength : float
        Median strength of the ticks it was learned from.
    double_beat_s : float
        Seconds from a tick to the next of the same side, as last fitted.
    """

    template: Template
    usual_strength: float
    double_beat_s: float
    number: list[int] = field(default_factory=list)
    t_s: list[float] = field(default_factory=list)
    u_s: list[float] = field(default_factory=list)
    level_db: list[float] = field(default_factory=list)
    # Expected ticks that were not heard: where, and how clear a usual one would have been.
    missed_s: list[float] = field(default_factory=list)
    missed_clearness: list[float] = field(default_factory=list)
    next_number: int = 0

    def hears(self, measured: Measured) -> NDArray[np.bool_]:
        """Which of the measured ticks are there: clear of the noise, and not far weaker than they use to be."""
        return (measured.clearness >= _CLEAR) & (measured.strength >= _STRONG_SHARE * self.usual_strength)

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
        ):
            column[0 if before else len(column) : 0 if before else len(column)] = values[heard].tolist()
        would_be = measured.clearness * self.usual_strength / np.maximum(measured.strength, 1e-9)
        self.missed_s.extend(expected_s[~heard].tolist())
        self.missed_clearness.extend(would_be[~heard].tolist())
        if number.size and not before:
            self.next_number = max(self.next_number, int(number[-1]) + 1)

    def expected_s(self, numbers: NDArray[np.int64]) -> NDArray[np.float64]:
        """Where ticks of these numbers are expected, from the last ticks that were heard."""
        n = np.array(self.number[-_MODEL_TICKS:])
        t = np.array(self.t_s[-_MODEL_TICKS:])
        slope, offsets = fit_sides(n, t, self.double_beat_s)
        self.double_beat_s = slope
        return numbers / 2.0 * slope + offsets[numbers % 2]


def fit_sides(
    number: NDArray[np.int64], t_s: NDArray[np.float64], double_beat_s: float
) -> tuple[float, NDArray[np.float64]]:
    """One slope (seconds a double beat) and one offset a side; outliers are left out in rounds.

    A side without ticks is taken to lie halfway; with fewer than three ticks a side the slope given stays.
    """
    side = number % 2
    keep = np.ones(number.size, bool)
    slope, offsets = double_beat_s, np.zeros(2)
    for _ in range(4):
        x, y = number / 2.0, t_s
        means = [
            ((x[keep & (side == s)]).mean(), (y[keep & (side == s)]).mean())
            for s in (0, 1)
            if (keep & (side == s)).any()
        ]
        sides = [s for s in (0, 1) if (keep & (side == s)).any()]
        dx, dy = x.copy(), y.copy()
        for s, (mx, my) in zip(sides, means, strict=True):
            dx[side == s] -= mx
            dy[side == s] -= my
        spread = float((dx[keep] ** 2).sum())
        if keep.sum() >= 5 and spread > 0:
            slope = float((dx[keep] * dy[keep]).sum() / spread)
        for s, (mx, my) in zip(sides, means, strict=True):
            offsets[s] = my - slope * mx
        if len(sides) == 1:
            offsets[1 - sides[0]] = offsets[sides[0]]
        off = np.abs(t_s - (x * slope + offsets[side]))
        limit = max(5.0 * float(np.median(off[keep])), 0.001)
        new = off <= limit
        if np.array_equal(new, keep) or new.sum() < 4:
            break
        keep = new
    return slope, offsets


class Follower:
    """Feeds on pages of one channel and gathers stretches of ticks.

    Parameters
    ----------
    sample_rate_hz : int
        Samples a second.
    hints : Hints
        Only `beats_per_hour` is used, and tried first.
    """

    def __init__(self, sample_rate_hz: int, hints: Hints = NO_HINTS) -> None:
        front = Front(sample_rate_hz)
        self._rate, self._hop, self._frame_s = sample_rate_hz, front.hop, front.frame_s
        self._refiner = Refiner(sample_rate_hz)
        self._near = hints.beats_per_hour
        self._samples: list[NDArray[np.float32]] = []
        self._energies: list[NDArray[np.float32]] = []
        self._first_page = 0
        self._searches = 0
        self.stretches: list[Stretch] = []
        self._now: Stretch | None = None

    @property
    def _end_s(self) -> float:
        frames = sum(len(e) for e in self._energies)
        return (self._first_page * PAGE_FRAMES + frames) * self._frame_s

    def page(self, samples: NDArray[np.float32], energies: NDArray[np.float32], *, last: bool = False) -> None:
        """Take the next page (`PAGE_FRAMES` frames and their samples; fewer only if it is the last)."""
        self._samples.append(samples)
        self._energies.append(energies)
        if len(self._samples) > _KEPT_PAGES:
            del self._samples[0], self._energies[0]
            self._first_page += 1
        if self._now is not None:
            self._advance(self._now, last)
            if self._lost(self._now):
                self._search(last)
        else:
            self._search(last)

    def _lost(self, stretch: Stretch) -> bool:
        since_s = self._end_s - max(_UNHEARD_S, _UNHEARD_BEATS * stretch.double_beat_s / 2)
        heard = len(stretch.t_s) - bisect_left(stretch.t_s, since_s)
        return heard < len(stretch.missed_s) - bisect_left(stretch.missed_s, since_s) or stretch.t_s[-1] < since_s

    def _search(self, last: bool) -> None:
        pages = min(len(self._energies), _SEARCHED_PAGES)
        from_page = self._first_page + len(self._energies) - pages
        page_s = PAGE_FRAMES * self._frame_s
        if pages < _LEAST_SEARCH_PAGES and not last:
            return
        self._searches += 1
        if not last and self._searches > _EAGER_SEARCHES and self._searches % _LAZY_PAGES:
            return
        energies = np.concatenate(self._energies[-pages:])
        if len(energies) * self._frame_s < _LEAST_LAST_SEARCH_S:
            return
        rise = rises(energies)
        curve = suddenness(rise)
        beat = find_beat(curve, self._frame_s, near_beats_per_hour=self._near) if self._near else None
        beat = beat or find_beat(curve, self._frame_s)
        if beat is not None:
            self._take_up(beat, energies, from_page * page_s, last)

    def _take_up(self, beat: Beat, energies: NDArray[np.float32], from_s: float, last: bool) -> None:
        """Learn the ticks of a beat that was found, measure all of them, and go on with them if they hold."""
        samples, first_sample = np.concatenate(self._samples), self._first_page * PAGE_FRAMES * self._hop
        frames = np.round(beat.t_s[beat.found] / self._frame_s).astype(np.int64)
        at = np.clip(frames[:, None] + np.arange(_TICK_FRAMES), 0, len(energies) - 1)
        noise = np.median(energies, axis=0).astype(np.float64)
        band_energy = np.maximum(np.median(energies[at].mean(axis=1), axis=0) - noise, 0.0).astype(np.float64)
        number, t_s = beat.number - int(beat.number[0]), beat.t_s + from_s
        template, onsets_s = self._refiner.learn(
            samples, first_sample, t_s[beat.found], number[beat.found], band_energy, noise
        )
        stretch = Stretch(template, 1.0, beat.double_beat_s)
        stretch.number, stretch.t_s = number[beat.found].tolist(), onsets_s.tolist()
        expected = _between(number, number[beat.found], onsets_s, beat.double_beat_s)
        inside = (expected > from_s - 0.005) & (expected < self._end_s - (0.002 if last else TAIL_S))
        number, expected = number[inside], expected[inside]
        if number.size < _LEAST_TICKS:
            return
        reach_s = min(0.006 + 2.0 * unevenness_s(number, expected), search_width_s(beat.double_beat_s))
        measured = self._measure(stretch, number, expected, reach_s)
        stretch.usual_strength = float(np.median(measured.strength))
        heard = stretch.hears(measured)
        if heard.sum() < max(_LEAST_TICKS, 0.6 * heard.size):
            return
        uneven = unevenness_s(number[heard], measured.t_s[heard])
        if uneven > min(0.001 + _MOST_UNEVEN_SHARE * beat.double_beat_s / 2, _MOST_UNEVEN_S):
            return
        stretch.number, stretch.t_s, stretch.u_s, stretch.level_db = [], [], [], []
        stretch.add(number, measured, expected)
        self._go_back(stretch)
        self._searches = 0
        for old in reversed(self.stretches[-_REMEMBERED:]):
            if self._continues(old, stretch):
                self._now = old
                return
        self.stretches.append(stretch)
        self._now = stretch

    def _go_back(self, stretch: Stretch) -> None:
        """Measure the ticks before the ones found, page by page, as long as most are heard."""
        start_s = self._first_page * PAGE_FRAMES * self._frame_s
        page_s = PAGE_FRAMES * self._frame_s
        while stretch.t_s[0] > start_s:
            first = stretch.number[0]
            numbers = first - 1 - np.arange(int(2.0 * page_s / stretch.double_beat_s) + 1)
            slope, offsets = fit_sides(
                np.array(stretch.number[:_MODEL_TICKS]), np.array(stretch.t_s[:_MODEL_TICKS]), stretch.double_beat_s
            )
            expected = numbers / 2.0 * slope + offsets[numbers % 2]
            numbers, expected = numbers[expected > start_s - 0.005], expected[expected > start_s - 0.005]
            if not numbers.size:
                return
            numbers, expected = numbers[::-1], expected[::-1]
            measured = self._measure(stretch, numbers, expected, self._reach_s(stretch))
            heard = stretch.hears(measured)
            if heard.mean() < 0.5:
                # Keep what joins on without a break.
                joined = numbers > (numbers[~heard].max() if not heard.all() else numbers[0] - 1)
                stretch.add(numbers[joined], measured.only(joined), expected[joined], before=True)
                return
            stretch.add(numbers, measured, expected, before=True)

    def _continues(self, old: Stretch, new: Stretch) -> bool:
        """Join `new` to `old` where it keeps the old period and count."""
        if abs(new.double_beat_s / old.double_beat_s - 1.0) > _SAME_PERIOD:
            return False
        t_s = np.array(new.t_s)
        period = old.double_beat_s
        shift = round((t_s[0] - float(old.expected_s(np.array([0]))[0])) / period * 2.0)
        best = None
        for offset in (shift - 1, shift, shift + 1):
            number = np.array(new.number) + offset
            off = float(np.median(np.abs(t_s - old.expected_s(number))))
            if best is None or off < best[0]:
                best = (off, offset)
        assert best is not None
        if best[0] > _SAME_PHASE * period / 2:
            return False
        keep = t_s > old.t_s[-1] + 0.3 * period / 2
        for name in ("t_s", "u_s", "level_db"):
            getattr(old, name).extend(np.array(getattr(new, name))[keep].tolist())
        old.number.extend((np.array(new.number)[keep] + best[1]).tolist())
        old.next_number = new.next_number + best[1]
        old.template, old.usual_strength, old.double_beat_s = new.template, new.usual_strength, new.double_beat_s
        return True

    def _reach_s(self, stretch: Stretch) -> float:
        recent = slice(-_MODEL_TICKS, None)
        uneven = unevenness_s(np.array(stretch.number[recent]), np.array(stretch.t_s[recent]))
        return min(_LEAST_REACH_S + 3.0 * uneven, search_width_s(stretch.double_beat_s))

    def _measure(
        self, stretch: Stretch, number: NDArray[np.int64], expected_s: NDArray[np.float64], reach_s: float
    ) -> Measured:
        """Measure expected ticks, each against the noise of its own page; look further for those not heard."""
        page_s = PAGE_FRAMES * self._frame_s
        page = np.clip((expected_s / page_s).astype(np.int64) - self._first_page, 0, len(self._energies) - 1)
        parts = []
        for which in np.unique(page):
            mine = page == which
            near = slice(max(which - 1, 0), which + 2)
            samples = np.concatenate(self._samples[near])
            first_sample = (self._first_page + near.start) * PAGE_FRAMES * self._hop
            noise = np.median(self._energies[which], axis=0).astype(np.float64)
            given = samples, first_sample, expected_s[mine], number[mine] % 2, stretch.template, noise
            measured = self._refiner.measure(*given, reach_s)
            widest_s = search_width_s(stretch.double_beat_s)
            missed = ~stretch.hears(measured)
            if missed.any() and reach_s < widest_s:
                measured = measured.where(missed, self._refiner.measure(*given, widest_s))
            parts.append(measured)
        return Measured.joined(parts)

    def _advance(self, stretch: Stretch, last: bool) -> None:
        """Measure the ticks expected since the last page."""
        until = self._end_s - (0.002 if last else LEAD_S + TAIL_S)
        ahead = int(2.0 * (until - stretch.t_s[-1]) / stretch.double_beat_s) + 4
        numbers = np.arange(stretch.next_number, max(stretch.next_number, stretch.number[-1] + ahead))
        if not numbers.size:
            return
        expected = stretch.expected_s(numbers)
        numbers, expected = numbers[expected < until], expected[expected < until]
        if numbers.size:
            stretch.add(numbers, self._measure(stretch, numbers, expected, self._reach_s(stretch)), expected)


def _between(
    number: NDArray[np.int64], known: NDArray[np.int64], t_s: NDArray[np.float64], double_beat_s: float
) -> NDArray[np.float64]:
    """Times of all `number`, those of the known ones as they are and the others from their nearest known neighbours."""
    expected = np.empty(number.size)
    for side in (0, 1):
        mine, all_mine = known % 2 == side, number % 2 == side
        if mine.any():
            n, t = known[mine], t_s[mine]
            inner = np.interp(number[all_mine], n, t)
            early, late = np.minimum(number[all_mine] - n[0], 0), np.maximum(number[all_mine] - n[-1], 0)
            expected[all_mine] = inner + (early + late) / 2.0 * double_beat_s
        else:
            expected[all_mine] = np.interp(number[all_mine], known, t_s)
    return expected
