"""Notes laid side by side."""

from __future__ import annotations

from dataclasses import replace

import pytest
from by_hand import Q2, sounding
from hypothesis import given
from hypothesis import strategies as st

from quarterjack.paper import in_words, note_rows, printed
from quarterjack.paper.notes import pair

NOTES = st.lists(st.sampled_from(["G#", "F#", "E", "B"]), max_size=10)


def levenshtein(a: list[str], b: list[str]) -> int:
    """The textbook recursion, row by row, as a second opinion on the count of differences."""
    row = list(range(len(b) + 1))
    for i, x in enumerate(a, 1):
        row, left = [i], row
        for j, y in enumerate(b, 1):
            row.append(min(left[j] + 1, row[j - 1] + 1, left[j - 1] + (x != y)))
    return row[-1]


@given(NOTES, NOTES)
def test_the_fewest_differences_and_every_note_once(a: list[str], b: list[str]) -> None:
    pairs = pair(a, b)
    assert [i for i, _ in pairs if i is not None] == list(range(len(a)))
    assert [j for _, j in pairs if j is not None] == list(range(len(b)))
    different = sum(i is None or j is None or a[i] != b[j] for i, j in pairs)
    assert different == levenshtein(a, b)


@pytest.mark.parametrize(
    ("heard", "marks", "words"),
    [
        (Q2, "rrrr rrrr", "All 8 notes as they should be."),
        (Q2[:3] + Q2[4:], "rrrm rrrr", "Note 4, B, is missing."),
        (("G#", "E", *Q2[2:]), "wwrr rrrr", "Note 1 should be E and is G♯; note 2 should be G♯ and is E."),
        ((*Q2, "E"), "rrrr rrrrx", "One E too many."),
        ((), "mmmm mmmm", "Note 1, E, is missing; note 2, G♯, is missing; "),
    ],
)
def test_marks(heard: tuple[str, ...], marks: str, words: str) -> None:
    rows = note_rows(sounding(0, "2:30", notes_heard=heard))
    assert rows is not None
    letters = {"right": "r", "missing": "m", "wrong": "w", "extra": "x"}
    assert " ".join("".join(letters[p.mark] for p in phrase) for phrase in rows.phrases) == marks
    assert in_words(rows).startswith(words)


def test_heights_come_from_the_tune_else_from_the_bars() -> None:
    known = note_rows(sounding(0, "2:30"))
    assert known is not None
    assert known.rows == ("G#", "F#", "E", "B")
    assert [place.expected_row for place in known.phrases[0]] == [2, 0, 1, 3]
    own = note_rows(
        sounding(
            0,
            "2:30",
            tune="own",
            notes_expected=("C", "A", "D"),
            notes_heard=("C", "A", "?"),
            bars_expected=(2, 3, 1),
            bars_heard=(2, 3, 9),
            phrases_expected=(3,),
        )
    )
    assert own is not None
    assert own.rows == ("D", "C", "A", "?")


def test_hour_blows_have_no_notes() -> None:
    assert note_rows(replace(sounding(0, "3:00"), notes_expected=None, notes_heard=None)) is None


def test_printed() -> None:
    assert [printed(n) for n in ("G#", "Bb", "B", "high", "?")] == ["G♯", "B♭", "B", "high", "?"]
