"""Strokes: instants at which something was struck and rang, each with what it set ringing.

A stroke is weighed but not yet judged: whether it is a blow, and on which bar, is decided over the whole record (see
`sounding.py`), because a soft note under a loud ring is known by the bar it belongs to and by its neighbours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from quarterjack.listening.onsets import steps_near
from quarterjack.listening.partials import Lines, lines_after, struck_at
from quarterjack.listening.ringing import FRAME_S, Ringing, ringing
from quarterjack.records import to_ns

WORKING_RATE_HZ = 12000.0
LEAST_SCORE_DB = 4.0
_PAD_S = 0.6
APART_S = 0.2
_LEAD_S = 0.45
_SPILL_S = 0.05
_SOFT_EDGE = 0.12
_LIKELY_LAG_S = 0.02
_QUIET_START_S = 0.0015
_JUDGED_BY_JUMP_S = 0.05
_SURE_JUMP = 0.5
_PLAIN_STEP_DB = 6.0
_SCORE_PER_LINE_DB = 20.0


@dataclass(frozen=True, eq=False)
class Stroke:
    """One stroke.

    Parameters
    ----------
    t_ns, u_ns : int
        Onset from the first sample of the record and its standard uncertainty.
    step_db : float
        How far the sound stands above what the ring before foretold.
    jump : float
        Share of the lines that jump up just then, 0 to 1.
    weight : float
        How many partials' worth of evidence there is that something was struck and rang.
    lines : Lines
        What rings after it, and how much of each line is new.
    """

    t_ns: int
    u_ns: int
    step_db: float
    jump: float
    weight: float
    lines: Lines

    @property
    def level_db(self) -> float:
        """Level of the ring that the stroke added, dB relative to a full-scale sine."""
        return self.lines.added_db


@dataclass(frozen=True, eq=False)
class Noise:
    """Level between the lines of a stretch, for telling a turning train.

    Parameters
    ----------
    from_s, step_s : float
        Middle of the first frame, seconds of the record, and distance of the frames.
    level_db : float32[n]
        dB of an arbitrary but constant reference.
    """

    from_s: float
    step_s: float
    level_db: NDArray[np.float32]


def gather_strokes(samples: NDArray[np.float32], sample_rate_hz: int, first_sample: int) -> tuple[Stroke, ...]:
    """Find the strokes in one stretch of sound, in order.

    Parameters
    ----------
    samples : float32[n]
        One channel of the stretch, with a second before its first stroke (unless the record begins there) and the
        ring of its last.
    sample_rate_hz : int
        Samples a second, 8,000 or more.
    first_sample : int
        Number of the first of `samples` in the record.
    """
    return gather(samples, sample_rate_hz, first_sample)[0]


def gather(samples: NDArray[np.float32], sample_rate_hz: int, first_sample: int) -> tuple[tuple[Stroke, ...], Noise]:
    """As `gather_strokes`, with the noise between the lines (one look at the sound serves both)."""
    working, rate_hz = _working_rate(samples, sample_rate_hz)
    start_s = first_sample / sample_rate_hz
    if first_sample == 0:
        before = _before_the_record(working, rate_hz)
        working, start_s = np.concatenate([before, working]), -before.size / rate_hz
    scored = ringing(working, rate_hz)
    found: list[Stroke] = []
    for candidate in scored.candidates(LEAST_SCORE_DB):
        if first_sample and candidate < _LEAD_S:
            continue  # what rang before is not here to be compared with
        score = float(scored.score_db[round((candidate - scored.first_s) / scored.step_s)])
        stroke = _best_near(working, rate_hz, float(candidate) + _LIKELY_LAG_S, score, start_s)
        if stroke is not None:
            found.append(stroke)
    return _apart(found), _noise(scored, start_s)


def _before_the_record(working: NDArray[np.float32], rate_hz: float) -> NDArray[np.float32]:
    """Noise as loud as the record's first moment, to stand before it: what was there is not known."""
    opening = working[: max(1, round(_QUIET_START_S * rate_hz))]
    level = float(np.sqrt(np.mean(opening**2))) if opening.size else 0.0
    noise = np.random.default_rng(0).standard_normal(round(_PAD_S * rate_hz), np.float32)
    return noise * np.float32(level)


