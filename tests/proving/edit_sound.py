"""Edits the real recordings: notes are taken from their place and put elsewhere, or cut out, without clicks.

The sound between two notes is split where the second sets in. A note that is moved takes its own stretch with it; where
a note is cut out, the ring of the notes before it is held on and dies away, as it would if the hammer had not struck.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from made_heard import Struck, truth
from numpy.typing import NDArray

LEAD_S = 0.03
FADE_S = 0.012
TAIL_S = 1.6
HELD_S = 0.25
GRAIN_S = 0.12
DECAY_DB_PER_S = 6.0

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
        The notes in order: `t_s` when, `from_s` where in the file its sound is taken from.
    out : Path
        The FLAC file to write.
    """
    sound, rate = soundfile.read(folder / "chimes" / f"floor_clock_{name}.flac", always_2d=True)
    onsets = [one.t_s for one in truth(folder, name)[0]]
    before = _at(onsets[0] - LEAD_S, rate)
    after = _at(onsets[-1] + TAIL_S, rate)
    body = _body(sound, rate, onsets, played)
    pieces = [sound[:before], *body, sound[after:]]
    soundfile.write(out, _joined(pieces, _at(FADE_S, rate)), rate, subtype="PCM_16")
    return out


def _at(seconds: float, rate: int) -> int:
    return round(seconds * rate)


def _body(sound: Sound, rate: int, onsets: list[float], played: list[Struck]) -> list[Sound]:
    """The stretch from the first note to the end of the last one, note by note."""
    ends = {onset: following - LEAD_S for onset, following in pairwise(onsets)}
    ends[onsets[-1]] = onsets[-1] + TAIL_S
    stop_s = max(onsets[-1] + TAIL_S, played[-1].t_s + TAIL_S if played else 0.0)
    pieces: list[Sound] = []
    now_s = onsets[0] - LEAD_S
    made = sound[: _at(now_s, rate)]
    for at, one in enumerate(played):
        if one.t_s - LEAD_S > now_s + FADE_S:
            held = _held(made, rate, one.t_s - LEAD_S - now_s)
            pieces.append(held)
            made = np.concatenate([made, held])
        until = played[at + 1].t_s - LEAD_S if at + 1 < len(played) else stop_s
        length = min(ends[one.from_s] - (one.from_s - LEAD_S), until - (one.t_s - LEAD_S))
        start = _at(one.from_s - LEAD_S, rate)
        piece = sound[start : start + _at(length, rate)]
        pieces.append(piece)
        made = np.concatenate([made, piece])
        now_s = one.t_s - LEAD_S + length
    if stop_s > now_s + FADE_S:
        pieces.append(_held(made, rate, stop_s - now_s))
    return pieces


def _held(made: Sound, rate: int, seconds: float) -> Sound:
    """Hold what last sounded for so long, dying away: grains of it laid over each other."""
    n, grain = _at(seconds, rate), _at(GRAIN_S, rate)
    source = made[-_at(HELD_S, rate) :]
    random = np.random.default_rng(n)
    window = np.hanning(grain)[:, None]
    held = np.zeros((n + 2 * grain, made.shape[1]))
    for start in range(0, n + grain, grain // 2):
        at = int(random.integers(0, len(source) - grain))
        held[start : start + grain] += source[at : at + grain] * window
    fading = 10 ** (-DECAY_DB_PER_S * np.arange(n) / rate / 20)
    kept: Sound = held[grain // 2 : grain // 2 + n] * fading[:, None]
    return kept


def _joined(pieces: list[Sound], fade: int) -> Any:
    """Join stretches end to end, each join faded over a few milliseconds, lengths kept."""
    joined = pieces[0].copy()
    rise = np.sin(np.linspace(0, np.pi / 2, fade))[:, None] ** 2
    for piece in pieces[1:]:
        if len(piece) > fade and len(joined) > fade:
            # The fade lies inside the new stretch; what it fades from is the mirrored end of the old one.
            head = piece[:fade] * rise + joined[-fade:][::-1] * (1 - rise)
            joined = np.concatenate([joined, head, piece[fade:]])
        else:
            joined = np.concatenate([joined, piece])
    return joined
