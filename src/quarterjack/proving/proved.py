"""The verdict on a clock: the noun `Proof` and its parts (`quarterjack.proof/1`)."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from quarterjack.records import TimeNs

VERDICTS = ("right", "wrong", "too little heard")
SOUNDING_VERDICTS = (
    "right",
    "wrong notes",
    "out of sequence",
    "wrong quarter",
    "wrong count",
    "incomplete",
    "early",
    "late",
    "missing",
    "unexpected",
    "not heard",
)
MODES = ("on-time", "round-the-dial", "by-hand")


@dataclass(frozen=True)
class ProvedRecording:
    """A recording that the proof rests on; `heard` is the path of its heard document, if it was kept."""

    file: str
    sha256: str
    seconds: float
    heard: str | None = None
    started_utc: str | None = None


@dataclass(frozen=True)
class ProvedGoing:
    """How the clock went over all recordings, beside what the train gives.

    `limited_by` says what bounds the uncertainty; `time_reference` is "none", "anchors" or "calibrated".
    """

    beats: int
    beats_per_hour: float
    expected_beats_per_hour: float | None
    rate_s_per_day: float | None
    rate_u_s_per_day: float | None
    limited_by: str
    time_reference: str
    beat_difference_ms: float | None
    beat_difference_u_ms: float | None
    long_side: str | None
    heard_fraction: float


@dataclass(frozen=True)
class ProvedSounding:
    """One sounding beside what it should have been; `verdict` is one of `SOUNDING_VERDICTS`, `why` says it in words.

    `t_ns` is where it began (or where it should have) in recording number `recording`, counted from 0;
    `seconds` is how long it lasted; `phrases_expected` is how many of `notes_expected` each phrase holds.
    """

    recording: int
    t_ns: TimeNs
    dial: str | None
    kind: str
    quarter: int | None
    tune: str | None
    notes_expected: tuple[str, ...] | None
    notes_heard: tuple[str, ...] | None
    blows_expected: int | None
    blows_heard: int | None
    why: str
    verdict: str
    bars_expected: tuple[int, ...] | None = None
    bars_heard: tuple[int, ...] | None = None
    seconds: float = 0.0
    phrases_expected: tuple[int, ...] | None = None


@dataclass(frozen=True)
class ProvedStop:
    """A stop, with the dial time and the beats counted from the start of its recording where they are known."""

    recording: int
    t_ns: TimeNs
    dial: str | None
    beats_since_start: int | None
    ended: str


@dataclass(frozen=True)
class Finding:
    """One thing that is wrong or worth knowing, in plain words, with the numbers behind it.

    `weight` is 1 (a fault), 2 (to be adjusted) or 3 (worth knowing).
    """

    code: str
    text: str
    evidence: dict[str, Any] = field(default_factory=dict)
    weight: int = 1


@dataclass(frozen=True)
class Proof:
    """What was heard beside what must be. Findings stand most serious first."""

    format: str = field(default="quarterjack.proof/1", kw_only=True)
    clock: str
    mode: str
    verdict: str
    recordings: tuple[ProvedRecording, ...]
    going: ProvedGoing | None
    soundings: tuple[ProvedSounding, ...] = ()
    stops: tuple[ProvedStop, ...] = ()
    findings: tuple[Finding, ...] = ()
