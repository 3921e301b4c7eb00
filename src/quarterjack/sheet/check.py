"""Walks through a sheet, checks each value against its key, and hands on only what passed."""

from __future__ import annotations

from typing import Any

from quarterjack.sheet import keys
from quarterjack.sheet.faults import Faults, Path, written
from quarterjack.sheet.keys import Key
from quarterjack.sheet.values import READERS, NotFit, choice

UNKNOWN = "?"


class Checked:
    """What passed the check: tables and values by path, and where values come from."""

    def __init__(self) -> None:
        self.tables: list[Path] = []
        self.values: dict[Path, Any] = {}
        self.comes_from: dict[str, str] = {}

    def get(self, *path: str | int) -> Any:
        """The value at a path; None where it is unknown or did not pass."""
        return self.values.get(path)

    def rows(self, *path: str | int) -> list[int]:
        """The numbers of the rows under a path, rising."""
        found = (table[-1] for table in self.tables if table and table[:-1] == path)
        return [at for at in found if isinstance(at, int)]

    def has(self, *path: str | int) -> bool:
        """Whether a table or its rows are written at the path."""
        return any(table[: len(path)] == path for table in self.tables)


def check(raw: dict[str, Any], faults: Faults) -> Checked:
    """Walk through a sheet as TOML gives it; each fault is noted and its value left out."""
    walk = _Walk(faults)
    walk.table(raw, "", (), "")
    return walk.checked


class _Walk:
    def __init__(self, faults: Faults) -> None:
        self.faults = faults
        self.checked = Checked()

    def table(self, raw: dict[str, Any], prefix: str, path: Path, source: str) -> None:
        """Check one table; `source` is what the tables around it say of where values come from."""
        self.checked.tables.append(path)
        own = raw.get("from")
        source = own if own in keys.SOURCES_OF_VALUES else source
        for name, value in raw.items():
            here = (*path, name)
            pattern = "<train>" if prefix == "trains" and name in keys.TRAINS else name
            key = keys.find(f"{prefix}.{pattern}" if prefix else pattern)
            if key is None:
                self._unknown(prefix, name, here)
            elif key.kind == keys.TABLE:
                if isinstance(value, dict):
                    self.table(value, key.key, here, source)
                else:
                    self.faults.add("wrong-type", here, f"this is a table; write [{written(here)}] and its keys below.")
            elif key.kind == keys.ROWS:
                self._rows(value, key, here, source)
            else:
                self._single(value, key, here, source)
        for key in keys.children(prefix):
            name = key.key.rsplit(".", 1)[-1]
            if key.needed and name not in raw:
                meaning = key.meaning[0].lower() + key.meaning[1:]
                self.faults.add("missing-key", (*path, name), f'"{name}" is missing: {meaning}')

    def _rows(self, value: Any, key: Key, here: Path, source: str) -> None:
        if not isinstance(value, list) or not all(isinstance(row, dict) for row in value):
            text = f"these are rows; write [[{written(here)}]] before each, or a list of {{ … }}."
            self.faults.add("wrong-type", here, text)
            return
        for index, row in enumerate(value):
            self.table(row, f"{key.key}[]", (*here, index), source)

    def _unknown(self, prefix: str, name: str, here: Path) -> None:
        known = keys.TRAINS if prefix == "trains" else tuple(k.key.rsplit(".", 1)[-1] for k in keys.children(prefix))
        guess = keys.nearest(name, known)
        hint = f'did you mean "{guess}"?' if guess else f"known here: {', '.join(known)}."
        self.faults.add("unknown-key", here, f'"{name}" is not a key of a sheet; {hint}')

    def _single(self, value: Any, key: Key, here: Path, source: str) -> None:
        try:
            if isinstance(value, dict):
                if "value" not in value or not set(value) <= {"value", "from"}:
                    raise NotFit("wrong-type", 'a value with its source is written { value = …, from = "counted" }.')
                source = choice(value["from"], keys.SOURCES_OF_VALUES) if "from" in value else source
                value = value["value"]
            if value == UNKNOWN and not key.needed:
                return
            self.checked.values[here] = READERS[key.kind](value, key)
        except NotFit as fault:
            self.faults.add(fault.code, here, fault.text)
            return
        if source and here[-1] != "from":
            self.checked.comes_from[written(here)] = source
