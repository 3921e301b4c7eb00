"""Ticks heard beside the annotated ones of the shared recordings: found, false, offset, scatter, rate, difference.

Run it as `python benchmarks/accuracy_ticks.py`; the recordings are looked for in `QUARTERJACK_RECORDINGS`, else in
`../shared/recordings`.
"""

from __future__ import annotations

import csv
import os
from pathlib import Path

import mir_eval.onset
import numpy as np

from quarterjack.listening import hear

FOLDER = Path(os.environ.get("QUARTERJACK_RECORDINGS", Path(__file__).resolve().parents[2] / "shared" / "recordings"))
TOLERANCE_S, LARGEST_OFFSET_S = 0.005, 0.015


def main() -> None:
    """Print a line a file."""
    print(
        f"{'file':38} {'found':>9} {'false':>5} {'F':>6} {'offset ms':>9} {'rms ms':>6} {'beats/h':>17} {'diff ms':>14}"
    )
    for path in sorted([*FOLDER.glob("ticks/*.ogg"), *FOLDER.glob("chimes/*.flac"), *FOLDER.glob("controls/*.ogg")]):
        heard = hear(path)
        going = heard.going
        rate = f"{going.beats_per_hour:9.1f} ± {going.beats_per_hour_u:5.1f}" if going else "none given"
        difference = (
            f"{going.beat_difference_ms:6.1f} ± {going.beat_difference_u_ms:4.1f}"
            if going and going.beat_difference_ms is not None
            else ""
        )
        notes = [f"repeats every {repeat.period_s:.3f} s ({repeat.correlation:.3f})" for repeat in heard.repeats]
        notes += [f"gap {gap.from_ns / 1e9:.3f}–{gap.to_ns / 1e9:.3f} s" for gap in heard.recording.gaps]
        print(f"{path.stem:38} {_against(path, heard.ticks.t_s)} {rate:>17} {difference:>14}  {'; '.join(notes)}")


def _against(path: Path, t_s: np.ndarray) -> str:
    table = path.with_suffix(".csv")
    if not table.exists():
        return f"{len(t_s):6} heard {'':29}"
    with table.open(encoding="utf-8") as file:
        onset_s = np.array([float(row["onset_s"]) for row in csv.DictReader(file) if row["kind"] == "tick"])
    off = t_s[np.abs(t_s[:, None] - onset_s).argmin(axis=0)] - onset_s
    offset = float(np.clip(np.median(off), -LARGEST_OFFSET_S, LARGEST_OFFSET_S))
    found = np.abs(off - offset) <= TOLERANCE_S
    inside = t_s[(t_s - offset >= onset_s[0] - TOLERANCE_S) & (t_s - offset <= onset_s[-1] + TOLERANCE_S)] - offset
    f_measure, _, _ = mir_eval.onset.f_measure(onset_s, np.maximum(inside, 0.0), window=TOLERANCE_S)
    rms_ms = 1e3 * float(np.sqrt(np.mean((off - offset)[found] ** 2)))
    false = inside.size - int(found.sum())
    return f"{found.sum():4}/{onset_s.size:<4} {false:5} {f_measure:6.3f} {1e3 * offset:9.1f} {rms_ms:6.2f}"


if __name__ == "__main__":
    main()
