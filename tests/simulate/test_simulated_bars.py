"""How bars ring: against the roots of the beam equation and partials measured on a real clock."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import scipy.optimize
from simulated_clocks import FLOOR_CLOCK_PARTIALS, chiming_clock, spectrum_db

from quarterjack.simulate import expected_sound
from quarterjack.simulate.bars import invented_partials_hz, make_voices, mode_roots, strike_pitches_hz


@pytest.mark.parametrize(("held", "sign"), [("free", 1.0), ("clamped", -1.0)])
def test_mode_roots_solve_the_beam_equation(held: str, sign: float) -> None:
    """Euler-Bernoulli: cos x cosh x = 1 (free-free) or -1 (clamped-free), solved here by bracketing."""
    for n, root in enumerate(mode_roots(held, 8)):
        exact = scipy.optimize.brentq(lambda x: np.cos(x) - sign / np.cosh(x), root - 0.3, root + 0.3, xtol=1e-12)
        tolerance = 1e-12 if n == 0 else 5e-4 if held == "free" else 4e-3
        assert root == pytest.approx(exact, rel=tolerance)


def test_free_bars_follow_the_odd_squares_and_sound_an_octave_below_the_fourth_mode() -> None:
    """Rossing: 9:25:49:81:121:169, strike note an octave below mode 4; shear flattens the upper ones."""
    partials = invented_partials_hz("tube", 440.0)
    assert partials[2] == pytest.approx(880.0)  # modes 2, 3, 4: the fourth is the third here
    odd = 9 * np.sqrt(partials / partials[2])
    np.testing.assert_allclose(odd, [5, 7, 9, 11, 13, 15, 17, 19, 21], rtol=0.06)
    assert np.all(odd[3:] < [11, 13, 15, 17, 19, 21])


def test_rods_are_stretched_against_the_thin_rod() -> None:
    """Espe, Lin and Hartmann (1995): rods tapered at the clamp; thin rod 1 : 6.267 : 17.547."""
    partials = invented_partials_hz("rod", 300.0)
    assert partials[1] / partials[0] > 6.267
    assert partials[2] / partials[0] > 17.547
    assert partials[2] == 300.0


@pytest.mark.parametrize("note", ["G#", "F#", "E", "B", "hour"])
def test_given_partials_are_in_the_sound(note: str) -> None:
    """Frequencies of the catalogue, read back by FFT; a partial's twin lies up to 1.2 Hz above it."""
    clock = chiming_clock()
    if note == "hour":
        sounding = next(s for s in clock.soundings if s.kind == "hour" and s.blows == 1)
    else:
        first = next(s for s in clock.soundings if s.quarter == 1)
        bar = ["G#", "F#", "E", "B"].index(note) + 1
        sounding = replace(first, hammers=((bar,),), bars=((bar,),), notes=((note,),))
    ring = expected_sound(clock, sounding)[2400 + 480 : 2400 + 48_000]
    for hz in FLOOR_CLOCK_PARTIALS[note]:
        found, level = spectrum_db(ring, 24_000, hz, within_hz=8.0)
        between = [spectrum_db(ring, 24_000, hz + off, within_hz=3.0)[1] for off in (-13.0, 13.0)]
        assert -0.6 < found - hz < 1.6
        assert level > min(between) + 12.0


def test_higher_partials_die_sooner() -> None:
    clock = chiming_clock()
    one = next(s for s in clock.soundings if s.kind == "hour" and s.blows == 1)
    ring = expected_sound(clock, one)
    falls = []
    for hz in (239.0, 2239.0):
        early = spectrum_db(ring[4800:28_800], 24_000, hz)[1]
        late = spectrum_db(ring[52_800:76_800], 24_000, hz)[1]
        falls.append((early - late) / 2.0)
    assert 1.0 < falls[0] < 12.0  # dB a second, of the order measured on the real clock (about 6)
    assert falls[1] > falls[0] + 3.0


def test_two_bars_of_one_clock_differ_and_the_hour_is_deepest() -> None:
    clock = chiming_clock(partials=False)
    voices = make_voices(clock, (1,))
    pitches = strike_pitches_hz(clock, clock.bars)
    # Equal temperament from A4 = 440 Hz: G#4, F#4, E4, B3 (pitches of the Westminster bells).
    assert [pitches[bar] for bar in (1, 2, 3, 4)] == pytest.approx([415.304698, 369.994423, 329.627557, 246.941651])
    assert pitches[5] < 0.7 * pitches[4]
    one, two = voices[1], voices[2]
    ratios = one.partials_hz / two.partials_hz
    assert np.ptp(ratios) > 0.002
    assert np.ptp(np.abs(one.gains / two.gains)) > 0.1
