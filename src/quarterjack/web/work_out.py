"""The second door: a pendulum, a train, a line, each a form that is part of the address and works without scripts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from quarterjack import horology
from quarterjack.errors import OutOfRange, QuarterjackError
from quarterjack.web import drawings_work
from quarterjack.web.asked import Asked
from quarterjack.web.pages import figure, render

router = APIRouter(include_in_schema=False)

LOCAL_GRAVITY: Final = 0.001
"""How far real gravity may lie from the normal one for a place, m/s² (see `normal_gravity_m_per_s2`)."""


@dataclass(frozen=True)
class Row:
    """One line of an answer: what, how much with its unit, and the range or the remark beside it."""

    name: str
    value: str
    beside: str = ""


@router.get("/work-out", response_class=HTMLResponse)
def work_out(request: Request) -> HTMLResponse:
    """Show what can be worked out."""
    return render(request, "work_out.html")


def millimetres(metres: float, digits: int = 1) -> str:
    """A length in millimetres."""
    return f"{figure(1000 * metres, digits)} mm"


def inches(metres: float) -> str:
    """A length in inches."""
    return f"{figure(metres / 0.0254, 2)} in"


def _answered(request: Request, template: str, asked: Asked, answer: dict[str, Any] | None) -> HTMLResponse:
    context = {"asked": asked, "answer": answer, "wrong": asked.wrong}
    return render(request, template, context, status=422 if asked.wrong else 200)


# A pendulum


def gravities(latitude_deg: float | None) -> tuple[tuple[float, float, float], str]:
    """Usual, least and most gravity, m/s², and where they come from."""
    if latitude_deg is None:
        least, most = (float(horology.normal_gravity_m_per_s2(place)) for place in (0.0, 90.0))
        return (horology.STANDARD_GRAVITY_M_PER_S2, least, most), (
            "Standard gravity; the range is that from the equator to the poles."
        )
    here = float(horology.normal_gravity_m_per_s2(latitude_deg))
    return (here, here - LOCAL_GRAVITY, here + LOCAL_GRAVITY), (
        f"Normal gravity at {latitude_deg:g} degrees, sea level; the range is what the rock below can change."
    )


@router.get("/work-out/pendulum", response_class=HTMLResponse)
def pendulum(request: Request) -> HTMLResponse:
    """Work out a pendulum from its beats, or the beats from its length, or what to change when both are given."""
    asked = Asked(request.query_params)
    beats, length, latitude = asked.number("beats"), asked.length_m("length"), asked.number("latitude")
    answer = None
    if not asked.wrong and (beats is not None or length is not None):
        try:
            answer = _pendulum(beats, length, latitude)
        except OutOfRange as error:
            asked.wrong["answer"] = str(error)
    return _answered(request, "work_pendulum.html", asked, answer)


def _pendulum(beats: float | None, length: float | None, latitude: float | None) -> dict[str, Any]:
    (usual, least, most), source = gravities(latitude)
    rows: list[Row] = []
    if beats is not None:
        wanted, low, high = (horology.pendulum_length_m(beats, g) for g in (usual, least, most))
        rows.append(Row("Length", millimetres(wanted), f"{millimetres(low)} to {millimetres(high)}; {inches(wanted)}"))
    else:
        assert length is not None
        wanted = length
    if length is not None:
        made, slow, fast = (horology.pendulum_beats_per_hour(length, g) for g in (usual, least, most))
        rows.append(
            Row("Beats an hour", figure(made, 1), f"{figure(slow, 1)} to {figure(fast, 1)}, for {millimetres(length)}")
        )
    if beats is not None and length is not None:
        change = wanted - length
        word = "Lengthen by" if change > 0 else "Shorten by"
        rows.append(Row(word, millimetres(abs(change), 2), f"from {millimetres(length)}, to make {figure(beats, 1)}"))
    per_mm = horology.rate_per_mm_s_per_day(wanted)
    rows.append(Row("A millimetre longer", f"{figure(per_mm, 1)} s a day", "lost; a millimetre shorter gains as much"))
    return {
        "rows": rows,
        "source": source,
        "drawing": drawings_work.pendulum(
            f"{figure(1000 * wanted)} mm", f"A pendulum, {figure(1000 * wanted)} millimetres from bend to middle."
        ),
    }


# A train


@router.get("/work-out/train", response_class=HTMLResponse)
def train(request: Request) -> HTMLResponse:
    """Work out beats an hour, turns and the pendulum from a going train's counts."""
    asked = Asked(request.query_params)
    wheels, pinions, escape = asked.counts("wheels"), asked.counts("pinions"), asked.number("escape")
    minutes = asked.number("minutes")
    answer = None
    if not asked.wrong and wheels and pinions and escape:
        try:
            answer = _train(wheels, pinions, escape, 60.0 if minutes is None else minutes)
        except QuarterjackError as error:
            asked.wrong["answer"] = str(error)
    return _answered(request, "work_train.html", asked, answer)


