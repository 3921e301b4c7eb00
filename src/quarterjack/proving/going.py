"""How the clock went over all recordings, beside what its train gives."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import compress
from math import hypot, inf, sqrt
from typing import Any

import numpy as np

from quarterjack.listening.heard import Going, Heard
from quarterjack.proving.codes import finding
from quarterjack.proving.proved import Finding, ProvedGoing
from quarterjack.reckoning.reckoned import Reckoning
from quarterjack.records import NS_PER_S

SECONDS_A_DAY = 86_400
RECORDER_PPM = 50.0
RECORDER_LIMIT_S_PER_DAY = RECORDER_PPM * 1e-6 * SECONDS_A_DAY
RECORDER_U_S_PER_DAY = RECORDER_LIMIT_S_PER_DAY / sqrt(3)
"""An unchecked recorder's clock: rectangular, half width 50 parts in a million."""

BEAT_GOOD, BEAT_CORRECT = 0.02, 0.05
"""Beat difference as a share of the beat: good below the first, to be corrected above the second (common practice)."""
UNLIKE_TRAIN = 0.03
RATE_WORTH_S_PER_DAY = 3 * 60 / 7
"""Three minutes a week, which is accepted for a domestic spring clock."""


def prove_going(reckoning: Reckoning, heard: Sequence[Heard]) -> tuple[ProvedGoing | None, list[Finding]]:
    """Join the going of all recordings and say what it shows.

    The rate comes from the weighted mean of beats an hour; where recordings scatter more than their own uncertainty
    allows, the uncertainty is widened to cover them (Birge's ratio). The recorder's own error is common to all and is
    added once. The beat difference is that of the recording in which it is largest, since differences from before and
    after a correction have no meaningful mean.
    """
    goings = [(number, record.going) for number, record in enumerate(heard) if record.going is not None]
    if not goings:
        return None, []
    expected = reckoning.beats_per_hour
    middle = expected or float(np.median([going.beats_per_hour for _, going in goings]))
    alike = [abs(going.beats_per_hour / middle - 1) <= UNLIKE_TRAIN for _, going in goings]
    findings = _unlike(reckoning, heard, [pair for pair, same in zip(goings, alike, strict=True) if not same])
    used = list(compress(goings, alike)) or goings
    beats_per_hour, u = _mean([going for _, going in used])
    u_beats_s_per_day = u / beats_per_hour * SECONDS_A_DAY
    limited_by = "recorder not checked" if 2 * u_beats_s_per_day < RECORDER_LIMIT_S_PER_DAY else "length of recording"
    rate = rate_u = None
    if expected and any(alike):
        rate = SECONDS_A_DAY * (beats_per_hour / expected - 1)
        rate_u = hypot(u_beats_s_per_day, RECORDER_U_S_PER_DAY)
        limit = hypot(2 * u_beats_s_per_day, RECORDER_LIMIT_S_PER_DAY)
        if abs(rate) > max(RATE_WORTH_S_PER_DAY, limit):
            findings.append(_rate(rate, limit, limited_by))
    worst = max((pair for pair in used), key=lambda pair: pair[1].beat_difference_ms or 0.0)[1]
    findings.extend(_beat(heard, used))
    proved = ProvedGoing(
        beats=sum(going.beats for _, going in used),
        beats_per_hour=beats_per_hour,
        expected_beats_per_hour=expected,
        rate_s_per_day=rate,
        rate_u_s_per_day=rate_u,
        limited_by=limited_by,
        time_reference="none",
        beat_difference_ms=worst.beat_difference_ms,
        beat_difference_u_ms=worst.beat_difference_u_ms,
        long_side=worst.long_side,
        heard_fraction=_heard_fraction([heard[number] for number, _ in used], beats_per_hour),
    )
    return proved, findings


def rate_text(going: ProvedGoing) -> str | None:
    """The rate in words with its limits, for example "gains 7 s a day (± 4 s/day, recorder not checked)"."""
    if going.rate_s_per_day is None or going.rate_u_s_per_day is None:
        return None
    beats = sqrt(max(going.rate_u_s_per_day**2 - RECORDER_U_S_PER_DAY**2, 0.0))
    return _rate_words(going.rate_s_per_day, hypot(2 * beats, RECORDER_LIMIT_S_PER_DAY), going.limited_by)


def _rate_words(rate: float, limit: float, limited_by: str) -> str:
    word = "gains" if rate >= 0 else "loses"
    return f"{word} {abs(rate):.0f} s a day (± {limit:.0f} s/day, {limited_by})"


