"""What a sheet says is what the movement says; unknown is not a fault."""

from __future__ import annotations

import re
from itertools import product
from typing import Any

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from quarterjack.errors import SheetInvalid, UnknownChoice
from quarterjack.records import from_json, to_json
from quarterjack.sheet import KINDS, SHEET_KEYS, Movement, Sounds, parse_sheet, quick_sheet, starter
from quarterjack.sheet import build as building
from quarterjack.sheet.check import Checked, check
from quarterjack.sheet.faults import Faults
from quarterjack.sheet.keys import HALF_HOURS, TABLE, TRAINS
from quarterjack.tunes import TUNES

WHOLE = """
name = "The whole clock"
place = "stand"
notes = "Case is tall."
from = "assumed"

[sounds]
quarters = "cambridge"
quarters_at_hour = true
hours = { value = "rack", from = "counted" }
half_hour = "none"
quarter_hammers = [1, 2, 3, [4, 6]]
hour_hammers = 5

[[recordings]]
file = "evening.flac"
dial_start = "16:13"

[[bars]]
bar = 1
note = "G#"
form = "rod"
place = "stand"
partials_hz = [222.0, 447]

[[bars]]
bar = 11
place = "house"

[[hammers]]
hammer = 1
bar = [1, 11]
hammers_note_is_not_a_key = "?"

[trains.going]
from = "counted"
beats_per_hour = { value = 3600, from = "heard" }
regulator = "pendulum"
beats_per_turn = 60
arbors = [
    { name = "great", wheel = 96 },
    { name = "centre", pinion = 8, wheel = { value = 64, from = "same movement" }, turn_min = 60 },
    { name = "third", pinion = "?", wheel = "?" },
]
[trains.going.drive]
kind = "weight"
turns = 16
barrel_mm = 45
line_mm = 1.4
falls = 2
fall_mm = 1200
weight_kg = 3.4

[trains.strike]
arbors = [{ name = "great" }, { name = "pin wheel", pins = 8 }]

[trains.chime]
arbors = [{ name = "chime barrel", phrases_per_turn = 5 }]

[pendulum]
length_mm = 994
latitude_deg = 52
swing_deg = 2.5
release_deg = 1.75
crutch_mm = 180
feet_mm = 380
""".replace('hammers_note_is_not_a_key = "?"\n', "").replace(
    "bar = [1, 11]\n", "bar = [1, 11]\n" + "".join(f"[[hammers]]\nhammer = {n}\n" for n in range(2, 7))
)


def test_a_whole_sheet() -> None:
    movement = parse_sheet(WHOLE)
    assert movement.name == "The whole clock"
    assert movement.place == "stand"
    assert movement.notes == "Case is tall."
    assert movement.dial_starts == {"evening.flac": "16:13"}
    assert movement.sounds.tune is TUNES["cambridge"]
    assert movement.sounds.quarter_hammers == ((1,), (2,), (3,), (4, 6))
    assert movement.sounds.hour_hammers == (5,)
    assert movement.bars[0].partials_hz == (222.0, 447.0)
    assert (movement.bars[1].bar, movement.bars[1].place, movement.bars[1].form) == (11, "house", None)
    assert movement.hammers[0].bars == (1, 11)
    going = movement.train("going")
    assert going is not None
    assert [(a.name, a.pinion, a.wheel, a.turn_min) for a in going.arbors] == [
        ("great", None, 96, None),
        ("centre", 8, 64, 60.0),
        ("third", None, None, None),
    ]
    assert going.drive is not None
    assert (going.drive.barrel_m, going.drive.line_m, going.drive.fall_m) == (0.045, 0.0014, 1.2)
    assert (going.drive.turns, going.drive.falls, going.drive.weight_kg) == (16.0, 2, 3.4)
    assert (going.beats_per_hour, going.beats_per_turn, going.regulator) == (3600.0, 60, "pendulum")
    assert [train.name for train in movement.trains] == ["going", "strike", "chime"]
    assert movement.trains[1].arbors[1].pins == 8
    assert movement.trains[2].arbors[0].phrases_per_turn == 5.0
    assert (movement.pendulum.length_m, movement.pendulum.crutch_m, movement.pendulum.feet_m) == (0.994, 0.18, 0.38)


