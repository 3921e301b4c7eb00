"""Follow one clock through a record, page by page: find its beat, learn its ticks, bridge what drowns, find it again.

A page is a fixed number of frames counted from the first sample, so that nothing depends on how the sound was handed
over. While the beat is unknown, the last pages are searched; once it is known, each page costs a few windows, and the
search is repeated ever more rarely to see whether it still gives the same answer.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from quarterjack.listening.front import HOP_S, Front
from quarterjack.listening.hints import NO_HINTS, Hints
from quarterjack.listening.learn import learn
from quarterjack.listening.picks import CELL_FRAMES, rises, suddenness
from quarterjack.listening.refine import CORE_S, Expected, Look, Measured, unevenness_s
from quarterjack.listening.stretch import Stretch, fit_sides
from quarterjack.listening.track import Beat, find_beat, search_width_s
from quarterjack.listening.windows import Sound, Windows

PAGE_FRAMES = 8 * CELL_FRAMES
_KEPT_PAGES = 8
_SEARCHED_PAGES = 3
_LEAST_SEARCH_PAGES = 2
_LEAST_LAST_SEARCH_S = 1.5
# Windows hold a tick's core and how far it may stray: as far as the search reaches, or little.
WIDE_S, NEAR_S = 0.085, 0.055
_EAGER_SEARCHES, _LAZY_PAGES = 8, 4
_LOOKS_AFTER = (2, 8, 32)
# A clock that was followed for a minute is listened to less often, several pages at a time.
_EVERY_PAGE, _PAGES_AT_ONCE = 16, 4
_TICK_FRAMES = 6
_LEAST_TICKS = 4
_LEAST_HEARD = 0.6
_LEAST_REACH_S, _MOST_NEAR_S = 0.005, NEAR_S - CORE_S
_CLEARLY_STRONGER = 1.5
_MOST_UNEVEN_S, _MOST_UNEVEN_SHARE = 0.012, 0.04
_UNHEARD_S, _UNHEARD_BEATS = 8.0, 8
_REMEMBERED = 4
_NOISE_FRAMES, _NOISE_STEP, _SPARSE = (8, 100), 3, 8
_USUAL_NOISE_SHARE = 0.25
_SMOOTHED_TICKS = 5
_FIRST_RINGING_BAND = 1
_RINGING_STILL, _RINGING_NEW = 10.0**-1.6, 10.0**0.1
_END_S = 0.002


class Follower:
    """Feeds on pages of one channel and gathers stretches of ticks.

    Parameters
    ----------
    sample_rate_hz : int
        Samples a second.
    hints : Hints
        Only `beats_per_hour` is used, and tried first.

    Attributes
    ----------
    stretches : list of Stretch
        What was followed so far.
    """

    def __init__(self, sample_rate_hz: int, hints: Hints = NO_HINTS) -> None:
        front = Front(sample_rate_hz)
        self._hop, self._frame_s = front.hop, front.frame_s
        self._page_s = PAGE_FRAMES * front.frame_s
        self._windows = Windows(sample_rate_hz, WIDE_S, WIDE_S)
        self._near_windows = Windows(sample_rate_hz, NEAR_S, NEAR_S)
        self._near = hints.beats_per_hour
        self._samples: list[NDArray[np.float32]] = []
        self._energies: list[NDArray[np.float32]] = []
        self._usual: list[NDArray[np.float64]] = []
        self._first_page = 0
        self._end_s = 0.0
        self._searches = 0
        self._pages_followed = 0
        self._now: Stretch | None = None
        self.stretches: list[Stretch] = []

    def page(self, samples: NDArray[np.float32], energies: NDArray[np.float32], *, last: bool = False) -> None:
        """Take the next page: `PAGE_FRAMES` frames and their samples (the last may hold fewer or a few more)."""
        self._samples.append(samples)
        self._energies.append(energies)
        self._usual.append(np.median(energies[::_SPARSE], axis=0).astype(np.float64))
        if len(self._samples) > _KEPT_PAGES:
            del self._samples[0], self._energies[0], self._usual[0]
            self._first_page += 1
        frames = (self._first_page + len(self._energies) - 1) * PAGE_FRAMES + len(energies)
        self._end_s = frames * self._frame_s
        if self._now is None:
            self._search(last)
            return
        self._pages_followed += 1
        if self._pages_followed > _EVERY_PAGE and self._pages_followed % _PAGES_AT_ONCE and not last:
            return
        self._advance(self._now, last)
        if self._lost(self._now):
            self._search(last)
        elif self._is_time_to_look_again(last):
            self._look(last)

    def _lost(self, stretch: Stretch) -> bool:
        since_s = self._end_s - max(_UNHEARD_S, _UNHEARD_BEATS * stretch.double_beat_s / 2)
        return stretch.t_s[-1] < since_s or stretch.heard_share(since_s) < 0.5

    def _is_time_to_look_again(self, last: bool) -> bool:
        """Some seconds, half a minute, two minutes after; and at the end of a record that is still held as a whole."""
        return self._pages_followed in _LOOKS_AFTER or (last and self._first_page == 0)

    def _search(self, last: bool) -> None:
        """Look for a beat, eagerly at first and then more rarely."""
        self._searches += 1
        if last or self._searches <= _EAGER_SEARCHES or self._searches % _LAZY_PAGES == 0:
            self._look(last)

    def _look(self, last: bool) -> None:
        pages = min(len(self._energies), _SEARCHED_PAGES)
        energies = np.concatenate(self._energies[-pages:])
        if last and len(self._energies[-1]) < PAGE_FRAMES and len(self._energies) > pages:
            pages += 1
            energies = np.concatenate(self._energies[-pages:])
        if (pages < _LEAST_SEARCH_PAGES and not last) or len(energies) * self._frame_s < _LEAST_LAST_SEARCH_S:
            return
        curve = suddenness(rises(energies))
        beat = find_beat(curve, self._frame_s, near_beats_per_hour=self._near) if self._near else None
        beat = beat or find_beat(curve, self._frame_s)
        if beat is not None:
            from_s = (self._first_page + len(self._energies) - pages) * self._page_s
            self._take_up(beat, energies, from_s, last)

    def _take_up(self, beat: Beat, energies: NDArray[np.float32], from_s: float, last: bool) -> None:
        """Learn the ticks of a beat that was found, measure all of them, and go on with them if they hold."""
        frames = np.round(beat.t_s[beat.found] / self._frame_s).astype(np.int64)
        if _rings_on(energies, frames, round(beat.double_beat_s / 2 / self._frame_s)):
            return
        at = np.clip(frames[:, None] + np.arange(_TICK_FRAMES), 0, len(energies) - 1)
        usual = np.median(energies[::_SPARSE], axis=0).astype(np.float64)
        band_energy = np.maximum(np.median(energies[at].mean(axis=1), axis=0) - usual, 0.0).astype(np.float64)
        rough_s = beat.t_s[beat.found] + from_s
        number = beat.number - int(beat.number[0])
        known = number[beat.found]
        rough = Expected(rough_s, known, self._noise_at(rough_s))
        template, onsets_s = learn(self._windows, self._sound(0.0, self._end_s), rough, band_energy)
        stretch = Stretch(template, 0.0, 0.0, beat.double_beat_s, int(known.size))
        expected = _between(number, known, _smoothed(known, onsets_s, beat.double_beat_s), beat.double_beat_s)
        inside = (expected > from_s - 0.005) & (expected < self._end_s - (_END_S if last else WIDE_S))
        number, expected = number[inside], expected[inside]
        if number.size < _LEAST_TICKS:
            return
        reach_s = min(0.006 + 2.0 * unevenness_s(number, expected), search_width_s(beat.double_beat_s))
        measured = self._measure(stretch, number, expected, reach_s)
        stretch.usual_strength = float(np.median(measured.strength))
        stretch.usual_clearness = float(np.median(measured.clearness))
        # Now that it is known how clear a tick is, look further for those that are not.
        measured = self._measure(stretch, number, expected, reach_s)
        heard = stretch.hears(measured)
        if heard.sum() < max(_LEAST_TICKS, _LEAST_HEARD * heard.size):
            return
        uneven = unevenness_s(number[heard], measured.t_s[heard])
        if uneven > min(0.001 + _MOST_UNEVEN_SHARE * beat.double_beat_s / 2, _MOST_UNEVEN_S):
            return
        stretch.add(number, measured, expected)
        now = self._now
        if now is not None and self._lost(now) and stretch.t_s[-1] < now.t_s[-1] + 0.5 * now.double_beat_s:
            # Nothing new was heard since the clock fell silent: it is the old beat, seen with its end cut off.
            return
        self._go_back(stretch)
        self._searches = 0
        for old in reversed(self.stretches[-_REMEMBERED:]):
            if old.follow_on(stretch):
                self._go_on_with(old)
                return
        self.stretches.append(stretch)
        self._go_on_with(stretch)

    def _go_on_with(self, stretch: Stretch) -> None:
        if stretch is not self._now:
            self._now, self._pages_followed = stretch, 0

    def _go_back(self, stretch: Stretch) -> None:
        """Measure the ticks before the ones found, a page's length at a time, as long as most are heard."""
        start_s = self._first_page * self._page_s
        while True:
            numbers = stretch.number[0] - 1 - np.arange(int(2.0 * self._page_s / stretch.double_beat_s) + 1)[::-1]
            expected = stretch.expected_s(numbers, early=True)
            inside = expected > start_s - 0.005
            numbers, expected = numbers[inside], expected[inside]
            if not numbers.size:
                return
            measured = self._measure(stretch, numbers, expected, self._reach_s(stretch))
            heard = stretch.hears(measured)
            if heard.mean() < 0.5:
                # Keep what joins on without a break.
                joined = numbers > numbers[~heard].max()
                stretch.add(numbers[joined], measured.only(joined), expected[joined], before=True)
                return
            stretch.add(numbers, measured, expected, before=True)

    def _advance(self, stretch: Stretch, last: bool) -> None:
        """Measure the ticks expected since the last page."""
        until = self._end_s - (_END_S if last else 2.0 * WIDE_S)
        ahead = int(2.0 * (until - stretch.t_s[-1]) / stretch.double_beat_s) + 4
        numbers = np.arange(stretch.next_number, max(stretch.next_number, stretch.number[-1] + ahead))
        if not numbers.size:
            return
        expected = stretch.expected_s(numbers)
        numbers, expected = numbers[expected < until], expected[expected < until]
        if numbers.size:
            stretch.add(numbers, self._measure(stretch, numbers, expected, self._reach_s(stretch)), expected)

    def _reach_s(self, stretch: Stretch) -> float:
        return min(_LEAST_REACH_S + 3.0 * stretch.unevenness_s(), search_width_s(stretch.double_beat_s))

    def _measure(
        self, stretch: Stretch, number: NDArray[np.int64], expected_s: NDArray[np.float64], reach_s: float
    ) -> Measured:
        """Measure expected ticks, each against the noise of its own page; look further for those not heard."""
        expected = Expected(expected_s, number, self._noise_at(expected_s))
        sound = self._sound(float(expected_s.min()) - 3.0 * WIDE_S, float(expected_s.max()) + 3.0 * WIDE_S)
        windows = self._near_windows if reach_s <= _MOST_NEAR_S else self._windows
        measured = Look(windows, sound, expected, stretch.template).measured(reach_s)
        widest_s = search_width_s(stretch.double_beat_s)
        doubtful = np.flatnonzero(~stretch.hears_clearly(measured))
        if doubtful.size and reach_s < widest_s:
            here = measured.only(doubtful)
            wide = Look(self._windows, sound, expected.only(doubtful), stretch.template).measured(widest_s)
            better = (wide.strength > _CLEARLY_STRONGER * here.strength) | ~stretch.hears(here)
            better &= stretch.hears_clearly(wide)
            measured = measured.put(doubtful[better], wide.only(np.flatnonzero(better)))
        return measured

    def _sound(self, from_s: float, to_s: float) -> Sound:
        """The sound that is kept, from one moment to another."""
        oldest = self._first_page * PAGE_FRAMES * self._hop
        first, after = (round(t / self._frame_s) * self._hop - oldest for t in (from_s, to_s))
        pieces, at = [], 0
        for page in self._samples:
            piece = page[max(first - at, 0) : max(after - at, 0)]
            if piece.size:
                pieces.append(piece)
            at += page.size
        return Sound(np.concatenate(pieces), oldest + max(first, 0))

    def _page_of(self, t_s: NDArray[np.float64]) -> NDArray[np.int64]:
        page: NDArray[np.int64] = (t_s / self._page_s).astype(np.int64) - self._first_page
        return np.clip(page, 0, len(self._energies) - 1)

    def _noise_at(self, t_s: NDArray[np.float64]) -> NDArray[np.float64]:
        """Noise in each band just before each tick, but not far less than is usual on its page."""
        pages = self._page_of(t_s)
        first = max(int(pages.min()) - 1, 0)
        energies = np.concatenate(self._energies[first : int(pages.max()) + 1])
        frames = np.round(t_s / self._frame_s).astype(np.int64) - (self._first_page + first) * PAGE_FRAMES
        index = frames[:, None] - np.arange(*_NOISE_FRAMES, _NOISE_STEP)[::-1]
        here = np.median(energies[np.clip(index, 0, len(energies) - 1)], axis=1).astype(np.float64)
        usual = np.stack(self._usual)[pages]
        here = np.where(index[:, :1] < 0, usual, here)
        noise: NDArray[np.float64] = np.maximum(here, _USUAL_NOISE_SHARE * usual)
        return noise


