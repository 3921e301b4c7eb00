"""What can be said of a recording itself: gaps, clipping, silence, a recorder's noise gate."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quarterjack.listening.heard import Gap, Remark
from quarterjack.records import to_ns

LEAST_GAP_S = 0.050
# Mean square of less than one step of a 16-bit recording: nothing that a microphone gives.
_DIGITAL_SILENCE = 10.0**-9.3
_UNDER_FLOOR = 0.1
_FLOOR_PERCENTILE = 10.0
_FULL_SCALE = 0.9999
_LOWEST_DB, _BINS = -140, 150
# Every eighth frame tells the floor as well as all of them.
_SPARSE = 8
_NOTHING_DB = -75.0
_FEW_CLIPPED = 10
_GATED_GAPS, _GATED_SHARE = 5, 0.10
_LOW_RATE_HZ = 16_000


class Levels:
    """Counts levels frame by frame; what is kept does not grow, but for the gaps.

    Parameters
    ----------
    frame_s : float
        Seconds in a frame of the front.
    """

    def __init__(self, frame_s: float) -> None:
        self._frame_s = frame_s
        self._histogram = np.zeros(_BINS, np.int64)
        self._frames = 0
        self._silent_from: int | None = None
        self._silent_energy = 0.0
        self._silences: list[tuple[int, int, float]] = []
        self._lost: list[Gap] = []
        self.clipped_samples = 0
        self._loudest = 0.0

    def page(self, samples: NDArray[np.float32], energies: NDArray[np.float32]) -> None:
        """Take the next page, as the follower does."""
        if samples.size:
            loudest = float(max(samples.max(), -samples.min()))
            self._loudest = max(self._loudest, loudest)
            if loudest >= _FULL_SCALE:
                self.clipped_samples += int(np.count_nonzero(np.abs(samples) >= _FULL_SCALE))
        total = energies @ np.ones(energies.shape[1], np.float32)
        silent = total < _DIGITAL_SILENCE
        counted = total[::_SPARSE][~silent[::_SPARSE]]
        level = np.log10(np.maximum(counted, 1e-14)) * 10.0 - _LOWEST_DB
        self._histogram += np.bincount(np.clip(level, 0, _BINS - 1).astype(np.int64), minlength=_BINS)
        if silent.any() or self._silent_from is not None:
            self._mark_silence(silent, total)
        self._frames += len(total)

    def _mark_silence(self, silent: NDArray[np.bool_], total: NDArray[np.float32]) -> None:
        edges = np.flatnonzero(np.diff(np.concatenate([[self._silent_from is not None], silent]).astype(np.int8)))
        place = 0
        for edge in edges:
            if silent[edge]:
                self._silent_from, self._silent_energy = self._frames + int(edge), 0.0
            else:
                self._silent_energy += float(total[place:edge].sum())
                self._close(self._frames + int(edge))
            place = int(edge)
        if self._silent_from is not None:
            self._silent_energy += float(total[place:].sum())

    def _close(self, frame: int) -> None:
        if self._silent_from is not None and (frame - self._silent_from) * self._frame_s >= LEAST_GAP_S:
            self._silences.append((self._silent_from, frame, self._silent_energy / (frame - self._silent_from)))
        self._silent_from = None

    def lose(self, from_s: float, to_s: float) -> None:
        """Mark samples that never came."""
        self._lost.append(Gap(to_ns(from_s), to_ns(to_s)))

    @property
    def floor(self) -> float:
        """Mean square that all but the quietest tenth of the frames exceed, digital silence left out."""
        count = int(self._histogram.sum())
        if not count:
            return 0.0
        place = int(np.searchsorted(np.cumsum(self._histogram), count * _FLOOR_PERCENTILE / 100.0))
        return float(10.0 ** ((place + _LOWEST_DB) / 10.0))

    def gaps(self) -> tuple[Gap, ...]:
        """Stretches without sound so far: lost samples, and digital silence well under the record's own floor."""
        silences = list(self._silences)
        if self._silent_from is not None:
            frames = self._frames - self._silent_from
            if frames * self._frame_s >= LEAST_GAP_S:
                silences.append((self._silent_from, self._frames, self._silent_energy / frames))
        limit = self.floor * _UNDER_FLOOR
        quiet = [
            Gap(to_ns(first * self._frame_s), to_ns(after * self._frame_s))
            for first, after, energy in silences
            if energy <= limit
        ]
        apart = [q for q in quiet if not any(q.from_ns < g.to_ns and g.from_ns < q.to_ns for g in self._lost)]
        return tuple(sorted([*self._lost, *apart], key=lambda gap: gap.from_ns))

    def remarks(self, sample_rate_hz: int) -> tuple[Remark, ...]:
        """What a user must know about the recording."""
        said: list[tuple[str, str]] = []
        if 20.0 * np.log10(max(self._loudest, 1e-9)) < _NOTHING_DB:
            said.append(
                ("silent", "The recording is silent: check that the right microphone was chosen and not muted.")
            )
        if self.clipped_samples >= _FEW_CLIPPED:
            said.append(
                (
                    "clipped",
                    f"{self.clipped_samples} samples are clipped: the level was set too high or the microphone stood "
                    "too near. Ticks are still timed well; blows may be misread.",
                )
            )
        gaps = [gap for gap in self.gaps() if gap not in self._lost]
        silent_s = sum(gap.to_ns - gap.from_ns for gap in gaps) / 1e9
        if len(gaps) >= _GATED_GAPS and silent_s > _GATED_SHARE * self._frames * self._frame_s:
            said.append(
                (
                    "noise-gated",
                    f"The sound is cut to nothing {len(gaps)} times: the recorder's noise gate or voice mode wipes out "
                    "steady ticks. Record again with it turned off.",
                )
            )
        if self._lost:
            said.append(("samples-lost", f"Samples were lost {len(self._lost)} times; the clock was not heard there."))
        if sample_rate_hz < _LOW_RATE_HZ:
            said.append(
                (
                    "low-sample-rate",
                    f"At {sample_rate_hz} samples a second little of a tick is left; 44,100 or more serve better.",
                )
            )
        return tuple(Remark(code, text) for code, text in said)
