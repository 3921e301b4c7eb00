"""The third door: say when it stopped, and read what acts at that minute; from three on, what the stops share."""

from __future__ import annotations

import re
from typing import Any, Final

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from quarterjack.causes import Fold, fold_stops, what_acts_at
from quarterjack.errors import OutOfRange, QuarterjackError
from quarterjack.paper import dial_text
from quarterjack.paper.gained import dial_minute
from quarterjack.reckoning import Reckoning
from quarterjack.web import drawings
from quarterjack.web.asked import Asked
from quarterjack.web.clock_view import dial_time
from quarterjack.web.pages import bench_of, figure, render

router = APIRouter(include_in_schema=False)

MOST_STOPS: Final = 60
FEWEST_TO_FOLD: Final = 3


def dial_minutes(text: str) -> tuple[int, ...]:
    """Read dial times with spaces, commas or "and" between them as minutes after twelve.

    Raises
    ------
    UnitNotUnderstood
        For the first that is not a time.
    OutOfRange
        If there are more than 60.
    """
    words = [word for word in re.split(r"[\s,;]+|\band\b", text) if word]
    if len(words) > MOST_STOPS:
        raise OutOfRange(f"{len(words)} stops were given; up to {MOST_STOPS} are folded at a time.", value=len(words))
    return tuple(dial_minute(dial_time(word)) or 0 for word in words)


@router.get("/stops", response_class=HTMLResponse)
def stops_page(request: Request) -> HTMLResponse:
    """Ask when, and say what acts then and what the stops share."""
    asked = Asked(request.query_params)
    clocks = bench_of(request).clocks()
    context: dict[str, Any] = {"asked": asked, "clocks": clocks, "answer": None, "wrong": asked.wrong}
    try:
        minutes = dial_minutes(asked.text("at"))
    except QuarterjackError as error:
        asked.wrong["at"] = str(error)
        return render(request, "stops.html", context, status=422)
    reckoning = _reckoning(request, asked)
    if minutes:
        context["answer"] = _answer(minutes, reckoning)
    return render(request, "stops.html", context, status=422 if asked.wrong else 200)


def _reckoning(request: Request, asked: Asked) -> Reckoning | None:
    slug = asked.text("clock")
    if not slug:
        return None
    try:
        return bench_of(request).clock(slug).reckoning()
    except QuarterjackError as error:
        asked.wrong["clock"] = str(error)
        return None


def _answer(minutes: tuple[int, ...], reckoning: Reckoning | None) -> dict[str, Any]:
    words = [dial_text(minute) for minute in minutes]
    folded = fold_stops(minutes, reckoning)
    return {
        "folded": folded if len(minutes) >= FEWEST_TO_FOLD else None,
        "said": folded.text,
        "rows": [_fold_row(fold) for fold in folded.folds],
        "each": [(dial_text(minute), what_acts_at(minute, reckoning)) for minute in dict.fromkeys(minutes)],
        "drawing": drawings.dial(minutes, f"A dial with the hands at {', '.join(words)}."),
    }


def _fold_row(fold: Fold) -> tuple[str, str, str, str]:
    """A fold as a row: what comes round, how often, how close the stops stand, and the chance of that."""
    every = "65 min 27 s" if fold.period_min % 1 else f"{fold.period_min:g} min"
    chance = "under 1 in 1000" if fold.p_all < 0.001 else figure(100 * fold.p_all, 1) + " %"
    return fold.what, every, f"{fold.within_min:.0f} min", chance
