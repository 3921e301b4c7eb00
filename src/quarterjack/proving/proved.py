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
    """A recording that the proof rests on.

    Parameters
    ----------
    file : str
        Name of the file as it was given.
    sha256 : str
        Digest of the file's bytes.
    seconds : float
        How long it is.
    heard : str or None
        Path of its heard document, if it was kept.
    started_utc : str or None
        When it began (ISO 8601), where that is known.
    """

    file: str
    sha256: str
    seconds: float
    heard: str | None = None
    started_utc: str | None = None


@dataclass(frozen=True)
class ProvedGoing:
    """How the clock went over all recordings, beside what the train gives.

    Parameters
    ----------
    beats : int
        Ticks that it rests on.
    beats_per_hour : float
        Beats an hour over all recordings.
    expected_beats_per_hour : float or None
        What the sheet gives; null where it says nothing.
    rate_s_per_day : float or None
        Seconds a day, gaining positive; null without an expectation.
    rate_u_s_per_day : float or None
        Standard uncertainty of the rate, the recorder's own clock included.
    limited_by : str
        What bounds that uncertainty.
    time_reference : str
        "none", "anchors" or "calibrated".
    beat_difference_ms : float or None
        Mean of the long side's silences less the other's.
    beat_difference_u_ms : float or None
        Standard uncertainty of the beat difference.
    long_side : str or None
        The side, "a" or "b", whose tick is followed by the longer silence.
    heard_fraction : float
        Beats that were heard as a part (0 to 1) of those that the time recorded holds.
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
    """One sounding beside what it should have been.

    Parameters
    ----------
    recording : int
        Number of the recording, counted from 0.
    t_ns : int
        Where it began in that recording, or where it should have, nanoseconds (seconds in JSON).
    dial : str or None
        Dial time for which it was judged, as "12:15".
    kind : str
        "quarter", "half" or "hour"; "unknown" for what belongs nowhere.
    quarter : int or None
        1 to 4 for a chime.
    tune : str or None
        Name of the tune.
    notes_expected, notes_heard : tuple of str or None
        Names of the notes in order; null where notes are not what is judged.
    blows_expected, blows_heard : int or None
        Number of blows; null where blows are not what is judged.
    why : str
        The verdict in words.
    verdict : str
        One of `SOUNDING_VERDICTS`: "right", "wrong notes", "out of sequence", "wrong quarter", "wrong count",
        "incomplete", "early", "late", "missing", "unexpected" or "not heard".
    bars_expected, bars_heard : tuple of int or None
        Numbers of the bars in order.
    seconds : float
        How long it lasted.
    phrases_expected : tuple of int or None
        How many of `notes_expected` each phrase holds.
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
    """A stop of the clock.

    Parameters
    ----------
    recording : int
        Number of the recording, counted from 0.
    t_ns : int
        Last tick before it, nanoseconds in that recording (seconds in JSON).
    dial : str or None
        Dial time of the stop, where it is known.
    beats_since_start : int or None
        Beats from the start of the recording to the stop.
    ended : str
        "cut off" or "died away".
    """

    recording: int
    t_ns: TimeNs
    dial: str | None
    beats_since_start: int | None
    ended: str


@dataclass(frozen=True)
class Finding:
    """One thing that is wrong or worth knowing.

    Parameters
    ----------
    code : str
        Short name that does not change.
    text : str
        The finding in plain words.
    evidence : dict
        The numbers behind it.
    weight : int
        1 (a fault), 2 (to be adjusted) or 3 (worth knowing).
    """

    code: str
    text: str
    evidence: dict[str, Any] = field(default_factory=dict)
    weight: int = 1


@dataclass(frozen=True)
class Proof:
    """What was heard beside what must be.

    Parameters
    ----------
    clock : str
        The clock's name.
    mode : str
        "on-time", "round-the-dial" or "by-hand".
    verdict : str
        "right", "wrong" or "too little heard".
    recordings : tuple of ProvedRecording
        What the proof rests on.
    going : ProvedGoing or None
        How the clock went; null where it cannot be given.
    soundings : tuple of ProvedSounding
        Every sounding that was heard or was due.
    stops : tuple of ProvedStop
        Where the clock stopped.
    findings : tuple of Finding
        What is wrong or worth knowing, most serious first.
    """

    format: str = field(default="quarterjack.proof/1", kw_only=True)
    clock: str
    mode: str
    verdict: str
    recordings: tuple[ProvedRecording, ...]
    going: ProvedGoing | None
    soundings: tuple[ProvedSounding, ...] = ()
    stops: tuple[ProvedStop, ...] = ()
    findings: tuple[Finding, ...] = ()
