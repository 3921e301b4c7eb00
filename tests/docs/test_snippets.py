"""What the manual tells people to type is typed, and what it says will be printed is printed."""

from __future__ import annotations

import doctest
import re
import shlex
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from quarterjack.cli import main
from quarterjack.reckoning import reckon
from quarterjack.sheet import parse_sheet, read_sheet
from quarterjack.simulate import Simulation, write_sound

DOCS = Path(__file__).resolve().parents[2] / "docs"
PAGES = [DOCS / "tutorial.md", *sorted((DOCS / "how-to").glob("*.md"))]
ELLIPSIS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE

SHEET = """\
name = "The clock of Alder Mill"
[sounds]
quarters = "cambridge"
quarters_at_hour = true
hours = "yes"
"""


@dataclass(frozen=True)
class Block:
    """One fenced block: its language, text, and line in the page."""

    language: str
    text: str
    line: int


def blocks(page: Path) -> Iterator[Block]:
    text = page.read_text(encoding="utf-8")
    for found in re.finditer(r"^```(\w+)\n(.*?)^```$", text, re.M | re.S):
        yield Block(found[1], found[2], text.count("\n", 0, found.start()) + 1)


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What the how-to pages take as given: a sheet, and two recordings of its clock."""
    folder = tmp_path_factory.mktemp("bench")
    (folder / "alder.toml").write_text(SHEET, encoding="utf-8")
    reckoning = reckon(read_sheet(folder / "alder.toml"))
    for name, dial_start in (("quarter.flac", "12:14"), ("hour.flac", "12:59")):
        write_sound(Simulation(reckoning, hours=0.03, dial_start=dial_start), folder / name)
    return folder


def type_in(text: str, said: str) -> None:
    """Type the lines after `$` and compare what is printed with the lines below each."""
    code = 0
    for found in re.finditer(r"^\$ (.*)\n((?:(?!\$ ).*\n)*)", text.replace("\\\n", ""), re.M):
        line, expected = found[1], found[2]
        if line == "echo $?":
            assert expected.strip() == str(code), said
            code = 0
            continue
        assert code == 0, f"{said}: the command before gave exit code {code}, and the page does not say so"
        words = shlex.split(line)
        assert words[0] == "quarterjack", f"{said}: {line}"
        target = Path(words[words.index(">") + 1]) if ">" in words else None
        result = CliRunner().invoke(main, words[1 : words.index(">")] if target else words[1:])
        code = result.exit_code
        if target:
            target.write_text(result.stdout, encoding="utf-8")
        elif expected:
            fits = doctest.OutputChecker().check_output(expected, result.stdout, ELLIPSIS)
            assert fits, f"{said}: {line}\nexpected:\n{expected}\nprinted:\n{result.stdout}{result.stderr}"
    assert code == 0, f"{said}: the last command gave exit code {code}, and the page does not say so"


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.stem)
def test_what_the_page_says_to_type(page: Path, bench: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    if page.stem != "tutorial":
        shutil.copytree(bench, tmp_path, dirs_exist_ok=True)
    monkeypatch.chdir(tmp_path)
    names: dict[str, Any] = {}
    for block in blocks(page):
        said = f"{page.name}:{block.line}"
        if block.language == "console":
            type_in(block.text, said)
        elif block.language == "python":
            exec(compile("\n" * block.line + block.text, str(page), "exec"), names)
        elif block.language == "toml" and block.text.startswith("name"):
            assert parse_sheet(block.text, said).name


def test_every_block_is_of_a_language_that_is_checked() -> None:
    languages = {block.language for page in PAGES for block in blocks(page)}
    assert languages == {"console", "python", "toml"}