def test_every_value_says_where_it_comes_from() -> None:
    comes_from = parse_sheet(WHOLE).comes_from
    assert comes_from["sounds.quarters"] == "assumed"
    assert comes_from["sounds.hours"] == "counted"
    assert comes_from["trains.going.arbors[1].wheel"] == "counted"
    assert comes_from["trains.going.arbors[2].wheel"] == "same movement"
    assert comes_from["trains.going.beats_per_hour"] == "heard"
    assert comes_from["trains.strike.arbors[2].pins"] == "assumed"
    assert "trains.going.arbors[3].wheel" not in comes_from, "an unknown value comes from nowhere"


def test_a_movement_is_read_back_from_json() -> None:
    movement = parse_sheet(WHOLE)
    assert from_json(Movement, to_json(movement)) == movement


def test_a_name_is_enough() -> None:
    assert parse_sheet('name = "Only a name"') == Movement(name="Only a name")


def test_unknown_is_not_a_fault() -> None:
    every = "\n".join(
        ['name = "A"', '[sounds]\nquarters = "?"\nhours = "?"\nquarters_at_hour = "?"', '[pendulum]\nswing_deg = "?"']
    )
    movement = parse_sheet(every)
    assert movement.sounds == Sounds()
    assert movement.pendulum.swing_deg is None
    assert movement.comes_from == {}


def test_byte_order_mark_and_windows_lines_are_accepted() -> None:
    movement = parse_sheet('\ufeffname = "A"\r\n[sounds]\r\nquarters = "none"\r\n')
    assert movement.sounds.quarters == "none"


@pytest.mark.parametrize("kind", KINDS)
def test_starters_are_without_fault_and_commented(kind: str) -> None:
    text = starter(kind)
    movement = parse_sheet(text)
    assert movement.name
    assert text.count("#") > 15
    assert max(map(len, text.splitlines())) <= 120
    assert set(movement.comes_from.values()) <= {"assumed"}, "a starter has counted nothing"


@pytest.mark.parametrize("kind", KINDS)
def test_starters_are_right_when_their_examples_are_taken_up(kind: str) -> None:
    """Every commented-out example line, its # taken away, is a line that a sheet may have."""
    text = re.sub(r"^#(?=[a-z \[\]]+)(?! [A-Z\"a-z])", "", starter(kind), flags=re.MULTILINE)
    if kind == "floor-clock":
        # The example of a tune is played, and the examples of hammers name those that the one example row lists.
        text = text.replace('quarters = "cambridge"', 'quarters = "own"')
        text = text.replace("[1, 2, 3, [4, 6]]", "[1, 1, 1]").replace("hour_hammers = [5]", "hour_hammers = [1]")
    assert "\n#swing" not in text
    movement = parse_sheet(text)
    assert movement.pendulum.swing_deg is not None
    assert (movement.sounds.tune is not None) == (kind == "floor-clock")


def test_unknown_starter() -> None:
    with pytest.raises(UnknownChoice, match="floor-clock"):
        starter("cuckoo")


@given(
    st.text(min_size=1), st.sampled_from([*TUNES, "none"]), st.booleans(), st.booleans(), st.sampled_from(HALF_HOURS)
)
def test_quick_sheet_says_what_was_tapped(name: str, quarters: str, at_hour: bool, hours: bool, half_hour: str) -> None:
    text = quick_sheet(name, quarters=quarters, quarters_at_hour=at_hour, hours=hours, half_hour=half_hour)
    movement = parse_sheet(text)
    assert movement.name == (name.strip() or "Unnamed clock")
    assert movement.sounds == Sounds(
        quarters=quarters,
        tune=TUNES.get(quarters),
        quarters_at_hour=None if quarters == "none" else at_hour,
        hours="yes" if hours else "none",
        half_hour=half_hour,
    )
    assert set(movement.comes_from.values()) == {"heard"}


def test_quick_sheet_refuses_what_is_not_offered() -> None:
    for quarters, half_hour in (("own", "none"), ("cambridge", "three")):
        with pytest.raises(UnknownChoice):
            quick_sheet("A", quarters=quarters, quarters_at_hour=True, hours=True, half_hour=half_hour)


def pattern_of(path: tuple[Any, ...]) -> str:
    text = "".join("[]" if isinstance(part, int) else f".{part}" for part in path)[1:]
    for train in TRAINS:
        text = text.replace(f"trains.{train}", "trains.<train>")
    return text


