"""Rules of the house that a newcomer would otherwise have to be told."""

from __future__ import annotations

import re
import subprocess
import warnings
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
MODULES = sorted((ROOT / "src" / "quarterjack").rglob("*.py"))


def test_a_warning_raised_in_quarterjack_is_an_error() -> None:
    # The warning comes from code whose module is one of quarterjack's, as it would in earnest.
    code = compile("import warnings\nwarnings.warn('lost digits', RuntimeWarning)", "made.py", "exec")
    with pytest.raises(RuntimeWarning, match="lost digits"):
        exec(code, {"__name__": "quarterjack.horology.made"})
    with warnings.catch_warnings(record=True) as caught:
        exec(code, {"__name__": "somebody.else"})
    assert len(caught) == 1


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(ROOT / "src")))
def test_a_module_is_read_in_one_sitting(module: Path) -> None:
    assert len(module.read_text(encoding="utf-8").splitlines()) <= 400


def tracked() -> list[Path]:
    """Text files under version control; none in a tree that is not a clone."""
    done = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False)
    names = [name for name in done.stdout.split("\0") if name] if done.returncode == 0 else []
    binary = {".png", ".pdf", ".flac", ".ogg", ".wav", ".ico"}
    return [ROOT / name for name in names if Path(name).suffix not in binary and (ROOT / name).is_file()]


@pytest.mark.skipif(not tracked(), reason="this tree is not a clone: nothing says which files belong to it")
def test_no_file_names_a_package_index_or_a_place_on_one_machine() -> None:
    found = {
        str(path.relative_to(ROOT)): hit[0]
        for path in tracked()
        if (
            hit := re.search(
                r"index-url|files\.pythonhosted|(?<![\w.])/(?:root|home/\w+|opt)/", path.read_text("utf-8")
            )
        )
        and path != Path(__file__)
    }
    assert found == {}