def _rate(rate: float, limit: float, limited_by: str) -> Finding:
    return finding("rate", f"It {_rate_words(rate, limit, limited_by)}.", rate_s_per_day=rate, limit_s_per_day=limit)


def _mean(goings: Sequence[Going]) -> tuple[float, float]:
    """Weighted mean of beats an hour and its standard uncertainty."""
    values = np.array([going.beats_per_hour for going in goings])
    u = np.maximum([going.beats_per_hour_u for going in goings], 1e-9)
    weights = 1 / u**2
    mean = float(np.average(values, weights=weights))
    inside = float(1 / np.sqrt(weights.sum()))
    if values.size < 2:
        return mean, inside
    birge = sqrt(float(weights @ (values - mean) ** 2) / (values.size - 1))
    return mean, inside * max(1.0, birge)


def _heard_fraction(heard: Sequence[Heard], beats_per_hour: float) -> float:
    """Ticks heard of those that the clock made until it stopped or the recording ended."""
    ticks = due = 0.0
    for record in heard:
        end = min([stop.t_ns / NS_PER_S for stop in record.stops] + [record.recording.seconds])
        ticks += len(record.ticks)
        due += end * beats_per_hour / 3600
    return min(1.0, ticks / due) if due else 0.0


def _unlike(reckoning: Reckoning, heard: Sequence[Heard], unlike: Sequence[tuple[int, Going]]) -> list[Finding]:
    found: list[Finding] = []
    for number, going in unlike:
        beside = (
            f"the train gives {reckoning.beats_per_hour:.0f}" if reckoning.beats_per_hour else "the others go otherwise"
        )
        found.append(
            finding(
                "unlike-train",
                f"{heard[number].recording.file} ticks {going.beats_per_hour:.0f} times an hour; {beside}. Either "
                "another clock was heard or a count in the sheet is not right.",
                recording=number,
                beats_per_hour=going.beats_per_hour,
                expected_beats_per_hour=reckoning.beats_per_hour,
            )
        )
    return found


@dataclass(frozen=True)
class _Beat:
    """The beat difference of one recording."""

    recording: int
    file: str
    beat_difference_ms: float
    u_ms: float
    share_of_beat: float

    def between(self, low: float, high: float) -> bool:
        """Whether the difference is plain and lies between two shares of a beat."""
        return self.beat_difference_ms > 2 * self.u_ms and low < self.share_of_beat <= high


def _beat(heard: Sequence[Heard], goings: Sequence[tuple[int, Going]]) -> list[Finding]:
    """Findings on the two sides of the beat, each recording by itself."""
    beats = [
        _Beat(
            number,
            heard[number].recording.file,
            going.beat_difference_ms,
            going.beat_difference_u_ms or 0.0,
            going.beat_difference_ms * going.beats_per_hour / 3_600_000,
        )
        for number, going in goings
        if going.beat_difference_ms is not None
    ]
    bad = [beat for beat in beats if beat.between(BEAT_CORRECT, inf)]
    uneven = [beat for beat in beats if beat.between(BEAT_GOOD, BEAT_CORRECT)]
    found: list[Finding] = []
    if bad:
        found.append(finding("out-of-beat", _beat_words(bad, beats, "Out of beat"), recordings=_rows(bad)))
    if bad and len(bad) < len(beats):
        text = (
            f"The beat was out in {len(bad)} of {len(beats)} recordings only: the clock or its crutch was moved "
            "between them, or the crutch does not hold."
        )
        found.append(finding("beat-changed", text, recordings=_rows(beats)))
    if uneven and not bad:
        text = _beat_words(uneven, beats, "A little out of beat")
        found.append(finding("beat-uneven", text, recordings=_rows(uneven)))
    return found


def _rows(beats: Sequence[_Beat]) -> list[dict[str, Any]]:
    return [asdict(beat) for beat in beats]


def _beat_words(which: Sequence[_Beat], beats: Sequence[_Beat], how: str) -> str:
    worst = max(which, key=lambda beat: beat.share_of_beat)
    among = f" in {len(which)} of {len(beats)} recordings" if len(beats) > 1 else ""
    return (
        f"{how}{among}: one side's silence is {worst.beat_difference_ms:.0f} ms longer than the other's, "
        f"{worst.share_of_beat:.0%} of a beat. Under {BEAT_GOOD:.0%} is good; over {BEAT_CORRECT:.0%} correct it "
        "(common practice)."
    )
