"""Loops, told by their samples; and the fast autocorrelation against a plain one."""

from __future__ import annotations

import numpy as np
import pytest

from quarterjack.listening.repeats import autocorrelation, find_repeats

RATE = 44_100
RNG = np.random.default_rng(3)


def test_the_fast_autocorrelation_agrees_with_the_plain_one() -> None:
    x = RNG.standard_normal(500)
    lags = np.arange(1, 400, 7)
    plain = [float(x[:-k] @ x[k:] / np.sqrt((x[:-k] @ x[:-k]) * (x[k:] @ x[k:]))) for k in lags]
    np.testing.assert_allclose(autocorrelation(x, lags), plain, atol=1e-9)


def test_a_loop_is_found_and_its_period() -> None:
    turn = RNG.standard_normal(round(1.7 * RATE))
    looped = np.tile(turn, 4).astype(np.float32) * 0.1
    (repeat,) = find_repeats(looped, RATE)
    assert repeat.period_s == pytest.approx(1.7, abs=0.001)
    # 1.7 s falls between two of the samples compared, and white noise bears that worst.
    assert repeat.correlation > 0.93


def test_ticks_that_are_all_alike_in_fresh_noise_are_no_loop() -> None:
    sound = 0.001 * RNG.standard_normal(10 * RATE)
    tick = np.exp(-np.arange(2000) / 300.0) * RNG.standard_normal(2000)
    for second in range(10):
        sound[second * RATE : second * RATE + 2000] += tick
    assert find_repeats(sound.astype(np.float32), RATE) == ()


def test_a_held_tone_and_hum_are_no_loop() -> None:
    t = np.arange(6 * RATE) / RATE
    tone = np.sin(2 * np.pi * 440 * t) + np.sin(2 * np.pi * 50 * t)
    assert find_repeats(tone.astype(np.float32), RATE) == ()


def test_silence_is_no_loop() -> None:
    assert find_repeats(np.zeros(5 * RATE, np.float32), RATE) == ()
