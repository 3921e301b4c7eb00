"""What a proof page shows, made ready for its template: the strip of the record, and each sounding drawn.

Drawing units are CSS pixels; places along the strip are per cent of its width, so that it fits any screen while its
letters keep their size.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from quarterjack.listening import Heard
from quarterjack.paper import NotePlace, NoteRows, dial_text, in_words, note_rows, printed
from quarterjack.paper.gained import dial_at_start
from quarterjack.paper.words import length_of_time, sounding_name, stop_in_words, tune_title
from quarterjack.proving import Proof, ProvedSounding
from quarterjack.reckoning import Reckoning
from quarterjack.records import to_s
from quarterjack.web.media import expected_for

# On the strip: how near two marks may stand in one lane, as a share of the width of a small telephone.
_APART = 9.0
_LINE_S = (600.0, 3600.0, 7200.0, 21_600.0)
_STEPS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14_400)
_LEAD_S, _TAIL_S = 1.0, 6.0

# In the figure of notes.
NOTE_STEP, ROW_STEP, NOTE_TOP = 34, 17, 14


def mark_of(verdict: str) -> str:
    """The class of a verdict: "right", "not-heard" or "wrong"; a verdict of a later version counts as wrong."""
    if verdict == "right":
        return "right"
    return "not-heard" if verdict in ("not heard", "too little heard") else "wrong"


@dataclass(frozen=True)
class StripMark:
    """Something on the strip: a sounding, a stop or a gap, with the row of the page that tells of it."""

    kind: str
    x: float
    width: float
    lane: int
    href: str
    label: str


@dataclass(frozen=True)
class StripLine:
    """One line of the strip: where the record lies on it, the marks, and the words under the axis."""

    to_x: float
    lanes: int
    marks: tuple[StripMark, ...]
    ticks: tuple[tuple[float, str, bool], ...]


def strips(proof: Proof, heard: tuple[Heard | None, ...]) -> list[dict[str, Any]]:
    """The strip of each recording, line by line like a score."""
    return [
        {"recording": one, "number": number + 1, "lines": _lines(proof, number, heard[number])}
        for number, one in enumerate(proof.recordings)
    ]


def kinds_on(strips_: list[dict[str, Any]]) -> set[str]:
    """Which kinds of mark stand on the strips, for their key."""
    return {mark.kind for strip in strips_ for line in strip["lines"] for mark in line.marks}


def marks_of(rows: list[dict[str, Any]]) -> set[str]:
    """Which marks stand in the figures of notes, for their key."""
    return {note.mark for row in rows if row["notes"] for phrase in row["notes"]["phrases"] for note in phrase.notes}


def _lines(proof: Proof, number: int, heard: Heard | None) -> list[StripLine]:
    seconds = max(proof.recordings[number].seconds, 1.0)
    per_line = seconds if seconds <= _LINE_S[1] * 2 else next((s for s in _LINE_S if seconds / s <= 12), _LINE_S[-1])
    start = dial_at_start(proof, number)
    lines = []
    first = 0.0
    while first < seconds - 1e-6:
        part = _Part(first, min(seconds, first + per_line), per_line)
        lines.append(StripLine(part.x(part.last), *_marks(proof, number, heard, part), _ticks(part, start)))
        first += per_line
    return lines


@dataclass(frozen=True)
class _Part:
    """The stretch of the record that stands on one line: its ends and the length of a full line, in seconds."""

    first: float
    last: float
    span: float

    def x(self, t_s: float) -> float:
        """Place on the line, per cent of its width."""
        return round(100.0 * (min(max(t_s, self.first), self.last) - self.first) / self.span, 3)

    def holds(self, t_s: float) -> bool:
        """Whether something that begins then stands on this line."""
        return self.first <= t_s < self.last


def _marks(proof: Proof, number: int, heard: Heard | None, part: _Part) -> tuple[int, tuple[StripMark, ...]]:
    """How many lanes the marks of a line need, and the marks."""
    found: list[tuple[str, float, float, str, str]] = []
    for index, one in enumerate(proof.soundings):
        t = to_s(one.t_ns)
        if one.recording == number and part.holds(t):
            name = f"{one.dial}, {sounding_name(one)}" if one.dial else sounding_name(one)
            found.append((mark_of(one.verdict), t, t + one.seconds, f"#sounding-{index + 1}", f"{name}: {one.verdict}"))
    for index, stop in enumerate(proof.stops):
        t = to_s(stop.t_ns)
        if stop.recording == number and part.holds(t):
            found.append(("stop", t, t, f"#stop-{index + 1}", stop_in_words(proof, stop)))
    for gap in heard.recording.gaps if heard else ():
        a, b = to_s(gap.from_ns), to_s(gap.to_ns)
        if a < part.last and b > part.first:
            words = f"No sound was recorded from {length_of_time(a, clock=True)} to {length_of_time(b, clock=True)}"
            found.append(("gap", max(a, part.first), min(b, part.last), "#limits", words))
    ends: list[float] = []
    marks = []
    for kind, a, b, href, label in sorted(found, key=lambda mark: mark[1]):
        at = part.x(a)
        lane = next((k for k, end in enumerate(ends) if at - end >= _APART), len(ends))
        ends[lane : lane + 1] = [at]
        marks.append(StripMark(kind, at, max(part.x(b) - at, 0.0), lane, href, label))
    return max(len(ends), 1), tuple(marks)


def _ticks(part: _Part, start: float | None) -> tuple[tuple[float, str, bool], ...]:
    """Places and words of the axis, at round dial minutes where they are known; every other one may be left out."""
    step = next((s for s in _STEPS_S if part.span / s <= 6), _STEPS_S[-1])
    offset = (start or 0.0) * 60.0
    at = -(-(part.first + offset) // step) * step
    ticks: list[tuple[float, str, bool]] = []
    while at <= part.last + offset + 1e-6:
        words = dial_text(at / 60, seconds=step < 60) if start is not None else length_of_time(at, clock=True)
        ticks.append((part.x(at - offset), words, len(ticks) % 2 == 0))
        at += step
    return tuple(ticks)


@dataclass(frozen=True)
class DrawnNote:
    """A place in the figure of notes: its column's middle, both heights, and the words under it."""

    x: int
    mark: str
    expected_y: int | None
    heard_y: int | None
    expected: str
    heard: str