def _rings_on(energies: NDArray[np.float32], frames: NDArray[np.int64], beat_frames: int) -> bool:
    """Whether what was found rings on as a struck bar does, hardly weaker after an eighth of a second."""
    total = energies[:, _FIRST_RINGING_BAND:].sum(axis=1)
    last = total.size - 1
    first = min(round(0.12 / HOP_S), 2 * beat_frames // 5)
    length = np.arange(max(first // 2, 1))
    after = np.median(total[np.clip(frames[:, None] + first + length, 0, last)], axis=1)
    before = np.median(total[np.clip(frames[:, None] - first // 8 - 1 - length, 0, last)], axis=1)
    peak = total[np.clip(frames[:, None] + np.arange(25), 0, last)].max(axis=1)
    inside = frames + first + first // 2 < total.size
    if not inside.any():
        return False
    still = np.median((after / np.maximum(peak, 1e-30))[inside])
    new = np.median((after / np.maximum(before, 1e-30))[inside])
    return bool(still > _RINGING_STILL and new > _RINGING_NEW)


def _smoothed(number: NDArray[np.int64], t_s: NDArray[np.float64], double_beat_s: float) -> NDArray[np.float64]:
    """Onsets drawn to what their neighbours of the same side say, so that no stray one misleads the next look."""
    slope, offsets = fit_sides(number, t_s, double_beat_s)
    line = number / 2.0 * slope + offsets[number % 2]
    off = t_s - line
    for side in (0, 1):
        mine = number % 2 == side
        if mine.sum() >= 3:
            off[mine] = median_filter(off[mine], size=_SMOOTHED_TICKS, mode="mirror")
    return line + off


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
