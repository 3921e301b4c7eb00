"""Finds the line of every key in a TOML text that has already been read without error."""

from __future__ import annotations

import re
import tomllib

Path = tuple[str | int, ...]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_STRING = re.compile(
    r'"""(?:[^"\\]|\\.|"(?!""))*"{3,5}'
    r"|'''.*?'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)
_SCALAR = re.compile(r"[^\s,\]}#]+(?: \d\d:[^\s,\]}#]+)?")


class _Scanner:
    """Walks once through the text and notes the line of each key, table and row."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Path, int] = {}
        self.rows: dict[Path, int] = {}

    def blank(self) -> None:
        found = _BLANK.match(self.text, self.at)
        self.at = found.end() if found else self.at

    def peek(self, token: str) -> bool:
        return self.text.startswith(token, self.at)

    def note(self, path: Path, at: int) -> None:
        self.lines.setdefault(path, self.text.count("\n", 0, at) + 1)

    def key(self) -> list[tuple[str, int]]:
        """One key, perhaps dotted, as its parts with where each begins."""
        parts: list[tuple[str, int]] = []
        while True:
            while self.text[self.at] in " \t":
                self.at += 1
            begin = self.at
            quoted = self.text[begin] in "\"'"
            found = (_STRING if quoted else _BARE).match(self.text, begin)
            if found is None:
                return parts
            self.at = found.end()
            part = found.group()
            parts.append((str(tomllib.loads(f"k = {part}")["k"]) if quoted else part, begin))
            while self.text[self.at : self.at + 1] in (" ", "\t"):
                self.at += 1
            if not self.peek("."):
                return parts
            self.at += 1

    def under(self, table: Path, parts: list[tuple[str, int]]) -> Path:
        """Note each part of a key below `table`; a part that names rows means the last row."""
        path = table
        for part, begin in parts:
            path = (*path, part)
            self.note(path, begin)
            if path in self.rows:
                path = (*path, self.rows[path])
        return path

    def value(self, path: Path) -> None:
        self.blank()
        if self.peek("["):
            self.at += 1
            self.blank()
            index = 0
            while not self.peek("]"):
                self.note((*path, index), self.at)
                self.value((*path, index))
                index += 1
                self.after_item()
            self.at += 1
        elif self.peek("{"):
            self.at += 1
            self.blank()
            while not self.peek("}"):
                self.pair(path)
                self.after_item()
            self.at += 1
        else:
            found = _STRING.match(self.text, self.at) or _SCALAR.match(self.text, self.at)
            if found is None:
                raise ValueError(f"no TOML value at character {self.at}")
            self.at = found.end()

    def after_item(self) -> None:
        self.blank()
        if self.peek(","):
            self.at += 1
            self.blank()

    def pair(self, table: Path) -> None:
        path = self.under(table, self.key())
        self.at += 1
        self.value(path)

    def header(self) -> Path:
        double = self.peek("[[")
        self.at += 2 if double else 1
        parts = self.key()
        self.at += 2 if double else 1
        if not double:
            return self.under((), parts)
        path = self.under((), parts[:-1])
        last, begin = parts[-1]
        path = (*path, last)
        self.note(path, begin)
        self.rows[path] = self.rows.get(path, -1) + 1
        path = (*path, self.rows[path])
        self.note(path, begin)
        return path

    def run(self) -> dict[Path, int]:
        table: Path = ()
        self.blank()
        while self.at < len(self.text):
            if self.peek("["):
                table = self.header()
            else:
                self.pair(table)
            self.blank()
        return self.lines


def find_lines(text: str) -> dict[Path, int]:
    """Find the line of every key, table and row.

    Parameters
    ----------
    text : str
        Valid TOML.

    Returns
    -------
    dict
        From the path of each key (names, and row numbers from 0) to its line, counted from 1.
    """
    return _Scanner(text).run()
