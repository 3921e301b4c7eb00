"""Three taps that prove a chime: how it sounds, whether the quarters play at the hour too, what the hands say."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Final

from fastapi import APIRouter, Form, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from quarterjack.errors import SheetInvalid, SheetNotFound, UnknownChoice
from quarterjack.sheet import SheetFile
from quarterjack.sheet.movement import Sounds
from quarterjack.tunes import TUNES
from quarterjack.web.clock_pages import start_proof
from quarterjack.web.pages import bench_of, render
from quarterjack.workshop import ClockFolder

router = APIRouter(include_in_schema=False)


@dataclass(frozen=True)
class Way:
    """One way in which a clock sounds, as the first tap offers it."""

    key: str
    title: str
    more: str
    quarters: str
    hours: bool
    half_hour: str


_TUNE_WORDS: Final = {
    "cambridge": "four phrases of four notes at the hour",
    "ting-tang": "two notes for each quarter",
    "six-bell": "six bells, long and short phrases",
}

WAYS: Final = (
    *(Way(name, tune.title, _TUNE_WORDS.get(name, ""), name, True, "none") for name, tune in TUNES.items()),
    Way("hours-and-half", "Hours, and one blow at the half hour", "", "none", True, "one"),
    Way("hours", "Hours only", "", "none", True, "none"),
    Way("silent", "It only ticks", "", "none", False, "none"),
)


@router.get("/clocks/{slug}/sounds", response_class=HTMLResponse)
def sounds_page(request: Request, slug: str) -> HTMLResponse:
    """Ask the three things."""
    clock = bench_of(request).clock(slug)
    recordings = []
    tune = None
    for one in clock.recordings():
        heard = clock.heard_of(one)
        started = heard.recording.started_utc if heard else None
        recordings.append((one, _recorder_said(started)))
        if heard and tune is None:
            tune = next((sounding.tune for sounding in heard.soundings if sounding.tune), None)
    said = _said(clock)
    chosen = _way_of(said) if said and said.quarters is not None else tune
    context = {
        "clock": clock,
        "ways": WAYS,
        "tunes": tuple(TUNES),
        "chosen": chosen,
        "heard_tune": tune,
        "at_hour": said.quarters_at_hour if said else None,
        "recordings": recordings,
    }
    return render(request, "sounds.html", context)


def _said(clock: ClockFolder) -> Sounds | None:
    try:
        return clock.movement().sounds
    except (SheetInvalid, SheetNotFound):
        return None


def _way_of(sounds: Sounds) -> str | None:
    """Which of the ways a sheet describes, if it is one of them."""
    struck = sounds.hours not in (None, "none")
    for way in WAYS:
        if way.quarters == sounds.quarters and (way.quarters != "none" or way.hours == struck):
            if way.quarters == "none" and (sounds.half_hour or "none") != way.half_hour:
                continue
            return way.key
    return None


def _recorder_said(started_utc: str | None) -> str | None:
    """The recorder's clock at the start, in this computer's zone, as hands would show it."""
    if started_utc is None:
        return None
    local = datetime.fromisoformat(started_utc).astimezone()
    return f"{local.hour % 12 or 12}:{local.minute:02d}"


@router.post("/clocks/{slug}/sounds")
def set_sounds(
    request: Request,
    slug: str,
    way: Annotated[str, Form()],
    at_hour: Annotated[str, Form()] = "yes",
    dials: Annotated[list[str] | None, Form()] = None,
) -> RedirectResponse:
    """Write the answers into the sheet, and go on to the proof of everything that was recorded."""
    clock = bench_of(request).clock(slug)
    if at_hour not in ("yes", "no"):
        raise UnknownChoice("answer", at_hour, ("yes", "no"))
    write_sounds(clock, way, quarters_at_hour=at_hour == "yes")
    files = [one.file for one in clock.recordings()]
    if not files:
        return RedirectResponse(f"/clocks/{slug}", status_code=303)
    return start_proof(request, slug, files=files, dials=dials)


def write_sounds(clock: ClockFolder, key: str, *, quarters_at_hour: bool) -> None:
    """Change what the sheet says of the sounds; whatever else stands in it stays.

    Raises
    ------
    UnknownChoice
        If there is no such way.
    """
    way = next((one for one in WAYS if one.key == key), None)
    if way is None:
        raise UnknownChoice("way of sounding", key, (one.key for one in WAYS))
    sheet = SheetFile(clock.sheet_path)
    counted = sheet.movement().sounds
    sheet.set("sounds.quarters", way.quarters)
    sheet.set("sounds.quarters_at_hour", quarters_at_hour if way.quarters != "none" else None)
    # Whether rack or count wheel counts the hours cannot be heard; what the sheet knows of it stays.
    known = counted.hours if counted.hours in ("rack", "count-wheel") else "yes"
    sheet.set("sounds.hours", known if way.hours else "none")
    sheet.set("sounds.half_hour", way.half_hour)
    sheet.save()
