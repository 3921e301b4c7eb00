"""The command line: exit codes, one shape of refusal, and standard output that holds the answer alone."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result

from quarterjack import cli
from quarterjack.errors import RecordingUnreadable, every_kind
from quarterjack.listening.heard import Blow, Going, Heard, RecordingFacts, Repeat, Sounding, Stop, Ticks
from quarterjack.records import from_json

THREE_TAPS = """\
name = "The clock of Alder Mill"
[sounds]
quarters = "cambridge"
quarters_at_hour = true
hours = "yes"
"""


def run(*arguments: str | Path) -> Result:
    return CliRunner().invoke(cli.main, [str(argument) for argument in arguments])


def document(result: Result) -> dict[str, Any]:
    """The one document on standard output."""
    read = json.loads(result.stdout)
    assert isinstance(read, dict)
    return read


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "alder.toml"
    path.write_text(THREE_TAPS, encoding="utf-8")
    return path


def nothing_heard() -> Heard:
    return Heard(recording=RecordingFacts("quiet.wav", "00" * 32, 10.0, 48000, 1), going=None, ticks=Ticks.none())


def first_quarter() -> Heard:
    """The first quarter of the Cambridge tune at 2 s, one blow a second."""
    notes = ("G#", "F#", "E", "B")
    blows = tuple(
        Blow((2 + n) * 1_000_000_000, 1_000_000, n + 1, note, n + 1, "chime", (200.0,), -12.0)
        for n, note in enumerate(notes)
    )
    return replace(
        nothing_heard(),
        going=Going(28, 3600.3, 0.4, 323.0, 1.0, "a"),
        blows=blows,
        soundings=(Sounding(2_000_000_000, 6_000_000_000, "quarter", 1, "cambridge", 0, 4, (4,)),),
        stops=(Stop(9_000_000_000, "cut off"),),
        repeats=(Repeat(2.4, 0.98),),
    )


@pytest.fixture
def hearing(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Path, Any]]:
    """What the ear was asked to hear; it hears a first quarter."""
    asked: list[tuple[Path, Any]] = []

    def hear(path: Path, hints: Any, *, progress: Any = None) -> Heard:
        asked.append((path, hints))
        return first_quarter()

    monkeypatch.setattr("quarterjack.listening.hear", hear)
    return asked


def test_help_imports_no_room() -> None:
    code = (
        "import sys, click.testing; from quarterjack.cli import main\n"
        "assert click.testing.CliRunner().invoke(main, ['prove', '--help']).exit_code == 0\n"
        "heavy = {'numpy', 'scipy', 'pydantic', 'fastapi', 'av', 'soundfile', 'rich'} & set(sys.modules)\n"
        "rooms = [name for name in sys.modules if name.startswith('quarterjack.') and name.count('.') > 0]\n"
        "print(sorted(heavy), sorted(rooms))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[] ['quarterjack.cli', 'quarterjack.errors']"


@pytest.mark.parametrize("name", sorted(cli.main.commands))
def test_every_command_helps(name: str) -> None:
    result = run(name, "-h")
    assert result.exit_code == 0
    assert result.stdout.startswith(f"Usage: main {name}")


def test_help_names_every_kind_of_clock_and_every_fault() -> None:
    from quarterjack.sheet import KINDS
    from quarterjack.simulate import FAULTS

    assert [kind for kind in KINDS if kind not in run("new", "-h").stdout] == []
    assert [fault for fault in FAULTS if fault not in run("sound", "-h").stdout] == []


def test_modes_are_those_of_proving() -> None:
    from quarterjack.proving import MODES

    choice = next(p.type for p in cli.main.commands["prove"].params if p.name == "mode")
    assert isinstance(choice, click.Choice)
    assert tuple(choice.choices) == MODES


# --- refusals --------------------------------------------------------------------------------------------------------


def test_a_refusal_is_told_on_standard_error_and_in_json_on_standard_output(tmp_path: Path) -> None:
    absent = tmp_path / "absent.toml"
    told = run("check", absent)
    assert told.exit_code == 2
    assert told.stdout == ""
    assert str(absent) in told.stderr
    written = run("check", absent, "--json")
    assert written.exit_code == 2
    assert written.stderr == ""
    assert document(written)["format"] == "quarterjack.error/1"
    assert document(written)["code"] == "sheet-not-found"


def test_all_faults_of_a_sheet_come_with_file_line_and_key(sheet: Path) -> None:
    sheet.write_text('name = "x"\nplce = "stand"\n[sounds]\nquarters = "cambrige"\n', encoding="utf-8")
    result = run("check", sheet, "--json")
    assert result.exit_code == 2
    faults = document(result)["fields"]["faults"]
    assert [(fault["line"], fault["key"], fault["code"]) for fault in faults] == [
        (2, "plce", "unknown-key"),
        (4, "sounds.quarters", "not-a-choice"),
    ]
    assert {fault["file"] for fault in faults} == {str(sheet)}
    assert f"{sheet}:4: sounds.quarters" in run("check", sheet).stderr


@pytest.mark.parametrize("kind", every_kind(), ids=lambda kind: kind.__name__)
def test_every_kind_of_error_gives_its_code_and_its_exit_code(
    kind: Any, sheet: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    error = kind.__new__(kind)
    Exception.__init__(error, "what is wrong")
    error.message, error.fields = "what is wrong", {"value": 3}

    def refuse(path: Path) -> None:
        raise error

    monkeypatch.setattr("quarterjack.sheet.read_sheet", refuse)
    result = run("check", sheet, "--json")
    assert result.exit_code == kind.exit_code
    assert document(result) == {
        "format": "quarterjack.error/1",
        "code": kind.code,
        "message": "what is wrong",
        "fields": {"value": 3},
    }


def test_a_command_typed_wrongly_is_a_refusal_like_any_other(sheet: Path) -> None:
    assert run("hear").exit_code == 2
    assert "Usage:" in run("hear").stderr
    result = run("prove", sheet, "a.wav", "--mode", "slowly", "--json")
    assert (result.exit_code, document(result)["code"]) == (2, "usage")
    assert "on-time" in document(result)["message"]
    assert run("nonsense").exit_code == 2


def test_what_the_system_refuses_is_input_that_cannot_be_used(sheet: Path, tmp_path: Path) -> None:
    result = run("new", "regulator", tmp_path / "no such folder" / "x.toml")
    assert result.exit_code == 2
    assert "no such folder" in result.stderr
    assert "Traceback" not in result.stderr


def test_what_nobody_foresaw_is_an_internal_error(sheet: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def break_down(path: Path) -> None:
        raise ZeroDivisionError("one over nothing")

    monkeypatch.setattr("quarterjack.sheet.read_sheet", break_down)
    result = run("check", sheet, "--json")
    assert (result.exit_code, document(result)["code"]) == (70, "internal")
    assert "ZeroDivisionError" in result.stderr


def test_stopped_by_the_user(sheet: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(path: Path) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("quarterjack.sheet.read_sheet", stop)
    assert run("check", sheet).exit_code == 130
    assert document(run("check", sheet, "--json"))["code"] == "stopped-by-user"


# --- answers ---------------------------------------------------------------------------------------------------------


def test_heard_in_json_is_the_document_alone(hearing: list[Any]) -> None:
    result = run("hear", "a.wav", "--json")
    assert (result.exit_code, result.stderr) == (0, "")
    assert from_json(Heard, result.stdout) == first_quarter()


def test_heard_in_words(hearing: list[Any]) -> None:
    result = run("hear", "a.wav")
    assert result.exit_code == 0
    for words in (
        "quiet.wav",
        "3600.3",
        "323.0 ms",
        "longer silence follows side a",
        "quarter 1, cambridge",
        "G# F# E B",
        "cut off (the train stood",
        "repeats itself every 2.400 s",
    ):
        assert words in result.stdout, words
    assert "\x1b" not in result.stdout


def test_a_sheet_gives_hints(hearing: list[Any], sheet: Path) -> None:
    assert run("hear", "a.wav", "--sheet", sheet).exit_code == 0
    assert [bar.note for bar in hearing[0][1].bars][:4] == ["G#", "F#", "E", "B"]


def test_neither_tick_nor_blow_is_too_little(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("quarterjack.listening.hear", lambda path, hints, progress: nothing_heard())
    assert run("hear", "a.wav").exit_code == 3
    result = run("hear", "a.wav", "--json")
    assert (result.exit_code, document(result)["ticks"]) == (3, [])


def test_a_recording_without_sound_cannot_be_used(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: Path, hints: Any, progress: Any) -> Heard:
        raise RecordingUnreadable(f"{path}: no sound could be decoded.")

    monkeypatch.setattr("quarterjack.listening.hear", refuse)
    assert run("hear", "a.txt").exit_code == 2


@pytest.mark.usefixtures("hearing")
def test_a_right_quarter_is_proved_and_a_wrong_one_gives_exit_code_1(sheet: Path) -> None:
    from quarterjack.proving import Proof

    right = run("prove", sheet, "a.wav", "--dial-start", "12:15", "--json", "--mode", "by-hand")
    proof = from_json(Proof, right.stdout)
    assert [sounding.verdict for sounding in proof.soundings if sounding.t_ns == 2_000_000_000] == ["right"]
    wrong = run("prove", sheet, "a.wav", "--dial-start", "12:29:50", "--json")
    assert wrong.exit_code == 1
    assert document(wrong)["verdict"] == "wrong"


@pytest.mark.usefixtures("hearing")
def test_a_proof_in_words(sheet: Path) -> None:
    result = run("prove", sheet, "a.wav", "--dial-start", "12:29:50")
    assert result.exit_code == 1
    for words in ("The clock of Alder Mill: WRONG", "Findings", "1.", "Soundings", "G# F# E B", "12:30"):
        assert words in result.stdout, words


def test_several_recordings_are_each_heard_once_and_dial_starts_must_match(sheet: Path, hearing: list[Any]) -> None:
    assert run("prove", sheet, "a.wav", "b.wav", "--dial-start", "12:14", "--json").exit_code == 2
    assert hearing == []
    run("prove", sheet, "a.wav", "b.wav", "--dial-start", "12:14", "--dial-start", "-", "--json")
    assert [path.name for path, _ in hearing] == ["a.wav", "b.wav"]


@pytest.mark.usefixtures("hearing")
def test_the_bench_proof_is_written_beside_the_answer_and_nothing_is_overwritten(sheet: Path, tmp_path: Path) -> None:
    pdf = tmp_path / "proof.pdf"
    result = run("prove", sheet, "a.wav", "--dial-start", "12:14", "--pdf", pdf, "--json")
    assert document(result)["format"] == "quarterjack.proof/1"
    assert pdf.read_bytes().startswith(b"%PDF-")
    again = run("prove", sheet, "a.wav", "--pdf", pdf, "--json")
    assert (again.exit_code, document(again)["code"]) == (2, "file-exists")


@pytest.mark.parametrize(("verdict", "code"), [("right", 0), ("wrong", 1), ("too little heard", 3), ("later word", 3)])
@pytest.mark.usefixtures("hearing")
def test_exit_code_of_every_verdict(verdict: str, code: int, sheet: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from quarterjack.proving import Proof

    proof = Proof(clock="x", mode="on-time", verdict=verdict, recordings=(), going=None)
    monkeypatch.setattr("quarterjack.proving.prove", lambda *args, **kwargs: proof)
    assert run("prove", sheet, "a.wav", "--json").exit_code == code


def test_a_starter_is_written_checked_and_not_overwritten(tmp_path: Path) -> None:
    from quarterjack.sheet import KINDS

    for kind in KINDS:
        path = tmp_path / f"{kind}.toml"
        assert run("new", kind, path).exit_code == 0
        assert run("check", path).exit_code == 0
        assert document(run("check", path, "--json"))["faults"] == []
        assert run("reckon", path).exit_code == 0
        before = path.read_bytes()
        assert run("new", kind, path).exit_code == 2
        assert path.read_bytes() == before
    refused = run("new", "sundial", tmp_path / "s.toml")
    assert refused.exit_code == 2
    assert "regulator" in refused.stderr


def test_reckoned(sheet: Path) -> None:
    from quarterjack.reckoning import Reckoning

    result = run("reckon", sheet, "--json")
    assert result.exit_code == 0
    # Four chimes an hour and the hours themselves: 5 soundings an hour over twelve hours.
    assert len(from_json(Reckoning, result.stdout).soundings) == 60
    assert "The clock of Alder Mill" in run("reckon", sheet).stdout


def test_sound_is_written_with_its_truth(sheet: Path, tmp_path: Path) -> None:
    out, truth = tmp_path / "bench.flac", tmp_path / "truth.json"
    arguments = ("sound", sheet, "--hours", "0.005", "--out", out, "--truth", truth, "--fault", "out-of-beat=120")
    result = run(*arguments, "--seed", "3", "--ppm", "20")
    assert result.exit_code == 0, result.output
    assert json.loads(truth.read_text(encoding="utf-8"))
    import soundfile

    assert soundfile.info(out).duration == pytest.approx(18.0, abs=0.001)
    assert run(*arguments).exit_code == 2
    assert run("sound", sheet, "--out", tmp_path / "x.flac", "--fault", "rust").exit_code == 2


def test_serve_opens_the_pages_as_asked(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    asked: list[Any] = []
    monkeypatch.setattr("quarterjack.web.serve", lambda folder, **rest: asked.append((folder, rest)))
    assert run("serve").exit_code == 0
    assert run("serve", "--folder", tmp_path, "--port", "8001", "--no-browser").exit_code == 0
    assert asked == [(None, {"open_browser": True}), (tmp_path, {"open_browser": False, "port": 8001})]
