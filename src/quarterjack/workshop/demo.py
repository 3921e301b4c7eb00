"""An invented clock to look at: its recordings are reckoned, not recorded, and it says so everywhere."""

from __future__ import annotations

import tempfile
from pathlib import Path

from quarterjack.records import Progress
from quarterjack.simulate import Simulation, read_fault, write_sound
from quarterjack.workshop.bench import Bench
from quarterjack.workshop.clock_folder import ClockFolder
from quarterjack.workshop.prove_clock import prove_clock

NAME = "The Saltmere hall clock (invented)"
RATE_HZ = 24_000


def make_demo(bench: Bench, progress: Progress | None = None) -> ClockFolder:
    """Make an invented clock with a healthy and a faulty recording, each heard and proved.

    Parameters
    ----------
    bench : Bench
        Where it is kept; made a second time, it stands beside the first.
    progress : callable, optional
        Told how far the work is; may raise `StoppedByUser`.

    Returns
    -------
    ClockFolder
        The clock, with two recordings and two proofs.
    """

    def part(start: float, share: float, words: str) -> Progress:
        def say(fraction: float, _: str) -> None:
            if progress is not None:
                progress(start + share * fraction, words)

        return say

    clock = bench.new_clock(NAME, (Path(__file__).with_name("demo.toml")).read_text("utf-8"))
    reckoning = clock.reckoning()
    scenes = (
        ("healthy-evening.flac", "2:58", 0.07, 38.0, ()),
        ("faulty-evening.flac", "5:44", 0.3, -27.0, ("dead-hammer=4", "out-of-beat=90", "stop=6:01")),
    )
    with tempfile.TemporaryDirectory() as folder:
        for number, (file, dial_start, hours, ppm, faults) in enumerate(scenes):
            path = Path(folder) / file
            begin = number * 0.5
            simulation = Simulation(
                reckoning,
                hours=hours,
                dial_start=dial_start,
                seed=number + 3,
                faults=tuple(read_fault(fault) for fault in faults),
                sample_rate_hz=RATE_HZ,
                ppm=ppm,
            )
            write_sound(simulation, path, progress=part(begin, 0.25, f"Playing {file}"))
            kept = clock.add_recording(path, file)
            prove_clock(
                clock,
                [kept.file],
                dial_starts={kept.file: dial_start},
                progress=part(begin + 0.25, 0.25, f"Listening to {file}"),
            )
    return clock
