"""Hear a clock's recordings, prove them, and keep both: the one way from a folder to a proof."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from quarterjack.listening import Heard, Hints, hear
from quarterjack.proving import Proof, hints_for, prove
from quarterjack.records import Progress
from quarterjack.workshop.clock_folder import ClockFolder, KeptProof, KeptRecording

# Proving takes a moment beside listening; the bar leaves it the last hundredth.
_LISTENING = 0.99


def hear_kept(
    clock: ClockFolder, recording: KeptRecording, *, hints: Hints, progress: Progress | None = None
) -> tuple[Heard, str]:
    """What was heard of a recording, listening only if it was not heard before under this sheet.

    Returns
    -------
    tuple of Heard and str
        What was heard, and the place of its document in the clock's folder.
    """
    known = clock.heard_of(recording)
    if known is None:
        known = hear(recording.path, hints, progress=progress)
        # A folder may be moved or handed on, so it holds no path of the computer that listened.
        known = replace(known, recording=replace(known.recording, file=recording.file))
        clock.keep_heard(known)
    return known, clock.heard_place(recording)


def prove_clock(
    clock: ClockFolder,
    files: Sequence[str] = (),
    *,
    mode: str = "on-time",
    dial_starts: Mapping[str, str] | None = None,
    progress: Progress | None = None,
) -> KeptProof:
    """Prove a clock from its recordings and keep the proof.

    Parameters
    ----------
    clock : ClockFolder
        The clock.
    files : sequence of str
        Names of the recordings to use; all of them if empty.
    mode : str
        "on-time", "round-the-dial" or "by-hand".
    dial_starts : mapping of str to str, optional
        What the dial showed at the start of a recording ("11:58"), by the recording's name.
    progress : callable, optional
        Told how far the work is; may raise `StoppedByUser`, and what was heard by then stays kept.

    Raises
    ------
    RecordingNotFound
        If a recording is not in the folder.
    SheetInvalid, SheetNotFound
        If the sheet cannot be read.
    """
    reckoning = clock.reckoning()
    hints = hints_for(reckoning)
    kept = [clock.recording(file) for file in files] if files else list(clock.recordings())
    total = sum(one.n_bytes for one in kept) or 1
    done = 0
    heard: list[Heard] = []
    places: list[str] = []
    for one in kept:
        inner = _part(progress, done / total, one.n_bytes / total, f"Listening to {one.file}")
        found, place = hear_kept(clock, one, hints=hints, progress=inner)
        heard.append(found)
        places.append(place)
        done += one.n_bytes
    if progress is not None:
        progress(_LISTENING, "Laying what was heard beside what must be")
    starts = [(dial_starts or {}).get(one.file) for one in kept]
    proof = prove(reckoning, heard, mode=mode, dial_starts=starts)
    return clock.keep_proof(_named(proof, places))


def _part(progress: Progress | None, start: float, share: float, words: str) -> Progress | None:
    """Tell of one recording's listening as a part of the whole."""
    if progress is None:
        return None

    def say(fraction: float, _: str) -> None:
        progress(_LISTENING * (start + share * fraction), words)

    say(0.0, words)
    return say


def _named(proof: Proof, places: Sequence[str]) -> Proof:
    """The proof with the place of each heard document, so that a page can draw it again."""
    recordings = tuple(replace(one, heard=place) for one, place in zip(proof.recordings, places, strict=True))
    return replace(proof, recordings=recordings)


def heard_for(clock: ClockFolder, proof: Proof) -> tuple[Heard | None, ...]:
    """What was heard, in the order of the proof's recordings; None where its document is gone."""
    return tuple(clock.heard_at(one.heard) for one in proof.recordings)
