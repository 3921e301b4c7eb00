"""A sheet changed on disk: comments and order stay, nobody's change is lost, nothing is half written."""

from __future__ import annotations

import difflib
import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from quarterjack.errors import SheetChangedMeanwhile, SheetInvalid, SheetNotFound, UnknownChoice
from quarterjack.sheet import SHEET_KEYS, SheetFile, read_sheet, starter
from quarterjack.sheet import keys as keys_module


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    file = tmp_path / "clock.toml"
    file.write_text(starter("floor-clock"), encoding="utf-8")
    return file


def changed_lines(before: str, after: str) -> list[str]:
    return [line for line in difflib.ndiff(before.splitlines(), after.splitlines()) if line[0] in "+-"]


def test_only_the_line_of_the_value_changes(sheet: Path) -> None:
    before = sheet.read_text("utf-8")
    file = SheetFile(sheet)
    file.set("trains.going.drive.turns", 15.5)
    file.set("trains.going.arbors[3].wheel", 60, source="counted")
    assert sheet.read_text("utf-8") == before, "nothing is written before save"
    movement = file.save()
    after = sheet.read_text("utf-8")
    assert len(changed_lines(before, after)) == 4
    assert "# turns of the key from run down to wound up" in after
    assert before.count("#") == after.count("#")
    assert read_sheet(sheet) == movement
    going = movement.train("going")
    assert going is not None
    assert going.drive is not None
    assert (going.drive.turns, going.arbors[2].wheel) == (15.5, 60)
    assert movement.comes_from["trains.going.arbors[3].wheel"] == "counted"


def test_tables_and_rows_are_made(sheet: Path) -> None:
    file = SheetFile(sheet)
    file.set("recordings[1].file", "evening.flac")
    file.set("recordings[1].dial_start", "4:13")
    file.set("pendulum.swing_deg", 2.5)
    for bar in range(1, 6):
        file.set(f"bars[{bar}].bar", bar)
        file.set(f"hammers[{bar}].hammer", bar)
        file.set(f"hammers[{bar}].bar", bar)
    file.set("trains.strike.drive.turns", 14)
    movement = file.save()
    assert movement.dial_starts == {"evening.flac": "4:13"}
    assert [bar.bar for bar in movement.bars] == [1, 2, 3, 4, 5]
    assert [hammer.bars for hammer in movement.hammers] == [(1,), (2,), (3,), (4,), (5,)]
    strike = movement.train("strike")
    assert strike is not None
    assert strike.drive is not None
    assert strike.drive.turns == 14.0


def test_a_value_is_taken_away(sheet: Path) -> None:
    file = SheetFile(sheet)
    file.set("sounds.quarters_at_hour", None)
    file.set("pendulum.swing_deg", None)
    assert file.save().sounds.quarters_at_hour is None
    assert "[pendulum]" not in [line for line in file.text.splitlines() if not line.startswith("#")]


def test_save_twice(sheet: Path) -> None:
    file = SheetFile(sheet)
    file.set("name", "First")
    file.save()
    file.set("name", "Second")
    assert file.save().name == "Second"


def test_a_change_by_somebody_else_is_not_overwritten(sheet: Path) -> None:
    file = SheetFile(sheet)
    file.set("name", "Mine")
    theirs = sheet.read_text("utf-8").replace("Floor clock without a name yet", "Theirs")
    sheet.write_text(theirs, encoding="utf-8")
    with pytest.raises(SheetChangedMeanwhile, match="Open it again"):
        file.save()
    assert sheet.read_text("utf-8") == theirs


def test_a_deleted_sheet_is_not_brought_back(sheet: Path) -> None:
    file = SheetFile(sheet)
    sheet.unlink()
    with pytest.raises(SheetChangedMeanwhile):
        file.save()
    assert not sheet.exists()


def test_a_sheet_with_faults_is_not_saved(sheet: Path) -> None:
    before = sheet.read_bytes()
    file = SheetFile(sheet)
    file.set("pendulum.latitude_deg", 100)
    with pytest.raises(SheetInvalid, match="latitude_deg"):
        file.save()
    assert sheet.read_bytes() == before


