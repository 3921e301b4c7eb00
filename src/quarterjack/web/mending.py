"""Take out the silence that a browser puts in where it falls behind.

Where the computer is busy, the browser's sound path runs dry and is filled up with whole buffers of exact zeros; the
sound itself comes late but complete. Left in, every such buffer makes the clock seem to lose ten milliseconds. Seen in
Chromium: buffers of 10 ms. Other paths run dry in blocks of 128 samples, the step in which browsers work.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

LONGEST_S: Final = 0.1
"""A longer run of zeros is silence of its own: a muted microphone, a gate, sound that was lost."""

STEP: Final = 128
_NATURAL_ZEROS: Final = 3
"""Samples beside the buffer that may be zero by themselves."""


class Mender:
    """Mends one stream of samples.

    Parameters
    ----------
    sample_rate_hz : int
        Samples a second.
    """

    def __init__(self, sample_rate_hz: int) -> None:
        self._buffer = sample_rate_hz // 100
        self._longest = round(LONGEST_S * sample_rate_hz)
        self._held = 0
        self._sounded = False
        self.taken_out = 0
        self.times = 0

    def feed(self, samples: NDArray[np.float32]) -> NDArray[np.float32]:
        """Take samples and return those that are settled, without the buffers of silence put in before them.

        Zeros at the end are held back until what follows shows what they are.
        """
        zero = np.concatenate([np.ones(self._held, bool), samples == 0])
        whole = np.concatenate([np.zeros(self._held, np.float32), samples])
        edges = np.flatnonzero(np.diff(np.concatenate([[False], zero, [False]]).astype(np.int8)))
        keep = np.ones(whole.size, bool)
        self._held = 0
        for start, end in zip(edges[::2], edges[1::2], strict=True):
            length = int(end - start)
            if end == whole.size:
                if length <= self._longest:
                    self._held = length
            elif (start > 0 or self._sounded) and self._put_in(length):
                keep[start:end] = False
                self.taken_out += length
                self.times += 1
        settled = whole.size - self._held
        mended = whole[:settled][keep[:settled]]
        self._sounded = bool(mended[-1] != 0) if mended.size else self._sounded
        return mended

    def rest(self) -> NDArray[np.float32]:
        """The zeros still held back at the end of the stream."""
        held, self._held = self._held, 0
        return np.zeros(held, np.float32)

    def _put_in(self, length: int) -> bool:
        if not min(self._buffer, STEP) <= length <= self._longest:
            return False
        return any(length % block <= _NATURAL_ZEROS for block in (self._buffer, STEP) if length >= block)
