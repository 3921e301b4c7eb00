"""Commented sheets to start from, one for each of three usual kinds of clock."""

from __future__ import annotations

from importlib.resources import files

from quarterjack.errors import UnknownChoice

KINDS: dict[str, str] = {
    "floor-clock": "three trains, quarters and hours",
    "hour-striker": "eight days, two trains, strikes the hours",
    "regulator": "one train, no strike",
}
"""The kinds of clock that have a starter, and what each is."""


def starter(kind: str) -> str:
    """Give the commented sheet for a kind of clock.

    Parameters
    ----------
    kind : str
        One of `KINDS`.

    Returns
    -------
    str
        TOML text that `parse_sheet` reads. Its counts are usual ones and say that they are assumed.

    Raises
    ------
    UnknownChoice
        For another kind.
    """
    if kind not in KINDS:
        raise UnknownChoice("kind of clock", kind, KINDS)
    return (files("quarterjack.sheet") / "starters" / f"{kind}.toml").read_text(encoding="utf-8")
