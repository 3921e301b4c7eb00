"""Time each tick to a fraction of a sample against what this clock's ticks have in common.

Around each expected tick the sound is whitened by the record's own noise, band by band, and weighted by how well the
clock is heard in each; the steps up in its compressed envelope are laid against the mean of those of the same side.
The mean also says where the sound first rises (the onset) and how sharply; real ticks are several knocks close
together, and which of them begins the tick is settled once a side, never tick by tick.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from quarterjack.listening.front import BAND_EDGES_HZ, BANDS

STEP_S = 0.00025
LEAD_S, TAIL_S = 0.080, 0.075
_LEAST_ENERGY = 1e-11
# The step-up curve compares 1 ms after with 1.5 ms before.
_AFTER, _BEFORE = 4, 6
_CORE_LEAD_S, _CORE_TAIL_S = 0.045, 0.045
# The knock that begins a tick reaches this share of the strongest one and comes no earlier than this before it.
_OPENING_LEAD_S, _OPENING_TAIL_S, _OPENING_REACH_S = 0.004, 0.003, 0.006
_OPENING_CLEAR = 6.0
_FIRST_SHARE, _FIRST_LEAD_S = 0.45, 0.060
# Share of its loudest that a tick's envelope must exceed from its first rise on, and the longest it may fall below.
_SHORT_LULL, _LONG_LULL = (0.2, 0.004), (0.08, 0.020)
_OPENING_NEAR_S = (0.004, 0.008)
_FAINT_SHARE = 0.25
_FEW_BENDS = 5
_EDGE_POINTS = 4
# A tick that stands out by one standard deviation is known to this, and better in proportion (measured in noise).
_DOUBT_S = 0.015
_ROUNDS = 4
_MOST_LEARNED = 48


@dataclass(frozen=True)
class Template:
    """What the ticks of one clock have in common.

    Parameters
    ----------
    band_energy : float64[bands]
        Mean square of a tick above the noise in each band of the front.
    core : float64[2, k]
        Steps up in the envelope of each side, around the middle of the window; the strongest is 1.
    onset_s, onset_u_s : float64[2]
        From the middle of a window that is aligned with `core` to the first rise, and its standard uncertainty.
    opening : float64[2, k]
        The same, but only of the knock that begins the tick.
    """

    band_energy: NDArray[np.float64]
    core: NDArray[np.float64]
    opening: NDArray[np.float64]
    onset_s: NDArray[np.float64]
    onset_u_s: NDArray[np.float64]


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
        Peak level above 500 Hz, dB relative to full scale.
    """

    t_s: NDArray[np.float64]
    u_s: NDArray[np.float64]
    strength: NDArray[np.float64]
    clearness: NDArray[np.float64]
    level_db: NDArray[np.float64]

    def only(self, which: NDArray[np.bool_]) -> Measured:
        """Only these ticks."""
        return Measured(*(getattr(self, f.name)[which] for f in fields(self)))

    def where(self, which: NDArray[np.bool_], other: Measured) -> Measured:
        """These ticks taken from `other`."""
        return Measured(*(np.where(which, getattr(other, f.name), getattr(self, f.name)) for f in fields(self)))

    @staticmethod
    def joined(parts: list[Measured]) -> Measured:
        """Several lots of ticks one after the other."""
        return Measured(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Measured)))


