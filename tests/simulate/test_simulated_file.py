"""Files: what is written is what was played, in every format, and a stopped one leaves nothing behind."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import soundfile
from simulated_clocks import chiming_clock, silent_clock, whole_sound

from quarterjack.errors import FileExists, StoppedByUser, UnknownChoice
from quarterjack.simulate import Simulation, write_sound


@pytest.mark.parametrize("ending", ["flac", "wav", "ogg"])
def test_the_file_holds_the_sound(tmp_path: Path, ending: str) -> None:
    simulation = Simulation(chiming_clock(), hours=0.008, dial_start="12:15", sample_rate_hz=24_000)
    path, truth = tmp_path / f"bench.{ending}", tmp_path / "truth.json"
    seen: list[float] = []
    write_sound(simulation, path, truth, progress=lambda done, _: seen.append(done))
    written, rate = soundfile.read(path, dtype="float32")
    assert rate == 24_000
    played = whole_sound(simulation)
    assert written.size == played.size
    if ending == "ogg":  # lossy: the same sound, not the same samples
        assert np.corrcoef(written, played)[0, 1] > 0.98
    else:
        assert np.abs(written - played).max() <= 1 / 32_767
    assert json.loads(truth.read_text()) == simulation.truth()
    assert json.loads(truth.read_text())["format"] == "quarterjack.truth/1"
    assert seen[-1] == 1.0
    assert seen == sorted(seen)
    assert "not a recording" in soundfile.SoundFile(path).comment
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted([path.name, "truth.json"])


def test_stopping_half_way_leaves_nothing(tmp_path: Path) -> None:
    def stop(done: float, what: str) -> None:
        if done > 0.4:
            raise StoppedByUser("stopped")

    with pytest.raises(StoppedByUser):
        write_sound(Simulation(silent_clock(), hours=0.01, sample_rate_hz=8000), tmp_path / "a.wav", progress=stop)
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_overwritten_and_other_endings_are_refused(tmp_path: Path) -> None:
    simulation = Simulation(silent_clock(), hours=0.001, sample_rate_hz=8000)
    there = tmp_path / "there.flac"
    there.write_bytes(b"a recording")
    with pytest.raises(FileExists):
        write_sound(simulation, there)
    assert there.read_bytes() == b"a recording"
    with pytest.raises(UnknownChoice):
        write_sound(simulation, tmp_path / "sound.mp3")
