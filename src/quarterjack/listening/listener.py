"""The one ear for files and live sound alike: samples in, everything that was heard out.

Samples are cut into pages on the absolute sample grid before anything looks at them, so that the same sound gives the
same events however it is handed over.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quarterjack.listening.follow import PAGE_FRAMES, Follower
from quarterjack.listening.front import Front
from quarterjack.listening.heard import Heard, RecordingFacts, Remark, Repeat
from quarterjack.listening.hints import NO_HINTS, Hints
from quarterjack.listening.levels import Levels
from quarterjack.listening.one_clock import the_clock
from quarterjack.listening.picks import CELL_FRAMES
from quarterjack.listening.repeats import EXAMINED_S, find_repeats
from quarterjack.listening.striking import Striking


class Listener:
    """Hears one channel.

    Parameters
    ----------
    sample_rate_hz : int
        Samples a second.
    hints : Hints
        What is known beforehand.
    """

    def __init__(self, sample_rate_hz: int, hints: Hints = NO_HINTS) -> None:
        self._rate, self._hints = sample_rate_hz, hints
        self._front = Front(sample_rate_hz)
        self._follower = Follower(sample_rate_hz, hints)
        self._striking = Striking(sample_rate_hz, hints)
        self._levels = Levels(self._front.frame_s)
        self._page = PAGE_FRAMES * self._front.hop
        # The last page is never so short that its noise could not be told.
        self._held_back = CELL_FRAMES * self._front.hop
        self._waiting: list[NDArray[np.float32]] = []
        self._waiting_samples = 0
        self._taken = 0
        self._opening: list[NDArray[np.float32]] = []
        self._opening_samples = 0
        self._repeats: tuple[Repeat, ...] | None = None  # not yet examined

    @property
    def seconds(self) -> float:
        """Seconds taken so far."""
        return self._taken / self._rate

    def feed(self, samples: NDArray[np.float32], first_sample: int) -> None:
        """Take samples.

        Parameters
        ----------
        samples : float32[n]
            One channel, full scale 1.
        first_sample : int
            Number of the first of them, counted from the first sample of the record. Where it jumps ahead, samples
            were lost, and the gap is an event; what was taken before is not taken twice.
        """
        if first_sample < self._taken:
            samples = samples[self._taken - first_sample :]
        elif first_sample > self._taken:
            self._levels.lose(self._taken / self._rate, first_sample / self._rate)
            while self._taken < first_sample:
                self._take(np.zeros(min(self._page, first_sample - self._taken), np.float32))
        self._take(np.asarray(samples, np.float32))

    def _take(self, samples: NDArray[np.float32]) -> None:
        if not samples.size:
            return
        self._taken += samples.size
        self._waiting.append(samples)
        self._waiting_samples += samples.size
        while self._waiting_samples >= self._page + self._held_back:
            if self._waiting[0].size != self._page:
                joined = np.concatenate(self._waiting)
                self._waiting = [joined[: self._page], joined[self._page :]]
            self._waiting_samples -= self._page
            self._hear(self._waiting.pop(0))

    def _hear(self, page: NDArray[np.float32], *, last: bool = False) -> None:
        _, energies = self._front.push(page)
        if self._repeats is None:
            self._opening.append(page)
            self._opening_samples += page.size
            # As soon as there is enough: at the end its work would come on top of all that a long record leaves.
            if self._opening_samples >= EXAMINED_S * self._rate:
                self._examine_opening()
        self._levels.page(page, energies)
        self._striking.page(page, energies)
        if len(energies):
            self._follower.page(page, energies, last=last)

    def _examine_opening(self) -> None:
        """Look for a loop in the opening, and let its sound go."""
        self._repeats = find_repeats(np.concatenate(self._opening), self._rate) if self._opening else ()
        self._opening = []

    def now(self) -> Heard:
        """What was heard so far; cheap enough to ask every second."""
        return self._heard(
            RecordingFacts(
                file="",
                sha256="",
                seconds=self.seconds,
                sample_rate_hz=self._rate,
                channels=1,
            )
        )

    def finish(self, facts: RecordingFacts) -> Heard:
        """Hear what is left and return everything; nothing can be fed afterwards.

        Parameters
        ----------
        facts : RecordingFacts
            The recording as its source knows it; gaps and clipped samples are filled in here.
        """
        if self._waiting_samples:
            self._hear(np.concatenate(self._waiting), last=True)
            self._waiting, self._waiting_samples = [], 0
        self._striking.finish()
        if self._repeats is None:
            self._examine_opening()
        return self._heard(facts)

    def _heard(self, facts: RecordingFacts) -> Heard:
        repeats = self._repeats or ()
        blows, soundings, train_noise = self._striking.named()
        clock = the_clock(self._follower.stretches, self.seconds, self._hints.beats_per_turn)
        remarks = list(self._levels.remarks(self._rate))
        if repeats:
            remarks.append(
                Remark(
                    "looped",
                    f"The recording repeats itself every {repeats[0].period_s:.3f} s: it is a loop and proves nothing "
                    "beyond its first turn.",
                )
            )
        return Heard(
            recording=RecordingFacts(
                file=facts.file,
                sha256=facts.sha256,
                seconds=facts.seconds,
                sample_rate_hz=facts.sample_rate_hz,
                channels=facts.channels,
                channel=facts.channel,
                started_utc=facts.started_utc,
                clipped_samples=self._levels.clipped_samples,
                gaps=self._levels.gaps(),
            ),
            going=clock.going,
            ticks=clock.ticks,
            blows=blows,
            soundings=soundings,
            train_noise=train_noise,
            stops=clock.stops,
            repeats=repeats,
            remarks=tuple(remarks),
        )