def _working_rate(samples: NDArray[np.float32], sample_rate_hz: int) -> tuple[NDArray[np.float32], float]:
    """The samples at about 12 kHz: a whole fraction of the sample rate, so that no instant moves.

    The band is cut in the spectrum of the whole stretch, by far the quickest way, with a soft edge that rings little.
    """
    divide = max(1, round(sample_rate_hz / WORKING_RATE_HZ))
    if divide == 1:
        return samples.astype(np.float32, copy=False), float(sample_rate_hz)
    wanted = -(-samples.size // divide)
    size = scipy.fft.next_fast_len(wanted + round(_SPILL_S * sample_rate_hz / divide), real=True)
    spectrum = scipy.fft.rfft(samples.astype(np.float32, copy=False), size * divide)[: size // 2 + 1]
    edge = np.linspace(0.0, np.pi, round(_SOFT_EDGE * spectrum.size))
    spectrum[spectrum.size - edge.size :] *= (0.5 + 0.5 * np.cos(edge)).astype(np.float32)
    working = scipy.fft.irfft(spectrum, size)[:wanted].astype(np.float32) / np.float32(divide)
    return working, sample_rate_hz / divide


def _best_near(
    samples: NDArray[np.float32], rate_hz: float, around_s: float, score_db: float, start_s: float
) -> Stroke | None:
    """The likeliest stroke near an instant: among the steps there, the one after which most was struck."""
    steps = [
        (at_s, step_db, lines_after(samples, rate_hz, at_s))
        for at_s, step_db in steps_near(samples, rate_hz, around_s)
        if start_s + at_s > _JUDGED_BY_JUMP_S or _begins_quietly(samples, rate_hz, at_s, start_s)
    ]
    if not steps:
        return None
    # Kinds of evidence that know little of one another: the attack, the lines that start with it, and how many.
    jumps = [struck_at(samples, rate_hz, lines, at_s) for at_s, _, lines in steps]
    worth = [
        step_db / (step_db + _PLAIN_STEP_DB) * jump * (lines.evidence + 0.1)
        for jump, (_, step_db, lines) in zip(jumps, steps, strict=True)
    ]
    best = int(np.argmax(worth))
    at_s, step_db, lines = steps[best]
    if start_s + at_s < _LEAD_S and jumps[best] < _SURE_JUMP:
        return None  # a record that was cut into a ring: its lines have no before, and look new
    weight = lines.evidence + min(lines.evidence, score_db / _SCORE_PER_LINE_DB)
    # Onset errors on annotated strokes are 2 ms where the step is plain and grow as it sinks into the noise.
    u_s = float(np.hypot(0.002, 0.015 / step_db))
    return Stroke(to_ns(start_s + at_s), to_ns(u_s), step_db, jumps[best], weight, lines)


def _begins_quietly(samples: NDArray[np.float32], rate_hz: float, at_s: float, start_s: float) -> bool:
    """Whether a record that begins just before a stroke holds some quiet first, so that it was not cut into a ring."""
    first, at = round(-start_s * rate_hz), round((at_s - _QUIET_START_S / 2) * rate_hz)
    if at - first < round(_QUIET_START_S / 2 * rate_hz):
        return False
    before, after = samples[first:at], samples[at : at + round(0.03 * rate_hz)]
    return bool(np.sqrt(np.mean(before**2)) < 0.1 * np.sqrt(np.mean(after**2)))


def _apart(found: list[Stroke]) -> tuple[Stroke, ...]:
    """Of strokes that stand closer than two can be told apart, keep the one with most evidence."""
    kept: list[Stroke] = []
    for stroke in sorted(found, key=lambda stroke: -stroke.weight):
        if all(abs(stroke.t_ns - other.t_ns) >= to_ns(APART_S) for other in kept):
            kept.append(stroke)
    return tuple(sorted(kept, key=lambda stroke: stroke.t_ns))


def _noise(scored: Ringing, start_s: float) -> Noise:
    """The noise between the lines from the record's first sample on: the silence put before it is none of it."""
    skip = 0 if start_s >= 0.0 else int(np.ceil((FRAME_S / 2 - start_s - scored.first_s) / scored.step_s))
    return Noise(start_s + scored.first_s + skip * scored.step_s, scored.step_s, scored.noise_db[skip:])
