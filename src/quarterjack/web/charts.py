"""A chart on a page: the columns of `paper.gained` as data for the drawing script, and as the rows of a table."""

from __future__ import annotations

import math
from typing import Any

from quarterjack.paper import Gained, dial_text

_FEW_MINUTES = 8.0


def chart(curve: Gained) -> dict[str, Any]:
    """What `proof.js` draws: numbers and words, no code.

    Parameters
    ----------
    curve : Gained
        Columns with their names and units.
    """
    time, *_ = (column.values for column in curve.columns)
    shown = time[~_nan(time)]
    seconds = bool(shown.max() - shown.min() < _FEW_MINUTES) if shown.size else False
    return {
        "title": curve.title,
        "x_title": "dial time" if curve.on_dial else "minutes from the start of the recording",
        "y_title": "seconds gained",
        "x": _plain(time),
        "gained": _plain(curve.columns[1].values),
        "low": _plain(curve.columns[2].values),
        "high": _plain(curve.columns[3].values),
        "x_words": [_time(value, on_dial=curve.on_dial) for value in time],
        "ticks": _ticks(float(shown.min()), float(shown.max()), on_dial=curve.on_dial, seconds=seconds)
        if shown.size
        else [],
    }


def table(curve: Gained) -> dict[str, Any]:
    """The same columns as head and rows of text."""
    head = [curve.columns[0].name if curve.on_dial else f"{curve.columns[0].name}, min:s"]
    head += [f"{column.name}, {column.unit}" for column in curve.columns[1:]]
    rows = []
    for values in zip(*(column.values for column in curve.columns), strict=True):
        if math.isnan(values[0]):
            rows.append(["counted anew after a stop", "", "", ""])
        else:
            rows.append([_time(values[0], on_dial=curve.on_dial), *(_seconds(value) for value in values[1:])])
    return {"head": head, "rows": rows}


def _nan(values: Any) -> Any:
    return values != values  # noqa: PLR0124  # not a number is the only thing unlike itself


def _plain(values: Any) -> list[float | None]:
    return [None if math.isnan(value) else round(float(value), 5) for value in values]


def _time(minutes: float, *, on_dial: bool) -> str:
    if math.isnan(minutes):
        return ""
    if on_dial:
        return dial_text(minutes, seconds=True)
    whole = round(minutes * 60)
    return f"{whole // 60}:{whole % 60:02d}"


def _seconds(value: float) -> str:
    return f"{value:+.3f}".replace("-", "\u2212")


def _ticks(low: float, high: float, *, on_dial: bool, seconds: bool) -> list[dict[str, Any]]:
    """Places of the time axis at round minutes (or half and quarter minutes), at most seven, with their words."""
    steps = (0.25, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720, 1440, 2880)
    step = next((one for one in steps if (high - low) / one <= 6), steps[-1])
    at = math.ceil(low / step) * step
    found = []
    while at <= high + 1e-9:
        words = dial_text(at, seconds=seconds and step < 1) if on_dial else f"{at:g}"
        found.append({"at": round(at, 4), "words": words})
        at += step
    return found
