"""Checks each value of a sheet against its key, and hands on only what passed."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from typing import Any

from quarterjack.sheet import keys
from quarterjack.sheet.faults import Faults, Path, written
from quarterjack.sheet.keys import Key

UNKNOWN = "?"
_TIME = re.compile(r"(\d{1,2})[:.](\d{2})")


class Checked:
    """What passed the check: values by path, and where they come from."""

    def __init__(self) -> None:
        self.values: dict[Path, Any] = {}
        self.comes_from: dict[str, str] = {}

    def get(self, *path: str | int) -> Any:
        """The value at a path, None where it is unknown or did not pass."""
        return self.values.get(path)

    def rows(self, *path: str | int) -> list[int]:
        """The numbers of the rows under a path."""
        n = len(path)
        return sorted({p[n] for p in self.values if p[:n] == path and len(p) > n and isinstance(p[n], int)})  # type: ignore[misc]

    def has(self, *path: str | int) -> bool:
        """Whether anything stands at or under a path."""
        return any(p[: len(path)] == path for p in self.values)


def check(raw: dict[str, Any], faults: Faults) -> Checked:
    """Walk through a sheet as TOML gives it; each fault is noted and its value left out."""
    checked = Checked()
    _table(raw, "", (), "", checked, faults)
    return checked


def _pattern(prefix: str, name: str) -> str:
    if prefix == "trains" and name in keys.TRAINS:
        return "trains.<train>"
    return f"{prefix}.{name}" if prefix else name


def _table(raw: dict[str, Any], prefix: str, path: Path, source: str, checked: Checked, faults: Faults) -> None:
    own = raw.get("from", source)
    if isinstance(own, str) and own in keys.SOURCES_OF_VALUES:
        source = own
    checked.values[path] = True
    for name, value in raw.items():
        here = (*path, name)
        key = keys.find(_pattern(prefix, name))
        if key is None:
            _unknown(prefix, name, here, faults)
        elif key.kind == keys.TABLE:
            if isinstance(value, dict):
                _table(value, key.key, here, source, checked, faults)
            else:
                faults.add("wrong-type", here, f"this is a table; write [{written(here)}] and its keys below.")
        elif key.kind == keys.ROWS:
            _rows(value, key, here, source, checked, faults)
        else:
            _single(value, key, here, source, checked, faults)
    for key in keys.children(prefix):
        name = key.key.rsplit(".", 1)[-1]
        if key.needed and name not in raw:
            faults.add("missing-key", (*path, name), f"{name!r} is missing; {key.meaning[0].lower()}{key.meaning[1:]}")


def _rows(value: Any, key: Key, here: Path, source: str, checked: Checked, faults: Faults) -> None:
    if not isinstance(value, list) or not all(isinstance(row, dict) for row in value):
        faults.add("wrong-type", here, f"these are rows; write [[{written(here)}]] before each, or a list of {{ … }}.")
        return
    for index, row in enumerate(value):
        _table(row, f"{key.key}[]", (*here, index), source, checked, faults)


def _unknown(prefix: str, name: str, here: Path, faults: Faults) -> None:
    known = keys.TRAINS if prefix == "trains" else tuple(k.key.rsplit(".", 1)[-1] for k in keys.children(prefix))
    guess = keys.nearest(name, known)
    hint = f"did you mean {guess!r}?" if guess else f"known here: {', '.join(known)}."
    faults.add("unknown-key", here, f"{name!r} is not a key of a sheet; {hint}")


def _single(value: Any, key: Key, here: Path, source: str, checked: Checked, faults: Faults) -> None:
    if isinstance(value, dict):
        if "value" not in value or not set(value) <= {"value", "from"}:
            faults.add("wrong-type", here, "a value with its source is written { value = …, from = \"counted\" }.")
            return
        said = value.get("from", source)
        if not isinstance(said, str) or (said and said not in keys.SOURCES_OF_VALUES):
            faults.add("not-a-choice", (*here, "from"), _choice_text(said, keys.SOURCES_OF_VALUES))
            return
        value, source = value["value"], said
    if value == UNKNOWN and not key.needed:
        return
    before = len(faults.found)
    plain = _READERS[key.kind](value, key, here, faults)
    if len(faults.found) > before:
        return
    checked.values[here] = plain
    if source and here[-1] != "from":
        checked.comes_from[written(here)] = source


def _choice_text(value: Any, allowed: Iterable[str]) -> str:
    allowed = tuple(allowed)
    guess = keys.nearest(value, allowed) if isinstance(value, str) else None
    hint = f" Did you mean {guess!r}?" if guess else ""
    return f"{_shown(value)} is not among the choices: {', '.join(allowed)}.{hint}"


def _shown(value: Any) -> str:
    return str(value).lower() if isinstance(value, bool) else repr(value)


def _wrong(value: Any, key: Key, here: Path, faults: Faults) -> None:
    faults.add("wrong-type", here, f"{_shown(value)} is not a {key.kind}." if key.kind != keys.TEXT else f"{_shown(value)} is not text; put it in quotation marks.")


def _text(value: Any, key: Key, here: Path, faults: Faults) -> str | None:
    if key.allowed and (not isinstance(value, str) or value not in key.allowed):
        faults.add("not-a-choice", here, _choice_text(value, key.allowed))
    elif not isinstance(value, str):
        _wrong(value, key, here, faults)
    elif key.needed and not value.strip():
        faults.add("missing-key", here, "this may not be empty.")
    else:
        return value.strip()
    return None


def _number(value: Any, key: Key, here: Path, faults: Faults) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        _wrong(value, key, here, faults)
    elif (
        not math.isfinite(value)
        or (key.low is not None and value < key.low)
        or (key.high is not None and value > key.high)
    ):
        faults.add("out-of-range", here, f"{value:g} is out of range; allowed is {key.bounds}.")
    else:
        return float(value)
    return None


def _whole(value: Any, key: Key, here: Path, faults: Faults) -> int | None:
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    if isinstance(value, bool) or not isinstance(value, int):
        _wrong(value, key, here, faults)
        return None
    number = _number(value, key, here, faults)
    return None if number is None else int(number)


def _yes_no(value: Any, key: Key, here: Path, faults: Faults) -> bool | None:
    if isinstance(value, bool):
        return value
    faults.add("wrong-type", here, f"{_shown(value)} is neither true nor false (both without quotation marks).")
    return None


def _time(value: Any, key: Key, here: Path, faults: Faults) -> int | None:
    found = _TIME.fullmatch(value.strip()) if isinstance(value, str) else None
    if found and int(found[1]) < 24 and int(found[2]) < 60:
        return int(found[1]) % 12 * 60 + int(found[2])
    faults.add("time-not-understood", here, f"{_shown(value)} is not a dial time; write for example \"4:13\".")
    return None


def _wholes(value: Any, key: Key, here: Path, faults: Faults) -> tuple[int, ...]:
    found = [_whole(item, key, here, faults) for item in (value if isinstance(value, list) else [value])]
    return tuple(item for item in found if item is not None)


def _hammers(value: Any, key: Key, here: Path, faults: Faults) -> tuple[tuple[int, ...], ...]:
    if not isinstance(value, list):
        _wrong(value, key, here, faults)
        return ()
    return tuple(_wholes(item, key, here, faults) for item in value)


def _numbers(value: Any, key: Key, here: Path, faults: Faults) -> tuple[float, ...]:
    if not isinstance(value, list):
        _wrong(value, key, here, faults)
        return ()
    found = [_number(item, key, here, faults) for item in value]
    return tuple(item for item in found if item is not None)


def _texts(value: Any, key: Key, here: Path, faults: Faults) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
        _wrong(value, key, here, faults)
        return ()
    return tuple(item.strip() for item in value)


def _phrases(value: Any, key: Key, here: Path, faults: Faults) -> tuple[tuple[tuple[int, ...], ...], ...]:
    def bell(item: Any) -> bool:
        return isinstance(item, int) and not isinstance(item, bool)

    good = isinstance(value, list) and all(
        isinstance(quarter, list)
        and all(isinstance(phrase, list) and all(bell(item) for item in phrase) for phrase in quarter)
        for quarter in value
    )
    if not good:
        faults.add("wrong-type", here, "write four lists, each of phrases, each phrase a list of bells: [[[1, 2]], …].")
        return ()
    return tuple(tuple(tuple(phrase) for phrase in quarter) for quarter in value)


_READERS = {
    keys.TEXT: _text,
    keys.NUMBER: _number,
    keys.WHOLE: _whole,
    keys.YES_NO: _yes_no,
    keys.TIME: _time,
    keys.WHOLES: _wholes,
    keys.HAMMERS: _hammers,
    keys.NUMBERS: _numbers,
    keys.TEXTS: _texts,
    keys.PHRASES: _phrases,
}
