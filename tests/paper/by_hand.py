"""Proofs made by hand, in place of a clock: every kind of sounding, and names that try to be markup."""

from __future__ import annotations

import numpy as np

from quarterjack.listening.heard import Gap, Going, Heard, RecordingFacts, Remark, Stop, Ticks
from quarterjack.proving.proved import Finding, Proof, ProvedGoing, ProvedRecording, ProvedSounding, ProvedStop
from quarterjack.records import to_ns

Q2 = ("E", "G#", "F#", "B", "E", "F#", "G#", "E")


def ticks(seconds: float, *, rate_s_per_day: float, difference_ms: float = 0.0, jitter_ms: float = 0.3) -> Ticks:
    """Ticks of a seconds pendulum; side b is late by half the beat difference."""
    n = int(seconds)
    side = (np.arange(n) % 2).astype(np.int8)
    t = np.arange(n) / (1 + rate_s_per_day / 86_400) + 0.5 + side * difference_ms / 2000
    t = t + np.random.default_rng(7).normal(0, jitter_ms / 1000, n)
    return Ticks(np.round(t * 1e9), np.full(n, 300_000), side, np.full(n, -32.0))


def heard_of(seconds: float = 1800.0, *, rate: float = 30.0, difference_ms: float = 12.0, **more: object) -> Heard:
    """What was heard of such a clock."""
    facts = RecordingFacts("evening.flac", "ab" * 32, seconds, 48_000, 1, gaps=(Gap(to_ns(700), to_ns(702)),))
    return Heard(
        recording=facts,
        going=Going(int(seconds), 3600 * (1 + rate / 86_400), 0.002, difference_ms, 0.1, "a"),
        ticks=ticks(seconds, rate_s_per_day=rate, difference_ms=difference_ms),
        remarks=(Remark("clipped", "The record is clipped at 12 places; loud blows may be named wrongly."),),
        **more,  # type: ignore[arg-type]
    )


def sounding(t: float, dial: str | None, verdict: str = "right", why: str = "", **more: object) -> ProvedSounding:
    """A second quarter, unless told otherwise."""
    fields: dict[str, object] = {
        "kind": "quarter",
        "quarter": 2,
        "tune": "cambridge",
        "notes_expected": Q2,
        "notes_heard": Q2,
        "blows_expected": None,
        "blows_heard": None,
        "phrases_expected": (4, 4),
        "seconds": 8.0,
        **more,
    }
    return ProvedSounding(recording=0, t_ns=to_ns(t), dial=dial, why=why, verdict=verdict, **fields)  # type: ignore[arg-type]


def wrong_proof() -> Proof:
    """A clock with a dead hammer, a wrong count, a stop, and a name that would be markup."""
    return Proof(
        clock='The #strong[hall] clock of "Aldwith" $x^2$ <b>&amp;',
        mode="on-time",
        verdict="wrong",
        recordings=(ProvedRecording("evening #1 *final* [x].flac", "ab" * 32, 1800.0, None, "2026-03-04T19:50:00Z"),),
        going=ProvedGoing(1790, 3601.25, 3600.0, 30.0, 2.5, "recorder not checked", "none", 12.0, 0.1, "a", 0.97),
        soundings=(
            sounding(480, "2:15", quarter=1, notes_expected=Q2[:4], notes_heard=Q2[:4], phrases_expected=(4,)),
            sounding(
                1380,
                "2:30",
                "wrong notes",
                "The B is not struck: its hammer is dead or its note was not heard.",
                notes_heard=tuple(note for note in Q2 if note != "B"),
            ),
            sounding(
                1500,
                "3:00",
                "wrong count",
                "3 blows were due and 2 were heard.",
                kind="hour",
                quarter=None,
                tune=None,
                notes_expected=None,
                notes_heard=None,
                phrases_expected=None,
                blows_expected=3,
                blows_heard=2,
            ),
            sounding(1700, "3:15", "not heard", "The record had ended.", notes_heard=None),
        ),
        stops=(ProvedStop(0, to_ns(1790), "3:13", 1790, "cut off"),),
        findings=(
            Finding("stopped", "The clock stopped at 3:13.", {"stop": 0}),
            Finding("dead-hammer", "The hammer of the B did not strike in one of two quarters.", {"soundings": [1]}),
            Finding("out-of-beat", "It is out of beat by 12 ms; the longer silence follows side a.", {}, 2),
        ),
    )


def wrong_heard() -> tuple[Heard, ...]:
    """What the wrong clock's record gave."""
    return (heard_of(stops=(Stop(to_ns(1790), "cut off"),)),)
