"""The clocks in hand: the list, a clock's own page, its recordings, and its proofs."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Form, HTTPException, Query, Request, UploadFile
from fastapi.responses import FileResponse, HTMLResponse, PlainTextResponse, RedirectResponse, Response

from quarterjack.errors import QuarterjackError, RecordingNotFound, UnknownChoice
from quarterjack.paper import PAPERS, Gained, bench_proof, gained
from quarterjack.paper.words import (
    beats_an_hour,
    figure,
    length_of_time,
    mode_in_words,
    rate_in_words,
    side_in_words,
    stop_in_words,
    verdict_in_words,
    what_was_not_heard,
)
from quarterjack.proving import MODES, Proof
from quarterjack.reckoning import Reckoning, readable
from quarterjack.records import Progress
from quarterjack.web import charts, media
from quarterjack.web.clock_view import dial_time, known_in_words
from quarterjack.web.pages import bench_of, render
from quarterjack.web.proof_view import kinds_on, mark_of, marks_of, sounding_rows, strips
from quarterjack.web.work import Job, Work
from quarterjack.workshop import ClockFolder, KeptProof, heard_for, make_demo, prove_clock

router = APIRouter(include_in_schema=False)


def _work(request: Request) -> Work:
    state = request.app.state
    if not hasattr(state, "work"):
        state.work = Work()
    work: Work = state.work
    return work


def _see(address: str) -> RedirectResponse:
    return RedirectResponse(address, status_code=303)


def _kept_proof(clock: ClockFolder, proof_id: str) -> KeptProof:
    try:
        return clock.proof(proof_id)
    except FileNotFoundError:
        raise HTTPException(404) from None


def _reckoning(clock: ClockFolder) -> Reckoning | None:
    try:
        return clock.reckoning()
    except QuarterjackError:
        return None


def _listed(kept: KeptProof) -> dict[str, Any]:
    """A proof as lists show it."""
    proof = kept.proof
    return {"kept": kept, "proof": proof, "mark": mark_of(proof.verdict), "says": verdict_in_words(proof)}


# The list, and the invented clock


@router.get("/clocks")
def clocks(request: Request) -> HTMLResponse:
    """List the clocks in hand."""
    rows = []
    for clock in bench_of(request).clocks():
        proofs = clock.proofs()
        rows.append(
            {
                "slug": clock.slug,
                "name": clock.name,
                "recordings": len(clock.recordings()),
                "proof": _listed(proofs[-1]) if proofs else None,
                "faults": len(clock.faults()),
            }
        )
    return render(request, "clocks.html", {"clocks": rows})


@router.post("/clocks/invented")
def make_invented(request: Request) -> RedirectResponse:
    """Make the invented clock, in the background."""
    bench = bench_of(request)

    def do(progress: Progress) -> str:
        return f"/clocks/{make_demo(bench, progress).slug}"

    return _see(f"/work/{_work(request).start('Making an invented clock', '/clocks', do).id}")


# One clock


def _notes(clock: ClockFolder) -> str | None:
    try:
        return clock.movement().notes
    except QuarterjackError:
        return None


@router.get("/clocks/{slug}")
def clock_page(request: Request, slug: str) -> HTMLResponse:
    """Show everything that is known of a clock."""
    clock = bench_of(request).clock(slug)
    reckoning = _reckoning(clock)
    proofs = clock.proofs()
    context = {
        "clock": clock,
        "notes": _notes(clock),
        "sheet": clock.sheet_text() if clock.sheet_path.is_file() else None,
        "faults": clock.faults(),
        "known": known_in_words(reckoning) if reckoning else None,
        "reckoning": reckoning,
        "full": readable(reckoning) if reckoning else None,
        "recordings": clock.recordings(),
        "proofs": [_listed(one) for one in reversed(proofs)],
        "modes": {mode: mode_in_words(mode) for mode in MODES},
        "in_proofs": {part.file for one in proofs for part in one.proof.recordings},
    }
    return render(request, "clock.html", context)


@router.get("/clocks/{slug}/sheet.toml")
def sheet(request: Request, slug: str) -> PlainTextResponse:
    """Give the sheet as it stands."""
    return PlainTextResponse(bench_of(request).clock(slug).sheet_text())


@router.post("/clocks/{slug}/recordings")
def add_recordings(request: Request, slug: str, recordings: list[UploadFile]) -> Response:
    """Keep uploaded recordings; a script gets their names, a form goes back to the clock."""
    clock = bench_of(request).clock(slug)
    kept = [clock.add_recording(one.file, one.filename or "recording") for one in recordings if one.filename]
    if "text/html" not in request.headers.get("accept", ""):
        return Response("\n".join(one.file for one in kept), media_type="text/plain; charset=utf-8")
    return _see(f"/clocks/{slug}#recordings")


@router.post("/clocks/{slug}/prove")
def start_proof(
    request: Request,
    slug: str,
    files: Annotated[list[str] | None, Form()] = None,
    dials: Annotated[list[str] | None, Form()] = None,
    mode: Annotated[str, Form()] = "on-time",
) -> RedirectResponse:
    """Hear and prove in the background; `dials` holds the dial times of all recordings in order, "file=11:58"."""
    clock = bench_of(request).clock(slug)
    if mode not in MODES:
        raise UnknownChoice("mode", mode, MODES)
    if not files:
        raise RecordingNotFound("No recording was chosen; choose at least one to be heard.")
    recordings = clock.recordings()
    starts = {
        recording.file: dial_time(text)
        for recording, text in zip(recordings, dials or [], strict=False)
        if text.strip() and recording.file in files
    }
    for file in files:
        clock.recording(file)  # what is not there is refused here as well
    clock.reckoning()  # a sheet with faults is refused here, before anything is begun

    def do(progress: Progress) -> str:
        kept = prove_clock(clock, files, mode=mode, dial_starts=starts, progress=progress)
        return f"/clocks/{slug}/proofs/{kept.id}"

    job = _work(request).start(f"Proving {clock.name}", f"/clocks/{slug}", do)
    return _see(f"/work/{job.id}")


# Long work


def _job(request: Request, job_id: str) -> Job:
    job = _work(request).get(job_id)
    if job is None:
        raise HTTPException(404)
    return job


@router.get("/work/{job_id}")
def work_page(request: Request, job_id: str) -> Response:
    """Show how far it is; goes on to what was made once it is done."""
    job = _job(request, job_id)
    if job.state == "done" and job.result:
        return _see(job.result)
    return render(request, "clock_work.html", {"job": job})


@router.get("/work/{job_id}/state")
def work_state(request: Request, job_id: str) -> dict[str, Any]:
    """Say how far it is, for the page's script."""
    return _job(request, job_id).document()


