"""The bench proof: what was heard of a clock and whether it was right, on a sheet to keep.

Text reaches the page only as data: the layout is `bench_proof.typ`, which never changes, and everything that a person
or a file wrote is handed to it as JSON strings, so that no name can become markup.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import UTC, datetime
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Any

import typst

import quarterjack
from quarterjack.errors import UnknownChoice
from quarterjack.listening import Heard
from quarterjack.paper.gained import gained
from quarterjack.paper.notes import NotePlace, note_rows, printed
from quarterjack.paper.words import (
    beats_an_hour,
    figure,
    length_of_time,
    mode_in_words,
    rate_in_words,
    side_in_words,
    sounding_name,
    stop_in_words,
    verdict_in_words,
    what_was_not_heard,
)
from quarterjack.proving import Proof, ProvedSounding
from quarterjack.records import to_s

PAPERS = ("a4", "letter")
_TYPST_PAPERS = {"a4": "a4", "letter": "us-letter"}
_LAYOUT = Path(__file__).with_name("bench_proof.typ")


@cache
def _compiler() -> typst.Compiler:
    # Only the fonts inside the typst wheel, so that every computer prints the same page; nothing from the net.
    return typst.Compiler(str(_LAYOUT), root=str(_LAYOUT.parent), font_paths=[], ignore_system_fonts=True)


def bench_proof(
    proof: Proof, *, heard: Sequence[Heard | None] = (), paper: str = "a4", made: datetime | None = None
) -> bytes:
    """Print a proof.

    Parameters
    ----------
    proof : Proof
        The proof.
    heard : sequence of Heard or None
        What was heard, in the order of `proof.recordings`; the chart and the account of gaps need it.
    paper : str
        "a4" (210 × 297 mm) or "letter" (216 × 279 mm).
    made : datetime or None
        When the proof was made; now, if not given.

    Returns
    -------
    bytes
        A PDF, black on white.

    Raises
    ------
    UnknownChoice
        If the paper is neither of the two.
    """
    if paper not in PAPERS:
        raise UnknownChoice("paper", paper, PAPERS)
    from quarterjack.paper.chart import draw  # matplotlib takes a second, which the first page must not wait for

    heard = tuple(heard) or (None,) * len(proof.recordings)
    curves = gained(proof, heard)
    at = (made or datetime.now(UTC)).astimezone()
    data = {
        "clock": proof.clock,
        "made": f"{at.day} {at:%B %Y, %H:%M}",
        "verdict": proof.verdict,
        "says": verdict_in_words(proof),
        "mode": mode_in_words(proof.mode),
        "findings": [{"text": f.text, "weight": f.weight} for f in proof.findings],
        "recordings": [
            {
                "number": number + 1,
                "file": one.file,
                "sha": one.sha256[:12],
                "long": length_of_time(one.seconds),
                "started": (one.started_utc or "not known").replace("T", " "),
            }
            for number, one in enumerate(proof.recordings)
        ],
        "going": _going(proof),
        "chart": draw(curves).decode() if curves else None,
        "against": curves[0].against if curves else None,
        "soundings": [_sounding(proof, one) for one in proof.soundings],
        "stops": [stop_in_words(proof, one) for one in proof.stops],
        "not_heard": what_was_not_heard(proof, heard),
        "versions": f"quarterjack {quarterjack.__version__} · {proof.format} · set with typst {version('typst')}",
    }
    sys_inputs = {"data": json.dumps(data, ensure_ascii=False), "paper": _TYPST_PAPERS[paper]}
    pdf = _compiler().compile(format="pdf", sys_inputs=sys_inputs)
    if not isinstance(pdf, bytes):
        raise TypeError(f"typst gave {type(pdf).__name__} for one PDF")
    return pdf


def _going(proof: Proof) -> list[list[str]]:
    going = proof.going
    if going is None:
        return []
    rows = [["Beats an hour", beats_an_hour(going)], ["Rate", rate_in_words(going)]]
    if going.beat_difference_ms is not None:
        rows.append(["Beat difference", side_in_words(going)])
    rows.append(["Beats counted", figure(going.beats)])
    rows.append(["Of the time recorded, heard", f"{100 * going.heard_fraction:.0f} %"])
    return rows


def _mark(place: NotePlace) -> dict[str, Any]:
    shown = place.heard if place.heard is not None else place.expected
    return {"note": printed(shown or ""), "mark": place.mark}


def _sounding(proof: Proof, one: ProvedSounding) -> dict[str, Any]:
    rows = note_rows(one)
    return {
        "dial": one.dial or "not known",
        "at": length_of_time(to_s(one.t_ns), clock=True),
        "recording": one.recording + 1 if len(proof.recordings) > 1 else None,
        "name": sounding_name(one),
        "verdict": one.verdict,
        "why": one.why if one.verdict != "right" else "",
        "expected": [
            [printed(place.expected) for place in phrase if place.expected is not None] for phrase in rows.phrases
        ]
        if rows and one.notes_expected
        else [],
        "heard": [[_mark(place) for place in phrase] for phrase in rows.phrases] if rows and one.notes_heard else [],
        "blows_expected": one.blows_expected,
        "blows_heard": one.blows_heard,
    }
