"""Same seed, same samples; truth stands where the sound is; a fast recorder stretches everything."""

from __future__ import annotations

import librosa
import numpy as np
import pytest
import scipy.signal
from simulated_clocks import chiming_clock, first_rise_s, silent_clock, whole_sound

from quarterjack.errors import OutOfRange, UnitNotUnderstood
from quarterjack.simulate import TRUTH_FIELDS, Simulation


@pytest.mark.parametrize("size", [1_000, 4_801, 65_536, 10_000_000])
def test_samples_do_not_depend_on_the_blocks_read(size: int) -> None:
    simulation = Simulation(chiming_clock(), hours=0.01, dial_start="12:00", seed=7, sample_rate_hz=16_000)
    again = Simulation(chiming_clock(), hours=0.01, dial_start="12:00", seed=7, sample_rate_hz=16_000)
    blocks = list(again.blocks(size))
    assert all(block.size == size for block in blocks[:-1])
    assert all(block.dtype == np.float32 for block in blocks)
    np.testing.assert_array_equal(np.concatenate(blocks), whole_sound(simulation))


def test_a_longer_simulation_begins_as_the_shorter() -> None:
    def begin(hours: float) -> np.ndarray:
        return whole_sound(Simulation(chiming_clock(), hours=hours, dial_start="2:44", sample_rate_hz=16_000))

    short, long = begin(0.02), begin(0.03)
    # Only what is let off after the short one's end is missing there.
    np.testing.assert_array_equal(short, long[: short.size])


def test_another_seed_is_another_clock() -> None:
    one, two = (whole_sound(Simulation(chiming_clock(), hours=0.005, seed=s, sample_rate_hz=16_000)) for s in (1, 2))
    assert abs(np.corrcoef(one, two)[0, 1]) < 0.1


def test_the_sound_is_as_long_as_asked_and_never_clips() -> None:
    simulation = Simulation(chiming_clock(), hours=0.025, dial_start="11:59:30", sample_rate_hz=24_000)
    sound = whole_sound(simulation)
    assert sound.size == simulation.n_samples == 0.025 * 3600 * 24_000
    assert simulation.seconds == 90.0
    assert 0.1 < np.abs(sound).max() < 0.9


def test_every_tick_of_the_truth_is_in_the_sound() -> None:
    simulation = Simulation(silent_clock(), hours=0.05, seed=3)
    sound, ticks = whole_sound(simulation), simulation.truth()["ticks"]
    assert len(ticks) == 180
    assert {tick["side"] for tick in ticks[::2]} == {"a"}
    late_ms = []
    for tick in ticks[1:-1]:
        rise = first_rise_s(sound, 48_000, tick["t_s"])
        assert rise is not None
        late_ms.append(1000 * (rise - tick["t_s"]))
    # A plain threshold is passed as soon as the tick outgrows the room's noise, never before.
    assert min(late_ms) > -0.05
    assert np.median(late_ms) < 0.3


