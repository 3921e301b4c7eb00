"""Ticks of made clocks, whose truth is known exactly: rates, shapes, noise, rates of sampling, stops."""

from __future__ import annotations

import numpy as np
import pytest
from annotated import laid
from made_clock import DROP_THEN_CRUTCH, FAINT_UNLOCKING, SINGLE, THREE, Knock, made_clock
from numpy.typing import NDArray

from quarterjack.listening.heard import Heard, RecordingFacts
from quarterjack.listening.listener import Listener

SHAPES = {"single": SINGLE, "drop then crutch": DROP_THEN_CRUTCH, "three": THREE, "faint unlocking": FAINT_UNLOCKING}


def hear(samples: NDArray[np.float32], rate: int = 44_100) -> Heard:
    listener = Listener(rate)
    listener.feed(samples, 0)
    return listener.finish(RecordingFacts("made", "", samples.size / rate, rate, 1))


def check(heard: Heard, onset_s: NDArray[np.float64], beats_per_hour: float, difference_s: float) -> None:
    sides = ["AB"[n % 2] for n in range(onset_s.size)]
    against = laid(heard.ticks.t_s, heard.ticks.side, onset_s, sides)
    assert against.found == against.of
    assert against.false == 0
    assert against.sides_agree
    assert heard.going is not None
    assert heard.going.beats_per_hour == pytest.approx(beats_per_hour, rel=0.0005)
    assert heard.going.beat_difference_ms == pytest.approx(difference_s * 1e3, abs=3.0)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize(
    ("beats_per_hour", "difference_s"), [(3600, 0.3), (5880, 0.02), (7200, 0.0), (10_800, 0.1), (18_000, 0.02)]
)
def test_neither_half_nor_double_the_rate(beats_per_hour: float, difference_s: float, shape: str) -> None:
    samples, onset_s = made_clock(
        beats_per_hour=beats_per_hour, difference_s=difference_s, knocks=SHAPES[shape], seconds=10.0
    )
    check(hear(samples), onset_s, beats_per_hour, difference_s)


@pytest.mark.parametrize("rate", [8_000, 16_000, 48_000, 96_000, 192_000])
def test_every_sample_rate(rate: int) -> None:
    samples, onset_s = made_clock(rate=rate, beats_per_hour=6_000, difference_s=0.05, seconds=8.0)
    check(hear(samples, rate), onset_s, 6_000, 0.05)


@pytest.mark.parametrize("noise", [0.0001, 0.003, 0.01, 0.02])
def test_noise(noise: float) -> None:
    samples, onset_s = made_clock(noise=noise, difference_s=0.03, knocks=THREE)
    check(hear(samples), onset_s, 7200, 0.03)


def test_onsets_are_timed_to_a_fraction_of_a_millisecond() -> None:
    samples, onset_s = made_clock(noise=0.0003, jitter_s=0.0015, difference_s=0.04)
    ticks = hear(samples).ticks
    off = ticks.t_s - onset_s
    assert np.abs(np.median(off)) < 0.0005
    assert np.std(off - np.median(off)) < 0.0001
    assert (ticks.u_ns < 1e6).all()


def test_a_stop_is_found_and_a_record_that_ends_is_none() -> None:
    samples, onset_s = made_clock(seconds=30.0)
    going_on = hear(samples)
    assert going_on.stops == ()
    quiet = 0.001 * np.random.default_rng(8).standard_normal(20 * 44_100).astype(np.float32)
    (stop,) = hear(np.concatenate([samples, quiet])).stops
    assert stop.ended == "cut off"
    assert stop.t_ns / 1e9 == pytest.approx(onset_s[-1], abs=0.003)


def test_a_clock_set_going_again_keeps_its_rate_and_sides() -> None:
    first, _ = made_clock(seconds=30.0, difference_s=0.08)
    again, _ = made_clock(seconds=30.0, difference_s=0.08, first_s=0.31)
    quiet = 0.001 * np.random.default_rng(8).standard_normal(20 * 44_100).astype(np.float32)
    heard = hear(np.concatenate([first, quiet, again]))
    assert len(heard.stops) == 1
    assert heard.going is not None
    assert heard.going.beats_per_hour == pytest.approx(7200, rel=0.0002)
    assert heard.going.beat_difference_ms == pytest.approx(80.0, abs=2.0)


def test_the_louder_of_two_clocks_is_followed() -> None:
    loud, onset_s = made_clock(beats_per_hour=5_400, difference_s=0.05, level=0.3)
    faint, _ = made_clock(beats_per_hour=7_300, level=0.03, seed=9)
    check(hear(loud + faint), onset_s, 5_400, 0.05)


def test_a_tock_much_fainter_than_the_tick_is_still_a_beat() -> None:
    tick, even = made_clock(beats_per_hour=3_600, noise=0.0005)
    tock, odd = made_clock(beats_per_hour=3_600, noise=0.0, first_s=0.13 + 0.5, level=0.05, seed=4)
    heard = hear(tick + tock)
    assert heard.going is not None
    assert heard.going.beats_per_hour == pytest.approx(7_200, rel=0.0005)
    assert len(heard.ticks) == even.size + odd.size


@pytest.mark.parametrize("kind", ["silence", "white", "hum", "random knocks"])
def test_what_is_no_clock_gives_no_rate(kind: str) -> None:
    rng = np.random.default_rng(11)
    n = 20 * 44_100
    sound = {
        "silence": np.zeros(n),
        "white": 0.05 * rng.standard_normal(n),
        "hum": 0.1 * np.sin(2 * np.pi * 50 * np.arange(n) / 44_100) + 1e-4 * rng.standard_normal(n),
        "random knocks": 1e-3 * rng.standard_normal(n),
    }[kind]
    if kind == "random knocks":
        for at in rng.uniform(0, n - 3000, 30).astype(int):
            sound[at : at + 2000] += rng.uniform(0.05, 0.5) * rng.standard_normal(2000) * np.exp(-np.arange(2000) / 300)
    assert hear(sound.astype(np.float32)).going is None


def test_knocks_are_as_described() -> None:
    # The made clock itself: a tick begins where it says, to within two samples.
    samples, onset_s = made_clock(noise=0.0, jitter_s=0.0, knocks=(Knock(0.0, 1.0),))
    for t in onset_s[:5]:
        near = np.flatnonzero(np.abs(samples[round((t - 0.05) * 44_100) : round((t + 0.05) * 44_100)]) > 1e-4)
        assert near[0] == pytest.approx(0.05 * 44_100, abs=3)


def test_a_stop_in_the_middle_of_a_search_is_not_taken_for_another_beat() -> None:
    # Seen in the last seconds before a silence, every third tick seems to be missing.
    samples, onset_s = made_clock(seconds=32.0, beats_per_hour=3_600, difference_s=0.02)
    quiet = 0.001 * np.random.default_rng(8).standard_normal(35 * 44_100).astype(np.float32)
    heard = hear(np.concatenate([samples, quiet]))
    assert len(heard.ticks) == onset_s.size
    assert [stop.ended for stop in heard.stops] == ["cut off"]
