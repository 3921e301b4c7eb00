"""Expected notes beside heard ones: which are right, missing, extra or wrong, and how high each stands.

Pages and paper draw from the same rows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from quarterjack.proving import ProvedSounding
from quarterjack.tunes import TUNES

MARKS = ("right", "missing", "extra", "wrong")


@dataclass(frozen=True)
class NotePlace:
    """One place of the tune.

    Parameters
    ----------
    expected, heard : str or None
        Note names; None where there is no such note.
    mark : str
        One of `MARKS`.
    expected_row, heard_row : int or None
        Height, 0 the highest of the notes in `NoteRows.rows`.
    """

    expected: str | None
    heard: str | None
    mark: str
    expected_row: int | None
    heard_row: int | None


@dataclass(frozen=True)
class NoteRows:
    """A sounding's notes phrase by phrase; `rows` names the heights from the top."""

    rows: tuple[str, ...]
    phrases: tuple[tuple[NotePlace, ...], ...]

    @property
    def places(self) -> tuple[NotePlace, ...]:
        """All places in order."""
        return tuple(place for phrase in self.phrases for place in phrase)


def printed(note: str) -> str:
    """A note's name as it is printed: G# becomes G♯, Bb becomes B♭."""
    if len(note) > 1 and note[0] in "ABCDEFG":
        return note[0] + note[1:].replace("#", "♯").replace("b", "♭")
    return note


def pair(expected: Sequence[str], heard: Sequence[str]) -> tuple[tuple[int | None, int | None], ...]:
    """Lay two rows of notes beside each other with the fewest differences.

    Returns pairs of indices, None where one side has nothing. A wrong note in a place counts as one difference, like
    a missing or an extra one, so two notes swapped come out as two wrong notes. Of equal ways the one that agrees
    longest from the beginning is taken: of two equal notes the second is the missing or the extra one.
    """
    n, m = len(expected), len(heard)
    # cost[i][j]: fewest differences between what is left from expected[i] and from heard[j] on.
    cost = [[n - i + m - j for j in range(m + 1)] for i in range(n + 1)]
    for i in reversed(range(n)):
        for j in reversed(range(m)):
            change = cost[i + 1][j + 1] + (expected[i] != heard[j])
            cost[i][j] = min(change, cost[i + 1][j] + 1, cost[i][j + 1] + 1)
    pairs: list[tuple[int | None, int | None]] = []
    i = j = 0
    while i < n or j < m:
        if i < n and j < m and cost[i][j] == cost[i + 1][j + 1] + (expected[i] != heard[j]):
            pairs.append((i, j))
            i, j = i + 1, j + 1
        elif i < n and cost[i][j] == cost[i + 1][j] + 1:
            pairs.append((i, None))
            i += 1
        else:
            pairs.append((None, j))
            j += 1
    return tuple(pairs)


def _heights(sounding: ProvedSounding, order: Sequence[str]) -> tuple[str, ...]:
    """Names of all notes of a sounding, highest first: as told, as the tune has them, or by number of bar."""
    expected, heard = sounding.notes_expected or (), sounding.notes_heard or ()
    used = list(dict.fromkeys((*expected, *heard)))
    tune = TUNES.get(sounding.tune or "")
    for known in (tuple(order), tune.notes if tune else ()):
        if known and set(expected) <= set(known):
            return tuple(n for n in known if n in used) + tuple(n for n in used if n not in known)
    bar_of: dict[str, int] = {}
    for notes, bars in ((heard, sounding.bars_heard or ()), (expected, sounding.bars_expected or ())):
        if len(notes) == len(bars):
            bar_of.update(zip(notes, bars, strict=True))
    return tuple(sorted(used, key=lambda note: (bar_of.get(note, 1000), used.index(note))))


def note_rows(sounding: ProvedSounding, order: Sequence[str] = ()) -> NoteRows | None:
    """A sounding's notes, expected and heard laid side by side.

    Parameters
    ----------
    sounding : ProvedSounding
        The sounding.
    order : sequence of str
        The clock's notes, highest first, where they are known.

    Returns
    -------
    NoteRows or None
        None for a sounding without notes (hour blows).
    """
    expected, heard = sounding.notes_expected or (), sounding.notes_heard or ()
    if not expected and not heard:
        return None
    rows = _heights(sounding, order)
    row = {note: number for number, note in enumerate(rows)}
    lengths = sounding.phrases_expected or ()
    if sum(lengths) != len(expected):
        lengths = (len(expected),)
    # A phrase ends before the first note of the next one; extra notes stay with the phrase they follow.
    starts = {sum(lengths[:k]) for k in range(1, len(lengths))}
    phrases: list[list[NotePlace]] = [[]]
    for i, j in pair(expected, heard):
        if i in starts and phrases[-1]:
            phrases.append([])
        wanted = expected[i] if i is not None else None
        got = heard[j] if j is not None else None
        mark = "extra" if wanted is None else "missing" if got is None else "right" if wanted == got else "wrong"
        phrases[-1].append(
            NotePlace(wanted, got, mark, None if wanted is None else row[wanted], None if got is None else row[got])
        )
    return NoteRows(rows, tuple(tuple(phrase) for phrase in phrases))


def in_words(rows: NoteRows) -> str:
    """The rows as one sentence, for those who hear the page instead of seeing it."""
    off = [
        (number, place)
        for number, place in enumerate((p for p in rows.places if p.mark != "extra"), start=1)
        if place.mark != "right"
    ]
    extra = [place for place in rows.places if place.mark == "extra"]
    if not off and not extra:
        return f"All {len(rows.places)} notes as they should be."
    told = [
        f"note {number}, {printed(place.expected or '')}, is missing"
        if place.mark == "missing"
        else f"note {number} should be {printed(place.expected or '')} and is {printed(place.heard or '')}"
        for number, place in off
    ]
    told += [f"one {printed(place.heard or '')} too many" for place in extra]
    sentence = "; ".join(told)
    return sentence[0].upper() + sentence[1:] + "."
