"""Nouns are written as JSON and read back equal; series are read-only; times are exact."""

from __future__ import annotations

import json
from dataclasses import FrozenInstanceError, replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from quarterjack.errors import ResultNotUnderstood
from quarterjack.listening.heard import (
    Blow,
    Gap,
    Going,
    Heard,
    RecordingFacts,
    Remark,
    Repeat,
    Sounding,
    Stop,
    Ticks,
    TrainNoise,
)
from quarterjack.proving.proved import Finding, Proof, ProvedGoing, ProvedRecording, ProvedSounding, ProvedStop
from quarterjack.reckoning.reckoned import ExpectedSounding, Reckoning
from quarterjack.records import from_json, read_json, to_json, to_ns, to_plain, to_s
from quarterjack.tunes import CAMBRIDGE

# Doubles lie less than a quarter of a nanosecond from any time below 2**22 s, which is 48 days.
times = st.integers(0, 2**22 * 1_000_000_000 - 1)


def ticks(t_ns: list[int]) -> Ticks:
    n = len(t_ns)
    side = (np.arange(n) % 2).astype(np.int8)
    return Ticks(np.array(t_ns, np.int64), np.full(n, 400_000, np.int64), side, np.full(n, -31.25))


def heard() -> Heard:
    return Heard(
        recording=RecordingFacts(
            "a.flac", "ab" * 32, 47.84, 44100, 2, 2, "2026-03-01T10:00:00Z", 3, (Gap(1_000_000_000, 1_500_000_001),)
        ),
        going=Going(28, 3600.3, 0.4, 323.0, 1.0, "a"),
        ticks=ticks([281_700_000, 1_117_700_000, 2_281_700_003]),
        blows=(Blow(2_581_500_000, 2_000_000, 3, "E", 3, "chime", (175.0, 353.0), -14.2),),
        soundings=(Sounding(2_580_000_000, 13_570_000_000, "quarter", 4, "cambridge", 0, 1, (1,)),),
        train_noise=(TrainNoise(1_190_000_000, 15_400_000_000),),
        stops=(Stop(812_400_000_000, "cut off"),),
        repeats=(Repeat(2.4, 0.98),),
        remarks=(Remark("too-loud", "3 samples are clipped."),),
    )


def proof() -> Proof:
    return Proof(
        clock="The clock of Alder Mill",
        mode="on-time",
        verdict="wrong",
        recordings=(ProvedRecording("a.flac", "ab" * 32, 47.84),),
        going=ProvedGoing(28, 3600.3, 3600.0, 7.2, 9.9, "recorder not checked", "none", 323.0, 1.0, "a", 0.9),
        soundings=(
            ProvedSounding(
                0, 2_580_000_000, "12:15", "quarter", 1, "cambridge", ("G#",), ("E",), None, None, "…", "wrong notes"
            ),
        ),
        stops=(ProvedStop(0, 812_400_000_000, None, 812, "cut off"),),
        findings=(Finding("wrong-notes", "…", {"hammer": 3, "notes": ["G#", None]}, 1),),
    )


def reckoning() -> Reckoning:
    sounding = ExpectedSounding(
        15, "quarter", 1, "cambridge", ((1, 2, 3, 4),), ((1, 2, 3, 4),), (("G#", "F#", "E", "B"),), None
    )
    return Reckoning(clock="The clock of Alder Mill", soundings=(sounding,), tunes=(CAMBRIDGE,))


@pytest.mark.parametrize("noun", [heard(), proof(), reckoning()], ids=lambda noun: type(noun).__name__)
def test_what_is_written_is_read_back_equal(noun: object, tmp_path: Path) -> None:
    assert from_json(type(noun), to_json(noun)) == noun
    path = tmp_path / "noun.json"
    path.write_text(to_json(noun), encoding="utf-8")
    assert read_json(type(noun), path) == noun


def test_json_speaks_of_seconds_as_the_format_promises() -> None:
    document = to_plain(heard())
    assert document["format"] == "quarterjack.heard/1"
    assert document["recording"]["gaps"] == [{"from_s": 1.0, "to_s": 1.500000001}]
    assert document["ticks"][2] == {"t_s": 2.281700003, "u_ms": 0.4, "side": "a", "level_db": -31.25}
    assert document["blows"][0]["t_s"] == 2.5815
    assert document["blows"][0]["u_ms"] == 2.0
    assert document["stops"] == [{"t_s": 812.4, "ended": "cut off"}]
    assert document["train_noise"][0]["train"] is None


@given(times)
def test_seconds_give_nanoseconds_back_exactly_for_48_days(ns: int) -> None:
    assert to_ns(json.loads(json.dumps(to_s(ns)))) == ns


@given(st.lists(times, max_size=30, unique=True).map(sorted))
def test_ticks_are_read_back_equal(t_ns: list[int]) -> None:
    noun = replace(heard(), ticks=ticks(t_ns))
    assert from_json(Heard, to_json(noun)) == noun


def test_series_cannot_be_changed_and_do_not_follow_their_source() -> None:
    source = np.array([1, 2, 3])
    series = Ticks(source, source, np.zeros(3, np.int8), np.zeros(3))
    source[0] = 99
    assert series.t_ns.tolist() == [1, 2, 3]
    with pytest.raises(ValueError, match="read-only"):
        series.t_ns[0] = 5
    with pytest.raises(FrozenInstanceError):
        series.t_ns = source  # type: ignore[misc]


def test_columns_of_different_length_are_refused() -> None:
    with pytest.raises(ValueError, match="equally long"):
        Ticks(np.zeros(2, np.int64), np.zeros(3, np.int64), np.zeros(3, np.int8), np.zeros(3))


def test_ticks_compare_by_value_and_with_nothing_else() -> None:
    assert ticks([1, 2]) == ticks([1, 2])
    assert ticks([1, 2]) != ticks([1, 3])
    assert Ticks.none() != "nothing"
    assert len(Ticks.none()) == 0


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("{", "the whole"),
        ("[]", "the whole"),
        ('{"format": "quarterjack.heard/1"}', "recording"),
    ],
)
def test_what_is_no_result_is_refused_with_the_first_field_that_does_not_fit(text: str, told: str) -> None:
    with pytest.raises(ResultNotUnderstood, match=told) as caught:
        from_json(Heard, text, where="x.json")
    assert "x.json" in caught.value.message


def test_another_number_of_the_format_is_refused_by_name() -> None:
    document = to_plain(heard()) | {"format": "quarterjack.heard/2"}
    with pytest.raises(ResultNotUnderstood, match=r"heard/2.*heard/1"):
        from_json(Heard, json.dumps(document))


def test_fields_that_a_later_version_added_are_passed_over() -> None:
    document = to_plain(heard()) | {"added_later": 1}
    assert from_json(Heard, json.dumps(document)) == heard()
