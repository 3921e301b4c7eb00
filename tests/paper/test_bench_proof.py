"""The bench proof as other PDF readers see it (pypdf and MuPDF; neither has a part in making it)."""

from __future__ import annotations

import importlib
import io
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pypdf
import pytest
from by_hand import wrong_heard, wrong_proof

from quarterjack.errors import UnknownChoice
from quarterjack.paper import bench_proof
from quarterjack.proving.proved import Proof

pymupdf: Any = importlib.import_module("pymupdf")  # brings no types
MM_PER_POINT = 25.4 / 72


def text_of(pdf: bytes) -> str:
    return " ".join("\n".join(page.get_text() for page in pymupdf.open(stream=pdf)).split())


@pytest.mark.parametrize(
    ("paper", "width_mm", "height_mm"),
    [("a4", 210.0, 297.0), ("letter", 215.9, 279.4)],  # ISO 216 and ASME Y14.1 (8 1/2 × 11 inches)
)
def test_page_size(paper: str, width_mm: float, height_mm: float) -> None:
    reader = pypdf.PdfReader(io.BytesIO(bench_proof(wrong_proof(), heard=wrong_heard(), paper=paper)))
    for page in reader.pages:
        assert float(page.mediabox.width) * MM_PER_POINT == pytest.approx(width_mm, abs=0.1)
        assert float(page.mediabox.height) * MM_PER_POINT == pytest.approx(height_mm, abs=0.1)


def test_another_paper_is_refused() -> None:
    with pytest.raises(UnknownChoice, match="a4, letter"):
        bench_proof(wrong_proof(), paper="foolscap")


def test_hostile_names_are_printed_as_they_are() -> None:
    made = wrong_proof()
    nasty = '#eval("1+1") *bold* _it_ $x$ `raw` <label> @ref // gone /* gone */ \\ [x] "q" \u2019 {{ }} = head'
    proof = replace(
        made,
        clock=nasty,
        recordings=(replace(made.recordings[0], file=nasty),),
        findings=(replace(made.findings[0], text=nasty),),
    )
    told = text_of(bench_proof(proof))
    # Three places, and the running head of the second page where there is one; lines may be broken anywhere.
    assert told.replace(" ", "").count(nasty.replace(" ", "")) >= 3


def test_everything_is_said() -> None:
    proof, heard = wrong_proof(), wrong_heard()
    told = text_of(bench_proof(proof, heard=heard, made=datetime(2026, 3, 4, 21, 5, tzinfo=UTC)))
    for words in (
        "4 March 2026",
        "Wrong: it stopped at 3:13, and 2 of 4 soundings went wrong.",
        "The clock stopped at 3:13.",
        "E G♯ F♯ B | E F♯ G♯ E",
        "wrong notes",
        "3 blows due, 2 heard",
        "not heard",
        "3601.25, where the train gives 3600",
        "gains 30 s a day (± 4 s/day, recorder not checked)",
        "12.0 ms ± 0.1 ms, the longer silence after side a",
        "No sound was recorded from 11:40 to 11:42.",
        "clipped at 12 places",
        "abababababab",
        "quarterjack.proof/1",
        "page 1 of 2",
    ):
        assert words in told, words


def test_black_and_white_and_no_letters_from_the_system() -> None:
    proof, heard = wrong_proof(), wrong_heard()
    document = pymupdf.open(stream=bench_proof(proof, heard=heard))
    fonts = {font[3].split("+")[-1] for page in document for font in page.get_fonts()}
    assert {font.split("-")[0] for font in fonts} <= {"LibertinusSerif", "DejaVuSansMono", "NewCM10"}
    for page in document:
        pixels = np.frombuffer(page.get_pixmap(dpi=72).samples, np.uint8).reshape(-1, 3).astype(int)
        assert np.ptp(pixels, axis=1).max() <= 2  # grey only


def test_the_longer_proof_breaks_over_pages() -> None:
    made = wrong_proof()
    proof = replace(made, soundings=made.soundings * 40)
    reader = pypdf.PdfReader(io.BytesIO(bench_proof(proof)))
    assert len(reader.pages) >= 5
    assert f"page {len(reader.pages)} of {len(reader.pages)}" in reader.pages[-1].extract_text()
    # The head of the table stands again on every page that the table reaches.
    assert "Should be, and was heard" in reader.pages[2].extract_text()


def test_an_almost_empty_proof_says_so() -> None:
    told = text_of(bench_proof(Proof("Shelf clock", "on-time", "too little heard", (), None)))
    assert "Too little was heard to say whether this clock is right" in told
    assert "nothing is said here about striking or chiming" in told
