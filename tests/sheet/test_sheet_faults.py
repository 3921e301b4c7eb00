"""Every kind of fault is found, at its line and key, and all of them together."""

from __future__ import annotations

from pathlib import Path
from textwrap import dedent

import pytest

from quarterjack.errors import SheetInvalid, SheetNotFound
from quarterjack.sheet import FAULT_KINDS, parse_sheet, read_sheet

RECORDING = 'name = "A"\n[[recordings]]\nfile = "a.flac"\ndial_start = '

# code, line, key, sheet
CASES: list[tuple[str, int, str, str]] = [
    ("toml-syntax", 2, "", 'name = "A"\nplace = house'),
    ("toml-syntax", 2, "", 'name = "A"\nname = "B"'),
    ("toml-syntax", 2, "", 'name = "A"\nnotes = "not closed'),
    ("toml-syntax", 3, "", 'name = "A"\nnotes = """\nnot closed'),
    ("unknown-key", 2, "nots", 'name = "A"\nnots = "x"'),
    ("unknown-key", 3, "sounds.quarter", 'name = "A"\n[sounds]\nquarter = "cambridge"'),
    ("unknown-key", 2, "trains.gong", 'name = "A"\n[trains.gong]'),
    ("unknown-key", 4, "bars[2].colour", 'name = "A"\nbars = [\n  { bar = 1 },\n  { bar = 2, colour = "red" },\n]'),
    ("missing-key", 1, "name", "notes = 'x'"),
    ("missing-key", 1, "name", "name = '  '"),
    ("missing-key", 2, "hammers[1].hammer", 'name = "A"\n[[hammers]]\nbar = 1'),
    ("wrong-type", 3, "sounds.quarters_at_hour", 'name = "A"\n[sounds]\nquarters_at_hour = "yes"'),
    ("wrong-type", 1, "name", "name = 5"),
    ("wrong-type", 2, "sounds", 'name = "A"\nsounds = "loud"'),
    ("wrong-type", 2, "bars", 'name = "A"\nbars = 5'),
    ("wrong-type", 3, "pendulum.swing_deg", 'name = "A"\n[pendulum]\nswing_deg = "2.5"'),
    ("wrong-type", 3, "pendulum.swing_deg", 'name = "A"\n[pendulum]\nswing_deg = { degrees = 2 }'),
    ("wrong-type", 3, "bars[1].bar", 'name = "A"\n[[bars]]\nbar = 1.5'),
    ("wrong-type", 3, "sounds.quarter_hammers", 'name = "A"\n[sounds]\nquarter_hammers = [1, [], 3]'),
    ("not-a-choice", 2, "place", 'name = "A"\nplace = "attic"'),
    ("not-a-choice", 3, "sounds.from", 'name = "A"\n[sounds]\nfrom = "guessed"'),
    ("not-a-choice", 3, "pendulum.crutch_mm", 'name = "A"\n[pendulum]\ncrutch_mm = { value = 180, from = "guess" }'),
    ("out-of-range", 3, "pendulum.latitude_deg", 'name = "A"\n[pendulum]\nlatitude_deg = 95'),
    (
        "out-of-range",
        3,
        "trains.going.arbors[1].wheel",
        'name = "A"\n[trains.going]\narbors = [{ name = "a", wheel = 1 }]',
    ),
    ("out-of-range", 3, "pendulum.length_mm", 'name = "A"\n[pendulum]\nlength_mm = nan'),
    ("time-not-understood", 4, "recordings[1].dial_start", RECORDING + '"4:75"'),
    ("time-not-understood", 4, "recordings[1].dial_start", RECORDING + '"24:00"'),
    ("time-not-understood", 4, "recordings[1].dial_start", RECORDING + "04:13:00"),
    ("name-twice", 6, "recordings[2].file", RECORDING + '"4:13"\n[[recordings]]\nfile = "a.flac"'),
    ("number-twice", 5, "bars[2].bar", 'name = "A"\n[[bars]]\nbar = 1\n[[bars]]\nbar = 1'),
    ("number-twice", 5, "hammers[2].hammer", 'name = "A"\n[[hammers]]\nhammer = 1\n[[hammers]]\nhammer = 1'),
    (
        "name-twice",
        5,
        "trains.going.arbors[2].name",
        'name = "A"\n[trains.going]\narbors = [\n  { name = "great" },\n  { name = "great" },\n]',
    ),
    ("no-such-bar", 6, "hammers[1].bar", 'name = "A"\n[[bars]]\nbar = 1\n[[hammers]]\nhammer = 1\nbar = 2'),
    (
        "no-such-hammer",
        4,
        "sounds.hour_hammers",
        'name = "A"\n[sounds]\nhours = "rack"\nhour_hammers = [5]\n[[hammers]]\nhammer = 1',
    ),
    (
        "two-bars-in-one-place",
        10,
        "hammers[1].bar",
        'name = "A"\n[[bars]]\nbar = 1\nplace = "house"\n[[bars]]\nbar = 2\nplace = "house"\n'
        "[[hammers]]\nhammer = 1\nbar = [1, 2]",
    ),
    ("tune-not-written", 3, "sounds.quarters", 'name = "A"\n[sounds]\nquarters = "own"'),
    (
        "tune-not-played",
        4,
        "own_tune",
        'name = "A"\n[sounds]\nquarters = "none"\n[own_tune]\nnotes = ["C"]\nquarters = [[[1]], [[1]], [[1]], [[1]]]',
    ),
    (
        "tune-malformed",
        6,
        "own_tune.quarters",
        'name = "A"\n[sounds]\nquarters = "own"\n[own_tune]\nnotes = ["C"]\nquarters = [[[1]], [[1]], [[2]], [[1]]]',
    ),
    (
        "tune-malformed",
        6,
        "own_tune.quarters",
        'name = "A"\n[sounds]\nquarters = "own"\n[own_tune]\nnotes = ["C"]\nquarters = [[[1]], [[1]], [[1]]]',
    ),
    (
        "tune-malformed",
        6,
        "own_tune.quarters",
        'name = "A"\n[sounds]\nquarters = "own"\n[own_tune]\nnotes = ["C"]\nquarters = [[[1]], [[]], [[1]], [[1]]]',
    ),
    (
        "hammers-do-not-fit-tune",
        4,
        "sounds.quarter_hammers",
        'name = "A"\n[sounds]\nquarters = "cambridge"\nquarter_hammers = [1, 2, 3]',
    ),
    (
        "hammers-do-not-fit-tune",
        4,
        "hammers",
        'name = "A"\n[sounds]\nquarters = "cambridge"\n[[hammers]]\nhammer = 1',
    ),
    ("partials-not-rising", 4, "bars[1].partials_hz", 'name = "A"\n[[bars]]\nbar = 1\npartials_hz = [447, 222]'),
    (
        "says-two-things",
        4,
        "sounds.quarters_at_hour",
        'name = "A"\n[sounds]\nquarters = "none"\nquarters_at_hour = true',
    ),
    ("says-two-things", 4, "sounds.hour_hammers", 'name = "A"\n[sounds]\nhours = "none"\nhour_hammers = 1'),
    (
        "says-two-things",
        4,
        "trains.going.drive.falls",
        'name = "A"\n[trains.going.drive]\nkind = "spring"\nfalls = 2',
    ),
    (
        "counts-disagree",
        5,
        "trains.going.arbors[2].turn_min",
        'name = "A"\n[trains.going]\narbors = [\n  { name = "great", wheel = 96, turn_min = 600 },\n'
        '  { name = "centre", pinion = 8, turn_min = 60 },\n]',
    ),
    (
        "driven-first-arbor",
        3,
        "trains.going.arbors[1].pinion",
        'name = "A"\n[trains.going]\narbors = [{ name = "escape", pinion = 8, wheel = 30 }]',
    ),
    ("wrong-train", 3, "trains.strike.beats_per_hour", 'name = "A"\n[trains.strike]\nbeats_per_hour = 3600'),
    (
        "wrong-train",
        3,
        "trains.going.arbors[1].pins",
        'name = "A"\n[trains.going]\narbors = [{ name = "great", pins = 8 }]',
    ),
    ("swing-too-small", 3, "pendulum.swing_deg", 'name = "A"\n[pendulum]\nswing_deg = 1.5\nrelease_deg = 1.75'),
]


