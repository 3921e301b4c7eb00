"""What do I type? The command `quarterjack`: thin, and quick to help, since a room is imported only when it is needed.

Answers go to standard output, alone; progress, warnings and refusals to standard error. With `--json` the answer is one
document, and so is a refusal (`quarterjack.error/1`).
"""

from __future__ import annotations

import sys
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from quarterjack import __version__
from quarterjack.errors import (
    EXIT_ALL_RIGHT,
    EXIT_CLOCK_AT_FAULT,
    EXIT_INPUT_UNUSABLE,
    EXIT_INTERNAL,
    EXIT_STOPPED_BY_USER,
    EXIT_TOO_LITTLE_HEARD,
    FileExists,
    QuarterjackError,
    error_document,
)

if TYPE_CHECKING:
    from quarterjack.listening import Heard, Hints

# A verdict that a later version may add is no reason to call the clock right.
EXIT_OF_VERDICT = {
    "right": EXIT_ALL_RIGHT,
    "wrong": EXIT_CLOCK_AT_FAULT,
    "too little heard": EXIT_TOO_LITTLE_HEARD,
}
AS_GIVEN = click.Path(path_type=Path)


class _Group(click.Group):
    """A group whose every failure has one shape and one exit code."""

    def main(self, args: Sequence[str] | None = None, *rest: Any, **extra: Any) -> Any:
        given = list(sys.argv[1:] if args is None else args)
        as_json = "--json" in given
        try:
            code = super().main(given, *rest, **{**extra, "standalone_mode": False})
            code = code if isinstance(code, int) else EXIT_ALL_RIGHT
        except QuarterjackError as error:
            code = _refuse(error.document(), error.exit_code, as_json)
        except click.UsageError as error:
            if not as_json:
                error.show()
            code = _refuse(error_document("usage", error.format_message()), EXIT_INPUT_UNUSABLE, as_json, said=True)
        except (click.Abort, KeyboardInterrupt):
            text = "Stopped; what was finished is kept."
            code = _refuse(error_document("stopped-by-user", text), EXIT_STOPPED_BY_USER, as_json)
        except OSError as error:
            code = _refuse(error_document("file-unusable", _os_error(error)), EXIT_INPUT_UNUSABLE, as_json)
        except Exception as error:
            traceback.print_exc()
            text = f"Something broke in quarterjack itself: {type(error).__name__}: {error}"
            code = _refuse(error_document("internal", text), EXIT_INTERNAL, as_json)
        sys.exit(code)


def _os_error(error: OSError) -> str:
    """The system's own refusal in one line, naming the file."""
    return f"{error.filename}: {error.strerror}." if error.filename and error.strerror else str(error)


def _refuse(document: dict[str, Any], code: int, as_json: bool, *, said: bool = False) -> int:
    """Say why nothing came of it; return the exit code."""
    if as_json:
        _print_json(document)
    elif not said:
        click.echo(document["message"], err=True)
    return code


def _print_json(value: object) -> None:
    """Write one document on standard output; a noun as its own format says."""
    if isinstance(value, dict):
        import json

        click.echo(json.dumps(value, ensure_ascii=False, indent=2))
    else:
        from quarterjack.records import to_json

        click.echo(to_json(value))


def _json_option(command: Callable[..., Any]) -> Callable[..., Any]:
    return click.option("--json", "as_json", is_flag=True, help="Print one JSON document instead of text.")(command)


def _not_there_yet(path: Path) -> None:
    """Refuse to write over a file."""
    if path.exists():
        raise FileExists(f"{path} is already there and is left as it is; name another file.", path=path)


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="quarterjack")
def main() -> None:
    """Say what a clock should do, hear what it does, and why the two differ.

    Exit codes: 0 all right; 1 the clock has a fault; 2 the input cannot be used; 3 too little was heard to say;
    70 internal error; 130 stopped by the user.
    """