@router.post("/work/{job_id}/stop")
def work_stop(request: Request, job_id: str) -> RedirectResponse:
    """Stop it; what is finished is kept."""
    job = _job(request, job_id)
    job.stop.set()
    return _see(job.back)


# Proofs


@lru_cache(maxsize=8)
def _curves(folder: Path, proof_id: str) -> tuple[Gained, ...]:
    # A kept proof and its heard documents never change, and a week's ticks take a while to read.
    clock = ClockFolder(folder)
    proof = clock.proof(proof_id).proof
    return gained(proof, heard_for(clock, proof))


@router.get("/clocks/{slug}/proofs/{proof_id}.pdf")
def proof_pdf(request: Request, slug: str, proof_id: str, paper: str = "a4") -> Response:
    """Give the proof on paper."""
    if paper not in PAPERS:
        raise UnknownChoice("paper", paper, PAPERS)
    clock = bench_of(request).clock(slug)
    kept = _kept_proof(clock, proof_id)
    pdf = bench_proof(kept.proof, heard=heard_for(clock, kept.proof), paper=paper, made=kept.made)
    name = f"bench-proof-{slug}-{proof_id}.pdf"
    return Response(
        pdf, media_type="application/pdf", headers={"content-disposition": f'attachment; filename="{name}"'}
    )


@router.get("/clocks/{slug}/proofs/{proof_id}.json")
def proof_json(request: Request, slug: str, proof_id: str) -> FileResponse:
    """Give the proof as it is kept."""
    clock = bench_of(request).clock(slug)
    _kept_proof(clock, proof_id)
    path = clock.folder / "proofs" / f"{proof_id}.json"
    return FileResponse(path, media_type="application/json", filename=f"bench-proof-{slug}-{proof_id}.json")


@router.get("/clocks/{slug}/proofs/{proof_id}")
def proof_page(request: Request, slug: str, proof_id: str) -> HTMLResponse:
    """Show a proof."""
    clock = bench_of(request).clock(slug)
    kept = _kept_proof(clock, proof_id)
    proof = kept.proof
    heard = heard_for(clock, proof)
    here = {one.file for one in clock.recordings()}
    curves = _curves(clock.folder, proof_id)
    reckoning = _reckoning(clock)
    drawn_strips = strips(proof, heard)
    rows = sounding_rows(proof, reckoning, tuple(one.file in here for one in proof.recordings))
    context = {
        "clock": clock,
        "kept": kept,
        "proof": proof,
        "says": verdict_in_words(proof),
        "mark": mark_of(proof.verdict),
        "mode": mode_in_words(proof.mode),
        "strips": drawn_strips,
        "kinds": kinds_on(drawn_strips),
        "rows": rows,
        "note_marks": marks_of(rows),
        "stops": [stop_in_words(proof, stop) for stop in proof.stops],
        "going": _going(proof),
        "drawn": [{"data": charts.chart(one), "table": charts.table(one), "against": one.against} for one in curves],
        "limits": what_was_not_heard(proof, heard),
        "length": length_of_time,
    }
    return render(request, "proof.html", context, charts=bool(curves))


def _going(proof: Proof) -> list[tuple[str, str]]:
    going = proof.going
    if going is None:
        return []
    rows = [("Beats an hour", beats_an_hour(going)), ("Rate", rate_in_words(going))]
    rows.append(("Beat difference", side_in_words(going)))
    rows.append(("Heard", f"{figure(going.beats)} beats, {100 * going.heard_fraction:.0f} % of the time recorded"))
    return rows


def _sound(wav: bytes) -> Response:
    return Response(wav, media_type="audio/wav", headers={"cache-control": "private, max-age=600"})


@router.get("/clocks/{slug}/recordings/{file}/sound.wav")
def recording_sound(
    request: Request,
    slug: str,
    file: str,
    from_s: Annotated[float, Query(alias="from", ge=0)],
    to_s: Annotated[float, Query(alias="to", gt=0)],
) -> Response:
    """Give a stretch of a recording."""
    recording = bench_of(request).clock(slug).recording(file)
    return _sound(media.cut(recording.path, from_s, to_s))


@router.get("/clocks/{slug}/proofs/{proof_id}/soundings/{index}/expected.wav")
def expected_sound(request: Request, slug: str, proof_id: str, index: int) -> Response:
    """Give what should have been heard in the place of a sounding."""
    clock = bench_of(request).clock(slug)
    proof = _kept_proof(clock, proof_id).proof
    if not 0 <= index < len(proof.soundings):
        raise HTTPException(404)
    reckoning = clock.reckoning()
    wanted = media.expected_for(reckoning, proof.soundings[index])
    if wanted is None:
        raise HTTPException(404)
    return _sound(media.expected_wav(reckoning, wanted))
