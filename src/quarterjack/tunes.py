"""Quarter tunes whose notes stand in print, as plain data that listening and reckoning share.

Bells count from 1, the highest. A phrase is the bells between two rests and may have any length. A tune that is not
here is written by the user into the sheet; none is added from memory.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Tune:
    """A quarter tune.

    Parameters
    ----------
    name : str
        Short name used in sheets and results.
    title : str
        What people call it.
    notes : tuple of str
        Name of each bell's note, highest first; the key is only a spelling, not absolute pitch.
    quarters : tuple of 4 tuples of phrases
        The phrases of the first, second, third and fourth quarter; each phrase is a tuple of bells from 1.
    source : str
        Key of `docs/sources.md` and place; empty for a tune that a user wrote.
    """

    name: str
    title: str
    notes: tuple[str, ...]
    quarters: tuple[tuple[tuple[int, ...], ...], ...]
    source: str = ""

    @property
    def bells(self) -> int:
        """How many bells the tune needs."""
        return len(self.notes)


_A, _B, _C, _D, _E = (1, 2, 3, 4), (3, 1, 2, 4), (3, 2, 1, 3), (1, 3, 2, 4), (4, 2, 1, 3)

CAMBRIDGE = Tune(
    name="cambridge",
    title="Cambridge quarters, called Westminster",
    notes=("G#", "F#", "E", "B"),
    quarters=((_A,), (_B, _C), (_D, _E, _A), (_B, _C, _D, _E)),
    source="beckett1903 Quarters; goodrich1905 ch. XX; grove Cambridge Quarters",
)

TING_TANG = Tune(
    name="ting-tang",
    title="Ting-tang",
    notes=("high", "low"),
    quarters=tuple(tuple((1, 2) for _ in range(quarter)) for quarter in (1, 2, 3, 4)),
    source="beckett1903 Quarters",
)

_LONG, _SHORT, _LAST = (1, 3, 4, 5, 3, 4, 3), (4, 5, 4, 3, 2, 1), (6, 4, 5, 3, 4, 3)


def _six_bell(phrase: tuple[int, ...]) -> tuple[int, ...]:
    """The source counts from the lowest bell; turn it round so that 1 is the highest as everywhere here."""
    return tuple(7 - bell for bell in phrase)


_P1, _P2, _P3 = _six_bell(_LONG), _six_bell(_SHORT), _six_bell(_LAST)

SIX_BELL = Tune(
    name="six-bell",
    title="Six-bell quarters, called Alleluia",
    notes=("C", "B", "A", "G", "E", "D"),
    quarters=((_P1,), (_P1, _P2), (_P1, _P2, _P1), (_P1, _P2, _P1, _P3)),
    source="bellhistorians2009, after Starmer",
)

TUNES: dict[str, Tune] = {tune.name: tune for tune in (CAMBRIDGE, TING_TANG, SIX_BELL)}
