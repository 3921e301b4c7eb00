"""How struck bars ring: partials, their levels and how fast each dies.

A bar, tube or bell that hangs free has modes in the pattern of odd squares (Euler-Bernoulli, free at both ends),
flattened upwards by shear; its strike note is an octave below the fourth mode. A rod or gong stands clamped at one
end; its modes lie further apart, more so where it is tapered at the clamp. Where the partials were measured, those
are used as they are. Levels and decays are invented, of the size found on one real floor clock.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quarterjack.reckoning.reckoned import ReckonedBar, Reckoning
from quarterjack.simulate.knocks import Knock, make_knock

_CLAMPED = ("rod", "gong")
_FIRST_ROOTS = {"free": 4.730040744862704, "clamped": 1.875104068711961}
_SEMITONE = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_HIGHEST_HZ = 415.3046975799451  # G sharp 4, the highest bell of the Cambridge quarters at Westminster
_CHIME_CONTACT_S, _HOUR_CONTACT_S = 0.6e-3, 0.9e-3


@dataclass(frozen=True, eq=False)
class Voice:
    """The sound of one bar, struck as usual, for a peak of one.

    Parameters
    ----------
    partials_hz, decays_per_s, gains : float64[n]
        Frequency, decay rate (1/e) and signed amplitude of each component. A partial has two, a beat apart, as
        no real bar is quite round.
    partial_of : int64[n]
        Which partial each component belongs to.
    knock : Knock
        The leather's own sound.
    """

    partials_hz: NDArray[np.float64]
    decays_per_s: NDArray[np.float64]
    gains: NDArray[np.float64]
    partial_of: NDArray[np.int64]
    knock: Knock


def mode_roots(held: str, modes: int) -> NDArray[np.float64]:
    """Roots of cos x cosh x = ±1 for a bar that is "free" at both ends or "clamped" at one.

    The first is exact; from the second on the odd multiples of pi / 2 are within 0.05 % (free) and 0.4 % (clamped).
    """
    n = np.arange(1, modes + 1)
    roots = (2 * n + 1 if held == "free" else 2 * n - 1) * np.pi / 2
    roots[0] = _FIRST_ROOTS[held]
    return roots


def invented_partials_hz(form: str, strike_hz: float) -> NDArray[np.float64]:
    """Partials of a bar of which only the note is known, rising.

    Parameters
    ----------
    form : str
        "rod" or "gong" for one end clamped; anything else hangs free.
    strike_hz : float
        The note that is heard: half the fourth mode of a free bar; taken as the third mode of a rod.
    """
    if form in _CLAMPED:
        ratio = (mode_roots("clamped", 8) / mode_roots("clamped", 8)[2]) ** 2
        return np.asarray(
            strike_hz * ratio**1.02
        )  # tapered at the clamp: stretched against the thin rod (our own amount)
    n = np.arange(1, 11)
    ratio = (mode_roots("free", 10) / mode_roots("free", 10)[3]) ** 2
    # Shear and rotary inertia: about half of what a thick hall-clock tube shows.
    return np.asarray(2 * strike_hz * (ratio * 2 ** (-2.0 * (n**2 - 16) / 1200))[1:])


def _semitone(note: str | None) -> tuple[int | None, int | None]:
    found = re.fullmatch(r"([A-G])([#♯b♭]*)(-?\d)?", note or "")
    if not found:
        return None, None
    letter, signs, octave = found.groups()
    step = _SEMITONE[letter] + sum(1 if sign in "#♯" else -1 for sign in signs)
    return step, int(octave) if octave else None


def strike_pitches_hz(reckoning: Reckoning, bars: tuple[ReckonedBar, ...]) -> dict[int, float]:
    """Give every bar a pitch that agrees with its note's name, the hour bar deepest.

    Note names without an octave spell a tune, not a pitch: the first is put in octave 4 (A4 = 440 Hz), each other
    bell next below the one before it. Two bells without note names lie a fourth apart, more a whole tone.
    """
    by_number = {bar.bar: bar for bar in bars}
    order = [number for number in dict.fromkeys(reckoning.bells_to_bars) if number in by_number]
    rest = [bar for bar in bars if bar.bar not in order]
    order += [bar.bar for bar in sorted(rest, key=lambda bar: (bar.hour, bar.bar))]
    chime = sum(1 for bar in bars if not bar.hour)
    pitches: dict[int, float] = {}
    last = 0.0
    for number in order:
        bar = by_number[number]
        step, octave = _semitone(bar.note)
        if step is not None and octave is not None:
            pitch = 440.0 * 2 ** ((step - 9) / 12 + octave - 4)
        elif step is not None:
            pitch = 440.0 * 2 ** ((step - 9) / 12)
            while last and pitch > last / 1.02:
                pitch /= 2
        elif not last:
            pitch = _HIGHEST_HZ / 2 if bar.hour and chime == 0 else _HIGHEST_HZ
        else:
            deeper = bar.hour and number not in reckoning.bells_to_bars
            pitch = last * (2 / 3 if deeper else 3 / 4 if chime <= 2 else 2 ** (-2 / 12))
        pitches[number] = last = pitch
    return pitches


def make_voice(rng: np.random.Generator, bar: ReckonedBar, strike_hz: float) -> Voice:
    """Invent the sound of one bar; two bars drawn from two generators differ as two of one clock do."""
    if bar.partials_hz:
        partials = np.array(bar.partials_hz, np.float64)
    else:
        partials = invented_partials_hz(bar.form, strike_hz)
        partials = partials * (1 + rng.normal(0.0, 0.004, partials.size))
    contact = _HOUR_CONTACT_S if bar.hour else _CHIME_CONTACT_S
    # Low partials hardly move the air; a contact of length T hardly excites what lies above 1/T.
    level_db = -9.0 * np.maximum(0.0, np.log2(500.0 / partials)) - 20 * np.log10(1 + (2 * partials * contact) ** 2)
    level_db += rng.normal(0.0, 4.0, partials.size)
    # In dB a second: a low partial of a floor clock is heard for some ten seconds, one at 2 kHz for half as long.
    fall = (2.5 if bar.hour else 3.0) + 3.5 * (partials / 1000.0) ** 0.8
    fall *= np.exp(rng.normal(0.0, 0.12, partials.size))
    sign = rng.choice((-1.0, 1.0), partials.size)
    beat = rng.uniform(0.3, 1.2, partials.size)
    second = rng.uniform(0.1, 0.35, partials.size)
    gains = sign * 10 ** (level_db / 20)
    frequencies = np.concatenate((partials, partials + beat))
    decays = np.tile(fall * np.log(10) / 20, 2)
    both = np.concatenate((gains, gains * second))
    t = np.arange(2400) / 24_000.0
    start = (both[:, None] * np.exp(np.outer(-decays, t)) * np.sin(2 * np.pi * np.outer(frequencies, t))).sum(0)
    leather = make_knock(rng, from_hz=150.0, to_hz=11_000.0, decay_s=0.005, tilt_db_per_octave=-1.5)
    return Voice(frequencies, decays, both / float(np.abs(start).max()), np.tile(np.arange(partials.size), 2), leather)


def all_bars(reckoning: Reckoning) -> tuple[ReckonedBar, ...]:
    """The bars of the reckoning, and any that only its soundings name."""
    known = {bar.bar: bar for bar in reckoning.bars}
    for sounding in reckoning.soundings:
        for hammers, bars, notes in zip(sounding.hammers, sounding.bars, sounding.notes, strict=True):
            for hammer, number, note in zip(hammers, bars, notes, strict=True):
                if number not in known:
                    hour = sounding.kind != "quarter"
                    known[number] = ReckonedBar(number, note or None, "", (hammer,), hour)
    if not known and any(sounding.blows for sounding in reckoning.soundings):
        known[1] = ReckonedBar(1, None, "", (), True)
    return tuple(known[number] for number in sorted(known))


def make_voices(reckoning: Reckoning, seed: tuple[int, ...]) -> dict[int, Voice]:
    """The sound of every bar of a clock, by bar number; the same seed gives the same bars."""
    bars = all_bars(reckoning)
    pitches = strike_pitches_hz(reckoning, bars)
    return {bar.bar: make_voice(np.random.default_rng((*seed, bar.bar)), bar, pitches[bar.bar]) for bar in bars}