@main.command()
@click.argument("recording", type=AS_GIVEN)
@click.option("--sheet", type=AS_GIVEN, help="The clock's sheet, so that its bars and its beat are known beforehand.")
@_json_option
def hear(recording: Path, sheet: Path | None, as_json: bool) -> int:
    """Hear RECORDING: beat, chimes, hours and stops from sound alone.

    Any length and any common kind of sound or video file will do. A sheet is not needed.
    """
    from quarterjack.cli_text import print_heard
    from quarterjack.listening import NO_HINTS

    hints = NO_HINTS
    if sheet is not None:
        from quarterjack.proving import hints_for
        from quarterjack.reckoning import reckon
        from quarterjack.sheet import read_sheet

        hints = hints_for(reckon(read_sheet(sheet)))
    heard = _hear_all([recording], hints)[0]
    if as_json:
        _print_json(heard)
    else:
        print_heard(heard)
    return EXIT_ALL_RIGHT if len(heard.ticks) or heard.blows else EXIT_TOO_LITTLE_HEARD


def _hear_all(recordings: Sequence[Path], hints: Hints) -> list[Heard]:
    """Hear one recording after another, telling how far it is on a terminal."""
    from quarterjack.cli_text import telling_progress
    from quarterjack.listening import hear as listen

    heard = []
    for path in recordings:
        with telling_progress(f"Hearing {path.name}") as progress:
            heard.append(listen(path, hints, progress=progress))
    return heard


@main.command()
@click.argument("sheet", type=AS_GIVEN)
@click.argument("recordings", type=AS_GIVEN, nargs=-1, required=True, metavar="RECORDING...")
@click.option(
    "--mode",
    type=click.Choice(["on-time", "round-the-dial", "by-hand"]),
    default="on-time",
    show_default=True,
    help="on-time: everything is judged against the dial. round-the-dial: order and count, while the hands are led "
    "by hand. by-hand: the sequence only.",
)
@click.option(
    "--dial-start",
    "dial_starts",
    multiple=True,
    metavar="H:MM",
    help="What the hands say when the recording begins. Once for each recording, in the same order; - where unknown.",
)
@click.option("--pdf", type=AS_GIVEN, help="Also write the bench proof, a document to keep.")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Paper of the PDF.")
@_json_option
def prove(
    *,
    sheet: Path,
    recordings: tuple[Path, ...],
    mode: str,
    dial_starts: tuple[str, ...],
    pdf: Path | None,
    paper: str,
    as_json: bool,
) -> int:
    """Say whether what RECORDINGs let hear is what SHEET calls for.

    Several recordings of one clock make one proof.
    """
    if dial_starts and len(dial_starts) != len(recordings):
        raise click.UsageError(
            f"--dial-start was given {len(dial_starts)} times for {len(recordings)} recordings; give it once for each "
            "(- where unknown), or not at all."
        )
    if pdf is not None:
        _not_there_yet(pdf)
    from quarterjack.cli_text import print_proof
    from quarterjack.proving import hints_for
    from quarterjack.proving import prove as judge
    from quarterjack.reckoning import reckon as work_out
    from quarterjack.sheet import read_sheet

    reckoning = work_out(read_sheet(sheet))
    heard = _hear_all(recordings, hints_for(reckoning))
    starts = [None if text == "-" else text for text in dial_starts] or None
    proof = judge(reckoning, heard, mode=mode, dial_starts=starts)
    if pdf is not None:
        from quarterjack.paper import bench_proof

        pdf.write_bytes(bench_proof(proof, heard=heard, paper=paper))
        click.echo(f"The bench proof is in {pdf}.", err=True)
    if as_json:
        _print_json(proof)
    else:
        print_proof(proof)
    return EXIT_OF_VERDICT.get(proof.verdict, EXIT_TOO_LITTLE_HEARD)


