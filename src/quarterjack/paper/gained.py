"""Seconds gained or lost against time: the one set of named columns that pages, tables and paper draw."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quarterjack.listening import Heard, Ticks
from quarterjack.proving import Proof
from quarterjack.proving.going import RECORDER_PPM
from quarterjack.reckoning import DIAL_MINUTES
from quarterjack.records import to_s

S_PER_DAY = 86_400.0
MOST_POINTS = 200
LEAST_BLOCK = 6
FEWEST_BEATS = 10
COVERAGE = 2.0


@dataclass(frozen=True)
class Column:
    """A named column; `unit` as it is printed."""

    name: str
    unit: str
    values: NDArray[np.float64]


@dataclass(frozen=True)
class Gained:
    """The curve of one recording.

    Parameters
    ----------
    recording : int
        Number of the recording in the proof, from 0.
    title : str
        What is drawn.
    against : str
        What the clock is compared with, and what bounds the band, in words.
    on_dial : bool
        True where the first column is dial time (minutes after twelve), false for minutes from the start.
    columns : tuple of Column
        Time, seconds gained (positive) or lost, and the lower and upper edge of the band; a row of NaN parts
        stretches that were counted anew after a stop.
    """

    recording: int
    title: str
    against: str
    on_dial: bool
    columns: tuple[Column, ...]


def dial_text(minutes: float, *, seconds: bool = False) -> str:
    """Minutes after twelve as a dial shows them, for example 723.5 as "12:03" or "12:03:30"."""
    whole = round(minutes * 60) if seconds else int(np.floor(minutes + 1e-9)) * 60
    hour, rest = divmod(whole % (DIAL_MINUTES * 60), 3600)
    text = f"{hour or 12}:{rest // 60:02d}"
    return f"{text}:{rest % 60:02d}" if seconds else text


def dial_minute(text: str) -> int | None:
    """Minutes after twelve for a dial time such as "12:15"; None where the hour is not known ("?:15")."""
    hour, _, minute = text.partition(":")
    return (int(hour) % 12) * 60 + int(minute) if hour.isdecimal() and minute.isdecimal() else None


def dial_at_start(proof: Proof, recording: int) -> float | None:
    """What the dial showed at the start of a recording, minutes after twelve, or None if it is not known.

    The first sounding that was in its place tells it, since it began when the dial said so.
    """
    for sounding in proof.soundings:
        if sounding.recording == recording and sounding.verdict not in ("missing", "unexpected"):
            minute = dial_minute(sounding.dial or "")
            if minute is not None:
                return minute - to_s(sounding.t_ns) / 60.0
    return None


def _stretches(ticks: Ticks, heard: Heard) -> list[NDArray[np.intp]]:
    """Indices of ticks between stops: a clock that was started again is counted anew."""
    breaks = [stop.t_ns for stop in heard.stops]
    which = np.searchsorted(np.sort(np.array(breaks, np.int64)), ticks.t_ns, side="left")
    return [np.flatnonzero(which == number) for number in np.unique(which)]


def _beat_numbers(t_s: NDArray[np.float64], period_s: float) -> NDArray[np.float64]:
    """Number of each beat, counting those that were not heard by the time that they took."""
    return np.concatenate([[0.0], np.cumsum(np.rint(np.diff(t_s) / period_s))])


def _even(ticks: Ticks, heard: Heard) -> NDArray[np.float64]:
    """Times in seconds with the beat difference taken out, so that both sides lie on one line."""
    t_s = ticks.t_s
    going = heard.going
    if going and going.beat_difference_ms and going.long_side:
        late = ticks.side != ("a", "b").index(going.long_side)
        t_s = t_s - late * going.beat_difference_ms / 2000.0
    return t_s


def _points(
    t_s: NDArray[np.float64], gained_s: NDArray[np.float64], block: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Medians of `block` beats at a time: time, gained, and the standard uncertainty of the median.

    The median, because a tick that was timed through a ringing chime may lie far out. For normal scatter its
    uncertainty is 1.253 times that of a mean, and the deviation is 1.483 times the median of absolute deviations.
    """
    n = max(t_s.size // block, 1)
    whole = t_s.size - t_s.size % block if t_s.size >= block else t_s.size
    t, g = (values[:whole].reshape(n, -1) for values in (t_s, gained_s))
    middle = np.median(g, axis=1)
    spread = np.median(np.abs(g - middle[:, None]), axis=1)
    return t.mean(axis=1), middle, 1.253 * 1.483 * spread / np.sqrt(g.shape[1])


def gained(proof: Proof, heard: Sequence[Heard | None]) -> tuple[Gained, ...]:
    """Seconds gained or lost against time, a curve a recording.

    Parameters
    ----------
    proof : Proof
        Says what the clock is compared with and how far the recorder's clock can be believed.
    heard : sequence of Heard or None
        What was heard, in the order of `proof.recordings`; None where it is not to hand.

    Returns
    -------
    tuple of Gained
        Without those recordings that have fewer than 10 beats.
    """
    expected = proof.going.expected_beats_per_hour if proof.going else None
    curves = []
    for number, one in enumerate(heard):
        if one is None or one.going is None or len(one.ticks) < FEWEST_BEATS:
            continue
        period_s = 3600.0 / one.going.beats_per_hour
        should_s = 3600.0 / (expected or one.going.beats_per_hour)
        # An unchecked recorder may be anywhere within its limits; a checked one has the proof's own uncertainty.
        drift = RECORDER_PPM * 1e-6
        if proof.going and proof.going.time_reference != "none" and proof.going.rate_u_s_per_day is not None:
            drift = COVERAGE * proof.going.rate_u_s_per_day / S_PER_DAY
        block = max(LEAST_BLOCK, 2 * int(np.ceil(len(one.ticks) / MOST_POINTS / 2)))
        even = _even(one.ticks, one)
        parts: list[NDArray[np.float64]] = []
        for stretch in _stretches(one.ticks, one):
            if stretch.size < FEWEST_BEATS:
                continue
            t_s = even[stretch]
            raw = _beat_numbers(t_s, period_s) * should_s - (t_s - t_s[0])
            t, g, u = _points(t_s, raw, block)
            g = g - g[0]
            half = np.hypot(COVERAGE * u, drift * (t - t[0])) if expected else COVERAGE * u
            if parts:
                parts.append(np.full((4, 1), np.nan))
            parts.append(np.vstack([t / 60.0, g, g - half, g + half]))
        if not parts:
            continue
        table = np.concatenate(parts, axis=1)
        start = dial_at_start(proof, number)
        title = (
            "Seconds gained or lost"
            if len(proof.recordings) == 1
            else f"Seconds gained or lost, recording {number + 1}"
        )
        curves.append(
            Gained(
                recording=number,
                title=title,
                against=_against(expected, one.going.beats_per_hour, proof),
                on_dial=start is not None,
                columns=(
                    Column("dial time" if start is not None else "from the start", "min", table[0] + (start or 0.0)),
                    Column("gained", "s", table[1]),
                    Column("band from", "s", table[2]),
                    Column("band to", "s", table[3]),
                ),
            )
        )
    return tuple(curves)


def _against(expected: float | None, heard_bph: float, proof: Proof) -> str:
    if expected is None:
        return (
            f"Against this clock’s own mean of {heard_bph:.1f} beats an hour, since its train is not known yet: "
            "the curve shows how evenly it goes, not whether it gains or loses."
        )
    limit = proof.going.limited_by if proof.going else "recorder not checked"
    return (
        f"Against {expected:g} beats an hour. The band holds the true value at least 19 times in 20; "
        f"what limits it: {limit}."
    )
