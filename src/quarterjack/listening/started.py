"""When a recording began: from its metadata or from a date and time in its name, never from the file's own dates.

A time without a zone is what the recorder's own clock said; it is read in this computer's zone and kept in UTC.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta, timezone

_STAMP = re.compile(
    r"(?<!\d)(?P<year>(?:19|20)\d{2})(?P<s>[-_.:/]?)(?P<month>\d{2})(?P=s)(?P<day>\d{2})"
    r"(?:T|_|\s|-|\s?at\s|,\s?)+(?P<hour>\d{2})(?P<t>[-_.:hH]?)(?P<minute>\d{2})(?:[-_.:mM]?(?P<second>\d{2}))?"
    r"(?:\.\d+)?\s?(?P<zone>Z|UTC|[+-]\d{2}:?\d{2})?(?![\d])"
)
# Containers write the start of their own epoch where nothing was set.
_EARLIEST_YEAR = 1990


def started_from(texts: Iterable[str | None]) -> str | None:
    """Return the first date with a time of day found in `texts`, as ISO 8601 in UTC; None where there is none."""
    for text in texts:
        if text and (found := _first_stamp(text)):
            return found.isoformat().replace("+00:00", "Z")
    return None


def _first_stamp(text: str) -> datetime | None:
    for match in _STAMP.finditer(text):
        part = match.groupdict()
        try:
            day = (int(part["year"]), int(part["month"]), int(part["day"]))
            stamp = datetime(*day, int(part["hour"]), int(part["minute"]), int(part["second"] or 0))
            if stamp.year < _EARLIEST_YEAR:
                continue
            return (stamp.replace(tzinfo=zone) if (zone := _zone(part["zone"])) else stamp).astimezone(UTC)
        except (ValueError, OverflowError):
            continue
    return None


def _zone(text: str | None) -> timezone | None:
    if not text:
        return None
    if text in ("Z", "UTC"):
        return UTC
    sign = -1 if text[0] == "-" else 1
    return timezone(sign * timedelta(hours=int(text[1:3]), minutes=int(text[-2:])))