def test_a_sheet_with_faults_can_be_opened_and_mended(tmp_path: Path) -> None:
    sheet = tmp_path / "clock.toml"
    sheet.write_text('name = "A" # keep me\nplace = "attic"\n', encoding="utf-8")
    file = SheetFile(sheet)
    file.set("place", "house")
    assert file.save().place == "house"
    assert "# keep me" in sheet.read_text("utf-8")


def test_an_interrupted_save_leaves_the_old_sheet(sheet: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = sheet.read_bytes()
    file = SheetFile(sheet)
    file.set("name", "New")

    def fails(_handle: int) -> None:
        raise OSError("disk full")

    monkeypatch.setattr(os, "fsync", fails)
    with pytest.raises(OSError, match="disk full"):
        file.save()
    assert sheet.read_bytes() == before
    assert [path.name for path in sheet.parent.iterdir()] == ["clock.toml"], "no temporary file stays behind"


def test_windows_lines_stay(tmp_path: Path) -> None:
    sheet = tmp_path / "clock.toml"
    sheet.write_bytes(b'name = "A" # keep\r\n[sounds]\r\nquarters = "none"\r\n')
    file = SheetFile(sheet)
    file.set("name", "B")
    file.save()
    assert sheet.read_bytes() == b'name = "B" # keep\r\n[sounds]\r\nquarters = "none"\r\n'


@pytest.mark.parametrize(
    "key",
    ["nonsense", "trains.gong.regulator", "trains.going", "bars", "bars[0].bar", "bars[3].bar", "sounds.", "a b", ""],
)
def test_keys_that_no_sheet_has(sheet: Path, key: str) -> None:
    with pytest.raises(UnknownChoice):
        SheetFile(sheet).set(key, 1)


def test_unknown_source(sheet: Path) -> None:
    with pytest.raises(UnknownChoice, match="same movement"):
        SheetFile(sheet).set("pendulum.swing_deg", 2.5, source="guessed")


def test_opening_what_is_not_there_or_not_toml(tmp_path: Path) -> None:
    with pytest.raises(SheetNotFound):
        SheetFile(tmp_path / "none.toml")
    broken = tmp_path / "broken.toml"
    broken.write_text("name = ", encoding="utf-8")
    with pytest.raises(SheetInvalid):
        SheetFile(broken)


def value_of(key: keys_module.Key) -> st.SearchStrategy[Any]:
    low, high = key.low if key.low is not None else -1e6, key.high if key.high is not None else 1e6
    if key.allowed:
        return st.sampled_from(key.allowed)
    if key.kind == keys_module.WHOLE:
        return st.integers(int(low), int(high))
    if key.kind == keys_module.NUMBER:
        return st.floats(low, high)
    if key.kind == keys_module.YES_NO:
        return st.booleans()
    return st.text(min_size=1).filter(str.strip)


SETTABLE = [
    key
    for key in SHEET_KEYS
    if key.kind in (keys_module.TEXT, keys_module.WHOLE, keys_module.NUMBER, keys_module.YES_NO) and key.key != "from"
]


@settings(suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(st.data())
def test_what_is_set_is_read(tmp_path: Path, data: st.DataObject) -> None:
    """Any value that a key allows comes back from the file, with its source."""
    sheet = tmp_path / "clock.toml"
    sheet.write_text('name = "A"\n', encoding="utf-8")
    key = data.draw(st.sampled_from(SETTABLE))
    value = data.draw(value_of(key))
    source = data.draw(st.sampled_from([None, "counted", "same movement"]))
    name = key.key.replace("<train>", data.draw(st.sampled_from(keys_module.TRAINS))).replace("[]", "[1]")
    file = SheetFile(sheet)
    file.set(name, value, source=source)
    text = file.text
    try:
        movement = file.save()
    except SheetInvalid as error:
        codes = {fault.code for fault in error.faults}
    else:
        codes = set()
        assert sheet.read_text("utf-8") == text
        assert (name in movement.comes_from) == (source is not None)
        assert read_sheet(sheet) == movement
    # Alone in its table or train, a value may lack a neighbour or stand in the wrong train.
    assert codes <= {"missing-key", "wrong-train", "driven-first-arbor", "tune-not-written", "hammers-do-not-fit-tune"}
