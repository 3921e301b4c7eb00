"""Sound that a browser can play: a cut of a recording, and what should have been heard in its place."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from quarterjack.errors import OutOfRange
from quarterjack.listening import open_recording
from quarterjack.proving import ProvedSounding
from quarterjack.reckoning import ExpectedSounding, Reckoning
from quarterjack.simulate import expected_sound

LONGEST_S = 120.0
EXPECTED_RATE_HZ = 24_000
_PEAK = 0.9


def as_wav(samples: NDArray[np.float32], sample_rate_hz: int) -> bytes:
    """Samples as a 16-bit WAV file, which every browser plays."""
    sheet = io.BytesIO()
    soundfile.write(sheet, samples, sample_rate_hz, format="WAV", subtype="PCM_16")
    return sheet.getvalue()


def cut(path: Path, from_s: float, to_s: float) -> bytes:
    """A stretch of a recording as WAV.

    Parameters
    ----------
    path : Path
        The recording, of any kind that can be heard.
    from_s, to_s : float
        Seconds from the first sample; what lies outside the recording is left out. At most 120 s.

    Raises
    ------
    OutOfRange
        If the stretch is empty, too long or outside the recording.
    """
    if not 0 <= from_s < to_s or to_s - from_s > LONGEST_S:
        raise OutOfRange(
            f"A stretch from {from_s:g} s to {to_s:g} s cannot be cut; give a start of 0 or more and an end after it, "
            f"at most {LONGEST_S:g} s later.",
            from_s=from_s,
            to_s=to_s,
        )
    with open_recording(path) as source:
        rate = source.sample_rate_hz
        first, last = round(from_s * rate), round(to_s * rate)
        kept = _sought(path, first, last)
        if kept is None:
            pieces = []
            for at, block in source.blocks():
                if at >= last:
                    break
                if at + len(block) > first:
                    pieces.append(block[max(0, first - at) : last - at])
            kept = np.concatenate(pieces) if pieces else np.zeros((0, 1), np.float32)
    if not len(kept):
        raise OutOfRange(f"The recording ends before {from_s:g} s.", from_s=from_s)
    return as_wav(kept, rate)


def _sought(path: Path, first: int, last: int) -> NDArray[np.float32] | None:
    """The stretch by a jump to its start, for files that allow it; None for the others, which are read through."""
    try:
        with soundfile.SoundFile(path) as file:
            if file.frames < last or file.format not in ("WAV", "WAVEX", "FLAC", "W64", "RF64"):
                return None
            file.seek(first)
            samples: NDArray[np.float32] = file.read(last - first, dtype="float32", always_2d=True)
            return samples
    except soundfile.LibsndfileError:
        return None


def expected_for(reckoning: Reckoning, sounding: ProvedSounding) -> ExpectedSounding | None:
    """What the clock's sheet calls for where this sounding stands, or None if it calls for nothing there."""
    alike = [one for one in reckoning.soundings if one.kind == sounding.kind]
    hour, _, minute = (sounding.dial or "").partition(":")
    if minute and hour != "?":
        alike = [one for one in alike if one.dial == sounding.dial]
    elif sounding.kind == "quarter":
        alike = [one for one in alike if one.quarter == sounding.quarter]
    else:
        alike = [one for one in alike if one.blows == sounding.blows_expected]
    return alike[0] if alike else None


def expected_wav(reckoning: Reckoning, sounding: ExpectedSounding) -> bytes:
    """The sound that was expected, as WAV, as loud as a recording usually is."""
    samples = expected_sound(reckoning, sounding, sample_rate_hz=EXPECTED_RATE_HZ)
    loudest = float(np.abs(samples).max(initial=0.0))
    return as_wav(samples * np.float32(_PEAK / loudest) if loudest > 0 else samples, EXPECTED_RATE_HZ)
