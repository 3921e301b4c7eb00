"""Clocks for the tests of simulate, put together by hand so that nothing else need be right."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quarterjack.reckoning.reckoned import ExpectedSounding, ReckonedBar, Reckoning
from quarterjack.simulate import Simulation
from quarterjack.tunes import CAMBRIDGE, Tune

# Partials of the real floor clock of the open recordings, Hz (recordings/CATALOGUE.md).
FLOOR_CLOCK_PARTIALS = {
    "G#": (222, 447, 750, 1130, 1585, 2115),
    "F#": (195, 395, 663, 1000, 1403, 1873, 2410),
    "E": (175, 353, 592, 893, 1256, 1677, 2159, 2700),
    "B": (264, 443, 670, 940, 1616, 2021, 2472),
    "hour": (239, 314, 352, 475, 606, 851, 884, 1137, 1442, 2239),
}


def chiming_clock(
    tune: Tune = CAMBRIDGE, *, partials: bool = True, beats_per_hour: float | None = 3600.0, form: str = "bar"
) -> Reckoning:
    """A floor clock that chimes every quarter, the fourth at the hour, and strikes the hour on a deeper bar."""
    hour_bar = tune.bells + 1
    bars = [
        ReckonedBar(i + 1, note, "stand", (i + 1,), False,
                    tuple(map(float, FLOOR_CLOCK_PARTIALS[note])) if partials else (), form)
        for i, note in enumerate(tune.notes)
    ]  # fmt: skip
    known = tuple(map(float, FLOOR_CLOCK_PARTIALS["hour"])) if partials else ()
    bars.append(ReckonedBar(hour_bar, None, "stand", (hour_bar,), True, known, form))
    soundings = []
    for hour in range(12):
        for quarter in (4, 1, 2, 3):
            phrases = tune.quarters[quarter - 1]
            notes = tuple(tuple(tune.notes[bell - 1] for bell in phrase) for phrase in phrases)
            minute = hour * 60 + (quarter % 4) * 15
            soundings.append(ExpectedSounding(minute, "quarter", quarter, tune.name, phrases, phrases, notes, None))
            if quarter == 4:
                n = hour or 12
                one = ((hour_bar,) * n,)
                soundings.append(ExpectedSounding(minute, "hour", None, None, one, one, (("hour",) * n,), n))
    return Reckoning(
        clock="A clock for tests",
        soundings=tuple(soundings),
        tunes=(tune,),
        bars=tuple(bars),
        bells_to_bars=tuple(range(1, tune.bells + 1)),
        beats_per_hour=beats_per_hour,
        beats_per_turn=60,
    )


def silent_clock(beats_per_hour: float = 3600.0) -> Reckoning:
    """A timepiece."""
    return Reckoning(clock="A timepiece for tests", soundings=(), beats_per_hour=beats_per_hour, beats_per_turn=60)


def whole_sound(simulation: Simulation) -> NDArray[np.float32]:
    """All samples at once."""
    return np.concatenate(list(simulation.blocks()))


def first_rise_s(sound: NDArray[np.float32], rate: int, near_s: float, *, reach_s: float = 0.005) -> float | None:
    """First sample near a place that is twice as loud as all of the 50 ms before: a plain picker of the tests' own."""
    at, reach = round(near_s * rate), round(reach_s * rate)
    quiet = np.abs(sound[max(0, at - reach - rate // 20) : at - reach]).max()
    loud = np.flatnonzero(np.abs(sound[at - reach : at + reach]) > 2.0 * quiet)
    return None if not loud.size else float(at - reach + loud[0]) / rate


def spectrum_db(sound: NDArray[np.float32], rate: int, hz: float, *, within_hz: float = 3.0) -> tuple[float, float]:
    """Frequency and level (dB) of the strongest line within some hertz of a frequency."""
    padded = 1 << (int(np.ceil(np.log2(sound.size))) + 2)
    lines = np.abs(np.fft.rfft(sound * np.hanning(sound.size), padded)) / sound.size * 4
    step = rate / padded
    low, high = int((hz - within_hz) / step), int((hz + within_hz) / step) + 1
    best = low + int(np.argmax(lines[low:high]))
    return best * step, float(20 * np.log10(lines[best] + 1e-12))
