"""Reads one value of a sheet as its key wants it, or says in words why it cannot."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from typing import Any

from quarterjack.sheet import keys
from quarterjack.sheet.keys import Key

_TIME = re.compile(r"([01]?\d|2[0-3]):[0-5]\d(:[0-5]\d)?")


class NotFit(Exception):
    """A value does not fit its key; `code` is one of `FAULT_KINDS`."""

    def __init__(self, code: str, text: str) -> None:
        super().__init__(text)
        self.code, self.text = code, text


def shown(value: Any) -> str:
    """A value as it stands in TOML, near enough to be recognised."""
    return str(value).lower() if isinstance(value, bool) else repr(value)


def choice(value: Any, allowed: Iterable[str]) -> str:
    """The value, if it is one of the choices."""
    allowed = tuple(allowed)
    if isinstance(value, str) and value in allowed:
        return value
    guess = keys.nearest(value, allowed) if isinstance(value, str) else None
    hint = f' Did you mean "{guess}"?' if guess else ""
    raise NotFit("not-a-choice", f"{shown(value)} is not among the choices: {', '.join(allowed)}.{hint}")


def _text(value: Any, key: Key) -> str:
    if key.allowed:
        return choice(value, key.allowed)
    if not isinstance(value, str):
        raise NotFit("wrong-type", f"{shown(value)} is not text; put it in quotation marks.")
    if key.needed and not value.strip():
        raise NotFit("missing-key", "this may not be empty.")
    return value.strip()


def _number(value: Any, key: Key) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise NotFit("wrong-type", f"{shown(value)} is not a number, written without quotation marks.")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    below, above = key.low is not None and number < key.low, key.high is not None and number > key.high
    if not math.isfinite(number) or below or above:
        raise NotFit("out-of-range", f"{number:g} is out of range; allowed is {key.bounds or 'a finite number'}.")
    return number


def _whole(value: Any, key: Key) -> int:
    number = _number(value, key)
    if not number.is_integer():
        raise NotFit("wrong-type", f"{shown(value)} is not a whole number.")
    return int(number)


def _yes_no(value: Any, _key: Key) -> bool:
    if not isinstance(value, bool):
        raise NotFit("wrong-type", f"{shown(value)} is neither true nor false, written without quotation marks.")
    return value


def _time(value: Any, _key: Key) -> str:
    if not isinstance(value, str) or not _TIME.fullmatch(value.strip()):
        raise NotFit("time-not-understood", f'{shown(value)} is not a dial time; write for example "4:13".')
    return value.strip()


def _items(value: Any, what: str) -> list[Any]:
    if not isinstance(value, list):
        raise NotFit("wrong-type", f"{shown(value)} is not a list of {what}, written [ … , … ].")
    return value


def _wholes(value: Any, key: Key) -> tuple[int, ...]:
    return tuple(_whole(item, key) for item in (value if isinstance(value, list) else [value]))


def _hammers(value: Any, key: Key) -> tuple[tuple[int, ...], ...]:
    found = tuple(_wholes(item, key) for item in _items(value, "hammers"))
    if not all(found):
        raise NotFit("wrong-type", "a bell without a hammer: [] stands in the list.")
    return found


def _numbers(value: Any, key: Key) -> tuple[float, ...]:
    return tuple(_number(item, key) for item in _items(value, "numbers"))


def _texts(value: Any, _key: Key) -> tuple[str, ...]:
    items = _items(value, "texts")
    strange = [item for item in items if not isinstance(item, str)]
    if strange:
        raise NotFit("wrong-type", f"{shown(strange[0])} is not text; put it in quotation marks.")
    return tuple(item.strip() for item in items)


def _phrases(value: Any, key: Key) -> tuple[tuple[tuple[int, ...], ...], ...]:
    return tuple(
        tuple(tuple(_whole(bell, key) for bell in _items(phrase, "bells")) for phrase in _items(quarter, "phrases"))
        for quarter in _items(value, "quarters")
    )


READERS: dict[str, Callable[[Any, Key], Any]] = {
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
