"""Annotated ticks of the shared recordings, and ticks heard laid against them."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

TOLERANCE_S, LARGEST_OFFSET_S = 0.005, 0.015


def annotated_ticks(path: Path) -> tuple[NDArray[np.float64], list[str]]:
    """Onsets and sides of the annotated ticks beside a recording."""
    with path.with_suffix(".csv").open(encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["kind"] == "tick"]
    return np.array([float(row["onset_s"]) for row in rows]), [row["label"] for row in rows]


@dataclass(frozen=True)
class Laid:
    """What became of annotated ticks: how many were found, how many false ticks stand between the first and last."""

    found: int
    of: int
    false: int
    offset_s: float
    worst_s: float
    sides_agree: bool


def laid(t_s: NDArray[np.float64], side: NDArray[np.int8], onset_s: NDArray[np.float64], labels: list[str]) -> Laid:
    """Lay heard ticks against annotated ones, one constant offset of at most 15 ms removed."""
    if not t_s.size:
        return Laid(0, onset_s.size, 0, 0.0, 0.0, False)
    nearest = np.abs(t_s[:, None] - onset_s).argmin(axis=0)
    off = t_s[nearest] - onset_s
    offset = float(np.clip(np.median(off), -LARGEST_OFFSET_S, LARGEST_OFFSET_S))
    found = np.abs(off - offset) <= TOLERANCE_S
    inside = (t_s - offset >= onset_s[0] - TOLERANCE_S) & (t_s - offset <= onset_s[-1] + TOLERANCE_S)
    false = int(inside.sum()) - len(set(nearest[found].tolist()))
    same = side[nearest[found]] == np.array([label == "B" for label in np.array(labels)[found]])
    worst = float(np.abs(off - offset)[found].max(initial=0.0))
    return Laid(int(found.sum()), onset_s.size, false, offset, worst, bool(same.all() or not same.any()))
