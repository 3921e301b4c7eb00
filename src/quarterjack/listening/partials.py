"""The partials that a blow set going, told from those that were ringing before it.

Equal windows of 0.12 s stand end to end before and after the instant of the blow. A line that rings on undisturbed is
foretold in amplitude and phase by the two windows before (each partial dies away exponentially, so the complex ratio
of neighbouring windows is constant); what differs from that was added by the blow. Level alone would not do: a bar
struck again while it rings may come out louder or softer, by chance of phase.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d

from quarterjack.listening.ringing import HIGHEST_HZ, LOWEST_HZ

WINDOW_S = 0.12
_GAP_S = 0.004
_JUMP_S = 0.04
_MOST_LINES = 48
_LEAST_SHARE = 10.0 ** (-50.0 / 20.0)
_PROMINENCE = 4.0
_FLOOR_HZ = 180.0
_TINY = 1e-12


@dataclass(frozen=True, eq=False)
class Lines:
    """The lines that ring after an instant, rising in frequency.

    Parameters
    ----------
    hz : float64[n]
        Frequency of each line.
    amplitude : float64[n]
        Its amplitude in the first window, full scale 1.
    added : float64[n]
        Amplitude of what the windows before do not foretell, at most 1.2 times `amplitude`.
    fresh : float64[n]
        `added` over `amplitude`, 0 to 1.2: about 1 for a partial that was struck, near 0 for one that rings on.
    rise_db : float64[n]
        Middle level of three windows after over that of three before; a clunk in one of them does not touch it.
    evidence : float
        Weighted number of lines that were struck: see `_evidence`.
    """

    hz: NDArray[np.float64]
    amplitude: NDArray[np.float64]
    added: NDArray[np.float64]
    fresh: NDArray[np.float64]
    rise_db: NDArray[np.float64]
    evidence: float

    @property
    def struck(self) -> NDArray[np.float64]:
        """How much each line speaks for the bar that was struck: by being new, by having risen, and by its level."""
        new = 0.5 * np.minimum(self.fresh, 1.0) ** 2 + np.clip(self.rise_db / 10.0, 0.0, 1.5)
        weight: NDArray[np.float64] = self.amplitude**0.3 * new
        return weight

    @property
    def added_db(self) -> float:
        """Level of all that the blow added, dB relative to a full-scale sine."""
        struck = self.added[self.fresh > 0.5]
        return float(10.0 * np.log10((struck**2).sum() + _TINY))


def lines_after(samples: NDArray[np.float32], rate_hz: float, at_s: float) -> Lines:
    """Measure the lines that ring after an instant and how much of each is new.

    Parameters
    ----------
    samples : float32[n]
        One channel; what lies outside counts as silence.
    rate_hz : float
        Its sample rate.
    at_s : float
        The instant, seconds from the first sample.
    """
    length, gap = round(WINDOW_S * rate_hz), max(1, round(_GAP_S * rate_hz))
    size = scipy.fft.next_fast_len(round(1.4 * length), real=True)
    first, apart = round(at_s * rate_hz) + gap, length + 2 * gap
    spectra = _spectra(samples, [first + apart * number for number in range(-3, 4)], length, size)
    before = np.abs(spectra[:3])
    after = np.abs(spectra[3:])
    lines = _line_bins(after, rate_hz / size)
    if not lines.size:
        nothing = np.empty(0)
        return Lines(nothing, nothing, nothing, nothing, nothing, 0.0)
    amplitude = after[0, lines]
    added = np.minimum(np.abs(spectra[3] - _foretold(spectra[1], spectra[2]))[lines], 1.2 * amplitude)
    usual = np.sort(maximum_filter1d(before, 5, axis=1)[:, lines], axis=0)[1]
    wander = np.maximum(
        np.abs(spectra[5] - _foretold(spectra[3], spectra[4]))[lines] / (after[2, lines] + _TINY),
        np.abs(spectra[6] - _foretold(spectra[4], spectra[5]))[lines] / (after[3, lines] + _TINY),
    )
    fresh = added / (amplitude + _TINY)
    power = np.hypot(after[0], after[1])
    left, here, right = power[lines - 1], power[lines], power[lines + 1]
    bend = np.minimum(left - 2.0 * here + right, -_TINY)
    hz = (lines + 0.5 * (left - right) / bend) * rate_hz / size
    return Lines(
        hz=hz,
        amplitude=amplitude,
        added=added,
        fresh=fresh,
        rise_db=20.0 * np.log10((np.sort(after[:3, lines], axis=0)[1] + _TINY) / (usual + _TINY)),
        evidence=_evidence(here, after[:, lines], usual, fresh, wander),
    )


def struck_at(samples: NDArray[np.float32], rate_hz: float, lines: Lines, at_s: float) -> float:
    """Share of the lines that jump up just at an instant, 0 to 1, by 40 ms before and after it.

    A clunk or tick close to a blow is louder than the blow's own attack, but no line starts there: the blow's lines
    have not risen yet, or ring already.

    Parameters
    ----------
    samples : float32[n]
        One channel; what lies outside counts as silence.
    rate_hz : float
        Its sample rate.
    lines : Lines
        What the blow set going.
    at_s : float
        The instant, seconds from the first sample.
    """
    if not lines.hz.size:
        return 0.0
    length, gap, at = round(_JUMP_S * rate_hz), max(1, round(_GAP_S / 2 * rate_hz)), round(at_s * rate_hz)
    size = 8192
    bins = np.round(lines.hz * size / rate_hz).astype(np.intp)
    was, now = _spectra(samples, [at - gap - length, at + gap], length, size)[:, bins]
    turned = now * np.exp(-2j * np.pi * lines.hz * (length + 2 * gap) / rate_hz)
    stronger = np.maximum(np.maximum(np.abs(was), np.abs(now)), _TINY)
    jump = np.abs(turned - was) / stronger * np.clip((np.abs(now) - np.abs(was)) / stronger + 0.2, 0.0, 1.0)
    weight = lines.struck
    return float(weight @ np.minimum(jump, 1.0) / max(weight.sum(), _TINY))


def _spectra(samples: NDArray[np.float32], starts: list[int], length: int, size: int) -> NDArray[np.complex64]:
    """Spectra of Hann windows that begin at these samples; a sine of amplitude 1 gives a line of height 1."""
    weights = (np.hanning(length + 1)[:-1] * 4.0 / length).astype(np.float32)
    pieces = np.zeros((len(starts), length), np.float32)
    for row, start in enumerate(starts):
        low, high = max(start, 0), min(start + length, samples.size)
        if high > low:
            pieces[row, low - start : high - start] = samples[low:high]
    spectra: NDArray[np.complex64] = scipy.fft.rfft(pieces * weights, size, axis=1)
    return spectra


def _foretold(earlier: NDArray[np.complex64], later: NDArray[np.complex64]) -> NDArray[np.complexfloating]:
    """The next window's spectrum if every line goes on as from the earlier to the later; none can grow."""
    ratio = later / (earlier + _TINY)
    shrink = np.minimum(1.0, 1.0 / (np.abs(ratio) + _TINY))
    foretold: NDArray[np.complexfloating] = later * ratio * shrink
    return foretold