def test_librosa_finds_the_ticks_of_the_truth() -> None:
    """Independent onset curve; its frames of 128 samples at 48 kHz leave 2.7 ms, its mel windows some more."""
    simulation = Simulation(silent_clock(), hours=0.01, seed=3)
    curve = librosa.onset.onset_strength(y=whole_sound(simulation), sr=48_000, hop_length=128, n_fft=512, n_mels=32)
    times = np.array([tick["t_s"] for tick in simulation.truth()["ticks"]])
    peaks, _ = scipy.signal.find_peaks(curve, height=0.3 * np.sort(curve)[-times.size // 2], distance=200)
    found = peaks * 128 / 48_000
    assert np.mean(np.abs(found[:, None] - times[None, :]).min(axis=0) < 0.012) > 0.97
    assert found.size <= times.size + 2


def test_blows_of_the_truth_begin_where_the_sound_rises() -> None:
    """Each hammer's leather is heard above the ring, the first of all above the train's noise only."""
    simulation = Simulation(chiming_clock(), hours=0.02, dial_start="3:59:50", seed=5)
    sound, truth = whole_sound(simulation), simulation.truth()
    assert len(truth["blows"]) == 20
    first = truth["blows"][0]["t_s"]
    assert first_rise_s(sound, 48_000, first) == pytest.approx(first, abs=0.001)
    band = scipy.signal.butter(4, (3500, 11_000), "band", fs=48_000, output="sos")
    high = scipy.signal.sosfiltfilt(band, sound)
    rises_db = []
    for blow in truth["blows"]:
        at = round(blow["t_s"] * 48_000)
        before, after = high[at - 1440 : at - 192], high[at : at + 960]
        rises_db.append(10 * np.log10(np.mean(after**2) / np.mean(before**2)))
    assert min(rises_db) > 0.0
    assert np.median(rises_db) > 4.0  # of the real floor clock: 4 to 8 dB in these bands


@pytest.mark.parametrize("ppm", [-150.0, 400.0])
def test_a_fast_recorder_stretches_time_and_truth_alike(ppm: float) -> None:
    plain = Simulation(silent_clock(), hours=0.05, seed=3)
    fast = Simulation(silent_clock(), hours=0.05, seed=3, ppm=ppm)
    spans = []
    for simulation in (plain, fast):
        sound, ticks = whole_sound(simulation), simulation.truth()["ticks"]
        rises = [first_rise_s(sound, 48_000, ticks[i]["t_s"]) for i in (1, 2, 3, 4, 173, 174, 175, 176)]
        assert None not in rises
        spans.append(float(np.mean(rises[4:]) - np.mean(rises[:4])))  # type: ignore[arg-type]
    # 172 s; single rises scatter by some 0.1 ms, four on each side by half of it: 0.3 ppm, doubled for both files.
    assert spans[1] / spans[0] - 1 == pytest.approx(ppm * 1e-6, abs=2e-6)
    assert fast.truth()["beats_per_hour"] == pytest.approx(3600 / (1 + ppm * 1e-6), rel=1e-12)


def test_rate_and_beat_difference_of_the_truth_are_those_of_its_ticks() -> None:
    truth = Simulation(silent_clock(7330.0), hours=1.0, seed=11, ppm=30.0).truth()
    times = np.array([tick["t_s"] for tick in truth["ticks"]])
    n = np.arange(times.size)
    even = n % 2 == 0
    slope = np.linalg.lstsq(np.stack((n, even, ~even), axis=1).astype(float), times, rcond=None)[0][0]
    assert 3600 / slope == pytest.approx(truth["beats_per_hour"], rel=1e-6)
    silences = np.diff(times)
    first_side = truth["ticks"][0]["side"]
    after_a, after_b = (silences[::2], silences[1::2]) if first_side == "a" else (silences[1::2], silences[::2])
    difference_ms = 1000 * (after_a.mean() - after_b.mean())
    # 3,665 silences a side that scatter by some 0.3 ms.
    assert difference_ms == pytest.approx(truth["beat_difference_ms"], abs=0.03)
    assert truth["long_side"] == "a"
    assert np.std(np.diff(times[::2])) * 1000 == pytest.approx(0.3, abs=0.15)


def test_every_field_of_the_truth_is_explained() -> None:
    simulation = Simulation(
        chiming_clock(), hours=0.06, dial_start="12:14", faults=["stop=12:17", "dead-hammer=3"], sample_rate_hz=8000
    )
    truth = simulation.truth()
    found = set()
    for name, value in truth.items():
        found.add(name)
        if isinstance(value, list) and value and isinstance(value[0], dict):
            found |= {f"{name}[].{key}" for row in value for key in row}
    assert found == set(TRUTH_FIELDS)


def test_what_was_assumed_is_said() -> None:
    assumed = Simulation(chiming_clock(partials=False, beats_per_hour=None), hours=0.001).truth()["assumed"]
    assert any("tempo" in text for text in assumed)
    assert any("3600" in text for text in assumed)
    assert any("partials" in text for text in assumed)


@pytest.mark.parametrize(
    "wrong",
    [{"hours": 0.0}, {"hours": 1.0, "ppm": 2000.0}, {"hours": 1.0, "sample_rate_hz": 4000}, {"hours": 1.0, "seed": -1}],
)
def test_numbers_out_of_bounds_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(OutOfRange):
        Simulation(silent_clock(), **wrong)  # type: ignore[arg-type]


@pytest.mark.parametrize("dial", ["noon", "25:00", "12:60", "3"])
def test_a_dial_time_that_cannot_be_read_is_refused(dial: str) -> None:
    with pytest.raises(UnitNotUnderstood):
        Simulation(silent_clock(), hours=0.01, dial_start=dial)
