"""The manual's reference pages, written from the code itself.

Whatever the code does not explain is refused: `Undocumented` names it, so that the manual's build and the tests fail
until it says what it is.
"""

from __future__ import annotations

import dataclasses
import inspect
import re
import typing
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import click
from pydantic.fields import FieldInfo

from quarterjack import cli, errors, sheet
from quarterjack.listening.heard import Heard, Ticks
from quarterjack.proving import FINDINGS
from quarterjack.proving.proved import Proof
from quarterjack.reckoning import Reckoning
from quarterjack.records import json_fields

NOUNS: tuple[tuple[type, str], ...] = (
    (Heard, "`quarterjack hear --json`"),
    (Proof, "`quarterjack prove --json`"),
    (Reckoning, "`quarterjack reckon --json`"),
)
# Codes of refusals that are no kind of error of their own.
OTHER_CODES = {
    "usage": "The command was typed in a way that it does not have (exit code 2).",
    "file-unusable": "The system refused a file: a folder that is not there, a disk that is full (exit code 2).",
    "internal": "Something broke in quarterjack itself (exit code 70).",
    "not-found": "The pages keep nothing at that address.",
    "method-not-allowed": "The pages cannot be asked in that way at that address.",
    "too-large": "More was sent to the pages than they take.",
    "request-invalid": "What was sent to the pages lacks a value, or has one of the wrong kind.",
    "refused": "The pages refuse what another site, or another computer, asks for.",
}
# Ticks are columns inside and rows outside: what its columns are called when written.
ROW_NAMES = {"t_ns": "t_s", "u_ns": "u_ms"}


class Undocumented(Exception):
    """Things that say nothing about themselves."""

    def __init__(self, what: str, names: Iterable[str]) -> None:
        self.names = tuple(names)
        super().__init__(f"{what} without an explanation: {', '.join(self.names)}")


def _sentence(text: str) -> str:
    """Running text on one line, safe inside a table."""
    joined = " ".join(text.split()).replace("|", "\\|")
    return joined.replace("<", "&lt;").replace("``", "`")