@main.command()
@click.argument("kind")
@click.argument("file", type=AS_GIVEN)
def new(kind: str, file: Path) -> None:
    """Write a commented starter sheet for a clock of KIND into FILE.

    KIND is floor-clock (three trains, quarters and hours), hour-striker (eight days, two trains, strikes the hours) or
    regulator (one train, no strike).
    """
    _not_there_yet(file)
    from quarterjack.sheet import starter

    text = starter(kind)
    file.write_text(text, encoding="utf-8")
    click.echo(f"{file} is written. Change what is not so, delete what is not known, then: quarterjack check {file}")


@main.command()
@click.argument("sheet", type=AS_GIVEN)
@_json_option
def check(sheet: Path, as_json: bool) -> None:
    """List all faults of SHEET together, each with its line and key."""
    from quarterjack.sheet import read_sheet

    movement = read_sheet(sheet)
    if as_json:
        _print_json({"format": "quarterjack.check/1", "file": str(sheet), "clock": movement.name, "faults": []})
    else:
        click.echo(f"{sheet}: no fault found ({movement.name}).")


@main.command()
@click.argument("sheet", type=AS_GIVEN)
@_json_option
def reckon(sheet: Path, as_json: bool) -> None:
    """Say what the clock of SHEET must do, and what cannot be said yet."""
    from quarterjack.reckoning import readable
    from quarterjack.reckoning import reckon as work_out
    from quarterjack.sheet import read_sheet

    reckoning = work_out(read_sheet(sheet))
    if as_json:
        _print_json(reckoning)
    else:
        click.echo(readable(reckoning))


@main.command()
@click.argument("sheet", type=AS_GIVEN)
@click.option("--hours", type=click.FloatRange(min=0, min_open=True), default=1.0, show_default=True, help="How long.")
@click.option("--out", type=AS_GIVEN, required=True, help="The sound file to write, for example bench.flac.")
@click.option("--truth", type=AS_GIVEN, help="Also write what really happens in it, as JSON.")
@click.option("--dial-start", default="12:00", show_default=True, metavar="H:MM", help="What the hands say at first.")
@click.option("--fault", "faults", multiple=True, metavar="FAULT", help="Break the clock; may be given several times.")
@click.option("--seed", type=int, default=1, show_default=True, help="The same seed gives the same samples.")
@click.option("--ppm", type=float, default=0.0, show_default=True, help="How fast the recorder's own clock runs.")
def sound(
    *,
    sheet: Path,
    hours: float,
    out: Path,
    truth: Path | None,
    dial_start: str,
    faults: tuple[str, ...],
    seed: int,
    ppm: float,
) -> None:
    """Play the clock of SHEET into a sound file, healthy or broken.

    FAULT is out-of-beat or out-of-beat=120 (milliseconds), dead-hammer=3 (its number), barrel-one-phrase-out, or
    stop=12:13 (dial time, or seconds from the start; stop="12:13,died away" where the swing fails slowly).
    """
    from quarterjack.cli_text import telling_progress
    from quarterjack.reckoning import reckon as work_out
    from quarterjack.sheet import read_sheet
    from quarterjack.simulate import Simulation, write_sound

    reckoning = work_out(read_sheet(sheet))
    simulation = Simulation(reckoning, hours=hours, dial_start=dial_start, seed=seed, faults=faults, ppm=ppm)
    with telling_progress(f"Playing {reckoning.clock}") as progress:
        write_sound(simulation, out, truth, progress)
    click.echo(f"{out} is written." if truth is None else f"{out} is written, and what happens in it in {truth}.")


@main.command()
@click.option("--folder", type=AS_GIVEN, help="The bench folder, one folder a clock.  [default: quarterjack, at home]")
@click.option("--port", type=click.IntRange(0, 65535), help="If it is taken, a free one is used and named.")
@click.option("--no-browser", is_flag=True, help="Do not open the first page in the browser.")
def serve(folder: Path | None, port: int | None, no_browser: bool) -> None:
    """Open the pages, on this computer's own address only."""
    from quarterjack.web import serve as serve_pages

    port_given = {} if port is None else {"port": port}
    serve_pages(folder, open_browser=not no_browser, **port_given)
