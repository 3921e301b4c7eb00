"""A clock that we can break, heard: the simulator's truth against the listener, who know nothing of each other."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from quarterjack.listening import Heard, hear
from quarterjack.proving import prove
from quarterjack.reckoning import Reckoning, reckon
from quarterjack.sheet import parse_sheet, quick_sheet
from quarterjack.simulate import Simulation, write_sound


def clock(quarters: str = "cambridge", *, form: str = "bar", beats_per_hour: float = 3600.0) -> Reckoning:
    """A clock of three taps, with the beats and the kind of bars that a fuller sheet would give."""
    sheet = quick_sheet("A simulated clock", quarters=quarters, quarters_at_hour=True, hours=True, half_hour="none")
    reckoning = reckon(parse_sheet(sheet))
    bars = tuple(replace(bar, form=form) for bar in reckoning.bars)
    return replace(reckoning, bars=bars, beats_per_hour=beats_per_hour, beats_per_turn=60)


@dataclass(frozen=True)
class Case:
    """One simulated recording."""

    name: str
    reckoning: Reckoning = field(default_factory=clock)
    minutes: float = 2.5
    options: dict[str, Any] = field(default_factory=dict)

    def hear(self, folder: Path) -> tuple[dict[str, Any], Heard]:
        simulation = Simulation(self.reckoning, hours=self.minutes / 60, **self.options)
        write_sound(simulation, folder / "clock.flac")
        return simulation.truth(), hear(folder / "clock.flac")


CASES = (
    Case("hour, fast recorder", options={"dial_start": "2:59", "seed": 11, "ppm": 80.0}),
    Case("first quarter of rods", clock(form="rod"), options={"dial_start": "4:14", "seed": 12, "ppm": -40.0}),
    Case("half hour, out of beat", options={"dial_start": "8:29", "seed": 13, "faults": ["out-of-beat=-160"]}),
    Case("three quarters of a bracket clock", clock(beats_per_hour=7330.0), options={"dial_start": "6:44", "seed": 14}),
    Case("ting-tang hour", clock("ting-tang"), options={"dial_start": "4:59", "seed": 15}),
)


@pytest.fixture(scope="module", params=CASES, ids=lambda case: case.name)
def heard_case(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[Case, Any, Heard]:
    case: Case = request.param
    truth, heard = case.hear(tmp_path_factory.mktemp("clock"))
    return case, truth, heard


def test_every_sounding_is_named(heard_case: tuple[Case, dict[str, Any], Heard]) -> None:
    _, truth, heard = heard_case
    assert [(s.kind, s.quarter, s.n_blows) for s in heard.soundings] == [
        (s["kind"], s["quarter"], s["n_blows"]) for s in truth["soundings"]
    ]
    for named, real in zip(heard.soundings, truth["soundings"], strict=True):
        assert named.from_ns / 1e9 == pytest.approx(real["from_s"], abs=0.03)
        if real["kind"] == "quarter":
            assert named.tune == real["tune"]


def test_every_blow_is_found_on_its_bar(heard_case: tuple[Case, dict[str, Any], Heard]) -> None:
    """Within 30 ms as on the real recordings; the same bar has the same number, whichever number that is."""
    _, truth, heard = heard_case
    real, found = truth["blows"], heard.blows
    assert len(found) == len(real)
    assert max(abs(f.t_ns / 1e9 - r["t_s"]) for f, r in zip(found, real, strict=True)) < 0.030
    pairs = {(f.bar, r["bar"]) for f, r in zip(found, real, strict=True)}
    assert len(pairs) == len({bar for bar, _ in pairs}) == len({bar for _, bar in pairs})


def _side_of_truth_a(truth: dict[str, Any], heard: Heard) -> str:
    """Which of the listener's sides is the truth's side a."""
    on_a = np.array([tick["t_s"] for tick in truth["ticks"] if tick["side"] == "a"])
    near = np.abs(heard.ticks.t_s[:, None] - on_a[None, :]).min(axis=1) < 0.05
    return "a" if np.mean(heard.ticks.side[near]) < 0.5 else "b"


def test_rate_and_beat_difference(heard_case: tuple[Case, dict[str, Any], Heard]) -> None:
    """The rate as recorded, the recorder's own error included, and the beat difference, each within what it claims."""
    _, truth, heard = heard_case
    going = heard.going
    assert going is not None
    assert going.beats_per_hour_u < 1.0
    assert abs(going.beats_per_hour - truth["beats_per_hour"]) < 3 * going.beats_per_hour_u
    assert going.beat_difference_ms is not None
    assert going.beat_difference_u_ms is not None
    assert going.beat_difference_u_ms < 3.0
    long_is_a = going.long_side == _side_of_truth_a(truth, heard)
    sign = 1.0 if long_is_a == (truth["long_side"] == "a") else -1.0
    error_ms = sign * going.beat_difference_ms - truth["beat_difference_ms"]
    assert abs(error_ms) < min(5.0, max(1.0, 3 * going.beat_difference_u_ms))


def test_ticks_are_found_where_they_are(heard_case: tuple[Case, dict[str, Any], Heard]) -> None:
    """The lines of the real clips, through the ring too: within 5 ms, one constant offset of at most 15 ms removed."""
    _, truth, heard = heard_case
    real = np.array([tick["t_s"] for tick in truth["ticks"]])
    late = heard.ticks.t_s - real[np.abs(heard.ticks.t_s[:, None] - real[None, :]).argmin(axis=1)]
    offset = float(np.median(late))
    assert abs(offset) < 0.015
    near = np.abs(heard.ticks.t_s[:, None] - offset - real[None, :])
    assert np.mean(near.min(axis=0) < 0.005) > 0.95
    matched = near.min(axis=1) < 0.010
    assert np.mean(~matched) < 0.01
    sides = np.array([0 if tick["side"] == "a" else 1 for tick in truth["ticks"]])[near.argmin(axis=1)]
    same = np.mean(sides[matched] == heard.ticks.side[matched])
    assert same in (0.0, 1.0)


@pytest.mark.parametrize(("ended", "minutes"), [("cut off", 2.5), ("died away", 5.0)])
def test_a_stop_is_found_and_how_it_ended(tmp_path: Path, ended: str, minutes: float) -> None:
    stop_s = minutes * 60 - 35
    case = Case("stop", minutes=minutes, options={
        "dial_start": "7:02", "seed": 21, "faults": [f"stop={stop_s:g},{ended}", "out-of-beat=20"]})  # fmt: skip
    truth, heard = case.hear(tmp_path)
    assert [stop.ended for stop in heard.stops] == [ended]
    assert heard.stops[0].t_ns / 1e9 == pytest.approx(truth["stops"][0]["t_s"], abs=0.01)
    assert heard.soundings == ()


@pytest.mark.parametrize(
    ("fault", "verdict"),
    [
        (None, {"right"}),
        ("barrel-one-phrase-out", {"out of sequence"}),
        ("dead-hammer=2", {"incomplete", "wrong notes"}),
    ],
)
def test_a_broken_clock_is_proved_wrong_for_its_reason(tmp_path: Path, fault: str | None, verdict: set[str]) -> None:
    case = Case("proof", options={"dial_start": "8:29", "seed": 31, "faults": [fault] if fault else []})
    truth, heard = case.hear(tmp_path)
    proof = prove(case.reckoning, [heard], dial_starts=["8:29"])
    assert proof.verdict == ("wrong" if fault else "right")
    assert {sounding.verdict for sounding in proof.soundings} <= verdict
    assert [sounding.dial for sounding in proof.soundings] == [s["dial"] for s in truth["soundings"]] == ["8:30"]