class Refiner:
    """Cuts windows out of the sound and measures ticks in them.

    Parameters
    ----------
    sample_rate_hz : int
        Samples a second.
    """

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate = sample_rate_hz
        self._step = max(1, round(sample_rate_hz * STEP_S))
        self._step_s = self._step / sample_rate_hz
        self._lead = round(LEAD_S / self._step_s)
        self._points = self._lead + round(TAIL_S / self._step_s)
        self._fft_size = scipy.fft.next_fast_len(self._points * self._step, real=True)
        frequency = scipy.fft.rfftfreq(self._fft_size, 1.0 / sample_rate_hz)
        self._band_of = np.clip(np.searchsorted(BAND_EDGES_HZ, frequency, side="right") - 1, 0, BANDS - 1)
        self._width_hz = np.maximum(np.bincount(self._band_of, minlength=BANDS), 1) * frequency[1]
        self._above_500 = (frequency >= 500.0).astype(np.float32)

    def windows(
        self, samples: NDArray[np.float32], first_sample: int, middles: NDArray[np.int64]
    ) -> tuple[NDArray[np.float32], NDArray[np.int64]]:
        """Cut out the sound around each of `middles` (absolute sample numbers).

        Returns
        -------
        windows : float32[n, k]
            The sound.
        real : int64[n, 2]
            From and to which sample of each window there really is sound.
        """
        size = self._points * self._step
        index = (middles - self._lead * self._step - first_sample)[:, None] + np.arange(size)
        last = samples.size - 1
        # Beyond the ends the sound is turned about its last sample, so that no click stands at the edge.
        folded = np.clip(np.where(index < 0, -index, np.where(index > last, 2 * last - index, index)), 0, last)
        cut = samples[folded]
        cut[index < 0] *= -1.0
        cut[index < 0] += 2.0 * samples[0]
        cut[index > last] *= -1.0
        cut[index > last] += 2.0 * samples[last]
        return cut, np.stack([index[:, 0] * -1, samples.size - index[:, 0]], axis=1)

    def _weights(
        self, band_energy: NDArray[np.float64], noise: NDArray[np.float64]
    ) -> tuple[NDArray[np.float32], NDArray[np.float64]]:
        """Weight of each bin, such that the noise weighs 1 in all; and the cube root of what the ticks then weigh.

        `noise` holds the mean square in each band, for all ticks or (as rows) for each.
        """
        noise = np.maximum(noise, _LEAST_ENERGY)
        ratio = band_energy / noise
        weight = np.sqrt(self._width_hz / noise) * ratio / (1.0 + ratio)
        total = np.sqrt((weight**2 * noise).sum(axis=-1, keepdims=True))
        weight = weight / np.maximum(total, 1e-30)
        usual = np.cbrt((weight**2 * band_energy).sum(axis=-1) + 1e-30)
        return weight[..., self._band_of].astype(np.float32), usual

    def _steps_up(
        self, cut: tuple[NDArray[np.float32], NDArray[np.int64]], weights: NDArray[np.float32]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Steps up in the compressed envelope, their noise a window, the envelope, and the peak above 500 Hz in dB."""
        windows, real = cut
        spectrum = scipy.fft.rfft(windows, self._fft_size, axis=1)
        size = self._points * self._step
        shaped = scipy.fft.irfft(spectrum * weights, self._fft_size, axis=1)[:, :size]
        power = np.square(shaped, dtype=np.float64).reshape(len(windows), self._points, self._step).mean(axis=2)
        padded = np.pad(power, ((0, 0), (1, 1)), mode="edge")
        level = np.cbrt((padded[:, :-2] + 2.0 * padded[:, 1:-1] + padded[:, 2:]) / 4.0)
        # The filter reaches round the ends of the window.
        first = np.clip(-(-real[:, 0] // self._step), _EDGE_POINTS, self._points - 1)
        after = np.clip(real[:, 1] // self._step, 1, self._points - _EDGE_POINTS)
        level[:, :_EDGE_POINTS] = level[:, _EDGE_POINTS : _EDGE_POINTS + 1]
        level[:, -_EDGE_POINTS:] = level[:, -_EDGE_POINTS - 1 : -_EDGE_POINTS]
        for row in np.flatnonzero((first > _EDGE_POINTS) | (after < self._points - _EDGE_POINTS)):
            level[row, : first[row]] = level[row, first[row] : first[row] + _BEFORE].mean()
            level[row, after[row] :] = level[row, after[row] - 1]
        summed = np.cumsum(np.pad(level, ((0, 0), (_BEFORE + 1, _AFTER)), mode="edge"), axis=1)
        at = np.arange(self._points) + _BEFORE
        change = (summed[:, at + _AFTER] - summed[:, at]) / _AFTER - (summed[:, at] - summed[:, at - _BEFORE]) / _BEFORE
        noise = 1.5 * np.median(np.abs(change), axis=1) + 1e-9
        heard = scipy.fft.irfft(spectrum * self._above_500, self._fft_size, axis=1)
        peak = np.abs(heard[:, self._lead * self._step // 2 : size]).max(axis=1)
        return np.maximum(change, 0.0), noise, level, 20.0 * np.log10(np.maximum(peak, 1e-9))

    def learn(
        self,
        samples: NDArray[np.float32],
        first_sample: int,
        t_s: NDArray[np.float64],
        number: NDArray[np.int64],
        band_energy: NDArray[np.float64],
        noise: NDArray[np.float64],
    ) -> tuple[Template, NDArray[np.float64]]:
        """Learn the template of each side from ticks that were found roughly; also return their onsets.

        Parameters
        ----------
        samples : float32[n]
            Sound that holds them all; `first_sample` is the absolute number of its first.
        t_s, number : float64[k], int64[k]
            Where the ticks were found (seconds from the record's first sample), and their beat numbers.
        band_energy : float64[bands]
            Mean square in each band of the front that a tick adds.
        noise : float64[bands] or float64[k, bands]
            Mean square in each band without it.
        """
        weights, _ = self._weights(band_energy, np.median(np.atleast_2d(noise), axis=0))
        side = number % 2
        # Ticks are laid together by their first rise, by their strongest knock, or by the first of several separate
        # knocks: whichever recurs most evenly, and the first of these unless another is clearly better.
        tried: list[tuple[float, Template, NDArray[np.float64]]] = []
        for handicap, middle_s in (
            (1.0, self._first_rises(samples, first_sample, t_s, weights, *_SHORT_LULL)),
            (1.6, t_s),
            (2.0, self._first_rises(samples, first_sample, t_s, weights, *_LONG_LULL)),
        ):
            at_opening = middle_s is not t_s
            template = self._average(samples, first_sample, middle_s, side, band_energy, weights, at_opening)
            onset_s = middle_s + template.onset_s[side]
            measured = self.measure(samples, first_sample, onset_s, side, template, noise, 0.008)
            tried.append((handicap * (unevenness_s(number, measured.t_s) + 0.001), template, measured.t_s))
        _, chosen, onsets_s = min(tried, key=lambda one: one[0])
        return chosen, onsets_s

    def _average(
        self,
        samples: NDArray[np.float32],
        first_sample: int,
        middle_s: NDArray[np.float64],
        side: NDArray[np.int64],
        band_energy: NDArray[np.float64],
        weights: NDArray[np.float32],
        at_opening: bool,
    ) -> Template:
        """Average the ticks of each side around `middle_s`."""
        core = np.zeros((2, round(_CORE_LEAD_S / self._step_s) + round(_CORE_TAIL_S / self._step_s)))
        opening = np.zeros_like(core)
        onset, onset_u = np.zeros(2), np.full(2, 0.001)
        for which in (0, 1):
            mine = middle_s[side == which][:_MOST_LEARNED]
            if not mine.size:
                continue
            middles = np.round(mine * self._rate).astype(np.int64)
            steps, units, _, _ = self._steps_up(self.windows(samples, first_sample, middles), weights)
            aligned = _align(np.maximum(steps - 2.0 * units[:, None], 0.0), round(0.008 / self._step_s))
            mean = _shifted(steps, aligned).mean(axis=0)
            core[which], opening[which], onset[which], onset_u[which] = self._read_mean(mean, at_opening)
            onset_u[which] = float(np.hypot(onset_u[which], 0.0002))
        if not (side == 0).any() or not (side == 1).any():
            there = 0 if (side == 0).any() else 1
            for column in (core, opening, onset, onset_u):
                column[1 - there] = column[there]
        return Template(band_energy, core, opening, onset, onset_u)

    def _first_rises(
        self,
        samples: NDArray[np.float32],
        first_sample: int,
        t_s: NDArray[np.float64],
        weights: NDArray[np.float32],
        share: float,
        lull_s: float,
    ) -> NDArray[np.float64]:
        """Where the sound of each tick first rises, going back from its loudest point while it does not die down.

        A separate faint knock before the tick (the unlocking, say) is left out: between the two the sound is down
        for longer than `lull_s`.
        """
        middles = np.round(t_s * self._rate).astype(np.int64)
        _, _, levels, _ = self._steps_up(self.windows(samples, first_sample, middles), weights)
        lull = round(lull_s / self._step_s)
        reach = round(_FIRST_LEAD_S / self._step_s)
        begins = []
        for level in levels:
            near = slice(self._lead - round(0.010 / self._step_s), self._lead + round(0.030 / self._step_s))
            loudest = near.start + int(np.argmax(level[near]))
            quiet = float(np.percentile(level, 15))
            spread = float(np.percentile(level, 30)) - quiet
            high = float(level[loudest]) - quiet
            bar = quiet + min(max(share * high, 4.0 * spread), 0.5 * high)
            above = np.flatnonzero(level[loudest - reach : loudest + 1] >= bar)
            breaks = np.flatnonzero(np.diff(above) > lull)
            begin = above[breaks[-1] + 1] if breaks.size else above[0]
            begins.append(begin + loudest - reach)
        return t_s + (np.array(begins) - self._lead) * self._step_s

    def _read_mean(
        self, mean: NDArray[np.float64], at_opening: bool
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], float, float]:
        """Cut the core out of a side's mean steps, and find the first rise in it."""
        lead, tail = round(_CORE_LEAD_S / self._step_s), round(_CORE_TAIL_S / self._step_s)
        near = slice(self._lead - lead, self._lead + tail)
        strongest = near.start + int(np.argmax(mean[near]))
        height = float(mean[strongest])
        if height <= 0:
            return np.zeros(lead + tail), np.zeros(lead + tail), 0.0, 0.005
        begin = strongest
        for i in range(strongest - 1, self._lead - lead, -1):
            if mean[i] >= _FIRST_SHARE * height and mean[i] >= mean[i - 1] and mean[i] >= mean[i + 1]:
                begin = i
        if at_opening:
            here = slice(
                *(self._lead + round(way * s / self._step_s) for way, s in zip((-1, 1), _OPENING_NEAR_S, strict=True))
            )
            first = here.start + int(np.argmax(mean[here]))
            if mean[first] >= _FAINT_SHARE * height:
                begin = first
        foot = begin
        while foot > 0 and mean[foot] > 0.25 * mean[begin]:
            foot -= 1
        low, high = mean[foot], mean[foot + 1]
        share = (0.25 * mean[begin] - low) / (high - low) if high > low else 0.0
        # A sudden step passes a quarter of its height three steps before the curve peaks on it.
        rise = foot + share + 0.75 * _AFTER
        core = np.maximum(mean[near] / height - 0.1, 0.0)
        ahead = np.arange(core.size) - (begin - near.start)
        inside = (ahead >= -_OPENING_LEAD_S / self._step_s) & (ahead <= _OPENING_TAIL_S / self._step_s)
        opening = np.where(inside, core, 0.0)
        onset_s = (min(rise, float(begin)) - self._lead) * self._step_s
        return core, opening, onset_s, max(begin - rise, 0.0) * self._step_s / 3

    def measure(
        self,
        samples: NDArray[np.float32],
        first_sample: int,
        expected_s: NDArray[np.float64],
        side: NDArray[np.int64],
        template: Template,
        noise: NDArray[np.float64],
        reach_s: float,
    ) -> Measured:
        """Measure the ticks that are expected (as onsets) at `expected_s`, looking `reach_s` either way.

        `noise` is the mean square in each band of the front, for all ticks (float64[bands]) or for each
        (float64[n, bands]).
        """
        middle_s = expected_s - template.onset_s[side]
        middles = np.round(middle_s * self._rate).astype(np.int64)
        weights, usual = self._weights(template.band_energy, noise)
        steps, units, _, level = self._steps_up(self.windows(samples, first_sample, middles), weights)
        shift, height, square = self._lay(steps, template.core[side], np.zeros(len(steps), np.int64), reach_s)
        clearness = height * np.sqrt(square) / units
        # The knocks of one tick wander against one another: settle on the knock that begins it where it is clear.
        rough = np.round(shift).astype(np.int64)
        first, first_height, first_square = self._lay(steps, template.opening[side], rough, _OPENING_REACH_S)
        clear = first_height * np.sqrt(first_square) / units
        use = (clear > _OPENING_CLEAR) & (first_height > 0.4 * height)
        shift = np.where(use, first, shift)
        t_s = middles / self._rate + shift * self._step_s + template.onset_s[side]
        doubt = _DOUBT_S / np.maximum(np.where(use, clear, clearness), 1.0)
        u_s = np.hypot(template.onset_u_s[side], doubt)
        return Measured(t_s, u_s, height / usual, clearness, level)

    def _lay(
        self, steps: NDArray[np.float64], cores: NDArray[np.float64], around: NDArray[np.int64], reach_s: float
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Lay each core against its row at shifts near `around`: best shift in steps, height there, core's square."""
        lead, width = round(_CORE_LEAD_S / self._step_s), cores.shape[1]
        reach = max(1, round(reach_s / self._step_s))
        views = np.lib.stride_tricks.sliding_window_view(steps, width, axis=1)
        lag = np.arange(-reach, reach + 1)
        place = np.clip(self._lead - lead + around[:, None] + lag, 0, views.shape[1] - 1)
        rows = np.arange(len(steps))
        square = np.maximum((cores**2).sum(axis=1), 1e-12)
        match = np.einsum("nlw,nw->nl", views[rows[:, None], place], cores) / square[:, None]
        weighed = match * (1.0 - 0.3 * (lag / reach) ** 2)
        best = np.argmax(weighed, axis=1)
        inner = np.clip(best, 1, match.shape[1] - 2)
        left, top, right = match[rows, inner - 1], match[rows, inner], match[rows, inner + 1]
        bend = left - 2.0 * top + right
        part = np.where(bend < 0, 0.5 * (left - right) / np.where(bend < 0, bend, -1.0), 0.0)
        shift = place[rows, best] - (self._lead - lead) + np.where(best == inner, np.clip(part, -0.5, 0.5), 0.0)
        return shift, match[rows, best], square


def _shifted(rows: NDArray[np.float64], shift: NDArray[np.int64]) -> NDArray[np.float64]:
    """Each row moved left by its own whole number of points, edges repeated."""
    index = np.clip(np.arange(rows.shape[1]) + shift[:, None], 0, rows.shape[1] - 1)
    return np.take_along_axis(rows, index, axis=1)


def _align(rows: NDArray[np.float64], reach: int) -> NDArray[np.int64]:
    """Whole shifts that lay the rows on top of one another, found by laying each against the mean of all, in rounds."""
    scale = np.maximum(rows.max(axis=1, keepdims=True), 1e-12)
    rows = rows / scale
    shift = np.zeros(len(rows), np.int64)
    lags = np.arange(-reach, reach + 1)
    for _ in range(_ROUNDS):
        mean = _shifted(rows, shift).mean(axis=0)
        stack = np.stack([_shifted(rows, np.full(len(rows), lag)) @ mean for lag in lags], axis=1)
        new = lags[np.argmax(stack * (1.0 - 1e-3 * np.abs(lags) / max(reach, 1)), axis=1)]
        new = new - int(np.round(np.median(new)))
        if np.array_equal(new, shift):
            break
        shift = new
    return shift


def unevenness_s(number: NDArray[np.int64], t_s: NDArray[np.float64]) -> float:
    """Typical deviation of a tick from halfway between its neighbours of the same side, as the mean of both sides."""
    at = {int(n): float(t) for n, t in zip(number, t_s, strict=True)}
    sides = []
    for side in (0, 1):
        bends = [t - 0.5 * (at[n - 2] + at[n + 2]) for n, t in at.items() if n % 2 == side and n - 2 in at and n + 2 in at]
        if len(bends) >= _FEW_BENDS:
            sides.append(1.4826 * float(np.median(np.abs(bends))))
        elif bends:
            sides.append(float(np.sqrt(np.mean(np.square(bends)))))
    return float(np.mean(sides)) if sides else 0.0
