"""From the strokes of a record to its blows and soundings: the last step, over everything that was heard.

Strokes become blows (`weighing.py`), blows part into chimes and hours (`parting.py`), a tune is laid beside the chimes
(`tune_match.py`), and only then bars get their numbers and notes. Nothing that was heard is put right.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quarterjack.listening.bars import GRID_HZ
from quarterjack.listening.heard import Blow, Sounding
from quarterjack.listening.hints import NO_HINTS, BarHint, Hints
from quarterjack.listening.parting import by_silence, hour_starts, phrases
from quarterjack.listening.pitch import log_pitches
from quarterjack.listening.strokes import Stroke
from quarterjack.listening.tune_match import TuneMatch, match_tune, quarter_of
from quarterjack.listening.weighing import weigh
from quarterjack.records import NS_PER_S

_MOST_PARTIALS = 8
_CHIME_INTERVAL_S = 4.0
_HOUR_AFTER_S = 60.0


@dataclass(frozen=True)
class _Known:
    """What was told beforehand, and which given bar each label turned out to be."""

    hints: Hints
    told: dict[int, BarHint]

    def bells(self) -> dict[int, int] | None:
        """Bell of each label where the hints say both which bar it is and which bell that bar plays."""
        bell_of_bar = {bar: bell for bell, bar in enumerate(self.hints.bells_to_bars, 1)}
        known = {label: bell_of_bar[bar.bar] for label, bar in self.told.items() if bar.bar in bell_of_bar}
        return known if known and len(known) == len(self.hints.bells_to_bars) else None


@dataclass
class _Part:
    """Blows of one sounding: `first` to one before `end`."""

    first: int
    end: int
    is_hour: bool
    quarter: int | None = None


def name_blows(strokes: Sequence[Stroke], hints: Hints = NO_HINTS) -> tuple[tuple[Blow, ...], tuple[Sounding, ...]]:
    """Name the blows and soundings of a record.

    Parameters
    ----------
    strokes : sequence of Stroke
        All strokes of the record, in order (see `strokes.gather_strokes`).
    hints : Hints
        What is known of the clock.

    Returns
    -------
    blows : tuple of Blow
        In order of time. A bar has one number throughout: the given one; else its bell's in the tune, the hour's bar
        the next; else in descending pitch.
    soundings : tuple of Sounding
        A chime and the hour after it are two. A lone blow that follows no chime may be the half hour's or one
        o'clock, and is "unknown".
    """
    struck, labels, means, told = weigh(strokes, hints.bars)
    if not struck:
        return (), ()
    times_s = np.array([stroke.t_ns for stroke in struck]) / NS_PER_S
    pitches = dict(enumerate(log_pitches(means).tolist()))
    groups = by_silence(times_s)
    known = _Known(hints, told)
    parts, match = _part(groups, times_s, labels, pitches, known)
    numbers, notes = _numbers(parts, labels, pitches, match, known)
    kinds = _kinds(parts, times_s, labels, match)
    hammers = {bar.bar: bar.hammers[0] for bar in hints.bars if len(bar.hammers) == 1}
    partials = {label: _strongest(means[label]) for label in set(labels.tolist())}
    of_blow = {at: kind for part, kind in zip(parts, kinds, strict=True) for at in range(part.first, part.end)}
    kind_of_blow = {"quarter": "chime", "hour": "hour", "unknown": "unknown"}
    blows = tuple(
        Blow(
            t_ns=stroke.t_ns,
            u_ns=stroke.u_ns,
            bar=numbers[label],
            note=notes.get(label),
            hammer=hammers.get(numbers[label]),
            kind=kind_of_blow[of_blow[at]],
            partials_hz=partials[label],
            level_db=round(stroke.level_db, 2),
        )
        for at, (stroke, label) in enumerate(zip(struck, labels.tolist(), strict=True))
    )
    soundings = tuple(
        Sounding(
            from_ns=struck[part.first].t_ns,
            to_ns=struck[part.end - 1].t_ns,
            kind=kind,
            quarter=part.quarter,
            tune=match.tune.name if match and kind == "quarter" and not part.is_hour else None,
            first_blow=part.first,
            n_blows=part.end - part.first,
            phrases=_phrases(part, times_s, match),
        )
        for part, kind in zip(parts, kinds, strict=True)
    )
    return blows, soundings


def _part(
    groups: list[tuple[int, int]],
    times_s: NDArray[np.float64],
    labels: NDArray[np.intp],
    pitches: dict[int, float],
    known: _Known,
) -> tuple[list[_Part], TuneMatch | None]:
    """Part each group into chime and hour, together with the tune that explains most chimes."""
    bars = labels.tolist()
    starts = [hour_starts(times_s[first:end], bars[first:end]) for first, end in groups]
    match: TuneMatch | None = None
    chosen = [options[0] for options in starts]
    # The likeliest parting of every group first; then every other that a group allows, where the tune needs it.
    for choice in range(max(len(options) for options in starts)):
        trial = [options[min(choice, len(options) - 1)] for options in starts]
        chimes = [tuple(bars[first : first + part]) for (first, _), part in zip(groups, trial, strict=True)]
        found = match_tune([chime for chime in chimes if chime], pitches, known.hints.tunes, known.bells())
        if found is not None:
            match, chosen = found, trial
            break
    parts: list[_Part] = []
    for (first, end), part, options in zip(groups, chosen, starts, strict=True):
        at, quarter = _best_parting(bars[first:end], part, options, match)
        if at:
            parts.append(_Part(first, first + at, False, quarter))
        if first + at < end:
            parts.append(_Part(first + at, end, True))
    return parts, match


def _best_parting(bars: list[int], likely: int, options: list[int], match: TuneMatch | None) -> tuple[int, int | None]:
    """Where the hour begins in one group and which quarter comes before it, by the tune where there is one."""
    if match is None or options == [0]:
        return likely, None
    found: list[tuple[int, bool, int, int | None]] = []
    for at in options:
        if at:
            quarter, wrong = quarter_of(bars[:at], match)
            if quarter is not None:
                found.append((wrong, at != likely, at, quarter))
    if not found:
        return likely, None
    _, _, at, quarter = min(found, key=lambda one: one[:2])
    return at, quarter


def _numbers(
    parts: list[_Part],
    labels: NDArray[np.intp],
    pitches: dict[int, float],
    match: TuneMatch | None,
    known: _Known,
) -> tuple[dict[int, int], dict[int, str]]:
    """Number and note of each label."""
    hints, told = known.hints, known.told
    bars = labels.tolist()
    in_chime = {bar for part in parts if not part.is_hour for bar in bars[part.first : part.end]}
    in_hour = [bar for part in parts if part.is_hour for bar in bars[part.first : part.end] if bar not in in_chime]
    numbers = {label: bar.bar for label, bar in told.items()}
    notes = {label: bar.note for label, bar in told.items() if bar.note is not None}
    bells = dict(match.bells) if match else {}
    if not bells and hints.bells_to_bars and len(in_chime) == len(hints.bells_to_bars):
        by_pitch = sorted(in_chime, key=lambda label: -pitches[label])
        bells = {label: bell for bell, label in enumerate(by_pitch, 1)}
    own = bool(hints.bells_to_bars) and (match is None or len(hints.bells_to_bars) == match.tune.bells)
    for label, bell in bells.items():
        numbers.setdefault(label, hints.bells_to_bars[bell - 1] if own else bell)
        if match and label not in notes and label not in told:
            notes[label] = match.tune.notes[bell - 1]
    hours = [bar.bar for bar in hints.bars if bar.hour and bar.bar not in numbers.values()]
    if len(hours) == 1 and in_hour:
        numbers.setdefault(Counter(in_hour).most_common(1)[0][0], hours[0])
    spelled = {bar.bar: bar.note for bar in hints.bars if bar.note is not None}
    notes.update({label: spelled[number] for label, number in numbers.items() if number in spelled})
    taken = {bar.bar for bar in hints.bars} | set(numbers.values()) | set(range(1, 1 + len(hints.bells_to_bars)))
    if match:
        taken |= set(range(1, match.tune.bells + 1))
    rest = sorted(set(bars) - set(numbers), key=lambda label: (label not in in_chime, -pitches[label]))
    free = (number for number in range(1, len(taken) + len(rest) + 1) if number not in taken)
    numbers.update(dict(zip(rest, free, strict=False)))
    return numbers, notes


def _kinds(
    parts: list[_Part], times_s: NDArray[np.float64], labels: NDArray[np.intp], match: TuneMatch | None
) -> list[str]:
    """What each part is: "quarter", "hour" or "unknown"."""
    kinds: list[str] = []
    for at, part in enumerate(parts):
        before = parts[at - 1] if at else None
        if part.is_hour:
            after_chime = (
                before is not None
                and kinds[-1] == "quarter"
                and before.quarter in (None, len(match.tune.quarters) if match else None)
                and times_s[part.first] - times_s[before.end - 1] <= _HOUR_AFTER_S
            )
            kinds.append("hour" if part.end - part.first > 1 or after_chime else "unknown")
            continue
        count, different = part.end - part.first, len(set(labels[part.first : part.end].tolist()))
        interval = float(np.median(np.diff(times_s[part.first : part.end]))) if count > 1 else np.inf
        is_chime = part.quarter is not None or (different > 1 and count > 2 and interval < _CHIME_INTERVAL_S)
        kinds.append("quarter" if is_chime else "unknown")
    return kinds


def _phrases(part: _Part, times_s: NDArray[np.float64], match: TuneMatch | None) -> tuple[int, ...]:
    """Phrases by the rests that were heard; by the tune only where an evenly pinned quarter leaves none."""
    count = part.end - part.first
    if part.is_hour:
        return (count,)
    heard = phrases(times_s[part.first : part.end])
    if len(heard) == 1 and match and part.quarter is not None:
        printed = tuple(len(phrase) for phrase in match.tune.quarters[part.quarter - 1])
        return printed if sum(printed) == count else heard
    return heard


def _strongest(mean: NDArray[np.float32]) -> tuple[float, ...]:
    """Frequencies of a bar's most telling partials, rising, read off its mean portrait."""
    peak = np.flatnonzero((mean[1:-1] > mean[:-2]) & (mean[1:-1] >= mean[2:]) & (mean[1:-1] > 0.0)) + 1
    best = np.sort(peak[np.argsort(mean[peak])[::-1][:_MOST_PARTIALS]])
    bend = np.minimum(mean[best - 1] - 2.0 * mean[best] + mean[best + 1], -1e-12)
    shift = 0.5 * (mean[best - 1] - mean[best + 1]) / bend
    hz = np.interp(best + shift, np.arange(GRID_HZ.size), GRID_HZ)
    return tuple(round(float(one), 1) for one in hz)
