"""What is struck, in what order and how often: against printed tables of the Cambridge quarters."""

from __future__ import annotations

from collections import Counter
from typing import Any

import numpy as np
import pytest
from simulated_clocks import FLOOR_CLOCK_PARTIALS, chiming_clock, silent_clock, spectrum_db

from quarterjack.simulate import Simulation, expected_sound
from quarterjack.tunes import CAMBRIDGE, SIX_BELL, TING_TANG


@pytest.fixture(scope="module")
def half_a_day() -> dict[str, Any]:
    return Simulation(chiming_clock(), hours=12, dial_start="12:05", sample_rate_hz=8000).truth()


def bells_of(truth: dict[str, Any], sounding: dict[str, Any]) -> str:
    first, n = sounding["first_blow"], sounding["n_blows"]
    return "".join(str(blow["bar"]) for blow in truth["blows"][first : first + n])


# Bells 1 (high) to 4 (low): Beckett, Clocks, Watches and Bells (1903), Quarters; Grove, Cambridge Quarters;
# Goodrich, The Modern Clock (1905), ch. XX: four sources that agree.
PRINTED = {1: "1234", 2: "31243213", 3: "132442131234", 4: "3124321313244213"}


def test_every_quarter_plays_the_printed_bells(half_a_day: dict[str, Any]) -> None:
    chimes = [sounding for sounding in half_a_day["soundings"] if sounding["kind"] == "quarter"]
    assert len(chimes) == 48
    for chime in chimes:
        assert bells_of(half_a_day, chime) == PRINTED[chime["quarter"]], chime


def test_notes_and_blows_of_half_a_day(half_a_day: dict[str, Any]) -> None:
    """40 notes an hour (Beckett, Quarters: five phrases, twice) and 78 hour blows in twelve hours."""
    kinds = Counter(blow["kind"] for blow in half_a_day["blows"])
    assert kinds == {"chime": 12 * 40, "hour": 78}


def test_hours_follow_the_dial(half_a_day: dict[str, Any]) -> None:
    hours = [sounding for sounding in half_a_day["soundings"] if sounding["kind"] == "hour"]
    assert [(hour["dial"], hour["n_blows"]) for hour in hours] == [(f"{hour}:00", hour) for hour in (*range(1, 12), 12)]
    for sounding in half_a_day["soundings"]:
        hour, minute = map(int, sounding["dial"].split(":"))
        due_s = ((hour * 60 + minute - 12 * 60 - 5) % 720) * 60
        assert 0 < sounding["from_s"] - due_s < 35  # the hour waits for its chime


def test_warnings_come_before_every_chime(half_a_day: dict[str, Any]) -> None:
    warnings = [run for run in half_a_day["train_noise"] if run["warning"]]
    assert len(warnings) == 48
    for warning in warnings:
        chime = min(s["from_s"] for s in half_a_day["soundings"] if s["from_s"] > warning["from_s"])
        assert 60 < chime - warning["from_s"] < 300  # common practice: 1 to 5 minutes


def test_tempo_lies_in_the_range_of_common_practice(half_a_day: dict[str, Any]) -> None:
    """Note 0.35 to 0.6 s, phrase gap 1 to 2 s, chime to strike 1 to 4 s, hour blows 1.2 to 2.5 s; no standard."""
    for sounding in half_a_day["soundings"]:
        times = [b["t_s"] for b in half_a_day["blows"]][sounding["first_blow"] :][: sounding["n_blows"]]
        steps = np.diff(times)
        if sounding["kind"] == "hour":
            assert all((steps > 1.2) & (steps < 2.5))
        else:
            inside = np.delete(steps, np.arange(3, steps.size, 4))
            assert all((inside > 0.35) & (inside < 0.7))  # unevenly set pins add a tenth at most
            assert all((steps[3::4] > 1.0) & (steps[3::4] < 2.0))
    ends = {s["dial"]: s["to_s"] for s in half_a_day["soundings"] if s["quarter"] == 4}
    for hour in (s for s in half_a_day["soundings"] if s["kind"] == "hour"):
        assert 1.0 < hour["from_s"] - ends[hour["dial"]] < 4.0


def test_ting_tang_gap_is_twice_the_step() -> None:
    """Beckett, Quarters: between pairs twice the time inside a pair; 20 blows an hour."""
    truth = Simulation(
        chiming_clock(TING_TANG, partials=False), hours=1, dial_start="12:05", sample_rate_hz=8000
    ).truth()
    assert sum(blow["kind"] == "chime" for blow in truth["blows"]) == 20
    three = next(s for s in truth["soundings"] if s["quarter"] == 3)
    steps = np.diff([b["t_s"] for b in truth["blows"]][three["first_blow"] :][:6])
    assert steps[1::2].mean() / steps[::2].mean() == pytest.approx(2.0, rel=0.1)


def test_six_bell_counts_as_printed() -> None:
    """7, 13, 20 and 26 notes (Frye 2009, after Starmer)."""
    truth = Simulation(
        chiming_clock(SIX_BELL, partials=False), hours=1, dial_start="12:05", sample_rate_hz=8000
    ).truth()
    assert [s["n_blows"] for s in truth["soundings"] if s["kind"] == "quarter"] == [7, 13, 20, 26]


def test_a_recording_may_begin_in_the_midst_of_a_chime() -> None:
    truth = Simulation(chiming_clock(), hours=0.02, dial_start="12:00:08", seed=2, sample_rate_hz=8000).truth()
    chime = truth["soundings"][0]
    assert chime["quarter"] == 4
    assert not chime["whole"]
    assert 0 < chime["n_blows"] < 16
    assert truth["soundings"][1]["n_blows"] == 12


def test_a_timepiece_strikes_nothing() -> None:
    truth = Simulation(silent_clock(), hours=2, sample_rate_hz=8000).truth()
    assert truth["soundings"] == truth["blows"] == truth["train_noise"] == []
    assert len(truth["ticks"]) in (7199, 7200)


def test_expected_sound_has_the_right_blows() -> None:
    """The struck bar's partials rise at even steps: 4 notes for the first quarter, 3 blows for three o'clock."""
    clock = chiming_clock()
    first = next(s for s in clock.soundings if s.quarter == 1)
    three = next(s for s in clock.soundings if s.kind == "hour" and s.blows == 3)
    for sounding, blows, step_s in ((first, 4, 0.55), (three, 3, 1.75)):
        sound = expected_sound(clock, sounding)
        assert sound.dtype == np.float32
        assert 0.4 < np.abs(sound).max() <= 0.5
        for k, note in enumerate(["hour"] * 3 if blows == 3 else ["G#", "F#", "E", "B"]):
            at = round((0.1 + k * step_s) * 24_000)
            before, after = (
                np.mean([spectrum_db(part, 24_000, hz)[1] for hz in FLOOR_CLOCK_PARTIALS[note]])
                for part in (sound[max(0, at - 9600) : at], sound[at : at + 9600])
            )
            assert after > before + 3.0, (k, note)
        assert sound.size == pytest.approx((0.1 + (blows - 1) * step_s + 4.0) * 24_000, abs=2)
        np.testing.assert_array_equal(sound, expected_sound(clock, sounding))


def test_cambridge_needs_no_sheet_to_be_played() -> None:
    """Bars that only the soundings name are invented; the sound is there all the same."""
    clock = chiming_clock()
    bare = type(clock)(clock="bare", soundings=clock.soundings, tunes=(CAMBRIDGE,))
    assert np.abs(expected_sound(bare, clock.soundings[0])).max() > 0.4
