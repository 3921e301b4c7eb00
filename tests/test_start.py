"""`start.py` as a newcomer meets it; whole installations take minutes and are tried by hand, not here."""

from __future__ import annotations

import ast
import importlib.util
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parent.parent
START = ROOT / "start.py"
needs_posix = pytest.mark.skipif(os.name == "nt", reason="uses shell scripts in place of interpreters")


@pytest.fixture
def start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """`start.py` as a module that works in a folder of its own."""
    return load(tmp_path / "copy", monkeypatch)


def load(folder: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    (folder / "requirements").mkdir(parents=True)
    for name in ("run.txt", "test.txt"):
        (folder / "requirements" / name).write_text("# nothing\n", encoding="utf-8")
    shutil.copy(ROOT / "pyproject.toml", folder)
    shutil.copy(START, folder)
    spec = importlib.util.spec_from_file_location("start_under_test", folder / "start.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def keep_handed_over(start: Any, monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """Keep the commands that would take over from `start.py`."""
    ran: list[list[str]] = []

    def hand_over(command: list[str]) -> int:
        ran.append(command)
        return 0

    monkeypatch.setattr(start, "hand_over", hand_over)
    return ran


def fake_python(folder: Path, name: str, answer: str) -> None:
    """A program that answers `-c` with a version and otherwise tells what it was asked to run."""
    script = folder / name
    script.write_text(f'#!/bin/sh\nif [ "$1" = -c ]; then echo {answer}; else echo "ran: $@"; fi\n', encoding="utf-8")
    script.chmod(0o755)


def test_only_what_the_oldest_python_3_can_parse() -> None:
    # ast's feature_version goes back no further than 3.7 everywhere; the newer syntax is looked for by kind.
    tree = ast.parse(START.read_text(encoding="utf-8"), feature_version=(3, 7))
    newer = (ast.JoinedStr, ast.AnnAssign, ast.NamedExpr, ast.AsyncFunctionDef, ast.Await, ast.Match)
    assert [node.lineno for node in ast.walk(tree) if isinstance(node, newer)] == []
    starred = [node for node in ast.walk(tree) if isinstance(node, ast.List | ast.Tuple)]
    assert not any(isinstance(item, ast.Starred) for node in starred for item in node.elts)


def old_pythons() -> list[Path]:
    """Interpreters older than 3.11, where the usual tool for several Pythons keeps some."""
    kept = Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv")) / "versions"
    return sorted(path for minor in range(6, 11) for path in kept.glob(f"3.{minor}.*/bin/python"))


@pytest.mark.skipif(not old_pythons(), reason="no Python 3.6 to 3.10 is kept here to try start.py with")
def test_an_old_python_says_which_one_is_needed(tmp_path: Path) -> None:
    shutil.copy(START, tmp_path)
    for python in old_pythons():
        command = [str(python), str(tmp_path / "start.py")]
        environment = {**os.environ, "PATH": str(tmp_path)}
        done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
        assert done.returncode == 2
        assert "needs Python 3.11, 3.12, 3.13 or 3.14" in done.stderr
        assert "Traceback" not in done.stderr


@needs_posix
def test_another_python_is_looked_for_and_shims_are_seen_through(
    start: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    bin_folder = tmp_path / "bin"
    bin_folder.mkdir()
    fake_python(bin_folder, "python3.14", "'no such version' >&2; exit 127")
    fake_python(bin_folder, "python3.13", "3.9")  # lies about its version by its name
    fake_python(bin_folder, "python3.12", "3.12")
    monkeypatch.setenv("PATH", f"{bin_folder}:/usr/bin:/bin")
    monkeypatch.setattr(start.sys, "version_info", (3, 9, 2, "final", 0))
    ran = keep_handed_over(start, monkeypatch)
    assert start.main(["--", "hear", "x.wav"]) == 0
    assert ran == [["python3.12", str(Path(start.ROOT) / "start.py"), "--", "hear", "x.wav"]]
    assert "going on with python3.12" in capfd.readouterr().err


def test_without_another_python_one_line_says_what_is_needed(
    start: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(start.sys, "version_info", (3, 15, 0, "final", 0))
    with pytest.raises(start.CannotStart, match=r"needs Python 3\.11.*This is Python 3\.15"):
        start.main([])


@pytest.fixture
def without_ensurepip(start: Any, monkeypatch: pytest.MonkeyPatch) -> Any:
    """`start.py` under a Python that has no ensurepip to call."""
    monkeypatch.setattr(start, "has_ensurepip", lambda: False)
    return start


def test_pips_own_wheel_is_run_where_ensurepip_is_missing_and_a_broken_one_passed_over(
    without_ensurepip: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    good = list(without_ensurepip.pip_wheels(str(tmp_path)))[:1]
    broken = tmp_path / "pip-0-py3-none-any.whl"
    broken.write_bytes(b"no wheel")
    monkeypatch.setattr(without_ensurepip, "pip_wheels", lambda folder: [str(broken), *good])
    without_ensurepip.make_venv()
    assert without_ensurepip.has_pip()


def test_where_no_pip_can_be_had_the_line_to_type_is_said(
    without_ensurepip: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(without_ensurepip, "pip_wheels", lambda folder: [])
    monkeypatch.setattr(
        without_ensurepip, "find_program", lambda names: "/usr/bin/apt-get" if names == ["apt-get"] else None
    )
    with pytest.raises(without_ensurepip.CannotStart, match=r"sudo apt-get install python3\.\d+-venv"):
        without_ensurepip.make_venv()


@pytest.fixture
def installing(start: Any, monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """The commands by which packages would be installed; an environment is made for real, without pip."""
    commands: list[list[str]] = []
    monkeypatch.setattr(start, "has_pip", lambda: Path(start.venv_python()).exists())
    monkeypatch.setattr(start, "has_ensurepip", lambda: False)

    def call(command: list[str], **kwargs: object) -> int:
        commands.append(command)
        return 0

    monkeypatch.setattr(start.subprocess, "call", call)
    return commands


def test_nothing_is_installed_twice_and_a_changed_pin_is_noticed(start: Any, installing: list[list[str]]) -> None:
    start.prepare(False)
    assert len(installing) == 2
    start.prepare(False)
    assert len(installing) == 2
    (Path(start.ROOT) / "requirements" / "run.txt").write_text("numpy==9\n", encoding="utf-8")
    start.prepare(False)
    assert len(installing) == 4
    start.prepare(True)
    assert any("test.txt" in part for part in installing[4])


def test_an_interrupted_installation_is_laid_anew(
    start: Any, installing: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    recorded = start.subprocess.call

    def interrupted(command: list[str], **kwargs: object) -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(start.subprocess, "call", interrupted)
    with pytest.raises(KeyboardInterrupt):
        start.prepare(False)
    monkeypatch.setattr(start.subprocess, "call", recorded)
    start.prepare(False)
    assert all("--force-reinstall" in command for command in installing)
    start.prepare(False)
    assert len(installing) == 2


def test_an_environment_whose_python_is_gone_is_made_again(start: Any, installing: list[list[str]]) -> None:
    start.prepare(False)
    Path(start.venv_python()).unlink()
    start.prepare(False)
    assert len(installing) == 4


def test_a_failed_installation_says_so(
    start: Any, installing: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(start.subprocess, "call", lambda command, **kwargs: 1)
    with pytest.raises(start.CannotStart, match="did not finish"):
        start.prepare(False)


def test_what_is_run(start: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    ran = keep_handed_over(start, monkeypatch)
    monkeypatch.setattr(start, "prepare", lambda for_tests: None)
    monkeypatch.setattr(start, "prepare_browser", lambda: None)
    monkeypatch.chdir(start.ROOT)
    start.main([])
    start.main(["--", "hear", "a b.wav", "--json"])
    start.main(["test", "-k", "x"])
    assert [command[1:] for command in ran] == [
        ["-m", "quarterjack", "serve"],
        ["-m", "quarterjack", "hear", "a b.wav", "--json"],
        ["-m", "pytest", "-k", "x"],
    ]
    assert start.main(["hear"]) == 2


def test_no_chromium_is_said_loudly(
    start: Any, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delenv("QUARTERJACK_CHROMIUM", raising=False)
    monkeypatch.setattr(start, "find_program", lambda names: None)
    start.prepare_browser()
    assert "THE TESTS OF THE PAGES WILL BE SKIPPED" in capsys.readouterr().err


@pytest.mark.skipif(
    not any((ROOT / ".venv" / name).exists() for name in ("ready", "ready-for-tests")),
    reason="this tree was not prepared by start.py",
)
def test_a_command_passed_through_keeps_standard_output_clean() -> None:
    done = subprocess.run(
        [sys.executable, str(START), "--", "--version"], capture_output=True, text=True, check=True, cwd=ROOT.parent
    )
    assert re.fullmatch(r"quarterjack, version \S+\n", done.stdout)


def test_pins_are_exact_and_name_no_place() -> None:
    for name in ("run.txt", "test.txt"):
        for line in (ROOT / "requirements" / name).read_text(encoding="utf-8").splitlines():
            if not line.startswith("#"):
                assert re.fullmatch(r"[\w.-]+==[\w.]+( ; .+)?", line), line
                assert "://" not in line
