"""Stretches of a record in which something may ring, so that only these need a close look.

The level of each band is taken as the least of its 10 ms means in every 50 ms, which passes over ticks. A level that
stays above all that it was in the quarter of a second before is a reason to look, from a second and a half before to
four seconds after; so is the beginning, which has no before. Reasons are found by absolute frame number and overlap
into stretches; nothing depends on how the frames were handed over.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

BLOCK_FRAMES = 50
_MEAN_FRAMES = 10
_BEFORE, _LEAST_AFTER, _MOST_AFTER = 5, 6, 12
"""Blocks compared: so many before, and from the sixth to the twelfth after, past a tick and its echo."""
_RISE = 10.0 ** (1.5 / 10.0)
_LEAST_POWER = 1e-12
LEAD_S, TAIL_S = 1.5, 4.0
LONGEST_S = 40.0


class Stretches:
    """Finds stretches in a stream of band energies.

    Parameters
    ----------
    frame_s : float
        Seconds in a frame.
    """

    def __init__(self, frame_s: float) -> None:
        self._lead, self._tail, self._longest = (
            round(seconds / frame_s / BLOCK_FRAMES) for seconds in (LEAD_S, TAIL_S, LONGEST_S)
        )
        self._rest: NDArray[np.float32] | None = None
        self._levels: NDArray[np.float32] | None = None
        self._blocks = 0
        self._judged = 0
        # The stretch that is open, in blocks: the record's beginning is a reason to look.
        self._open: tuple[int, int] | None = (0, self._tail)

    @property
    def needed_from(self) -> int:
        """Frame from which sound must be kept, since a stretch that is not yet told may begin there."""
        earliest = self._judged - self._lead
        if self._open is not None:
            earliest = min(earliest, self._open[0])
        return max(0, earliest) * BLOCK_FRAMES

    def push(self, energies: NDArray[np.float32]) -> list[tuple[int, int]]:
        """Take the next frames and return the stretches that are complete: first frame and one past the last.

        Parameters
        ----------
        energies : float32[frames, bands]
            Mean square in each band (see `front.py`).
        """
        joined = energies if self._rest is None else np.concatenate([self._rest, energies])
        count = len(joined) // BLOCK_FRAMES
        self._rest = joined[count * BLOCK_FRAMES :].copy()
        if not count:
            return []
        means = joined[: count * BLOCK_FRAMES].reshape(count, BLOCK_FRAMES // _MEAN_FRAMES, _MEAN_FRAMES, -1).mean(2)
        levels = means.min(axis=1) + np.float32(_LEAST_POWER)
        self._levels = levels if self._levels is None else np.concatenate([self._levels, levels])
        self._blocks += count
        return self._judge()

    def finish(self) -> list[tuple[int, int]]:
        """Return what is left; the last stretch ends with the last whole block."""
        if self._open is None or not self._blocks:
            return []
        start, end = self._open
        self._open = None
        return [(start * BLOCK_FRAMES, min(end, self._blocks) * BLOCK_FRAMES)]

    def _judge(self) -> list[tuple[int, int]]:
        """Judge every block whose after is known; `self._levels` begins `_BEFORE` blocks before the first of them."""
        assert self._levels is not None
        first_held = self._blocks - len(self._levels)
        first = max(self._judged, _BEFORE)
        stop = self._blocks - _MOST_AFTER
        done: list[tuple[int, int]] = []
        if stop > first:
            held = self._levels
            at = np.arange(first, stop) - first_held
            before = np.max([held[at - back] for back in range(1, _BEFORE + 1)], axis=0)
            after = np.min([held[at + ahead] for ahead in range(_LEAST_AFTER, _MOST_AFTER + 1)], axis=0)
            reasons = first + np.flatnonzero((after > _RISE * before).any(axis=1))
            for reason in reasons.tolist():
                done += self._look_at(reason)
        self._judged = max(self._judged, stop)
        self._levels = self._levels[max(0, self._judged - _BEFORE - first_held) :]
        if self._open is not None and self._open[1] <= self._judged - self._lead:
            done.append((self._open[0] * BLOCK_FRAMES, self._open[1] * BLOCK_FRAMES))
            self._open = None
        return done

    def _look_at(self, reason: int) -> list[tuple[int, int]]:
        """Put a reason to look at a block into the open stretch; return what that closes."""
        start, end = max(0, reason - self._lead), reason + self._tail
        if self._open is None:
            self._open = (start, end)
            return []
        opened, until = self._open
        if start > until:
            self._open = (start, end)
            return [(opened * BLOCK_FRAMES, until * BLOCK_FRAMES)]
        if reason - opened >= self._longest:
            # So much sound at once would fill the memory: cut here, with the lead that the next part needs.
            self._open = (start, end)
            return [(opened * BLOCK_FRAMES, reason * BLOCK_FRAMES)]
        self._open = (opened, end)
        return []
