"""Is that right? What was heard beside what must be."""

from __future__ import annotations

from quarterjack.proving.codes import FINDINGS
from quarterjack.proving.going import rate_text
from quarterjack.proving.prove import hints_for, prove
from quarterjack.proving.proved import (
    MODES,
    SOUNDING_VERDICTS,
    VERDICTS,
    Finding,
    Proof,
    ProvedGoing,
    ProvedRecording,
    ProvedSounding,
    ProvedStop,
)

__all__ = [
    "FINDINGS",
    "MODES",
    "SOUNDING_VERDICTS",
    "VERDICTS",
    "Finding",
    "Proof",
    "ProvedGoing",
    "ProvedRecording",
    "ProvedSounding",
    "ProvedStop",
    "hints_for",
    "prove",
    "rate_text",
]
