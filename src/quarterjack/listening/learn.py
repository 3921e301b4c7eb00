"""Learn what the ticks of a clock have in common: the mean of each side, and where in it the sound first rises.

Real ticks are several knocks close together: unlocking, drop, the slap of the crutch. Ticks are therefore laid
together in three ways (by their first rise, by their strongest knock, by the first of several separate knocks), and
the way in which they recur most evenly is kept for both sides.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quarterjack.listening.refine import (
    CORE_S,
    Expected,
    Look,
    Template,
    unevenness_s,
)
from quarterjack.listening.windows import AFTER, Sound, Windows

# The knock that begins a tick reaches this share of the strongest one, or this where ticks are laid by first rises.
_FIRST_SHARE, _FAINT_SHARE = 0.45, 0.25
_OPENING_SHARE = 0.5
_FIRST_LEAD_S = 0.060
_OPENING_LEAD_S, _OPENING_TAIL_S = 0.004, 0.003
_OPENING_NEAR_S = (0.004, 0.008)
# Share of its loudest that a tick's envelope must exceed from its first rise on, and the longest it may fall below.
_SHORT_LULL, _LONG_LULL = (0.2, 0.006), (0.08, 0.020)
_STRONGEST_HANDICAP, _LONG_LULL_HANDICAP = 1.6, 2.0
_EVEN_ENOUGH_S = 0.001
_ALIGN_S = 0.008
_TRIED_REACH_S = 0.008
_MOST_LEARNED = 48
_ROUNDS = 4
_LEAST_ONSET_U_S = 0.0002
_BASE = 0.1
_FOOT_SHARE = 0.25


def learn(
    windows: Windows, sound: Sound, rough: Expected, band_energy: NDArray[np.float64]
) -> tuple[Template, NDArray[np.float64]]:
    """Learn the template of each side from ticks that were found roughly.

    Parameters
    ----------
    windows : Windows
        How windows are cut at this sample rate.
    sound : Sound
        Sound that holds the ticks.
    rough : Expected
        Where the ticks were found.
    band_energy : float64[bands]
        Mean square in each band of the front that a tick adds.

    Returns
    -------
    template : Template
        What they have in common.
    onset_s : float64[n]
        Their onsets by it.
    """
    weights, _ = windows.weights(band_energy, np.median(rough.noise, axis=0))
    levels = windows.steps(sound, windows.samples_at(rough.t_s), weights).level
    best: tuple[float, Template, NDArray[np.float64]] | None = None
    for handicap, lull in ((1.0, _SHORT_LULL), (_STRONGEST_HANDICAP, None), (_LONG_LULL_HANDICAP, _LONG_LULL)):
        middle_s = rough.t_s + (_first_rises(windows, levels, *lull) if lull else 0.0)
        placed = Expected(middle_s, rough.number, rough.noise)
        template = _average(windows, sound, placed, (band_energy, weights), at_opening=lull is not None)
        onset = Expected(middle_s + template.onset_s[rough.side], rough.number, rough.noise)
        t_s = Look(windows, sound, onset, template).measured(_TRIED_REACH_S).t_s
        worth = handicap * (unevenness_s(rough.number, t_s) + _EVEN_ENOUGH_S) + _unlike_s(template, windows.step_s)
        if best is None or worth < best[0]:
            best = worth, template, t_s
    assert best is not None
    return best[1], best[2]


def _average(
    windows: Windows,
    sound: Sound,
    placed: Expected,
    band: tuple[NDArray[np.float64], NDArray[np.float32]],
    *,
    at_opening: bool,
) -> Template:
    """Average the ticks of each side; a side without any takes the other's."""
    band_energy, weights = band
    width = 2 * round(CORE_S / windows.step_s)
    core, opening = np.zeros((2, width)), np.zeros((2, width))
    onset, onset_u = np.zeros(2), np.full(2, 0.001)
    there = [side for side in (0, 1) if (placed.side == side).any()]
    for side in there:
        middles = windows.samples_at(placed.t_s[placed.side == side][:_MOST_LEARNED])
        steps = windows.steps(sound, middles, weights)
        shift = align(np.maximum(steps.up - 2.0 * steps.noise[:, None], 0.0), round(_ALIGN_S / windows.step_s))
        mean = shifted(steps.up, shift).mean(axis=0)
        core[side], opening[side], onset[side], onset_u[side] = _read_mean(windows, mean, at_opening=at_opening)
        onset_u[side] = np.hypot(onset_u[side], _LEAST_ONSET_U_S)
    if len(there) == 1:
        for column in (core, opening, onset, onset_u):
            column[1 - there[0]] = column[there[0]]
    return Template(band_energy, core, opening, onset, onset_u)


