"""How exactly blows are heard on the annotated recordings: onset and note precision, recall and F by mir_eval.

An onset counts within 30 ms of its annotation. A note counts if, besides, it is on the right bar: by its given number
where the bars are given, else under the one naming of the heard bars that fits the record best.
"""

from __future__ import annotations

import csv
import os
from collections.abc import Iterator
from pathlib import Path

import mir_eval
import numpy as np
from scipy.optimize import linear_sum_assignment

from quarterjack.listening.hear import hear
from quarterjack.listening.heard import Heard
from quarterjack.listening.hints import NO_HINTS, BarHint, Hints

WINDOW_S = 0.03
# Partials of the floor clock's bars as the catalogue measures them.
PARTIALS = {
    "G#": (222, 447, 750, 1130, 1585, 2115),
    "F#": (195, 395, 663, 1000, 1403, 1873, 2410),
    "E": (175, 353, 592, 893, 1256, 1677, 2159, 2700),
    "B": (264, 443, 670, 940, 1616, 2021, 2472),
    "HOUR": (239, 314, 352, 475, 606, 851, 884, 1137, 1442, 2239),
}
GIVEN = Hints(
    bars=tuple(
        BarHint(bar, hz, note, (bar,), hour=note == "HOUR") for bar, (note, hz) in enumerate(PARTIALS.items(), 1)
    ),
    bells_to_bars=(1, 2, 3, 4),
)


def recordings() -> Path:
    """The folder of recordings."""
    named = os.environ.get("QUARTERJACK_RECORDINGS")
    return Path(named) if named else Path(__file__).resolve().parents[2] / "shared" / "recordings"


def _truth(path: Path) -> list[tuple[float, str]]:
    with path.with_suffix(".csv").open() as lines:
        return [(float(row["onset_s"]), row["label"]) for row in csv.DictReader(lines) if row["kind"] != "tick"]


def _numbers(heard: Heard, truth: list[tuple[float, str]], given: bool) -> tuple[np.ndarray, np.ndarray]:
    """Bars of truth and of what was heard, as numbers that may be compared."""
    labels = sorted({label for _, label in truth})
    if given:
        of_label = {note: bar for bar, note in enumerate(PARTIALS, 1)}
        return np.array([of_label[label] for _, label in truth]), np.array([blow.bar for blow in heard.blows])
    bars = sorted({blow.bar for blow in heard.blows})
    together = np.zeros((len(labels), len(bars)))
    for onset, label in truth:
        for blow in heard.blows:
            if abs(blow.t_ns / 1e9 - onset) <= WINDOW_S:
                together[labels.index(label), bars.index(blow.bar)] += 1
    rows, columns = linear_sum_assignment(-together)
    named = {bars[column]: int(row) + 1 for row, column in zip(rows, columns, strict=True)}
    return (
        np.array([labels.index(label) + 1 for _, label in truth]),
        np.array([named.get(blow.bar, 100 + blow.bar) for blow in heard.blows]),
    )


def _score(path: Path, hints: Hints, given: bool) -> tuple[tuple[float, ...], tuple[float, ...], float]:
    heard, truth = hear(path, hints), _truth(path)
    wanted = np.array([onset for onset, _ in truth])
    found = np.array([blow.t_ns / 1e9 for blow in heard.blows])
    f, precision, recall = mir_eval.onset.f_measure(wanted, found, window=WINDOW_S)
    numbers_wanted, numbers_found = _numbers(heard, truth, given)
    # mir_eval compares pitches in hertz; a semitone a number keeps different bars apart.
    notes = mir_eval.transcription.precision_recall_f1_overlap(
        np.column_stack([wanted, wanted + 0.1]),
        200.0 * 2.0 ** (numbers_wanted / 12),
        np.column_stack([found, found + 0.1]),
        200.0 * 2.0 ** (numbers_found / 12),
        onset_tolerance=WINDOW_S,
        offset_ratio=None,
    )
    matched = mir_eval.util.match_events(wanted, found, WINDOW_S)
    late_ms = [1e3 * abs(found[at] - wanted[row]) for row, at in matched]
    return (precision, recall, f), tuple(notes[:3]), float(np.median(late_ms)) if late_ms else float("nan")


def lines() -> Iterator[str]:
    """The table, line by line."""
    yield f"{'recording':44} {'bars':8} {'onset P    R    F':>17}   {'note P    R    F':>16}   median |error|"
    folder = recordings()
    paths = [
        path
        for name in ("chimes", "tubes", "bells")
        for path in sorted((folder / name).glob("*.flac"))
        if path.with_suffix(".csv").exists()
    ]
    for path in paths:
        for name, hints in (("given", GIVEN), ("unknown", NO_HINTS)):
            if name == "given" and path.parent.name != "chimes":
                continue
            onset, note, error_ms = _score(path, hints, name == "given")
            scores = "   ".join(" ".join(f"{value:.2f}" for value in values) for values in (onset, note))
            yield f"{path.stem:44} {name:8} {scores:>36}   {error_ms:.1f} ms"


def main() -> None:
    """Print the table."""
    for line in lines():
        print(line)


if __name__ == "__main__":
    main()
