"""The one ear: the same events however the sound comes, honest remarks, live use."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from made_clock import THREE, made_clock
from numpy.typing import NDArray

from quarterjack.listening.hear import hear
from quarterjack.listening.heard import Heard, RecordingFacts
from quarterjack.listening.listener import Listener
from quarterjack.records import from_json, to_json

RATE = 16_000
FACTS = RecordingFacts("made", "", 40.0, RATE, 1)
CLOCK, ONSET_S = made_clock(rate=RATE, seconds=40.0, beats_per_hour=7_000, difference_s=0.06, knocks=THREE)


def listen(samples: NDArray[np.float32], edges: list[int], rate: int = RATE) -> Heard:
    listener = Listener(rate)
    for a, b in zip([0, *edges], [*edges, samples.size], strict=True):
        listener.feed(samples[a:b], a)
    return listener.finish(FACTS)


WHOLE = listen(CLOCK, [])


@given(edges=st.lists(st.integers(0, CLOCK.size), max_size=8))
@settings(max_examples=12)
def test_the_same_events_however_the_sound_comes(edges: list[int]) -> None:
    cut = listen(CLOCK, sorted(edges))
    assert np.abs(cut.ticks.t_ns - WHOLE.ticks.t_ns).max() <= 1_000
    assert cut == WHOLE


def test_many_small_blocks_give_the_same_as_one() -> None:
    assert listen(CLOCK, list(range(128, CLOCK.size, 4096))) == WHOLE


def test_asking_now_changes_nothing() -> None:
    listener = Listener(RATE)
    for at in range(0, CLOCK.size, RATE):
        listener.feed(CLOCK[at : at + RATE], at)
        listener.now()
    assert listener.finish(FACTS) == WHOLE


def test_heard_is_written_and_read_back_equal() -> None:
    assert from_json(Heard, to_json(WHOLE)) == WHOLE


def test_a_beat_is_known_within_thirty_seconds() -> None:
    listener = Listener(RATE)
    assert listener.now().going is None
    listener.feed(CLOCK[: 15 * RATE], 0)
    going = listener.now().going
    assert going is not None
    assert going.beats_per_hour == pytest.approx(7_000, rel=0.001)
    assert going.beat_difference_ms == pytest.approx(60.0, abs=3.0)


def test_lost_samples_are_a_gap_and_the_count_goes_on() -> None:
    listener = Listener(RATE)
    listener.feed(CLOCK[: 20 * RATE], 0)
    listener.feed(CLOCK[22 * RATE :], 22 * RATE)
    heard = listener.finish(FACTS)
    (gap,) = heard.recording.gaps
    assert (gap.from_ns, gap.to_ns) == (20 * 10**9, 22 * 10**9)
    assert heard.stops == ()
    assert "samples-lost" in [remark.code for remark in heard.remarks]
    assert heard.going is not None
    assert heard.going.beats_per_hour == pytest.approx(7_000, rel=0.0005)
    assert not ((heard.ticks.t_s > 20.01) & (heard.ticks.t_s < 21.99)).any()


def test_samples_that_come_twice_are_heard_once() -> None:
    listener = Listener(RATE)
    listener.feed(CLOCK[: 20 * RATE], 0)
    listener.feed(CLOCK[15 * RATE :], 15 * RATE)
    assert listener.finish(FACTS) == WHOLE


def codes(samples: NDArray[np.float32], rate: int = 44_100) -> list[str]:
    return [remark.code for remark in listen(samples, [], rate).remarks]


def test_silence_is_said() -> None:
    assert codes(np.zeros(5 * 44_100, np.float32)) == ["silent"]


def test_clipping_is_said_and_ticks_still_timed() -> None:
    samples, onset_s = made_clock(level=8.0)
    heard = listen(np.clip(samples, -1.0, 1.0), [], 44_100)
    assert "clipped" in [remark.code for remark in heard.remarks]
    assert heard.recording.clipped_samples > 100
    assert len(heard.ticks) == onset_s.size


def test_a_noise_gate_is_said() -> None:
    samples, onset_s = made_clock(seconds=20.0, noise=0.002)
    gated = np.zeros_like(samples)
    for t in onset_s[::3]:
        first, last = round((t - 0.005) * 44_100), round((t + 0.2) * 44_100)
        gated[first:last] = samples[first:last]
    assert "noise-gated" in codes(gated)


def test_a_good_recording_has_no_remarks() -> None:
    samples, _ = made_clock()
    assert codes(samples) == []
    assert WHOLE.recording.gaps == ()


def test_no_samples_at_all() -> None:
    heard = Listener(RATE).finish(FACTS)
    assert len(heard.ticks) == 0
    assert heard.going is None


@pytest.mark.parametrize("seconds", [0.001, 0.01, 0.3, 1.0])
def test_very_short_records_are_heard_without_complaint(seconds: float) -> None:
    assert listen(CLOCK[: round(seconds * RATE)], []).going is None


def test_the_channel_with_the_clock_is_chosen_and_named(tmp_path: Path) -> None:
    samples, onset_s = made_clock()
    rng = np.random.default_rng(6)
    hiss = (0.05 * rng.standard_normal((samples.size, 3))).astype(np.float32)
    hiss[:, 1] = 0.0
    soundfile.write(tmp_path / "four.wav", np.column_stack([hiss, samples]), 44_100)
    heard = hear(tmp_path / "four.wav")
    assert heard.recording.channel == 4
    assert heard.recording.channels == 4
    assert len(heard.ticks) == onset_s.size


def test_of_two_like_channels_the_first_is_taken(tmp_path: Path) -> None:
    samples, _ = made_clock(seconds=6.0)
    soundfile.write(tmp_path / "two.wav", np.column_stack([samples, -samples]), 44_100)
    assert hear(tmp_path / "two.wav").recording.channel == 1


def test_progress_is_told_and_may_stop_the_work(tmp_path: Path) -> None:
    samples, _ = made_clock(seconds=9.0)
    soundfile.write(tmp_path / "a.wav", samples, 44_100)
    told: list[float] = []
    hear(tmp_path / "a.wav", progress=lambda share, _: told.append(share))
    assert told == sorted(told)
    assert told[-1] == 1.0
