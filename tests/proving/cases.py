"""Faults put into the five files of the real floor clock, each with what must be said of it.

The same case is played as events (`made_heard`) and as edited sound (`edit_sound`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from made_heard import Edit, Struck

# The phrases of floor_clock_hour2 as its truth file gives them: when each note comes, and which.
HOUR_2 = (
    ((2.5815, "E"), (3.3130, "G#"), (3.9734, "F#"), (4.6045, "B")),
    ((5.7492, "E"), (6.3103, "F#"), (6.9090, "G#"), (7.5222, "E")),
    ((8.6912, "G#"), (9.3069, "E"), (9.9008, "F#"), (10.5213, "B")),
    ((11.6382, "B"), (12.2538, "F#"), (12.8819, "G#"), (13.5711, "E")),
)


@dataclass(frozen=True)
class Case:
    """One fault: the file, the dial time that it is offered at, the edit, and the right answer for the right reason."""

    name: str
    file: str
    dial: str
    edit: Edit
    part: str
    verdict: str
    code: str


def untouched(struck: list[Struck]) -> list[Struck]:
    return struck


def without(*places: int) -> Edit:
    """Cut out the notes at these places, counted from 1."""
    return lambda struck: [one for at, one in enumerate(struck, 1) if at not in places]


def without_label(label: str) -> Edit:
    return lambda struck: [one for one in struck if one.label != label]


def swapped(first: int, second: int) -> Edit:
    """Let two notes change places; each keeps its own sound."""

    def edit(struck: list[Struck]) -> list[Struck]:
        played = list(struck)
        one, other = struck[first - 1], struck[second - 1]
        played[first - 1] = replace(other, t_s=one.t_s)
        played[second - 1] = replace(one, t_s=other.t_s)
        return played

    return edit


def phrases(*order: int) -> Edit:
    """Play the four-note phrases in this order, counted from 1, each in its own rhythm; what follows stays."""

    def edit(struck: list[Struck]) -> list[Struck]:
        played = [_begun_at(struck[at * 4].t_s, struck[(one - 1) * 4 : one * 4]) for at, one in enumerate(order)]
        return [note for phrase in played for note in phrase] + struck[len(order) * 4 :]

    return edit


def phrases_of_hour(*order: int) -> Edit:
    """Play phrases of the hour, counted from 1, in the place of the file's own."""

    def edit(struck: list[Struck]) -> list[Struck]:
        hour = [[Struck(t, label, t, "hour2") for t, label in phrase] for phrase in HOUR_2]
        played = [_begun_at(struck[at * 4].t_s, hour[one - 1]) for at, one in enumerate(order)]
        return [note for phrase in played for note in phrase]

    return edit


def _begun_at(t_s: float, phrase: list[Struck]) -> list[Struck]:
    return [replace(one, t_s=round(one.t_s - phrase[0].t_s + t_s, 4)) for one in phrase]


def with_blow_after(gap_s: float) -> Edit:
    """Strike the last blow once more."""
    return lambda struck: [*struck, replace(struck[-1], t_s=struck[-1].t_s + gap_s)]


CASES = (
    Case("third note cut", "quarter1", "12:15", without(3), "chime", "incomplete", "chime-incomplete"),
    Case("fifth note cut", "half", "12:30", without(5), "chime", "incomplete", "chime-incomplete"),
    Case("last phrase cut", "threequarter", "12:45", without(9, 10, 11, 12), "chime", "incomplete", "chime-incomplete"),
    Case("two notes cut", "hour2", "2:00", without(2, 14), "chime", "incomplete", "chime-incomplete"),
    Case("low hammer dead", "hour1", "1:00", without_label("B"), "chime", "incomplete", "dead-hammer"),
    Case("first and third swapped", "quarter1", "12:15", swapped(1, 3), "chime", "wrong notes", "notes-swapped"),
    Case("second and fourth swapped", "half", "12:30", swapped(2, 4), "chime", "wrong notes", "notes-swapped"),
    Case("second and third swapped", "threequarter", "12:45", swapped(2, 3), "chime", "wrong notes", "notes-swapped"),
    Case("notes of two phrases swapped", "hour2", "2:00", swapped(3, 5), "chime", "wrong notes", "notes-swapped"),
    Case("two phrases exchanged", "half", "12:30", phrases(2, 1), "chime", "out of sequence", "phrases-out-of-order"),
    Case("three turned", "threequarter", "12:45", phrases(2, 3, 1), "chime", "out of sequence", "phrases-out-of-order"),
    Case("four turned", "hour1", "1:00", phrases(2, 3, 4, 1), "chime", "out of sequence", "phrases-out-of-order"),
    Case("barrel one ahead", "half", "12:30", phrases_of_hour(2, 3), "chime", "out of sequence", "barrel-phase"),
    Case("barrel one behind", "quarter1", "12:15", phrases_of_hour(4), "chime", "out of sequence", "barrel-phase"),
    Case("a blow too many at two", "hour2", "2:00", with_blow_after(1.72), "blows", "wrong count", "wrong-count"),
    Case("a blow too many at one", "hour1", "1:00", with_blow_after(1.72), "blows", "wrong count", "wrong-count"),
    Case("a blow too few at two", "hour2", "2:00", without(18), "blows", "wrong count", "wrong-count"),
    Case("no blow at one", "hour1", "1:00", without(17), "blows", "missing", "blows-missing"),
    Case("first named second", "quarter1", "12:30", untouched, "chime", "wrong quarter", "wrong-quarter"),
    Case("second named third", "half", "12:45", untouched, "chime", "wrong quarter", "wrong-quarter"),
    Case("third named first", "threequarter", "12:15", untouched, "chime", "wrong quarter", "wrong-quarter"),
    Case("third named hour", "threequarter", "1:00", untouched, "chime", "wrong quarter", "wrong-quarter"),
    Case("two named three", "hour2", "3:00", untouched, "blows", "wrong count", "wrong-count"),
)
