"""Every finding that a proof can have: its code, which never changes, what it means, and how much it weighs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from quarterjack.proving.proved import Finding

FAULT, ADJUST, WORTH_KNOWING = 1, 2, 3


@dataclass(frozen=True)
class Code:
    """What a code means, for the manual, and its weight."""

    meaning: str
    weight: int


# The order is that of seriousness: findings are sorted by weight, then as they stand here.
_CODES: dict[str, Code] = {
    "stopped": Code("The clock stopped while it was recorded.", FAULT),
    "wrong-quarter": Code(
        "Another quarter's phrases came, complete: the locking (count) wheel does not agree with the minute cam.", FAULT
    ),
    "barrel-phase": Code(
        "The right number of phrases came, but turned on by the same number of phrases: the chime barrel is out of "
        "phase.",
        FAULT,
    ),
    "phrases-out-of-order": Code("The right phrases came, but in an order that no phase of the barrel gives.", FAULT),
    "dead-hammer": Code("One note was missing everywhere it is due: its hammer does not strike.", FAULT),
    "notes-swapped": Code("Two notes changed places.", FAULT),
    "wrong-notes": Code("Notes were struck that are not due there.", FAULT),
    "chime-incomplete": Code("Notes of a chime were missing.", FAULT),
    "chime-runs-on": Code("A chime went on after its last phrase.", FAULT),
    "one-blow-always": Code("Every hour was struck with one blow: the rack does not fall.", FAULT),
    "count-shifted": Code("Every hour was struck wrong by the same number of blows.", FAULT),
    "wrong-count": Code("An hour or half hour was struck with the wrong number of blows.", FAULT),
    "blows-missing": Code("The chime came, but the blows of the hour or half hour did not follow.", FAULT),
    "chime-missing": Code("The hour was struck, but its chime did not come.", FAULT),
    "sounding-missing": Code("Nothing was heard where a sounding was due.", FAULT),
    "unexpected-sounding": Code("Something sounded where nothing is due.", FAULT),
    "dial-offset": Code("All soundings came early, or all late, by the same time: the minute hand is out.", FAULT),
    "early": Code("A sounding came early.", FAULT),
    "late": Code("A sounding came late.", FAULT),
    "out-of-beat": Code("The two sides of the beat differ by more than 5 % of a beat.", ADJUST),
    "beat-changed": Code("The beat was out in some recordings only: something moved between them.", ADJUST),
    "unlike-train": Code("The beats an hour are more than 3 % from what the train gives.", ADJUST),
    "rate": Code("The clock gains or loses more than three minutes a week.", ADJUST),
    "start-time-unlike": Code("What was heard does not fit the time at which the recording began.", ADJUST),
    "beat-uneven": Code("The two sides of the beat differ by 2 to 5 % of a beat.", WORTH_KNOWING),
    "bars-not-named": Code("The bars are not known well enough to prove the order of their notes.", WORTH_KNOWING),
    "doubtful-sounding": Code("A single sound, perhaps not of this clock, was left out of account.", WORTH_KNOWING),
    "not-heard": Code("Something was due, but the recording does not let it be judged.", WORTH_KNOWING),
    "recording-repeats": Code("The recording repeats itself; only its first turn was used.", WORTH_KNOWING),
    "recording-twice": Code("The same recording was given more than once; it was used once.", WORTH_KNOWING),
    "recording-remark": Code("Something about the recording itself that must be known.", WORTH_KNOWING),
    "dial-time": Code("How the dial time of each recording was found.", WORTH_KNOWING),
    "too-little-heard": Code("Nothing was heard that could be judged.", WORTH_KNOWING),
}

FINDINGS: dict[str, str] = {code: entry.meaning for code, entry in _CODES.items()}
"""Code of every finding and what it means."""


def finding(code: str, text: str, **evidence: Any) -> Finding:
    """Make a finding with the weight that belongs to its code."""
    return Finding(code, text, evidence, _CODES[code].weight)


def in_order(findings: list[Finding]) -> tuple[Finding, ...]:
    """Most serious first."""
    rank = {code: at for at, code in enumerate(_CODES)}
    return tuple(sorted(findings, key=lambda one: (one.weight, rank[one.code])))
