"""A `Reckoning` as a page of plain text, 80 columns wide, to be read at the bench."""

from __future__ import annotations

import re
import textwrap
from collections import Counter
from collections.abc import Iterable

from quarterjack.horology import lengthening_for_rate_m
from quarterjack.reckoning.reckoned import ReckonedTrain, Reckoning

WIDTH = 80
_NAMES = {1: "first quarter", 2: "second quarter", 3: "third quarter", 4: "at the hour"}


def readable(reckoning: Reckoning) -> str:
    """Write what a clock must do as plain text.

    Parameters
    ----------
    reckoning : Reckoning
        From `reckon`.

    Returns
    -------
    str
        Lines of at most 80 columns, except where a single word is longer; ends with a line break.
    """
    parts = [
        [reckoning.clock, "=" * min(len(reckoning.clock), WIDTH)],
        _bars(reckoning),
        _quarters(reckoning),
        _blows(reckoning),
        _totals(reckoning),
        _going(reckoning),
        *(_train(train) for train in reckoning.trains if train.arbors),
        _assumed(reckoning),
        _open(reckoning),
    ]
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def _title(text: str) -> list[str]:
    return [text, "-" * len(text)]


def _wrapped(text: str, hang: str = "") -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent=hang, break_long_words=False, break_on_hyphens=False) or [""]


def _table(rows: Iterable[tuple[str, ...]], right: tuple[int, ...] = ()) -> list[str]:
    """Rows in columns; the columns named in `right` are numbers and stand to the right."""
    cells = [tuple(row) for row in rows]
    widths = [max(len(row[column]) for row in cells) for column in range(len(cells[0]))]

    def line(row: tuple[str, ...]) -> str:
        done = (
            cell.rjust(width) if i in right else cell.ljust(width)
            for i, (cell, width) in enumerate(zip(row, widths, strict=True))
        )
        return "  ".join(done).rstrip()

    return [line(row) for row in cells]


def _bars(reckoning: Reckoning) -> list[str]:
    if not reckoning.bars:
        return []
    rows = [(reckoning.bars[0].form.capitalize(), "Note", "Where", "Hammer", "")]
    for bar in reckoning.bars:
        hammers = ", ".join(str(hammer) for hammer in bar.hammers) or "none"
        rows.append((str(bar.bar), bar.note or "", bar.place, hammers, "strikes the hour" if bar.hour else ""))
    return [*_title("What is struck"), *_table(rows)]


def _quarters(reckoning: Reckoning) -> list[str]:
    chimes = {s.quarter: s for s in reversed(reckoning.soundings) if s.kind == "quarter" and s.quarter}
    if not chimes:
        return []
    lines = _title(f"Quarters: {reckoning.tunes[0].title}" if reckoning.tunes else "Quarters")
    for quarter in sorted(chimes):
        phrases = "  /  ".join(" ".join(phrase) for phrase in chimes[quarter].notes)
        lines += _wrapped(f"{_NAMES[quarter] + ':':<16}{phrases}", " " * 16)
        hammers = "  /  ".join(" ".join(str(hammer) for hammer in phrase) for phrase in chimes[quarter].hammers)
        lines += _wrapped(f"{'    hammers':<16}{hammers}", " " * 16)
    if 4 not in chimes:
        lines.append("The quarters are silent at the hour.")
    return lines


