"""The manual lists every command, error, sheet key and result field, and nothing of them is without words."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import click
import generate
import pytest

from quarterjack import cli, errors, sheet
from quarterjack.proving import FINDINGS

ROOT = Path(__file__).resolve().parents[2]


def codes_in(page: str) -> set[str]:
    """Whatever opens a row of a table in code type."""
    return set(re.findall(r"^\| `([^`]+)`", page, re.M))


def test_every_command_and_option_stands_in_the_manual() -> None:
    page = generate.commands_page()
    assert set(re.findall(r"^## (\S+)$", page, re.M)) == set(cli.main.commands)
    for command in cli.main.commands.values():
        for parameter in command.params:
            if isinstance(parameter, click.Option):
                assert parameter.opts[0] in page


def test_every_error_sheet_fault_and_finding_stands_in_the_manual() -> None:
    codes = codes_in(generate.errors_page())
    assert {kind.code for kind in errors.every_kind()} <= codes
    assert set(sheet.FAULT_KINDS) <= codes
    assert set(FINDINGS) <= codes


def test_every_code_that_is_written_in_place_stands_in_the_manual() -> None:
    listed = codes_in(generate.errors_page())
    found = set()
    for path in (ROOT / "src").rglob("*.py"):
        found |= set(re.findall(r'error_document\(\s*"([a-z-]+)"', path.read_text(encoding="utf-8")))
    assert found >= {"usage", "internal", "request-invalid"}
    assert found <= listed


def test_at_least_twelve_kinds_of_sheet_fault_are_listed() -> None:
    assert len(set(sheet.FAULT_KINDS)) >= 12


def test_every_key_of_a_sheet_stands_in_the_manual() -> None:
    assert codes_in(generate.sheet_page()) == {key.key for key in sheet.SHEET_KEYS}


@pytest.mark.parametrize("noun", [noun for noun, _ in generate.NOUNS], ids=lambda noun: noun.__name__)
def test_every_field_of_a_result_is_listed_as_it_is_written(noun: type) -> None:
    written = generate.schema_names(noun)
    for part in generate.parts_of(noun):
        listed = {name for name, _ in generate.result_fields(part)}
        assert listed == written.get(part.__name__, listed), part.__name__
    # Ticks are rows in JSON, of which pydantic gives the schema in place.
    assert {part.__name__ for part in generate.parts_of(noun)} - set(written) <= {"Ticks"}


def test_rows_of_ticks_are_listed_as_they_are_written() -> None:
    from quarterjack.listening.heard import Ticks
    from quarterjack.records import to_plain

    row = to_plain(Ticks([1], [1], [0], [0.0]))[0]  # type: ignore[arg-type]
    assert [name for name, _ in generate.result_fields(Ticks)] == list(row)


# --- what is not documented is refused -------------------------------------------------------------------------------


def test_a_command_or_option_without_help_is_refused() -> None:
    @click.group()
    def group() -> None:
        """Words."""

    @group.command()
    @click.option("--dark")
    def silent() -> None:
        pass

    assert set(generate.undocumented_commands(group)) == {"silent", "silent --dark"}


def test_an_error_without_words_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    class Wordless(errors.QuarterjackError):
        code = "wordless"

    Wordless.__doc__ = ""
    monkeypatch.setattr(errors, "every_kind", lambda: (Wordless,))
    with pytest.raises(generate.Undocumented, match="Wordless"):
        generate.errors_page()


def test_a_key_without_meaning_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheet, "SHEET_KEYS", (sheet.Key("dark", "text", ""),))
    with pytest.raises(generate.Undocumented, match="dark"):
        generate.sheet_page()


def test_a_field_without_words_is_refused() -> None:
    @dataclass(frozen=True)
    class Noun:
        """A noun.

        Parameters
        ----------
        told : int
            What it is.
        """

        told: int
        silent: int

    with pytest.raises(generate.Undocumented, match="silent"):
        generate.result_fields(Noun)
