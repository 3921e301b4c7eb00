"""The first door: the Listen page, files that come in, what was heard of them, and keeping it."""

from __future__ import annotations

import asyncio
import logging
import threading
from dataclasses import replace
from typing import Annotated, Any, Final

import tomlkit
from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect

from quarterjack.errors import OutOfRange, QuarterjackError, RecordingUnreadable, TooLittleHeard
from quarterjack.listening import hear
from quarterjack.records import to_json
from quarterjack.units import length_m
from quarterjack.web.heard_view import live_document
from quarterjack.web.pages import bench_of, render
from quarterjack.web.spool import Listening, Spool
from quarterjack.workshop import safe_filename

router = APIRouter()
_LOG = logging.getLogger("quarterjack.web")

LARGEST_FILE: Final = 8 << 30
"""A day of sound at 48 kHz and 16 bits in one channel."""


class Presses(BaseModel):
    """Moments at which the bob was seen on the right, seconds of the recording."""

    presses_s: list[Annotated[float, Field(ge=0, le=1e7, allow_inf_nan=False)]] = Field(max_length=1000)


class Measures(BaseModel):
    """Measures of this clock in people's units; empty where not measured."""

    crutch: str = Field(default="", max_length=40)
    feet: str = Field(default="", max_length=40)


class Keep(BaseModel):
    """What the clock is to be called, or which kept clock the recording belongs to."""

    name: str = Field(default="", max_length=120)
    clock: str | None = Field(default=None, max_length=200)


def spool_of(request: Request) -> Spool:
    """The listenings of this run of the program."""
    spool: Spool = request.app.state.spool
    return spool


@router.get("/listen", response_class=HTMLResponse, include_in_schema=False)
def listen_page(request: Request) -> HTMLResponse:
    """Show the first door."""
    return render(request, "listen.html", {"held": spool_of(request).held(), "clocks": bench_of(request).clocks()})


def listening_document(listening: Listening) -> dict[str, Any]:
    """How far a listening has come, and what was heard once it is done."""
    if listening.heard is not None:
        return live_document(listening, listening.heard, seconds=listening.heard.recording.seconds)
    document: dict[str, Any] = {
        "format": "quarterjack.listening/1",
        "id": listening.id,
        "name": listening.name,
        "state": listening.state,
        "progress": round(listening.progress, 4),
        "doing": listening.doing,
    }
    if listening.error is not None:
        document["error"] = listening.error.document()
    return document


def read_file(listening: Listening) -> None:
    """Hear a file through; runs on a thread of its own."""
    assert listening.sound is not None
    try:
        listening.done(hear(listening.sound, progress=listening.report))
    except QuarterjackError as error:
        listening.failed(error)
    except Exception as error:
        _LOG.exception("a recording could not be heard through")
        listening.failed(RecordingUnreadable(f"{listening.name} broke the listener: {type(error).__name__}: {error}."))


@router.post("/api/listenings", status_code=202)
async def take_file(request: Request, name: Annotated[str, Query(min_length=1, max_length=400)]) -> dict[str, Any]:
    """Take a recording or a video in, as the plain bytes of the request, and begin to hear it through."""
    said = request.headers.get("content-length", "")
    too_large = f"A file of up to {LARGEST_FILE >> 30} GB can be taken in; cut it, or use the command line."
    if said.isdigit() and int(said) > LARGEST_FILE:
        raise HTTPException(413, too_large)
    spool = spool_of(request)
    listening = spool.new(safe_filename(name))
    path = listening.folder / listening.name
    taken = 0
    try:
        with path.open("xb") as stream:
            async for chunk in request.stream():
                taken += len(chunk)
                if taken > LARGEST_FILE:
                    raise HTTPException(413, too_large)
                await asyncio.to_thread(stream.write, chunk)
        if not taken:
            raise RecordingUnreadable(f"{listening.name} is empty.", file=listening.name)
    except ClientDisconnect:
        spool.let_go(listening.id)
        raise HTTPException(400, "The file was not sent to its end.") from None
    except BaseException:
        spool.let_go(listening.id)
        raise
    listening.sound = path
    threading.Thread(target=read_file, args=(listening,), daemon=True).start()
    return listening_document(listening)


@router.get("/api/listenings/{key}")
def ask_listening(request: Request, key: str) -> dict[str, Any]:
    """Say how far a listening has come, or what was heard."""
    return listening_document(spool_of(request).get(key))


@router.get("/api/listenings/{key}/heard", response_class=Response)
def whole_heard(request: Request, key: str) -> Response:
    """Give everything that was heard, as `quarterjack.heard/1`."""
    listening = spool_of(request).get(key)
    if listening.heard is None:
        raise TooLittleHeard("The recording is still being heard, or could not be; ask how far it has come.")
    return Response(to_json(listening.heard), media_type="application/json")


@router.delete("/api/listenings/{key}", status_code=204)
def let_go(request: Request, key: str) -> None:
    """Call a listening off, and delete its sound."""
    spool = spool_of(request)
    spool.get(key)
    spool.let_go(key)


@router.post("/api/listenings/{key}/presses")
def set_presses(request: Request, key: str, presses: Presses) -> dict[str, Any]:
    """Say when the bob was on the right, so that the sides get their names."""
    listening = spool_of(request).get(key)
    listening.presses_s = list(presses.presses_s)
    return listening_document(listening)


@router.post("/api/listenings/{key}/measures")
def set_measures(request: Request, key: str, measures: Measures) -> dict[str, Any]:
    """Give the crutch's length and the distance of the feet, so that the correction has a narrower range."""
    listening = spool_of(request).get(key)
    listening.crutch_m, listening.feet_m = _measured(measures.crutch, "crutch"), _measured(measures.feet, "feet")
    return listening_document(listening)


def _measured(text: str, name: str) -> float | None:
    if not text.strip():
        return None
    metres = length_m(text)
    if not 0.005 <= metres <= 3.0:
        raise OutOfRange(f"{name}: {text} is {1000 * metres:g} mm; allowed is 5 to 3000 mm.", field=name, value=text)
    return metres


@router.post("/api/listenings/{key}/keep", status_code=201)
def keep(request: Request, key: str, wanted: Keep) -> dict[str, str]:
    """Keep the recording and what was heard in a clock's folder: a new one by its name, or one that is there."""
    spool = spool_of(request)
    listening = spool.get(key)
    if listening.heard is None or listening.sound is None:
        raise TooLittleHeard("There is nothing to keep yet: the recording has not been heard through.")
    bench = bench_of(request)
    if wanted.clock:
        clock = bench.clock(wanted.clock)
    else:
        name = wanted.name.strip() or "Unnamed clock"
        # A sheet may start with a name alone: what is not known yet is not said.
        clock = bench.new_clock(name, tomlkit.dumps({"name": name}))
    recording = clock.add_recording(listening.sound, listening.name)
    facts = replace(listening.heard.recording, file=recording.file)
    clock.keep_heard(replace(listening.heard, recording=facts))
    spool.let_go(key)
    return {"format": "quarterjack.kept/1", "clock": clock.slug, "url": f"/clocks/{clock.slug}/sounds"}
