"""Strokes of made sound: what was struck is known to the sample."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from struck import BELL, FREE_BAR, HELD_ROD, play, room, strike, tick

from quarterjack.listening.onsets import _left_over_db, steps_near
from quarterjack.listening.partials import lines_after, struck_at
from quarterjack.listening.ringing import _running_max, levels_db
from quarterjack.listening.strokes import _working_rate, gather_strokes
from quarterjack.listening.weighing import PLAIN_WEIGHT

RATE = 24000


def _plain(sound: NDArray[np.float32], rate: int = RATE, first: int = 10**6) -> list[float]:
    """Onsets of strokes with evidence enough, seconds from the first of `sound`."""
    return [
        (stroke.t_ns / 1e9 - first / rate)
        for stroke in gather_strokes(sound, rate, first)
        if stroke.weight >= PLAIN_WEIGHT and stroke.jump >= 0.3
    ]


@pytest.mark.parametrize("rate", [8000, 16000, 22050, 44100, 48000, 96000])
def test_the_onset_is_found_at_any_sample_rate(rate: int) -> None:
    onsets = _plain(play([(0.0, 180.0), (0.7, 230.0)], rate), rate)
    assert onsets == pytest.approx([1.5, 2.2], abs=0.004)


@pytest.mark.parametrize("ratios", [FREE_BAR, HELD_ROD, BELL], ids=["free bar", "held rod", "bell"])
def test_whatever_rings_is_heard_whatever_its_partials(ratios: tuple[float, ...]) -> None:
    onsets = _plain(play([(0.0, 160.0), (0.6, 200.0), (1.2, 250.0)], RATE, ratios=ratios))
    assert onsets == pytest.approx([1.5, 2.1, 2.7], abs=0.005)


def test_what_does_not_ring_is_no_stroke() -> None:
    sound = room(8.0, RATE)
    for number in range(6):
        tick(sound, RATE, 1.0 + number, level=0.3, seed=number)
    time = np.arange(round(0.3 * RATE)) / RATE
    thump = 0.3 * np.sin(2 * np.pi * 70.0 * time) * np.exp(-time / 0.05)
    sound[round(3.5 * RATE) : round(3.5 * RATE) + thump.size] += thump.astype(np.float32)
    assert _plain(sound) == []


def test_a_voice_is_no_stroke() -> None:
    """Harmonics that rise together but glide and end, as vowels do."""
    sound = room(6.0, RATE)
    for number in range(8):
        time = np.arange(round(0.25 * RATE)) / RATE
        phase = 2 * np.pi * np.cumsum(120.0 * (1.0 + 0.15 * time / 0.25)) / RATE
        vowel = sum(np.sin(order * phase) / order for order in range(1, 20)) * np.hanning(time.size)
        start = round((0.8 + 0.5 * number) * RATE)
        sound[start : start + time.size] += (0.1 * vowel).astype(np.float32)
    assert _plain(sound) == []


def test_ticks_in_the_ring_are_no_strokes() -> None:
    sound = play([(0.0, 180.0)], RATE, ring_s=8.0)
    for number in range(7):
        tick(sound, RATE, 2.2 + number, level=0.2, seed=number)
    assert _plain(sound) == pytest.approx([1.5], abs=0.004)


def test_a_record_that_begins_in_a_ring_begins_with_no_stroke() -> None:
    sound = play([(0.0, 180.0), (0.1, 240.0)], RATE, ring_s=6.0)[round(2.0 * RATE) :]
    assert _plain(sound, first=0) == []


def test_a_record_that_begins_just_before_a_stroke_has_it() -> None:
    sound = play([(0.0, 180.0)], RATE, ring_s=6.0)[round(1.49 * RATE) :]
    assert _plain(sound, first=0) == pytest.approx([0.01], abs=0.004)


def test_a_line_that_rings_on_is_not_new_and_one_that_is_struck_is() -> None:
    sound = room(4.0, 12000, level=1e-5)
    time = np.arange(sound.size) / 12000
    sound += (0.1 * np.sin(2 * np.pi * 700.0 * time) * np.exp(-time / 2.0)).astype(np.float32)
    later = np.where(time >= 2.0, np.exp(-(time - 2.0) / 2.0), 0.0)
    sound += (0.05 * np.sin(2 * np.pi * 1130.0 * time) * later).astype(np.float32)
    lines = lines_after(sound, 12000.0, 2.0)
    fresh = {round(hz): share for hz, share in zip(lines.hz, lines.fresh, strict=True)}
    assert fresh[700] < 0.02
    assert fresh[1130] > 0.9
    assert struck_at(sound, 12000.0, lines, 2.0) > 0.5 > struck_at(sound, 12000.0, lines, 2.3)


def test_a_line_struck_again_in_opposite_phase_is_new_though_it_comes_out_softer() -> None:
    time = np.arange(4 * 12000) / 12000
    ring = 0.1 * np.sin(2 * np.pi * 700.0 * time)
    sound = (
        np.where(time < 2.0, ring, 0.5 * ring) + 1e-6 * np.random.default_rng(0).standard_normal(time.size)
    ).astype(np.float32)
    lines = lines_after(sound, 12000.0, 2.0)
    at = int(np.argmin(np.abs(lines.hz - 700.0)))
    assert lines.rise_db[at] < -5.0
    assert lines.fresh[at] > 0.9


def test_the_step_stands_where_the_blow_falls_under_a_louder_ring() -> None:
    rate = 12000
    sound = room(3.0, rate, level=1e-4)
    strike(sound, rate, 0.2, 150.0, level=0.3, seed=1)
    before = sound.copy()
    strike(sound, rate, 2.0, 410.0, level=0.01, seed=2)
    assert np.abs(before[round(1.9 * rate) : round(2.1 * rate)]).max() > 3 * np.abs(sound - before).max()
    at, step_db = max(steps_near(sound, float(rate), 2.03), key=lambda one: one[1])
    assert at == pytest.approx(2.0, abs=0.003)
    assert step_db > 6.0


# Slow plain twins.


def test_running_max_is_the_plain_one() -> None:
    values = np.random.default_rng(3).standard_normal((40, 3)).astype(np.float32)
    for length in (3, 5, 11, 13):
        half = length // 2
        plain = np.array([values[max(0, at - half) : at + half + 1].max(axis=0) for at in range(len(values))])
        np.testing.assert_array_equal(_running_max(values, length), plain)


def test_levels_are_those_of_single_frames() -> None:
    samples = np.random.default_rng(4).standard_normal(9000).astype(np.float32)
    first_s, step_s, levels = levels_db(samples, 12000.0)
    window, step = 1080, 270
    assert (first_s, step_s) == (window / 2 / 12000, step / 12000)
    for frame in (0, 7, len(levels) - 1):
        piece = samples[frame * step : frame * step + window].astype(np.float64)
        spectrum = np.abs(np.fft.rfft(piece * np.hanning(window + 1)[:-1] * 4.0 / window))
        np.testing.assert_allclose(levels[frame], 20.0 * np.log10(spectrum[8:468]), atol=0.02)


def test_the_working_rate_keeps_every_instant_and_the_band() -> None:
    rate = 48000
    time = np.arange(rate) / rate
    slow = 0.3 * np.sin(2 * np.pi * 1500.0 * time) * np.hanning(rate)
    samples = (slow + 0.3 * np.sin(2 * np.pi * 9000.0 * time) * np.hanning(rate)).astype(np.float32)
    working, working_rate = _working_rate(samples, rate)
    assert working_rate == 12000.0
    np.testing.assert_allclose(working, slow[::4], atol=2e-4)


def test_what_is_left_over_is_what_the_normal_equations_do_not_foretell() -> None:
    random = np.random.default_rng(5)
    time = np.arange(4000) / 12000
    sound = (
        np.sin(2 * np.pi * 430.0 * time) + 0.3 * np.sin(2 * np.pi * 1170.0 * time) + 0.01 * random.standard_normal(4000)
    )
    history, here = sound[:3000], sound[3000:]
    tapered = history * np.hanning(3000)
    lags = np.array([tapered[: 3000 - lag] @ tapered[lag:] for lag in range(49)])
    lags[0] = lags[0] * (1.0 + 1e-7) + 1e-12
    matrix = np.array([[lags[abs(row - column)] for column in range(48)] for row in range(48)])
    predictor = np.linalg.solve(matrix, lags[1:])
    left = np.array([here[at] - predictor @ here[at - 48 : at][::-1] for at in range(48, here.size)])
    power = np.convolve(left**2, np.full(24, 1 / 24), "same")
    np.testing.assert_allclose(_left_over_db(history, here, 24), 10 * np.log10(power + 1e-13), atol=1e-3)
    assert power.mean() < 0.01 * here.var()