@dataclass(frozen=True)
class DrawnPhrase:
    """One phrase of the figure of notes; phrases flow like words, so that they fit any screen."""

    width: int
    notes: tuple[DrawnNote, ...]

    @property
    def melody(self) -> str:
        """The thin line through the heights that should be, as an SVG path."""
        points = [f"{note.x} {note.expected_y}" for note in self.notes if note.expected_y is not None]
        return f"M{'L'.join(points)}" if points else ""


def _drawn(place: NotePlace, column: int) -> DrawnNote:
    def y(row: int | None) -> int | None:
        return None if row is None else NOTE_TOP + ROW_STEP * row

    return DrawnNote(
        x=NOTE_STEP * column + NOTE_STEP // 2,
        mark=place.mark,
        expected_y=y(place.expected_row),
        heard_y=y(place.heard_row),
        expected=printed(place.expected) if place.expected else "",
        heard=printed(place.heard) if place.heard else "none",
    )


def drawn_notes(rows: NoteRows) -> dict[str, Any]:
    """The figure of notes: phrases, and the height that they all have."""
    return {
        "height": NOTE_TOP * 2 + ROW_STEP * (len(rows.rows) - 1),
        "phrases": [
            DrawnPhrase(NOTE_STEP * len(phrase), tuple(_drawn(place, k) for k, place in enumerate(phrase)))
            for phrase in rows.phrases
        ],
        "words": in_words(rows),
    }


def note_order(reckoning: Reckoning | None) -> tuple[str, ...]:
    """The clock's notes, highest first, from the bars that its tune's bells stand for."""
    if reckoning is None:
        return ()
    note_of = {bar.bar: bar.note for bar in reckoning.bars}
    notes = [note_of.get(bar) for bar in reckoning.bells_to_bars]
    return tuple(note for note in notes if note)


def sounding_rows(proof: Proof, reckoning: Reckoning | None, playable: tuple[bool, ...]) -> list[dict[str, Any]]:
    """Every sounding, ready to be set.

    Parameters
    ----------
    proof : Proof
        The proof.
    reckoning : Reckoning or None
        What the sheet says now; without it what was expected cannot be played.
    playable : tuple of bool
        For each recording, whether its file is still in the folder.
    """
    order = note_order(reckoning)
    rows = []
    for index, one in enumerate(proof.soundings):
        row = _row(index, one, order, several=len(proof.recordings) > 1)
        row["file"] = proof.recordings[one.recording].file
        row["playable"] = playable[one.recording]
        row["expected"] = reckoning is not None and expected_for(reckoning, one) is not None
        rows.append(row)
    return rows


def _row(index: int, one: ProvedSounding, order: tuple[str, ...], *, several: bool) -> dict[str, Any]:
    rows = note_rows(one, order)
    t = to_s(one.t_ns)
    blows = None
    if one.blows_expected is not None or one.blows_heard is not None:
        due, got = one.blows_expected, one.blows_heard
        blows = {"due": due, "heard": got, "most": max(due or 0, got or 0)}
    where = f"{length_of_time(t, clock=True)} into "
    return {
        "id": f"sounding-{index + 1}",
        "index": index,
        "dial": one.dial,
        "name": sounding_name(one),
        "tune": tune_title(one.tune),
        "where": where + (f"recording {one.recording + 1}" if several else "the record"),
        "verdict": one.verdict,
        "mark": mark_of(one.verdict),
        "why": one.why,
        "notes": drawn_notes(rows) if rows and one.verdict != "not heard" else None,
        "expected_only": " ".join(printed(note) for note in one.notes_expected or ()),
        "blows": blows,
        "from_s": round(max(0.0, t - _LEAD_S), 2),
        "to_s": round(t + min(max(one.seconds, 4.0), 110.0) + _TAIL_S, 2),
    }
