"""An invented clock to look at: its recordings are reckoned, not recorded, and it says so everywhere."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

from quarterjack.records import Progress
from quarterjack.simulate import Simulation, write_sound
from quarterjack.workshop.bench import Bench
from quarterjack.workshop.clock_folder import ClockFolder
from quarterjack.workshop.prove_clock import prove_clock

NAME = "The Saltmere hall clock (invented)"
RATE_HZ = 24_000
SEED = 3


@dataclass(frozen=True)
class Scene:
    """One recording: its file, what the hands say when it begins, how long it is, and what is wrong."""

    file: str
    dial_start: str
    minutes: float
    recorder_ppm: float
    faults: tuple[str, ...] = ()


_FAULTY = ("dead-hammer=4", "out-of-beat=90")
HEALTHY = (Scene("healthy-three.flac", "2:58", 4.5, 38.0),)
FAULTY = (
    Scene("faulty-quarter.flac", "5:44", 2.5, -27.0, _FAULTY),
    Scene("faulty-six.flac", "5:58", 4.5, -27.0, (*_FAULTY, "stop=6:01:30")),
)


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
        The clock, with a healthy and a faulty proof, the faulty one made of two recordings.
    """
    clock = bench.new_clock(NAME, Path(__file__).with_name("demo.toml").read_text("utf-8"))
    reckoning = clock.reckoning()
    total = sum(scene.minutes for scene in (*HEALTHY, *FAULTY))
    done = 0.0
    with tempfile.TemporaryDirectory() as folder:
        for proof in (HEALTHY, FAULTY):
            share = sum(scene.minutes for scene in proof) / total
            # Half of the work is playing, half is listening.
            for scene in proof:
                simulation = Simulation(
                    reckoning,
                    hours=scene.minutes / 60,
                    dial_start=scene.dial_start,
                    seed=SEED,
                    faults=scene.faults,
                    sample_rate_hz=RATE_HZ,
                    ppm=scene.recorder_ppm,
                )
                path = Path(folder) / scene.file
                part = scene.minutes / total / 2
                write_sound(simulation, path, progress=_part(progress, done, part, f"Playing {scene.file}"))
                clock.add_recording(path, scene.file)
                done += part
            prove_clock(
                clock,
                [scene.file for scene in proof],
                dial_starts={scene.file: scene.dial_start for scene in proof},
                progress=_part(progress, done, share / 2, f"Listening to {', '.join(scene.file for scene in proof)}"),
            )
            done += share / 2
    return clock


def _part(progress: Progress | None, start: float, share: float, words: str) -> Progress:
    """Tell of one piece of the work as a part of the whole."""

    def say(fraction: float, _: str) -> None:
        if progress is not None:
            progress(min(start + share * fraction, 1.0), words)

    return say
