"""How many blows a clock strikes in the usual ways of counting hours."""

from __future__ import annotations

from quarterjack.errors import OutOfRange, UnknownChoice

HOURS_ON_DIAL = 12
DIALS_A_DAY = 2

HOUR_STYLES: dict[str, str] = {
    "twelve": "1 to 12, twice a day",
    "twenty-four": "1 to 24, once a day",
    "six": "1 to 6, four times a day (Italian)",
    "twelve-each-quarter": "1 to 12, and the hour again after each quarter",
}
"""Ways of counting hours, and what each does."""

_COUNTED_TO = {"twelve": 12, "twenty-four": 24, "six": 6, "twelve-each-quarter": 12}
_REPEATED = {"twelve-each-quarter": 4}


def blows_at_hour(hour: int, style: str = "twelve") -> int:
    """Give the blows at an hour of the day.

    Parameters
    ----------
    hour : int
        Hour of the day, 1 to 24.
    style : str, optional
        One of `HOUR_STYLES`.

    Returns
    -------
    int
        Blows in one striking of that hour.

    Raises
    ------
    OutOfRange
        For an hour that no day has.
    UnknownChoice
        For a style that is not known.

    Notes
    -----
    [bellhistorians2009; derham1696 ch. II]
    """
    if style not in HOUR_STYLES:
        raise UnknownChoice("style of counting hours", style, HOUR_STYLES)
    if not 1 <= hour <= 24:
        raise OutOfRange(f"hour {hour} is in no day; allowed is 1 to 24.", name="hour", value=hour)
    return (hour - 1) % _COUNTED_TO[style] + 1


def blows_in_hours(hours: int, *, first_hour: int = 1, style: str = "twelve", half_hour_blows: int = 0) -> int:
    """Give all blows struck in a run of hours.

    Parameters
    ----------
    hours : int
        How many hours run, at least 0; 24 for a day.
    first_hour : int, optional
        The first hour that is struck, 1 to 24.
    style : str, optional
        One of `HOUR_STYLES`.
    half_hour_blows : int, optional
        Blows at each half hour, at least 0.

    Returns
    -------
    int
        Blows of the hours and half hours together; quarters are not among them.

    Raises
    ------
    OutOfRange
        Outside those bounds.
    UnknownChoice
        For a style that is not known.

    Notes
    -----
    156 a day for hours of twelve, 180 with single half hours, 177 in a thirty-hour run from one o'clock
    [goodrich1905 ch. XVI; beckett1903 Striking; bellhistorians2009].
    """
    if hours < 0 or half_hour_blows < 0:
        raise OutOfRange(f"{hours} hours with {half_hour_blows} blows at the half hour: neither may be below 0.")
    struck = sum(blows_at_hour((first_hour - 1 + n) % 24 + 1, style) for n in range(hours))
    return struck * _REPEATED.get(style, 1) + half_hour_blows * hours


def count_wheel_divisions(silent_half_hours: int | None = None) -> int:
    """Give the divisions of a count wheel (locking plate) that turns once in twelve hours.

    Parameters
    ----------
    silent_half_hours : int, optional
        How many of the twelve half hours are not struck, 0 to 12; left out for a clock that strikes hours alone.

    Returns
    -------
    int
        One division for each blow.

    Raises
    ------
    OutOfRange
        For more half hours than a dial has.

    Notes
    -----
    78 for the hours alone, 90 with all half hours, 88 where those after twelve and one are silent
    [goodrich1905 ch. XVI; beckett1903 Striking].
    """
    silent = HOURS_ON_DIAL if silent_half_hours is None else silent_half_hours
    if not 0 <= silent <= HOURS_ON_DIAL:
        raise OutOfRange(f"{silent} silent half hours; allowed is 0 to 12.", name="silent_half_hours", value=silent)
    return blows_in_hours(HOURS_ON_DIAL) + HOURS_ON_DIAL - silent
