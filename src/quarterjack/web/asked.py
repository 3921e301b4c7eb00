"""What a person typed into a form that is sent as part of the address: read once, faults kept beside the field."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import TypeVar

from quarterjack.errors import QuarterjackError, UnitNotUnderstood
from quarterjack.units import length_m, number

T = TypeVar("T")


class Asked:
    """The fields of one form.

    Parameters
    ----------
    query : mapping of str to str
        What was sent; a field that is missing or blank was not filled in.
    """

    def __init__(self, query: Mapping[str, str]) -> None:
        self._query = query
        self.wrong: dict[str, str] = {}

    def text(self, name: str) -> str:
        """The field as it was typed, for the page to show again."""
        return self._query.get(name, "")

    def _read(self, name: str, read: Callable[[str], T]) -> T | None:
        typed = self.text(name).strip()
        if not typed:
            return None
        try:
            return read(typed)
        except QuarterjackError as error:
            self.wrong[name] = str(error)
            return None

    def number(self, name: str) -> float | None:
        """A number, or None where none was given or it cannot be read."""
        return self._read(name, number)

    def length_m(self, name: str) -> float | None:
        """A length in people's units as metres, or None."""
        return self._read(name, length_m)

    def counts(self, name: str) -> tuple[int, ...] | None:
        """Whole numbers with anything but digits between them ("64, 60"), or None."""
        return self._read(name, _counts)

    @property
    def any(self) -> bool:
        """True once something was filled in."""
        return any(value.strip() for value in self._query.values())


def _counts(text: str) -> tuple[int, ...]:
    parts = re.split(r"[\s,;/·×x-]+", text.strip())
    if not all(re.fullmatch(r"\d{1,4}", part) for part in parts):
        raise UnitNotUnderstood(f"{text!r} is not a row of counts; write for example 64 60.", value=text)
    return tuple(int(part) for part in parts)