def _blows(reckoning: Reckoning) -> list[str]:
    struck = {(s.dial_minute // 60, s.kind): s for s in reckoning.soundings if s.blows is not None}
    kinds = [kind for kind in ("hour", "half") if any(kind == found for _, found in struck)]
    if not kinds:
        return []
    head = {"hour": "At the hour", "half": "At the half hour after"}
    rows: list[tuple[str, ...]] = [("Dial", *(head[kind] for kind in kinds))]
    for hour in (*range(1, 12), 0):
        blows = (struck.get((hour, kind)) for kind in kinds)
        rows.append((str(hour or 12), *(str(s.blows) if s else "" for s in blows)))
    return [*_title("Blows"), *_table(rows, right=tuple(range(len(kinds) + 1)))]


def _totals(reckoning: Reckoning) -> list[str]:
    if not reckoning.soundings:
        return _title("Silent: nothing is struck, as far as the sheet says")

    def day(kind: str | None) -> int:
        return 2 * sum(s.n_blows for s in reckoning.soundings if kind in (None, s.kind))

    kinds = {"quarter": "Notes of the quarters", "hour": "Blows of the hours", "half": "Blows of the half hours"}
    rows = [(what, f"{day(kind):,}") for kind, what in kinds.items() if day(kind)]
    if len(rows) > 1:
        rows.append(("Strokes in all", f"{day(None):,}"))
    return [*_title("In a day of 24 hours"), *_table(rows, right=(1,))]


def _going(reckoning: Reckoning) -> list[str]:
    if reckoning.beats_per_hour is None:
        return []
    origin = {"train": "by the counts", "sheet": "as the sheet says", "pendulum": "by the pendulum's length"}
    rows = [("Beats an hour", f"{reckoning.beats_per_hour:,.1f}", origin.get(reckoning.beats_from or "", ""))]
    if reckoning.beats_per_turn is not None:
        rows.append(("Beats in a turn of the escape wheel", f"{reckoning.beats_per_turn}", ""))
    if reckoning.pendulum is not None:
        length = reckoning.pendulum.length_m
        a_minute = -1000.0 * lengthening_for_rate_m(length, 60.0)
        rows += [
            (
                "Theoretical pendulum",
                f"{1000 * length:,.1f} mm",
                f"at {reckoning.pendulum.gravity_m_per_s2:.5f} m/s²",
            ),
            ("1 mm shorter gains", f"{reckoning.pendulum.rate_s_per_day_per_mm:.1f} s/day", ""),
            ("To gain a minute a day, shorten by", f"{a_minute:.2f} mm", ""),
        ]
    return [*_title("Going"), *_table(rows, right=(1,))]


def _train(train: ReckonedTrain) -> list[str]:
    steady = train.name == "going"
    last = ("Turns an hour", "One turn in") if steady else ("Turns an hour, mean", "")
    rows = [("Arbor", "Wheel", "Pinion", *last)]
    for arbor in train.arbors:
        turns = "?" if arbor.turns_per_hour is None else f"{arbor.turns_per_hour:.4f}"
        period = _span(arbor.period_s) if steady else ""
        rows.append((arbor.name, str(arbor.wheel or "?"), str(arbor.pinion or "?"), turns, period))
    # The first arbor is driven by weight or spring, and the last, unless it escapes, drives nothing.
    rows[1] = (*rows[1][:2], "", *rows[1][3:])
    if train.arbors[-1].wheel is None and "scape" not in train.arbors[-1].name.lower():
        rows[-1] = (rows[-1][0], "", *rows[-1][2:])
    lines = [*_title(f"{train.name.capitalize()} train"), *_table(rows, right=(1, 2, 3, 4))]
    if train.run_time_h is not None:
        lines.append(f"Runs {_span(3600 * train.run_time_h)}, limited by {train.run_time_limited_by}.")
    return lines


def _span(seconds: float | None) -> str:
    if seconds is None:
        return "?"
    for unit, size in (("days", 86400.0), ("h", 3600.0), ("min", 60.0)):
        if seconds >= (2 * size if unit == "days" else size):
            return f"{seconds / size:.4g} {unit}"
    return f"{seconds:.4g} s"


def _assumed(reckoning: Reckoning) -> list[str]:
    if not reckoning.assumed:
        return []
    tables = Counter(re.split(r"\[|\.(?=[^.]*$)", key)[0] for key in reckoning.assumed)
    values = ", ".join(f"{table} ({count})" for table, count in tables.items())
    return [*_title("Assumed so far"), *_wrapped(f"The sheet only assumes, or takes from the same movement: {values}.")]


def _open(reckoning: Reckoning) -> list[str]:
    if not reckoning.cannot_say:
        return []
    lines = _title("Cannot be said yet")
    for item in reckoning.cannot_say:
        lines += _wrapped(f"- {item.what[0].upper()}{item.what[1:]}: {item.because} ({item.key}).", "  ")
    if reckoning.settle_next:
        lines += ["", *_wrapped(f"What would settle most: {reckoning.settle_next}")]
    return lines
