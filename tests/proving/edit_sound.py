"""Edits the real recordings note by note: what one stroke set ringing is lifted out, left out, or laid elsewhere.

In the short-time spectrum a stroke shows as the frequencies that rise with it. Held down to what they were before, from
the stroke until something else raises them again, they leave the recording without that stroke; the difference is the
stroke alone, with its own ring. Room, ticks and the other notes' ringing stay where they were, and nothing clicks.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np
import soundfile
from made_heard import Struck, truth
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d
from scipy.signal import ShortTimeFFT
from scipy.signal.windows import hann

FRAME_S, HOP_S = 0.28, 0.028
RISE = 1.6
RING_S = 12.0
RING_FADE_S = 5.0
ATTACK_S = 0.09
DECAY_DB_PER_S = 5.0
ONSET_FADE_S = 0.004
BEFORE_S = 0.5

Sound = NDArray[np.float64]


def edited(folder: Path, name: str, played: list[Struck], out: Path) -> Path:
    """Write one file of `chimes/` as if exactly the notes of `played` had been struck.

    Parameters
    ----------
    folder : Path
        Folder of the recordings.
    name : str
        Which of the five files.
    played : list of Struck
        The notes: `t_s` when, `from_file` and `from_s` where its sound is taken from.
    out : Path
        The FLAC file to write.
    """
    apart = _taken_apart(folder, name)
    made = apart.sound.copy()
    staying = {one.from_s for one in played if one.from_file == name and one.t_s == one.from_s}
    for onset in apart.onsets:
        if onset not in staying:
            apart.add(made, -1.0, onset, onset)
    for one in played:
        if one.from_file != name or one.t_s != one.from_s:
            _taken_apart(folder, one.from_file).add(made, 1.0, one.from_s, one.t_s)
    soundfile.write(out, np.clip(made, -1, 1), apart.rate, subtype="PCM_16")
    return out


class _Apart:
    """A recording and its strokes, each lifted out when it is asked for."""

    def __init__(self, sound: Sound, rate: int, onsets: list[float]) -> None:
        self.sound, self.rate, self.onsets = sound, rate, onsets
        self._risen: dict[float, NDArray[np.bool_]] = {}
        self._alone: dict[float, Sound] = {}

    def add(self, made: Sound, sign: float, from_s: float, to_s: float) -> None:
        """Lay one stroke into `made`, or take it out."""
        alone = self.alone(from_s)
        start = round((to_s - BEFORE_S) * self.rate)
        length = min(len(alone), len(made) - start)
        made[start : start + length] += sign * alone[:length]

    def alone(self, onset: float) -> Sound:
        """One stroke by itself, from `BEFORE_S` before its onset."""
        if onset not in self._alone:
            piece, spectrum, times, transform = self._look(onset, RING_S)
            level = np.abs(spectrum)
            later = [one for one in self.onsets if onset < one < onset + RING_S]
            share = _share_of_stroke(level, times, self.risen(onset), [(one - onset, self.risen(one)) for one in later])
            alone = np.real(transform.istft(spectrum * share, k1=len(piece), f_axis=0, t_axis=-1))
            self._alone[onset] = _from(alone, self.rate)
        return self._alone[onset]

    def risen(self, onset: float) -> NDArray[np.bool_]:
        """Frequencies that rise with a stroke, their neighbours with them."""
        if onset not in self._risen:
            _, spectrum, times, _ = self._look(onset, 0.6)
            level = np.abs(spectrum)
            after = level[..., (times > 0.1) & (times < 0.4)].max(axis=-1)
            self._risen[onset] = maximum_filter1d((after > RISE * _before(level, times)).astype(np.int8), 3, axis=0) > 0
        return self._risen[onset]

    def _look(self, onset: float, seconds: float) -> tuple[Sound, NDArray[np.complex128], Sound, ShortTimeFFT]:
        """The sound around a stroke, its short-time spectrum, and the frames' times from the onset."""
        start = round((onset - BEFORE_S) * self.rate)
        piece = self.sound[start : start + round((BEFORE_S + seconds) * self.rate)]
        transform = ShortTimeFFT(hann(round(FRAME_S * self.rate), sym=False), round(HOP_S * self.rate), self.rate)
        return piece, transform.stft(piece, axis=0), transform.t(len(piece)) - BEFORE_S, transform


@lru_cache(maxsize=5)
def _taken_apart(folder: Path, name: str) -> _Apart:
    sound, rate = soundfile.read(folder / "chimes" / f"floor_clock_{name}.flac", always_2d=True)
    return _Apart(sound, rate, [one.t_s for one in truth(folder, name)[0]])


def _before(level: Sound, times: Sound, onset: float = 0.0) -> Sound:
    """Level of each frequency just before a stroke."""
    inside = (times > onset - 0.25) & (times < onset - FRAME_S / 2)
    before: Sound = level[..., inside].mean(axis=-1)
    return before


def _fading(since: Sound) -> Sound:
    """How ringing falls off with the time since."""
    return np.power(10.0, -DECAY_DB_PER_S * np.maximum(since, 0) / 20)


def _share_of_stroke(
    level: Sound, times: Sound, risen: NDArray[np.bool_], later: list[tuple[float, NDArray[np.bool_]]]
) -> Sound:
    """How much of each frame and frequency belongs to one stroke, 0 to 1.

    What stood there before the stroke rings on; where a later stroke raises a frequency again, this one's part is what
    it had just before, ringing on.
    """
    floor = np.maximum(level, 1e-12)
    stood = _before(level, times)
    share: Sound = 1 - np.minimum(1.0, stood[..., None] * _fading(times) / floor)
    share[..., times < -FRAME_S / 2] = 0
    share[~risen[..., None] & (times > ATTACK_S)] = 0
    open_still = risen.copy()
    for onset, again in later:
        own = np.maximum(_before(level, times, onset) - stood * _fading(np.array(onset)), 0)
        after = times >= onset - FRAME_S / 2
        change = (open_still & again)[..., None] & after
        share = np.where(change, np.minimum(1.0, own[..., None] * _fading(times - onset) / floor), share)
        open_still &= ~again
    return share


def _from(sound: Sound, rate: int) -> Sound:
    """The sound from its onset on, faded in over the milliseconds before it and out at its end."""
    start, fade = round(BEFORE_S * rate), round(ONSET_FADE_S * rate)
    sound = sound.copy()
    sound[: start - fade] = 0
    sound[start - fade : start] *= np.linspace(0, 1, fade)[:, None]
    last = min(len(sound) // 2, round(RING_FADE_S * rate))
    sound[-last:] *= np.linspace(1, 0, last)[:, None]
    return sound
