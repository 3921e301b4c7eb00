"""From a file to everything that was heard in it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from quarterjack.errors import RecordingUnreadable
from quarterjack.listening.follow import PAGE_FRAMES
from quarterjack.listening.front import Front, hop_samples
from quarterjack.listening.heard import Heard, RecordingFacts, Remark
from quarterjack.listening.hints import NO_HINTS, Hints
from quarterjack.listening.listener import Listener
from quarterjack.listening.picks import pick_peaks, rises, suddenness
from quarterjack.listening.source import Block, Source, open_recording
from quarterjack.records import Progress

# The channel is chosen on the opening of the record.
_CHOOSING_S = 12.0
_CLEARLY_BETTER = 1.5
_PROMISED_SLACK_S = 0.5


def hear(path: str | Path, hints: Hints = NO_HINTS, *, progress: Progress | None = None) -> Heard:
    """Hear a recording.

    Parameters
    ----------
    path : str or Path
        Sound or video of any common kind (see `source.open_recording`).
    hints : Hints
        What is known beforehand.
    progress : callable or None
        Told the fraction done; may raise `StoppedByUser`.

    Returns
    -------
    Heard
        Ticks, blows and what follows from them, and facts about the recording.

    Raises
    ------
    RecordingNotFound, RecordingUnreadable
        If there is nothing to hear.
    """
    with open_recording(path) as source:
        opening, blocks = _opening(source)
        if not opening:
            raise RecordingUnreadable(
                f"No sound can be read from {source.path.name!r}: it holds no samples.", file=str(source.path)
            )
        channel = _choose_channel(opening, source)
        listener = Listener(source.sample_rate_hz, hints)
        promised = source.claimed_samples
        for first, block in _chain(opening, blocks):
            listener.feed(np.ascontiguousarray(block[:, channel]), first)
            if progress is not None and promised:
                progress(min((first + len(block)) / promised, 0.99), "listening")
        facts = RecordingFacts(
            file=source.path.name,
            sha256=source.sha256(),
            seconds=round(source.samples_read / source.sample_rate_hz, 9),
            sample_rate_hz=source.sample_rate_hz,
            channels=source.channels,
            channel=channel + 1,
            started_utc=source.started_utc,
        )
        heard = listener.finish(facts)
        if progress is not None:
            progress(1.0, "heard")
        return replace(heard, remarks=(*heard.remarks, *_interrupted(source)))


def _opening(source: Source) -> tuple[list[Block], Iterator[Block]]:
    # Blocks of just a page need not be joined before they are heard.
    blocks = source.blocks(PAGE_FRAMES * hop_samples(source.sample_rate_hz) / source.sample_rate_hz)
    opening: list[Block] = []
    for block in blocks:
        opening.append(block)
        if source.channels == 1 or source.samples_read >= _CHOOSING_S * source.sample_rate_hz:
            break
    return opening, blocks


def _chain(opening: list[Block], rest: Iterator[Block]) -> Iterator[Block]:
    while opening:
        yield opening.pop(0)
    yield from rest


def _choose_channel(opening: list[Block], source: Source) -> int:
    """The channel with the clearest sudden sounds; the first, unless another is much clearer."""
    if source.channels == 1:
        return 0
    samples = np.concatenate([block for _, block in opening])
    best, best_worth = 0, 0.0
    for channel in range(source.channels):
        worth = _worth(np.ascontiguousarray(samples[:, channel]), source.sample_rate_hz)
        if worth > best_worth * (_CLEARLY_BETTER if best_worth else 1.0):
            best, best_worth = channel, worth
    return best


def _worth(samples: NDArray[np.float32], sample_rate_hz: int) -> float:
    front = Front(sample_rate_hz)
    _, energies = front.push(samples)
    if not len(energies) or not np.any(samples):
        return 0.0
    curve = suddenness(rises(energies))
    peaks = pick_peaks(curve, 0.25, round(0.1 / front.frame_s))
    clear = float(np.median(curve[peaks[:20]])) if peaks.size else 0.0
    return 1e-3 + clear


def _interrupted(source: Source) -> tuple[Remark, ...]:
    promised = source.claimed_samples
    short = promised is not None and source.samples_read < promised - _PROMISED_SLACK_S * source.sample_rate_hz
    if not short and source.fault is None:
        return ()
    seconds = source.samples_read / source.sample_rate_hz
    return (
        Remark(
            "truncated",
            f"The file breaks off or is damaged; {seconds:.1f} s could be read and are used"
            + (f" of {promised / source.sample_rate_hz:.1f} s promised." if short and promised else "."),
        ),
    )
