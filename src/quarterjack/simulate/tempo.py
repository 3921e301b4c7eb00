"""When the blows of one sounding fall, counted from the first of them.

No standard lays down a chime's tempo. The figures below are common practice for domestic floor clocks (the trade
gives ranges: a note every 0.35 to 0.6 s, 1 to 2 s between phrases, 1 to 4 s from chime to strike, an hour blow every
1.2 to 2.5 s) and lie inside those ranges. Only the ting-tang rule stands in print: the gap between pairs is twice the
gap inside a pair (beckett1903, Quarters).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quarterjack.reckoning.reckoned import ExpectedSounding, ReckonedBar

NOTE_S = 0.55
PHRASE_GAP_S = 1.2
PAIR_S = 0.8
PAIR_GAP_S = 2 * PAIR_S
HOUR_BLOW_S = 1.75
CHIME_TO_STRIKE_S = 2.0
FREE_RUN_S = 1.4
"""From the release to the first blow, while the train runs up to speed."""
RUN_ON_S = 0.8
"""From the last blow until the train is locked again."""

Stroke = tuple[int, int, str]
"""Hammer, bar and note of one blow."""


def strokes(sounding: ExpectedSounding, bars: tuple[ReckonedBar, ...] = ()) -> tuple[tuple[Stroke, ...], ...]:
    """Give hammer, bar and note of every blow, phrase by phrase.

    An hour or half hour for which the reckoning gives a count but no hammers is struck on the hour bar.
    """
    phrases = tuple(
        tuple(zip(hammers, on, notes, strict=True))
        for hammers, on, notes in zip(sounding.hammers, sounding.bars, sounding.notes, strict=True)
        if hammers
    )
    if phrases or not sounding.blows:
        return phrases
    hour = next((bar for bar in bars if bar.hour), None)
    one: Stroke = (0, 1, "") if hour is None else (next(iter(hour.hammers), 0), hour.bar, hour.note or "")
    return ((one,) * sounding.blows,)


def blow_offsets_s(sounding: ExpectedSounding, n_in_phrases: tuple[int, ...]) -> NDArray[np.float64]:
    """Seconds from the first blow to each blow, at an even tempo.

    Parameters
    ----------
    sounding : ExpectedSounding
        Only its kind is looked at: a chime goes by notes and phrases, an hour or half hour by blows.
    n_in_phrases : tuple of int
        How many blows each phrase has.

    Returns
    -------
    float64[n]
        Rising, the first 0.
    """
    if sounding.kind != "quarter":
        return np.arange(sum(n_in_phrases), dtype=np.float64) * HOUR_BLOW_S
    pairs = bool(n_in_phrases) and max(n_in_phrases) <= 2
    note, gap = (PAIR_S, PAIR_GAP_S) if pairs else (NOTE_S, PHRASE_GAP_S)
    steps = [gap if i == 0 else note for n in n_in_phrases for i in range(n)]
    return np.cumsum(np.array(steps, np.float64)) - gap if steps else np.empty(0)