def _first_rises(windows: Windows, levels: NDArray[np.float32], share: float, lull_s: float) -> NDArray[np.float64]:
    """Where the sound of each tick first rises, going back from its loudest point while it does not die down.

    A separate faint knock before the tick (the unlocking, say) is left out: between the two the sound is down
    for longer than `lull_s`.
    """
    lull, reach = round(lull_s / windows.step_s), round(_FIRST_LEAD_S / windows.step_s)
    near = slice(windows.lead - round(0.010 / windows.step_s), windows.lead + round(0.030 / windows.step_s))
    begins = []
    for level in levels:
        loudest = near.start + int(np.argmax(level[near]))
        quiet, half_quiet = (float(v) for v in np.percentile(level, (15, 30)))
        high = float(level[loudest]) - quiet
        bar = quiet + min(max(share * high, 4.0 * (half_quiet - quiet)), 0.5 * high)
        above = np.flatnonzero(level[loudest - reach : loudest + 1] >= bar)
        breaks = np.flatnonzero(np.diff(above) > lull)
        begins.append(loudest - reach + int(above[breaks[-1] + 1] if breaks.size else above[0]))
    return (np.array(begins) - windows.lead) * windows.step_s


def _read_mean(
    windows: Windows, mean: NDArray[np.float64], *, at_opening: bool
) -> tuple[NDArray[np.float64], NDArray[np.float64], float, float]:
    """Cut the core and its opening out of a side's mean steps, and find the first rise and its doubt, seconds."""
    lead = tail = round(CORE_S / windows.step_s)
    near = slice(windows.lead - lead, windows.lead + tail)
    strongest = near.start + int(np.argmax(mean[near]))
    height = float(mean[strongest])
    if height <= 0:
        return np.zeros(lead + tail), np.zeros(lead + tail), 0.0, 0.005
    begin = _first_peak(mean, near.start + 1, strongest, _FIRST_SHARE * height)
    if at_opening:
        before, after = (round(s / windows.step_s) for s in _OPENING_NEAR_S)
        first, last = windows.lead - before, windows.lead + after
        here = float(mean[first:last].max())
        if here >= _FAINT_SHARE * height:
            begin = _first_peak(mean, first, first + int(np.argmax(mean[first:last])), _OPENING_SHARE * here)
    foot = begin
    while foot > 0 and mean[foot] > _FOOT_SHARE * mean[begin]:
        foot -= 1
    low, high = mean[foot], mean[foot + 1]
    part = (_FOOT_SHARE * mean[begin] - low) / (high - low) if high > low else 0.0
    # A sudden step passes a quarter of its height three points before the curve peaks on it.
    rise = foot + part + (1.0 - _FOOT_SHARE) * AFTER
    core = np.maximum(mean[near] / height - _BASE, 0.0)
    ahead_s = (np.arange(core.size) - (begin - near.start)) * windows.step_s
    opening = np.where((ahead_s >= -_OPENING_LEAD_S) & (ahead_s <= _OPENING_TAIL_S), core, 0.0)
    onset_s = (min(rise, float(begin)) - windows.lead) * windows.step_s
    return core, opening, onset_s, max(begin - rise, 0.0) * windows.step_s / 3


def _unlike_s(template: Template, step_s: float) -> float:
    """How far apart the two sides place the onset within ticks that are alike; 0 where they are not alike."""
    one, other = template.core
    norm = float(np.linalg.norm(one) * np.linalg.norm(other))
    if norm <= 0:
        return 0.0
    like = np.correlate(other, one, mode="full") / norm
    best = int(np.argmax(like))
    lag_s = (best - (one.size - 1)) * step_s
    apart_s = float(template.onset_s[1] - template.onset_s[0])
    return float(max(float(like[best]), 0.0) ** 2 * abs(lag_s - apart_s))


def _first_peak(curve: NDArray[np.float64], first: int, last: int, least: float) -> int:
    """Index of the first peak of at least `least` between two points; the last of them where there is none."""
    for i in range(max(first, 1), last):
        if curve[i] >= least and curve[i] >= curve[i - 1] and curve[i] >= curve[i + 1]:
            return i
    return last


def shifted(rows: NDArray[np.float64], shift: NDArray[np.int64]) -> NDArray[np.float64]:
    """Move each row left by its own whole number of points, edges repeated."""
    index = np.clip(np.arange(rows.shape[1]) + shift[:, None], 0, rows.shape[1] - 1)
    return np.take_along_axis(rows, index, axis=1)


def align(rows: NDArray[np.float64], reach: int) -> NDArray[np.int64]:
    """Whole shifts that lay the rows on top of one another, found by laying each against the mean of all, in rounds."""
    rows = rows / np.maximum(rows.max(axis=1, keepdims=True), 1e-12)
    shift = np.zeros(len(rows), np.int64)
    lags = np.arange(-reach, reach + 1)
    padded = np.pad(rows, ((0, 0), (reach, reach)), mode="edge")
    views = np.lib.stride_tricks.sliding_window_view(padded, rows.shape[1], axis=1)
    for _ in range(_ROUNDS):
        mean = shifted(rows, shift).mean(axis=0)
        fit = views @ mean
        new = lags[np.argmax(fit * (1.0 - 1e-3 * np.abs(lags) / max(reach, 1)), axis=1)]
        new = new - int(np.round(np.median(new)))
        if np.array_equal(new, shift):
            break
        shift = new
    return shift
