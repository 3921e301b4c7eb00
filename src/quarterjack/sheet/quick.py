"""The sheet that three taps make: a name and how the clock sounds."""

from __future__ import annotations

import json

from quarterjack.errors import UnknownChoice
from quarterjack.sheet.keys import HALF_HOURS
from quarterjack.tunes import TUNES

_QUICK_QUARTERS = (*TUNES, "none")


def quick_sheet(name: str, *, quarters: str, quarters_at_hour: bool, hours: bool, half_hour: str) -> str:
    """Write the smallest sheet that proves a chime.

    Parameters
    ----------
    name : str
        What the clock is called.
    quarters : str
        Name of a printed tune, or "none".
    quarters_at_hour : bool
        Whether the quarters play at the hour too; without quarters it says nothing.
    hours : bool
        Whether the hours are struck.
    half_hour : str
        "none", "one", "hour" or "next-hour".

    Returns
    -------
    str
        TOML text that `parse_sheet` reads.

    Raises
    ------
    UnknownChoice
        If the tune or the half hour is not among those.
    """
    if quarters not in _QUICK_QUARTERS:
        raise UnknownChoice("quarter tune", quarters, _QUICK_QUARTERS)
    if half_hour not in HALF_HOURS:
        raise UnknownChoice("half hour", half_hour, HALF_HOURS)
    lines = [f"name = {_quoted(name.strip() or 'Unnamed clock')}", "", "[sounds]", 'from = "heard"']
    lines.append(f'quarters = "{quarters}"')
    if quarters != "none":
        lines.append(f"quarters_at_hour = {str(quarters_at_hour).lower()}")
    lines += [f'hours = "{"yes" if hours else "none"}"', f'half_hour = "{half_hour}"', ""]
    return "\n".join(lines)


def _quoted(text: str) -> str:
    """Text as a TOML string; JSON escapes the same characters in the same way, except for DEL."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