@pytest.mark.parametrize(("code", "line", "key", "sheet"), CASES)
def test_one_fault_is_found_alone(code: str, line: int, key: str, sheet: str) -> None:
    with pytest.raises(SheetInvalid) as caught:
        parse_sheet(sheet, "clock.toml")
    assert [(fault.code, fault.line, fault.key) for fault in caught.value.faults] == [(code, line, key)]
    fault = caught.value.faults[0]
    assert str(fault).startswith(f"clock.toml:{line}: ")
    assert fault.text.rstrip().endswith((".", "?", "]")), "a fault says what to do, in a sentence"


def test_a_file_that_is_not_text(tmp_path: Path) -> None:
    file = tmp_path / "clock.toml"
    file.write_bytes(b'name = "M\xfchle"')
    with pytest.raises(SheetInvalid) as caught:
        read_sheet(file)
    assert [fault.code for fault in caught.value.faults] == ["not-text"]
    assert "byte 10" in caught.value.faults[0].text


def test_every_kind_of_fault_is_tested() -> None:
    assert {code for code, *_ in CASES} | {"not-text"} == set(FAULT_KINDS)
    assert len(FAULT_KINDS) >= 12
    assert all(text.endswith(".") and len(text) > 20 for text in FAULT_KINDS.values())


def test_all_faults_come_together_in_order_of_lines() -> None:
    sheet = dedent(
        """\
        place = "attic"
        [sounds]
        quarters = "cambrige"
        hours = true
        [pendulum]
        swing_deg = "2"
        latitude_deg = 100
        """
    )
    with pytest.raises(SheetInvalid) as caught:
        parse_sheet(sheet)
    found = [(fault.code, fault.line) for fault in caught.value.faults]
    assert found == [
        ("missing-key", 1),
        ("not-a-choice", 1),
        ("not-a-choice", 3),
        ("not-a-choice", 4),
        ("wrong-type", 6),
        ("out-of-range", 7),
    ]
    assert str(caught.value).startswith("The sheet has 6 faults:")


def test_a_near_miss_is_named() -> None:
    with pytest.raises(SheetInvalid, match='Did you mean "cambridge"'):
        parse_sheet('name = "A"\n[sounds]\nquarters = "Cambrige"')
    with pytest.raises(SheetInvalid, match='did you mean "half_hour"'):
        parse_sheet('name = "A"\n[sounds]\nhalfhour = "one"')


def test_no_such_file(tmp_path: Path) -> None:
    with pytest.raises(SheetNotFound, match="quarterjack new"):
        read_sheet(tmp_path / "none.toml")
