"""How fast `hear` is and how much memory it takes, beside decoding alone and beside librosa's onset finder.

Makes one hour of a chiming clock (48 kHz, FLAC, four quarters and an hour) and ten minutes of the same in a temporary
folder, then measures in one run, on one thread:

- `hear` against decoding the same file, at most 2.5 times;
- `hear` against `librosa.onset.onset_detect` at hop 128 on the hour's first ten minutes (decoding left out), both as
  multiples of real time, at least 8 times;
- peak memory at ten minutes and at one hour, each in a process of its own, within 10 % of each other.

Run it as `python benchmarks/speed.py`; it prints a table and the machine, and ends with 1 if a line is missed.
"""

from __future__ import annotations

import argparse
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS"):
    os.environ[_name] = "1"  # before numpy is imported

import soundfile  # noqa: E402

TURNS = 3
BLOCK = 65_536
WITHIN_DECODE, FASTER_THAN_LIBROSA, MEMORY_WITHIN = 2.5, 8.0, 0.10


def make_clock(path: Path, hours: float) -> None:
    """Write a chiming clock from ten minutes past twelve on."""
    from quarterjack.reckoning import reckon
    from quarterjack.sheet import parse_sheet, quick_sheet
    from quarterjack.simulate import Simulation, write_sound

    sheet = quick_sheet("A clock to measure by", quarters="cambridge", quarters_at_hour=True, hours=True,
                        half_hour="none")  # fmt: skip
    write_sound(Simulation(reckon(parse_sheet(sheet)), hours=hours, dial_start="12:10"), path)


def decode(path: Path) -> None:
    """Read a file through and keep nothing."""
    with soundfile.SoundFile(path) as sound:
        for _ in sound.blocks(BLOCK, dtype="float32"):
            pass


def hear_all(path: Path) -> None:
    """Hear a file without any hint."""
    from quarterjack.listening import hear

    hear(path)


def librosa_all(path: Path) -> Callable[[], object]:
    """Load ten minutes and give back what is to be measured, compiled beforehand."""
    import librosa

    sound, rate = soundfile.read(path, frames=600 * 48_000, dtype="float32")
    librosa.onset.onset_detect(y=sound[: 5 * rate], sr=rate, hop_length=128)
    return lambda: librosa.onset.onset_detect(y=sound, sr=rate, hop_length=128)


def seconds_taken(work: Callable[[], object]) -> float:
    """Processor time of one call, all threads together: other work on the machine does not count."""
    began = time.process_time()
    work()
    return time.process_time() - began


def peak_memory_mb() -> float:
    """Peak of this process; on Linux read where it starts afresh with the program, else as the system counts it."""
    status = Path("/proc/self/status")
    if status.exists():
        line = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
        return float(line.split()[1]) / 1024
    import resource

    unit = 1 << 20 if sys.platform == "darwin" else 1 << 10
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit


def peak_of(path: Path) -> float:
    """Peak memory of hearing one file in a process of its own, MB."""
    told = subprocess.run(
        [sys.executable, __file__, "--peak", str(path)], check=True, capture_output=True, text=True
    ).stdout
    return float(told)


def machine() -> str:
    """Processor, system and versions."""
    import numpy as np
    import scipy

    cpu = Path("/proc/cpuinfo")
    named = [line.split(":", 1)[1].strip() for line in cpu.read_text().splitlines() if line.startswith("model name")] \
        if cpu.exists() else []  # fmt: skip
    return (
        f"{named[0] if named else platform.processor() or platform.machine()}, {os.cpu_count()} cores, "
        f"{platform.system()}, Python {platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}, "
        f"libsndfile {soundfile.__libsndfile_version__}"
    )


def main() -> int:
    """Measure, print, and say whether every line is kept."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--peak", type=Path, help="hear this file and print the peak memory in MB")
    peak = parser.parse_args().peak
    if peak:
        hear_all(peak)
        print(peak_memory_mb())
        return 0
    with tempfile.TemporaryDirectory() as folder:
        hour, ten = Path(folder) / "hour.flac", Path(folder) / "ten_minutes.flac"
        made = seconds_taken(lambda: make_clock(hour, 1.0))
        make_clock(ten, 1 / 6)
        onset = librosa_all(hour)
        decode(ten)
        hear_all(ten)  # everything is imported and warm before the clock runs
        decodes, hears, onsets = [], [], []
        for _ in range(TURNS):  # in turn, so that a busy moment of the machine falls on all alike
            decodes.append(seconds_taken(lambda: decode(hour)))
            hears.append(seconds_taken(lambda: hear_all(hour)))
            onsets.append(seconds_taken(onset))
        peaks = [peak_of(ten), peak_of(hour)]
    decoded, heard, found = (statistics.median(times) for times in (decodes, hears, onsets))
    lines = [
        ("hear / decode", heard / decoded, f"<= {WITHIN_DECODE}", heard / decoded <= WITHIN_DECODE),
        ("hear / librosa, times real time", (3600 / heard) / (600 / found), f">= {FASTER_THAN_LIBROSA:g}",
         (3600 / heard) / (600 / found) >= FASTER_THAN_LIBROSA),
        ("peak memory, 1 h / 10 min", peaks[1] / peaks[0], f"within {MEMORY_WITHIN:.0%}",
         abs(peaks[1] / peaks[0] - 1) <= MEMORY_WITHIN),
    ]  # fmt: skip
    print(machine())
    print(f"{'':34}{'CPU s':>10}{'x real time':>14}")
    for what, taken, of in (
        ("make the hour (simulate, FLAC)", made, 3600),
        ("decode the hour", decoded, 3600),
        ("hear the hour", heard, 3600),
        ("librosa onset_detect, 10 min", found, 600),
    ):
        print(f"{what:34}{taken:10.2f}{of / taken:14.0f}")
    print(f"peak memory: {peaks[0]:.0f} MB at 10 min, {peaks[1]:.0f} MB at 1 h; every figure the median of {TURNS}")
    for what, value, wanted, kept in lines:
        print(f"{what:34}{value:10.2f}{wanted:>14}  {'kept' if kept else 'MISSED'}")
    return 0 if all(kept for *_, kept in lines) else 1


if __name__ == "__main__":
    sys.exit(main())
