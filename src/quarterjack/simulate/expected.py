"""What should be heard at one sounding, for playing beside what was recorded."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from quarterjack.errors import OutOfRange
from quarterjack.reckoning.reckoned import ExpectedSounding, Reckoning
from quarterjack.simulate.bars import make_voices
from quarterjack.simulate.knocks import FRACTIONS, shifted_waves
from quarterjack.simulate.ringing import RingingBar, on_grid
from quarterjack.simulate.simulation import CHUNK
from quarterjack.simulate.tempo import blow_offsets_s, strokes

LEAD_S = 0.1
RING_S = 4.0
_PEAK = 0.5
_LEATHER = 0.2


def expected_sound(
    reckoning: Reckoning, sounding: ExpectedSounding, sample_rate_hz: int = 24_000
) -> NDArray[np.float32]:
    """Play one sounding as it should be: even tempo, even blows, no ticks and no noise.

    Parameters
    ----------
    reckoning : Reckoning
        The clock; bars whose partials are known sound with them, the others are invented from their notes.
    sounding : ExpectedSounding
        Which sounding.
    sample_rate_hz : int
        8,000 to 192,000.

    Returns
    -------
    float32[n]
        Mono with a peak of 0.5; the first blow after 0.1 s, 4 s of ring after the last. Silence of 0.1 s where the
        sounding has no blows.

    Raises
    ------
    OutOfRange
        If the sample rate lies outside the bounds.
    """
    if not 8_000 <= sample_rate_hz <= 192_000:
        raise OutOfRange(f"sample_rate_hz is {sample_rate_hz}; allowed: 8000 to 192000.", value=sample_rate_hz)
    phrases = strokes(sounding, reckoning.bars)
    times = LEAD_S + blow_offsets_s(sounding, tuple(len(phrase) for phrase in phrases))
    if not times.size:
        return np.zeros(int(LEAD_S * sample_rate_hz), np.float32)
    voices = make_voices(reckoning, (1, 20))
    out = np.zeros(int((times[-1] + RING_S) * sample_rate_hz), np.float32)
    hour_bars = tuple(bar.bar for bar in reckoning.bars if bar.hour)
    struck: dict[int, list[int]] = {}
    for t, (_, bar, _) in zip(times, (stroke for phrase in phrases for stroke in phrase), strict=True):
        for each in hour_bars if sounding.kind != "quarter" and bar in hour_bars else (bar,):
            struck.setdefault(each, []).append(on_grid(float(t), sample_rate_hz))
    for bar, places in struck.items():
        gains = np.ones((len(places), int(voices[bar].partial_of.max()) + 1))
        ringing = RingingBar(voices[bar], np.array(places, np.int64), gains, sample_rate_hz=sample_rate_hz, chunk=CHUNK)
        for start in range(0, out.size, CHUNK):
            ringing.add_to(out[start : start + CHUNK], start)
        leather = shifted_waves(voices[bar].knock, sample_rate_hz) * np.float32(_LEATHER)
        for place in places:
            base, fraction = divmod(place, FRACTIONS)
            wave = leather[fraction][: out.size - base]
            out[base : base + wave.size] += wave
    fade = int(0.5 * sample_rate_hz)
    out[-fade:] *= np.linspace(1.0, 0.0, fade, dtype=np.float32)
    return out * np.float32(_PEAK / np.abs(out).max())
