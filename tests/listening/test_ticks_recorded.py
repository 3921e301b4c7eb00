"""Ticks in real recordings, against their annotations and the catalogue (shared recordings, CATALOGUE.md)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from annotated import annotated_ticks, laid

from quarterjack.listening.hear import hear
from quarterjack.listening.heard import Heard

# Beats an hour and the difference of alternate intervals, ms, as the catalogue gives them.
CLIPS = {
    "floor_clock_3600_out_of_beat": (3599.6, 313.0),
    "shelf_clock_7330_room_thumps": (7329.0, 14.0),
    "wall_clock_5953": (5952.0, 4.0),
    "cuckoo_7885": (7885.0, 35.0),
    "mantel_10800_out_of_beat": (10792.0, 161.0),
    "balance_18000": (18006.0, 25.0),
}
CHIMES = {"quarter1": 4.0, "half": 4.0, "threequarter": 1.0, "hour1": 326.0, "hour2": 323.0}
CONTROLS = (
    "exact_1000ms_beat",
    "kitchen_timer",
    "looped_splice",
    "looped_synthetic",
    "quartz_a",
    "quartz_b",
    "windup_alarm_irregular",
)
LOOPS = {"looped_splice": 3.278, "looped_synthetic": 2.400}

_heard: dict[Path, Heard] = {}


def heard(path: Path) -> Heard:
    """Each file is heard once for all tests."""
    if path not in _heard:
        _heard[path] = hear(path)
    return _heard[path]


@pytest.mark.parametrize("name", CLIPS)
def test_every_annotated_tick_of_a_clip_is_found(recordings: Path, name: str) -> None:
    path = recordings / "ticks" / f"{name}.ogg"
    result = heard(path)
    against = laid(result.ticks.t_s, result.ticks.side, *annotated_ticks(path))
    assert against.found == against.of
    assert against.false <= 1
    assert against.sides_agree


@pytest.mark.parametrize("name", CLIPS)
def test_a_clip_goes_as_the_catalogue_says(recordings: Path, name: str) -> None:
    going = heard(recordings / "ticks" / f"{name}.ogg").going
    beats_per_hour, difference_ms = CLIPS[name]
    assert going is not None
    assert going.beats_per_hour == pytest.approx(beats_per_hour, rel=0.003)
    assert going.beat_difference_ms == pytest.approx(difference_ms, abs=6.0)


@pytest.mark.parametrize("name", CLIPS)
def test_a_clip_has_neither_gap_nor_repeat_nor_stop(recordings: Path, name: str) -> None:
    result = heard(recordings / "ticks" / f"{name}.ogg")
    assert result.recording.gaps == ()
    assert result.repeats == ()
    assert result.stops == ()
    assert result.recording.started_utc is None


@pytest.mark.parametrize("name", CHIMES)
def test_ticks_are_found_through_the_ring_of_a_chime(recordings: Path, name: str) -> None:
    path = recordings / "chimes" / f"floor_clock_{name}.flac"
    result = heard(path)
    onset_s, labels = annotated_ticks(path)
    against = laid(result.ticks.t_s, result.ticks.side, onset_s, labels)
    # 98 % of the 120 allows two missing in all; every one is found.
    assert against.found == against.of
    assert against.sides_agree
    going = result.going
    assert going is not None
    assert going.beats_per_hour == pytest.approx(3600.5, rel=0.0005)
    assert going.beat_difference_ms == pytest.approx(CHIMES[name], abs=5.0)


@pytest.mark.parametrize("name", ["hour1", "hour2"])
def test_the_long_side_is_the_one_before_the_longer_silence(recordings: Path, name: str) -> None:
    path = recordings / "chimes" / f"floor_clock_{name}.flac"
    result = heard(path)
    onset_s, _ = annotated_ticks(path)
    silence = np.diff(onset_s)
    longer_first = silence[::2].mean() > silence[1::2].mean()
    nearest = int(np.abs(result.ticks.t_s - onset_s[0]).argmin())
    first_side = "ab"[result.ticks.side[nearest]]
    assert result.going is not None
    assert (result.going.long_side == first_side) == longer_first


@pytest.mark.parametrize("name", CONTROLS)
def test_only_looped_files_repeat(recordings: Path, name: str) -> None:
    result = heard(recordings / "controls" / f"{name}.ogg")
    if name in LOOPS:
        assert [repeat.period_s for repeat in result.repeats] == [pytest.approx(LOOPS[name], abs=0.002)]
        assert result.repeats[0].correlation > 0.9
        assert "looped" in [remark.code for remark in result.remarks]
    else:
        assert result.repeats == ()


def test_the_dead_gap_of_a_splice_is_an_event(recordings: Path) -> None:
    (gap,) = heard(recordings / "controls" / "looped_splice.ogg").recording.gaps
    assert gap.from_ns / 1e9 == pytest.approx(3.04, abs=0.025)
    assert gap.to_ns / 1e9 == pytest.approx(3.16, abs=0.025)


def test_an_irregular_alarm_gives_no_rate(recordings: Path) -> None:
    result = heard(recordings / "controls" / "windup_alarm_irregular.ogg")
    assert result.going is None
    assert len(result.ticks) > 0


def test_an_exact_second_gives_3600_beats_an_hour(recordings: Path) -> None:
    going = heard(recordings / "controls" / "exact_1000ms_beat.ogg").going
    assert going is not None
    assert going.beats_per_hour == pytest.approx(3600.0, abs=1.0)


@pytest.mark.parametrize("path", ["tubes/tubes_hour_3.flac", "bells/strike_12_blows_electronic.flac"])
def test_blows_are_no_ticks(recordings: Path, path: str) -> None:
    result = heard(recordings / path)
    assert len(result.ticks) == 0
    assert result.going is None