def _train(wheels: tuple[int, ...], pinions: tuple[int, ...], escape: float, minutes: float) -> dict[str, Any]:
    first_s = 60 * minutes
    beats = horology.train_beats_per_hour(wheels, pinions, horology.beats_of_escape_wheel(escape), first_s)
    periods = (first_s, *horology.periods_of_arbors_s(wheels, pinions, first_s))
    (usual, least, most), source = gravities(None)
    length, low, high = (horology.pendulum_length_m(beats, g) for g in (usual, least, most))
    words = tuple(turn_words(period) for period in periods)
    rows = [
        Row("Beats an hour", figure(beats, 2 if beats % 1 else 0), f"one beat in {figure(3600 / beats, 4)} s"),
        Row("Pendulum", millimetres(length), f"{millimetres(low)} to {millimetres(high)}; {inches(length)}"),
    ]
    teeth = (*wheels, int(escape))
    return {
        "rows": rows,
        "source": source,
        "arbors": [
            (place, leaves, count, turn)
            for place, (leaves, count, turn) in enumerate(zip((None, *pinions), teeth, words, strict=True), 1)
        ],
        "drawing": drawings_work.train(
            teeth,
            pinions,
            f"A train of {len(wheels)} wheels and an escape wheel, {figure(beats)} beats an hour.",
        ),
        "beats": f"{beats:.6g}",
    }


def turn_words(seconds: float) -> str:
    """The time of one turn in the unit that suits it."""
    for unit, size in (("h", 3600.0), ("min", 60.0)):
        if seconds >= 2 * size or seconds == size:
            return f"{seconds / size:.4g} {unit}"
    return f"{seconds:.4g} s"


# A line

_LINE_WORDS: Final = {
    "line_m": "Thickness of the line",
    "falls": "Falls",
    "drop_m": "Drop",
    "fastening_m": "Fastening",
}


@router.get("/work-out/line", response_class=HTMLResponse)
def line(request: Request) -> HTMLResponse:
    """Work out the length of a line or cable: roughly from two numbers, better from six."""
    asked = Asked(request.query_params)
    turns, barrel, thick = asked.number("turns"), asked.length_m("barrel"), asked.length_m("line")
    falls, drop, fastening = asked.number("falls"), asked.length_m("drop"), asked.length_m("fastening")
    answer = None
    if not asked.wrong and turns is not None and barrel is not None:
        try:
            found = horology.line_length(turns, barrel, line_m=thick, falls=falls, drop_m=drop, fastening_m=fastening)
        except OutOfRange as error:
            asked.wrong["answer"] = str(error)
        else:
            answer = _line(found, falls, drop)
    return _answered(request, "work_line.html", asked, answer)


def _line(found: horology.LineLength[float], falls: float | None, drop: float | None) -> dict[str, Any]:
    spread = "" if found.low_m == found.high_m else f"{millimetres(found.low_m, 0)} to {millimetres(found.high_m, 0)}; "
    carried = int(horology.USUAL_LINE["falls"][0] if falls is None else falls)
    hangs = horology.USUAL_LINE["drop_m"][0] if drop is None else drop
    return {
        "rows": [
            Row("Cut", millimetres(found.length_m, 0), f"{spread}{figure(found.length_m / 0.3048, 2)} ft"),
            Row("Winds on the barrel", millimetres(found.wound_m, 0)),
            Row("The weight falls", millimetres(found.fall_m, 0), f"on {carried} fall{'s' if carried != 1 else ''}"),
        ],
        "taken": [(_LINE_WORDS[name], _taken(name)) for name in found.assumed],
        "drawing": drawings_work.line(
            carried,
            f"{figure(1000 * hangs)} mm",
            f"{figure(1000 * found.fall_m)} mm",
            f"Barrel, line and weight: the weight falls {figure(1000 * found.fall_m)} millimetres.",
        ),
    }


def _taken(name: str) -> str:
    usual, least, most = horology.USUAL_LINE[name]
    if name == "falls":
        return f"{usual:g} ({least:g} without a pulley)"
    digits = 1 if name == "line_m" else 0
    return f"{millimetres(usual, digits)} ({millimetres(least, digits)} to {millimetres(most, digits)})"
