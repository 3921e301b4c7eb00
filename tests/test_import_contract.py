"""Rooms use only the rooms below them, listening uses none, and the contract that says so (in pyproject.toml) bites."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


def lint(root: Path) -> subprocess.CompletedProcess[str]:
    """Check the contract of the tree at `root`, whose own package is imported."""
    code = "import sys; from importlinter.cli import lint_imports; sys.exit(lint_imports(no_cache=True))"
    environment = {**os.environ, "PYTHONPATH": str(root / "src")}
    command = [sys.executable, "-c", code]
    return subprocess.run(command, cwd=root, env=environment, capture_output=True, text=True, check=False)


def test_every_room_keeps_to_the_contract() -> None:
    done = lint(ROOT)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


@pytest.mark.parametrize(
    ("module", "line", "broken"),
    [
        ("listening/heard.py", "import quarterjack.horology", "Listening uses no other room BROKEN"),
        ("simulate/faults.py", "import quarterjack.listening", "Simulate never uses listening BROKEN"),
        ("proving/proved.py", "import quarterjack.simulate", "Proving never uses simulate BROKEN"),
        ("horology/trains.py", "import quarterjack.sheet", "A room uses only the rooms below it BROKEN"),
        ("attic/__init__.py", "", "attic"),
    ],
)
def test_a_forbidden_import_or_a_room_without_a_place_breaks_it(
    module: str, line: str, broken: str, tmp_path: Path
) -> None:
    only_code = shutil.ignore_patterns("__pycache__", "static", "templates", "starters")
    shutil.copytree(ROOT / "src" / "quarterjack", tmp_path / "src" / "quarterjack", ignore=only_code)
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    path = tmp_path / "src" / "quarterjack" / module
    path.parent.mkdir(exist_ok=True)
    with path.open("a", encoding="utf-8") as file:
        file.write(f"\n{line}\n")
    done = lint(tmp_path)
    assert done.returncode != 0
    assert broken in done.stdout + done.stderr