def _table(headings: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    lines = [headings, tuple("---" for _ in headings), *rows]
    return "\n".join("| " + " | ".join(row) + " |" for row in lines) + "\n"


# --- commands --------------------------------------------------------------------------------------------------------


def undocumented_commands(group: click.Group) -> Iterator[str]:
    """Commands and options that have no help."""
    for name, command in sorted(group.commands.items()):
        if not (command.help or "").strip():
            yield name
        for parameter in command.params:
            if isinstance(parameter, click.Option) and not (parameter.help or "").strip():
                yield f"{name} {parameter.opts[0]}"
            # An argument has no help of its own in click: its command's text must name it.
            named = parameter.make_metavar(click.Context(command)).strip("[].").rstrip(".")
            if isinstance(parameter, click.Argument) and named.split(".")[0] not in (command.help or ""):
                yield f"{name} {named}"


def commands_page() -> str:
    """Every subcommand with its options, as click knows them."""
    _refuse("commands or options", undocumented_commands(cli.main))
    parts = ["# Commands\n", _help_text(cli.main), ""]
    for name, command in sorted(cli.main.commands.items()):
        # As the command line makes it: click remembers a command's own help option by the first context that asks.
        group = click.Context(cli.main, info_name="quarterjack", **cli.main.context_settings)
        context = click.Context(command, info_name=name, parent=group)
        parts += [f"## {name}\n", f"```text\n{command.get_usage(context)}\n```\n", _help_text(command), ""]
        rows = []
        for parameter in command.params:
            if isinstance(parameter, click.Option) and (record := parameter.get_help_record(context)) is not None:
                rows.append((f"`{_sentence(record[0])}`", _sentence(record[1])))
        if rows:
            parts.append(_table(("Option", "Meaning"), rows))
    return "\n".join(parts)


def _help_text(command: click.Command) -> str:
    text = inspect.cleandoc(command.help or "").replace("\b\n", "").replace("\f", "")
    return text.replace("<", "&lt;")


# --- errors ----------------------------------------------------------------------------------------------------------


def error_rows() -> list[tuple[str, str, str, str]]:
    """Code, meaning, exit code and built-in of every kind of error."""
    kinds = errors.every_kind()
    _refuse("errors", (kind.__name__ for kind in kinds if not (kind.__doc__ or "").strip() or not kind.code))
    rows = []
    for kind in sorted(kinds, key=lambda kind: kind.code):
        builtin = next((base.__name__ for base in kind.__bases__ if base.__module__ == "builtins"), "")
        caught_as = f"`{builtin}`" if builtin and builtin != "Exception" else ""
        rows.append((f"`{kind.code}`", _sentence(kind.__doc__ or ""), str(kind.exit_code), caught_as))
    return rows


def errors_page() -> str:
    """Exit codes and error codes."""
    exits = (
        (errors.EXIT_ALL_RIGHT, "All right: there is an answer, and where a clock was judged, it is right."),
        (errors.EXIT_CLOCK_AT_FAULT, "The clock has a fault."),
        (errors.EXIT_INPUT_UNUSABLE, "The input cannot be used; the message says what is wrong with it."),
        (errors.EXIT_TOO_LITTLE_HEARD, "Too little was heard to say."),
        (errors.EXIT_INTERNAL, "An internal error of quarterjack: please report it with what was printed."),
        (errors.EXIT_STOPPED_BY_USER, "Stopped by the user."),
    )
    shape = (
        "A refusal is one document where `--json` was asked for, and the same document is what the pages answer "
        "with:\n\n"
        '```json\n{"format": "quarterjack.error/1", "code": "…", "message": "…", "fields": {}}\n```\n\n'
        "`code` is one of the codes below and does not change; `message` is for people; `fields` holds the values "
        "that the message speaks of.\n"
    )
    return "\n".join(
        [
            "# Errors and exit codes\n",
            "## Exit codes\n",
            _table(("Code", "Meaning"), ((str(code), text) for code, text in exits)),
            "`hear` gives 0 whenever sound could be read and 3 only if neither tick nor blow was found.\n",
            "## Errors\n",
            shape,
            _table(("Code", "Meaning", "Exit code", "Also caught as"), error_rows()),
            "Refusals that are no kind of error of their own:\n",
            _table(("Code", "Meaning"), _explained("codes", OTHER_CODES)),
            "## Faults of a sheet\n",
            "All faults of a sheet are listed together, each with its line and its key.\n",
            _table(("Code", "Meaning"), _explained("faults of a sheet", sheet.FAULT_KINDS)),
            "## Findings of a proof\n",
            _table(("Code", "Meaning"), _explained("findings", FINDINGS)),
        ]
    )


def _explained(what: str, meanings: dict[str, str]) -> list[tuple[str, str]]:
    _refuse(what, (name for name, meaning in meanings.items() if not meaning.strip()))
    return [(f"`{name}`", _sentence(meaning)) for name, meaning in sorted(meanings.items())]


def _refuse(what: str, names: Iterable[str]) -> None:
    found = tuple(names)
    if found:
        raise Undocumented(what, found)


# --- sheet keys ------------------------------------------------------------------------------------------------------


def sheet_page() -> str:
    """Every key of a movement sheet."""
    _refuse("sheet keys", (key.key for key in sheet.SHEET_KEYS if not key.meaning.strip() or not key.kind.strip()))
    rows = []
    for key in sheet.SHEET_KEYS:
        allowed = ", ".join(f"`{choice}`" for choice in key.allowed) or key.bounds or ""
        needed = " Needed." if key.needed else ""
        kind = f"{key.kind}, {key.unit}" if key.unit else key.kind
        rows.append((f"`{key.key}`", _sentence(key.meaning) + needed, kind, allowed))
    return "\n".join(
        [
            "# Keys of a sheet\n",
            "A sheet is a TOML file. Everything may be left out that is not marked as needed: unknown is not a fault. "
            "`[]` follows the name of rows (`[[bars]]` in the file); `<train>` stands for `going`, `strike` or "
            "`chime`.\n",
            _table(("Key", "Meaning", "Kind", "Allowed"), rows),
        ]
    )


# --- result fields ---------------------------------------------------------------------------------------------------


def parameters_of(kind: type) -> dict[str, str]:
    """What a dataclass's docstring says of each of its fields (numpydoc's Parameters)."""
    text = inspect.cleandoc(kind.__doc__ or "")
    found = re.search(r"^Parameters\n-+\n(.*?)(?=^\S[^\n]*\n-{3,}$|\Z)", text, re.M | re.S)
    meanings: dict[str, str] = {}
    names: list[str] = []
    for line in (found.group(1) if found else "").splitlines():
        if line and not line[0].isspace():
            names = [name.strip() for name in line.split(" : ")[0].split(",")]
        elif line.strip():
            for name in names:
                meanings[name] = f"{meanings.get(name, '')} {line.strip()}".strip()
    return meanings


def written_names(kind: type) -> dict[str, str]:
    """Fields of a dataclass and what each is called in JSON."""
    hints = typing.get_type_hints(kind, include_extras=True)
    names = {}
    for field in dataclasses.fields(kind):
        alias = next(
            (m.alias for m in getattr(hints[field.name], "__metadata__", ()) if isinstance(m, FieldInfo)), None
        )
        names[field.name] = ROW_NAMES.get(field.name, field.name) if kind is Ticks else alias or field.name
    return names


def parts_of(noun: type) -> list[type]:
    """The noun and the dataclasses that it is made of, outermost first."""
    found: list[type] = []

    def walk(hint: Any) -> None:
        if dataclasses.is_dataclass(hint) and isinstance(hint, type) and hint not in found:
            found.append(hint)
            for inner in typing.get_type_hints(hint, include_extras=True).values():
                walk(inner)
        for argument in typing.get_args(hint):
            walk(argument)

    walk(noun)
    return found


def result_fields(kind: type) -> list[tuple[str, str]]:
    """JSON name and meaning of each field, in the order in which they are written.

    Raises
    ------
    Undocumented
        If the dataclass does not say what a field means.
    """
    meanings = {"format": "Name and number of the format.", **parameters_of(kind)}
    names = written_names(kind)
    _refuse(f"fields of {kind.__name__}", (field for field in names if not meanings.get(field)))
    return [(written, _as_written(meanings[field])) for field, written in names.items()]


def _as_written(meaning: str) -> str:
    """A docstring speaks of nanoseconds inside and says in brackets what JSON holds: only the latter is of use here."""
    return re.sub(r"nanoseconds([^()]*?) ?\((\w+) in JSON\)", r"\2\1", meaning)


def schema_names(noun: type) -> dict[str, set[str]]:
    """Names of the JSON fields of each part, by pydantic's own account: a second witness for the tests."""
    schema = json_fields(noun)
    parts = {noun.__name__: schema, **schema.get("$defs", {})}
    return {name: set(part.get("properties", ())) for name, part in parts.items()}


def results_page() -> str:
    """Every field of every result."""
    parts = [
        "# Fields of the results\n",
        "Fields are added and never renamed; a breaking change raises the number of the format. Readers should accept "
        "verdicts and codes that they do not know. Times named `_s` count seconds from the first sample of the "
        "recording at its nominal rate.\n",
    ]
    seen: set[type] = set()
    for noun, where in NOUNS:
        parts.append(f"## {noun.__name__}: `{noun.format}`\n")  # type: ignore[attr-defined]
        parts.append(f"Printed by {where}.\n")
        for part in parts_of(noun):
            if part in seen:
                continue
            seen.add(part)
            summary = _sentence(inspect.cleandoc(part.__doc__ or "").split("\n\n")[0])
            _refuse("dataclasses", () if summary else (part.__name__,))
            if part is not noun:
                parts.append(f"### {part.__name__}\n")
            parts.append(summary + "\n")
            rows = ((f"`{name}`", _sentence(meaning)) for name, meaning in result_fields(part))
            parts.append(_table(("Field", "Meaning"), rows))
    return "\n".join(parts)


PAGES = {
    "commands.md": commands_page,
    "errors.md": errors_page,
    "sheet.md": sheet_page,
    "results.md": results_page,
}


def write_pages(folder: Path) -> None:
    """Write all reference pages; leave alone what has not changed, so that Sphinx need not read it again."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, page in PAGES.items():
        text, path = page(), folder / name
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            path.write_text(text, encoding="utf-8")