def test_every_key_that_is_used_is_described_and_every_described_key_is_used(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: set[str] = set()
    plain_get = Checked.get

    def spy(self: Checked, *path: str | int) -> Any:
        asked.add(pattern_of(path))
        return plain_get(self, *path)

    monkeypatch.setattr(Checked, "get", spy)
    own = 'name="A"\n[sounds]\nquarters="own"\n[own_tune]\ntitle="t"\nnotes=["C"]\nquarters=[[[1]],[[1]],[[1]],[[1]]]'
    for text in (WHOLE, own):
        parse_sheet(text)
    values = {key.key for key in SHEET_KEYS if key.kind not in (TABLE, "rows") and key.key != "from"}
    assert asked == values


def test_every_key_is_explained() -> None:
    assert len({key.key for key in SHEET_KEYS}) == len(SHEET_KEYS)
    for key in SHEET_KEYS:
        assert key.meaning.endswith("."), key.key
        parent = key.key.rpartition(".")[0].removesuffix("[]")
        assert not parent or any(other.key == parent for other in SHEET_KEYS), key.key


scalars = st.one_of(
    st.none().map(lambda _: "?"),
    st.integers(-5, 2000),
    st.floats(allow_nan=True, allow_infinity=True),
    st.text(max_size=5),
    st.booleans(),
    st.sampled_from(["cambridge", "own", "rack", "stand", "weight", "spring", "counted", "4:13"]),
    st.lists(st.one_of(st.integers(0, 9), st.text(max_size=2), st.lists(st.integers(0, 5), max_size=3)), max_size=4),
)


@st.composite
def strange_sheets(draw: st.DrawFn) -> dict[str, Any]:
    """Sheets with real keys in their places and anything at all for values."""

    def fill(prefix: str) -> dict[str, Any]:
        table: dict[str, Any] = {}
        for key in SHEET_KEYS:
            lead, _, name = key.key.rpartition(".")
            if lead != prefix or not draw(st.booleans()):
                continue
            if key.kind == TABLE and draw(st.integers(0, 9)):
                if name == "<train>":
                    table |= {train: fill(key.key) for train in TRAINS if draw(st.booleans())}
                else:
                    table[name] = fill(key.key)
            elif key.kind == "rows" and draw(st.integers(0, 9)):
                table[name] = [fill(f"{key.key}[]") for _ in range(draw(st.integers(0, 3)))]
            elif draw(st.integers(0, 4)):
                table[name] = draw(scalars)
            else:
                table[name] = {"value": draw(scalars), "from": draw(scalars)}
        return table

    return fill("")


@given(strange_sheets())
def test_any_value_anywhere_is_a_movement_or_a_fault(raw: dict[str, Any]) -> None:
    faults = Faults("strange.toml", {})
    movement = building.build(check(raw, faults), faults)
    if faults.found:
        with pytest.raises(SheetInvalid):
            faults.raise_any()
    else:
        assert movement.name
        assert from_json(Movement, to_json(movement)) == movement


@given(strange_sheets())
def test_every_fault_of_a_written_sheet_has_its_line(raw: dict[str, Any]) -> None:
    text = tomlkit.dumps(raw)
    try:
        parse_sheet(text)
    except SheetInvalid as error:
        lines = [fault.line or 0 for fault in error.faults]
    else:
        lines = []
    assert lines == sorted(lines)
    assert all(1 <= line <= max(1, len(text.splitlines())) for line in lines)


@pytest.mark.parametrize(
    "text",
    ["a = " + "[" * 5000, "a = " + "1" * 5000, "\x00", "= 1", "[", "a.b = 1\na = 2", 'a = "\\ud800"', "a = 1979-02-30"],
)
def test_text_that_breaks_readers_is_a_fault(text: str) -> None:
    with pytest.raises(SheetInvalid) as caught:
        parse_sheet(text)
    assert [fault.code for fault in caught.value.faults] == ["toml-syntax"]


@given(st.text())
def test_any_text_is_a_movement_or_a_fault(text: str) -> None:
    try:
        movement = parse_sheet(text)
    except SheetInvalid as error:
        faults = len(error.faults)
    else:
        assert movement.name
        return
    assert faults > 0


def test_a_number_beyond_all_bounds() -> None:
    with pytest.raises(SheetInvalid, match="out-of-range"):
        parse_sheet(f'name = "A"\n[pendulum]\nswing_deg = {"9" * 400}')


def test_all_quick_sheets_are_without_fault() -> None:
    for quarters, at_hour, hours, half in product([*TUNES, "none"], (True, False), (True, False), HALF_HOURS):
        parse_sheet(quick_sheet("A", quarters=quarters, quarters_at_hour=at_hour, hours=hours, half_hour=half))
