"""Writes a simulated clock to a sound file, in blocks, so that a day takes no more memory than a minute."""

from __future__ import annotations

import json
from pathlib import Path

import soundfile

from quarterjack.errors import FileExists, UnknownChoice
from quarterjack.records import Progress
from quarterjack.simulate.simulation import Simulation

# The room's noise, some twenty steps of 16 bits, dithers them by itself.
FORMATS = {".flac": ("FLAC", "PCM_16"), ".wav": ("WAV", "PCM_16"), ".ogg": ("OGG", "VORBIS")}
_BLOCK_S = 2.0  # the encoder of OGG fails on single writes beyond some ten seconds


def write_sound(
    simulation: Simulation,
    path: str | Path,
    truth_path: str | Path | None = None,
    progress: Progress | None = None,
) -> None:
    """Write the sound and, if wanted, what really happened in it.

    The file's comment says that it is no recording. A file that is stopped half way is removed.

    Parameters
    ----------
    simulation : Simulation
        What to play.
    path : str or Path
        Ends in .flac, .wav or .ogg.
    truth_path : str or Path or None
        Where to write the document of `Simulation.truth`.
    progress : callable or None
        Called after each block; it may raise `StoppedByUser`.

    Raises
    ------
    UnknownChoice
        If the file's ending is another.
    FileExists
        If one of the files is already there.
    """
    path = Path(path)
    if path.suffix.lower() not in FORMATS:
        raise UnknownChoice("ending of a sound file", path.suffix, FORMATS)
    for wanted in (path, *(() if truth_path is None else (Path(truth_path),))):
        if wanted.exists():
            raise FileExists(f"{wanted} is already there; choose another name or remove it first.", file=str(wanted))
    kind, subtype = FORMATS[path.suffix.lower()]
    part = path.with_name(path.name + ".part")
    size = int(_BLOCK_S * simulation.sample_rate_hz)
    try:
        with soundfile.SoundFile(part, "w", simulation.sample_rate_hz, 1, subtype, format=kind) as out:
            out.comment = "Simulated by quarterjack; not a recording of a clock."
            done = 0
            for block in simulation.blocks(size):
                out.write(block)
                done += block.size
                if progress is not None:
                    progress(done / simulation.n_samples, "playing the clock")
        if truth_path is not None:
            Path(truth_path).write_text(json.dumps(simulation.truth(), indent=1) + "\n", encoding="utf-8")
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
