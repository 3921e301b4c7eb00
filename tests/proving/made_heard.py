"""What a perfect listener would hear of the real floor clock: built from the truth files, notes edited as asked."""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from quarterjack.listening.heard import Blow, Going, Heard, RecordingFacts, Sounding, Ticks
from quarterjack.reckoning import Reckoning, reckon
from quarterjack.records import to_ns
from quarterjack.sheet import parse_sheet, quick_sheet

FILES = ("quarter1", "half", "threequarter", "hour1", "hour2")
SECONDS = {"quarter1": 32.0, "half": 34.5, "threequarter": 34.5, "hour1": 46.5, "hour2": 48.0}
# Measured partials from the catalogue of the recordings, Hz.
PARTIALS_HZ: dict[str, tuple[float, ...]] = {
    "G#": (222, 447, 750, 1130, 1585, 2115),
    "F#": (195, 395, 663, 1000, 1403, 1873, 2410),
    "E": (175, 353, 592, 893, 1256, 1677, 2159, 2700),
    "B": (264, 443, 670, 940, 1616, 2021, 2472),
    "HOUR": (239, 314, 352, 475, 606, 851, 884, 1137, 1442, 2239),
}
BARS = {"G#": 1, "F#": 2, "E": 3, "B": 4, "HOUR": 5}


@dataclass(frozen=True)
class Struck:
    """One note or blow: when, on which bar by its label, and where its sound is taken from."""

    t_s: float
    label: str
    from_s: float
    from_file: str = ""


Edit = Callable[[list[Struck]], list[Struck]]


def floor_clock(**changes: object) -> Reckoning:
    """The clock of `chimes/`, as three taps describe it, with the beats that its train gives."""
    text = quick_sheet("Hall clock", quarters="cambridge", quarters_at_hour=True, hours=True, half_hour="none")
    return replace(reckon(parse_sheet(text)), beats_per_hour=3600.0, **changes)  # type: ignore[arg-type]


def truth(folder: Path, name: str) -> tuple[list[Struck], list[tuple[float, str]]]:
    """Struck notes and ticks of one file of `chimes/`."""
    with (folder / "chimes" / f"floor_clock_{name}.csv").open() as file:
        rows = list(csv.DictReader(file))
    events = [(float(row["onset_s"]), row["label"], row["kind"]) for row in rows]
    struck = [Struck(t, label, t, name) for t, label, kind in events if kind != "tick"]
    return struck, [(t, label) for t, label, kind in events if kind == "tick"]


def made(
    struck: Sequence[Struck],
    *,
    file: str = "made.flac",
    seconds: float = 60.0,
    ticks: Sequence[tuple[float, str]] = (),
    named: bool = True,
    numbering: dict[str, int] | None = None,
    started_utc: str | None = None,
) -> Heard:
    """Build a Heard; where not `named`, bars carry numbers without meaning and no notes."""
    numbers = numbering or BARS
    blows = tuple(
        Blow(
            t_ns=to_ns(one.t_s),
            u_ns=2_000_000,
            bar=numbers[one.label],
            note=one.label if named and one.label != "HOUR" else None,
            hammer=None,
            kind="hour" if one.label == "HOUR" else "chime",
            partials_hz=PARTIALS_HZ[one.label],
            level_db=-20.0,
        )
        for one in struck
    )
    return Heard(
        recording=RecordingFacts(file, file, seconds, 44_100, 1, started_utc=started_utc),
        going=_going(ticks),
        ticks=_ticks(ticks),
        blows=blows,
        soundings=_soundings(blows),
    )


def from_truth(
    folder: Path,
    name: str,
    *,
    edit: Edit | None = None,
    named: bool = True,
    numbering: dict[str, int] | None = None,
) -> Heard:
    """One file of `chimes/` as a perfect listener hears it, its notes edited."""
    struck, ticks = truth(folder, name)
    return made(
        edit(struck) if edit else struck,
        file=f"floor_clock_{name}.flac",
        seconds=SECONDS[name],
        ticks=ticks,
        named=named,
        numbering=numbering,
    )


def _soundings(blows: Sequence[Blow]) -> tuple[Sounding, ...]:
    """Runs of blows of one kind without a silence of five seconds."""
    runs: list[list[int]] = []
    for at, blow in enumerate(blows):
        last = blows[runs[-1][-1]] if runs else None
        if last and last.kind == blow.kind and blow.t_ns - last.t_ns < to_ns(5):
            runs[-1].append(at)
        else:
            runs.append([at])
    return tuple(
        Sounding(
            from_ns=blows[run[0]].t_ns,
            to_ns=blows[run[-1]].t_ns,
            kind="hour" if blows[run[0]].kind == "hour" else "quarter",
            quarter=None,
            tune=None,
            first_blow=run[0],
            n_blows=len(run),
        )
        for run in runs
    )


def _ticks(ticks: Sequence[tuple[float, str]]) -> Ticks:
    n = len(ticks)
    return Ticks(
        np.array([to_ns(t) for t, _ in ticks], np.int64),
        np.full(n, 1_000_000),
        np.array([side == "B" for _, side in ticks], np.int8),
        np.full(n, -40.0),
    )


def _going(ticks: Sequence[tuple[float, str]]) -> Going | None:
    if len(ticks) < 4:
        return None
    t = np.array([t for t, _ in ticks])
    after_a, after_b = np.diff(t)[0::2], np.diff(t)[1::2]
    period = (t[-2] - t[0]) / (len(t) - 2) if len(t) % 2 == 0 else (t[-1] - t[0]) / (len(t) - 1)
    u = 3600 * 0.003 / (t[-1] - t[0])
    difference = float(after_a.mean() - after_b.mean()) * 1000
    return Going(len(t), 3600 / period, u * 3600 / 3600, abs(difference), 1.0, "a" if difference > 0 else "b")