def _line_bins(after: NDArray[np.float32], bin_hz: float) -> NDArray[np.intp]:
    """Bins that hold a line: a peak that stands out in all of the first three windows after the instant."""
    power = np.hypot(after[0], after[1]) / np.sqrt(2.0)
    lasting = maximum_filter1d(np.cbrt(after[0] * after[1] * after[2]), 3)
    width = max(8, round(_FLOOR_HZ / bin_hz))
    blocks = lasting[: lasting.size // width * width].reshape(-1, width)
    middles = (np.arange(len(blocks)) + 0.5) * width
    floor = np.interp(np.arange(lasting.size), middles, np.partition(blocks, width // 2, axis=1)[:, width // 2])
    peak = np.zeros(power.size, bool)
    peak[1:-1] = (power[1:-1] > power[:-2]) & (power[1:-1] >= power[2:])
    hz = np.arange(power.size) * bin_hz
    peak &= (hz >= LOWEST_HZ) & (hz <= HIGHEST_HZ) & (lasting > _PROMINENCE * floor)
    peak &= power > _LEAST_SHARE * power.max(initial=0.0)
    bins = np.flatnonzero(peak)
    strongest: NDArray[np.intp] = np.sort(bins[np.argsort(power[bins])[::-1][:_MOST_LINES]])
    return strongest


def _evidence(
    power: NDArray[np.float32],
    after: NDArray[np.float32],
    was: NDArray[np.float32],
    fresh: NDArray[np.float64],
    wander: NDArray[np.float64],
) -> float:
    """Weighted number of lines that were struck and ring on.

    A line counts by its level, from 0 at 50 dB below the strongest to 1. It must last half a second within 12 dB.
    It counts once for having risen by 3 dB and being new, and half for each of these if it is steady afterwards, which
    noise and echoes never are.
    """
    weight = np.clip(20.0 * np.log10(power / (power.max() + _TINY) + _TINY) + 50.0, 0.0, 50.0) / 50.0
    lasts = (after[3] > 0.25 * after[1]) & (after[2] > 0.4 * after[1])
    rose = np.minimum(after[1], after[2]) > 1.41 * was
    steady = lasts & (wander < 0.6)
    both = (weight * (lasts & rose & (fresh > 0.5))).sum()
    return float(both + 0.5 * (weight * (steady & rose)).sum() + 0.5 * (weight * (steady & (fresh > 0.6))).sum())
