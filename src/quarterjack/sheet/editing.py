"""Changes a sheet on disk as its owner would: comments and order stay, and nobody's change is overwritten."""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import MutableMapping
from itertools import pairwise
from pathlib import Path as FilePath
from typing import Any

import tomlkit

from quarterjack.errors import SheetChangedMeanwhile, SheetFault, SheetInvalid, UnknownChoice
from quarterjack.sheet import keys
from quarterjack.sheet.faults import Path
from quarterjack.sheet.movement import Movement
from quarterjack.sheet.reading import decoded, parse_sheet

_PART = re.compile(r"([A-Za-z0-9_-]+)((?:\[\d+\])*)(?:\.|$)")

Value = str | int | float | bool | list[Any]


class SheetFile:
    """A sheet on disk, to be changed value by value.

    Parameters
    ----------
    path : str or path
        The file. It need not be free of faults to be opened, but it must be to be saved.

    Raises
    ------
    SheetNotFound
        If there is no such file.
    SheetInvalid
        If it is not TOML in UTF-8.
    """

    def __init__(self, path: str | FilePath) -> None:
        self.path = FilePath(path)
        self._read = decoded(self.path)
        try:
            self._document = tomlkit.parse(self._read)
        except tomlkit.exceptions.ParseError as error:
            parse_sheet(self._read, str(self.path))
            fault = SheetFault(code="toml-syntax", file=str(self.path), line=error.line, key="", text=f"{error}.")
            raise SheetInvalid([fault]) from error

    @property
    def text(self) -> str:
        """The sheet as it would be written now."""
        return tomlkit.dumps(self._document)

    def movement(self) -> Movement:
        """Read the sheet as it would be written now.

        Raises
        ------
        SheetInvalid
            With every fault.
        """
        return parse_sheet(self.text, str(self.path))

    def set(self, key: str, value: Value | None, *, source: str | None = None) -> None:
        """Set one value; its comment stays. The sheet on disk is not touched until `save`.

        Parameters
        ----------
        key : str
            As faults name it, rows counted from 1, for example `trains.going.arbors[2].wheel`. A table that is
            missing is made; one row beyond the last is added.
        value : str, int, float, bool, list or None
            None takes the value away.
        source : str, optional
            Where the value comes from, written beside it; left out, what the table says holds.

        Raises
        ------
        UnknownChoice
            If the sheet has no such key or row, or the source is not one of `SOURCES_OF_VALUES`.
        """
        path = parse_key(key)
        if source is not None and source not in keys.SOURCES_OF_VALUES:
            raise UnknownChoice("source of a value", source, keys.SOURCES_OF_VALUES)
        table: Any = self._document
        for part, following in pairwise(path):
            table = self._step(table, part, following, key, make=value is not None)
            if table is None:
                return
        if value is None:
            table.pop(path[-1], None)
        elif source is None:
            table[path[-1]] = value
        else:
            with_source = tomlkit.inline_table()
            with_source.update({"value": value, "from": source})
            table[path[-1]] = with_source

    @staticmethod
    def _step(table: Any, part: str | int, following: str | int, key: str, *, make: bool) -> Any:
        """The table or row below, made where it is missing."""
        if isinstance(part, int):
            if part < len(table):
                return table[part]
            if part > len(table) or not make:
                raise UnknownChoice("row", key, [f"1 to {len(table) + 1}"])
            table.append(tomlkit.table() if isinstance(table, tomlkit.items.AoT) else tomlkit.inline_table())
            return table[part]
        if part not in table:
            if not make:
                return None
            inline = isinstance(table, tomlkit.items.InlineTable)
            if isinstance(following, int):
                table[part] = tomlkit.array() if inline or "arbors" in part else tomlkit.aot()
            else:
                table[part] = tomlkit.inline_table() if inline else tomlkit.table()
        below = table[part]
        if not isinstance(below, MutableMapping | list):
            raise UnknownChoice("table", key, [f"{part} is a single value in this sheet"])
        return below

    def save(self) -> Movement:
        """Write the sheet, whole or not at all.

        Returns
        -------
        Movement
            What the sheet now says.

        Raises
        ------
        SheetInvalid
            If it would have faults; nothing is written.
        SheetChangedMeanwhile
            If the file is no longer the one that was read; nothing is written.
        """
        movement, text = self.movement(), self.text
        if not self.path.exists() or decoded(self.path) != self._read:
            raise SheetChangedMeanwhile(
                f"{self.path} was changed by somebody else since it was read; nothing was saved. Open it again.",
                file=str(self.path),
            )
        write_whole(self.path, text)
        self._read = text
        return movement


def parse_key(key: str) -> Path:
    """Read a key as faults name it into its path, rows counted from 0.

    Raises
    ------
    UnknownChoice
        If the sheet has no such key.
    """
    path: list[str | int] = []
    at = 0
    while at < len(key) and (found := _PART.match(key, at)):
        path.append(found[1])
        path += [int(number) - 1 for number in re.findall(r"\d+", found[2])]
        at = found.end()
    pattern = "".join("[]" if isinstance(part, int) else f".{part}" for part in path)[1:]
    pattern = re.sub(rf"^trains\.({'|'.join(keys.TRAINS)})\b", "trains.<train>", pattern)
    known = keys.find(pattern)
    if at < len(key) or key.endswith(".") or known is None or known.kind in (keys.TABLE, keys.ROWS) or -1 in path:
        guess = keys.nearest(pattern, (k.key for k in keys.SHEET_KEYS))
        raise UnknownChoice("key of a sheet", key, [guess] if guess else [k.key for k in keys.SHEET_KEYS])
    return tuple(path)


def write_whole(path: FilePath, text: str) -> None:
    """Write a file so that a reader finds the old text or the new, never a part of it."""
    handle, temporary = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            FilePath(temporary).chmod(path.stat().st_mode & 0o777)
        FilePath(temporary).replace(path)
    except BaseException:
        FilePath(temporary).unlink(missing_ok=True)
        raise
