"""The kinds of fault that a sheet can have, and the gatherer that lists them together."""

from __future__ import annotations

from collections.abc import Mapping

from quarterjack.errors import SheetFault, SheetInvalid

Path = tuple[str | int, ...]

FAULT_KINDS: dict[str, str] = {
    "not-text": "The file is not text in UTF-8.",
    "toml-syntax": "The text is not TOML: a quotation mark, bracket or value is wrong at the line that is named.",
    "unknown-key": "A key stands there that a sheet does not have, usually misspelt or in the wrong table.",
    "missing-key": "A table lacks the key that it cannot stand without.",
    "wrong-type": "A value is of the wrong kind, for example text where a number belongs.",
    "not-a-choice": "A value is not among the few that are allowed.",
    "out-of-range": "A number lies outside what any clock has.",
    "time-not-understood": "A dial time is not written as hours and minutes.",
    "number-twice": "Two bars or two hammers have the same number.",
    "name-twice": "Two arbors of a train, or two recordings, have the same name.",
    "no-such-bar": "A hammer strikes a bar that is not in the list of bars.",
    "no-such-hammer": "A hammer is named that is not in the list of hammers.",
    "two-bars-in-one-place": "A hammer is said to strike two bars in the same place.",
    "tune-not-written": "The quarters are said to be a tune of one's own, but the tune is not written.",
    "tune-not-played": "A tune is written, but the quarters are said to be another.",
    "tune-malformed": "The tune has not four quarters, an empty phrase, or a bell without a note.",
    "hammers-do-not-fit-tune": "The number of hammers listed is not the number of the tune's bells.",
    "partials-not-rising": "The partials of a bar are not in rising order.",
    "says-two-things": "Two values contradict each other in words, such as a pulley on a spring drive.",
    "counts-disagree": "Two periods given for a train do not fit the counts between them.",
    "driven-first-arbor": "The first arbor of a train has a pinion, so the arbors are in the wrong order.",
    "wrong-train": "A key stands in a train that cannot have it, such as hammer pins in the going train.",
    "swing-too-small": "The swing is no larger than the angle of release, so the clock could not go.",
}


def written(path: Path) -> str:
    """A path as people write it, rows counted from 1: `trains.going.arbors[2].wheel`."""
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


class Faults:
    """Gathers every fault of one sheet, then raises them together in order of lines."""

    def __init__(self, file: str, lines: Mapping[Path, int]) -> None:
        self.file = file
        self._lines = lines
        self.found: list[SheetFault] = []

    def line(self, path: Path) -> int:
        """The line of a path, or of the nearest table around it that is written down, or else the first."""
        around = (path[:length] for length in range(len(path), 0, -1))
        return next((self._lines[table] for table in around if table in self._lines), 1)

    def add(self, code: str, path: Path, text: str) -> None:
        """Note one fault."""
        if code not in FAULT_KINDS:
            raise KeyError(code)
        self.found.append(SheetFault(code=code, file=self.file, line=self.line(path), key=written(path), text=text))

    def raise_any(self) -> None:
        """Raise `SheetInvalid` if there is any fault."""
        if self.found:
            raise SheetInvalid(sorted(self.found, key=lambda fault: (fault.line or 0, fault.key)))
