"""How the command line tells an answer to a person: rich on a terminal, plain text anywhere else."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click
from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table
from rich.text import Text

from quarterjack.records import Progress as Tell
from quarterjack.records import to_s

if TYPE_CHECKING:
    from quarterjack.listening import Heard
    from quarterjack.listening.heard import Sounding
    from quarterjack.proving.proved import Proof, ProvedGoing, ProvedSounding

# Nobody's terminal is there to ask when text goes to a file: wide enough that a quarter's notes stand on one line.
_WIDTH_OF_A_FILE = 120
_LONGEST_LINE = 110


@contextmanager
def telling_progress(what: str) -> Iterator[Tell | None]:
    """Show on standard error how far something is, if a person watches; give None otherwise."""
    console = Console(stderr=True)
    if not console.is_terminal:
        yield None
        return
    columns = (TextColumn("{task.description}"), BarColumn(), TextColumn("{task.fields[doing]}"), TimeRemainingColumn())
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task(what, total=1.0, doing="")

        def tell(fraction: float, doing: str) -> None:
            bar.update(task, completed=fraction, doing=doing)

        yield tell


@contextmanager
def _page() -> Iterator[Console]:
    """A console whose text goes to standard output at the end, without the spaces that fill up a table's cells."""
    is_terminal = sys.stdout.isatty()
    console = Console(highlight=False, markup=False, emoji=False, width=None if is_terminal else _WIDTH_OF_A_FILE)
    with console.capture() as captured:
        yield console
    click.echo("\n".join(line.rstrip() for line in captured.get().splitlines()))


def _clock_face(ns: int) -> str:
    """A place in a recording as h:mm:ss.s, without the hours where there are none."""
    minutes, seconds = divmod(round(to_s(ns), 1), 60)
    hours, minutes = divmod(int(minutes), 60)
    return f"{hours}:{minutes:02d}:{seconds:04.1f}" if hours else f"{minutes}:{seconds:04.1f}"


def _rows(rows: Sequence[Sequence[str]], headings: Sequence[str] = ()) -> RenderableType:
    table = Table(box=None, pad_edge=False, padding=(0, 3, 0, 0), show_header=bool(headings), header_style="italic")
    for number in range(max(map(len, [*rows, headings]))):
        table.add_column(headings[number] if headings else "", no_wrap=number == 0)
    for row in rows:
        table.add_row(*(Text(cell) for cell in row))
    return Padding(table, (0, 0, 0, 2))


def _section(console: Console, title: str, body: RenderableType | None) -> None:
    console.print()
    console.print(Text(title, style="bold"))
    if body is not None:
        console.print(body)


def _count(number: int, one: str, many: str | None = None) -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"


# --- what was heard --------------------------------------------------------------------------------------------------


def print_heard(heard: Heard) -> None:
    """Tell what one recording let hear."""
    with _page() as console:
        _heard(console, heard)


def _heard(console: Console, heard: Heard) -> None:
    facts = heard.recording
    console.print(Text(facts.file, style="bold"))
    parts = [f"{facts.seconds:.1f} s", f"{facts.sample_rate_hz} Hz", _count(facts.channels, "channel")]
    if facts.channels > 1:
        parts.append(f"channel {facts.channel} was listened to")
    if facts.started_utc:
        parts.append(f"begun {facts.started_utc} (UTC)")
    console.print("  " + ", ".join(parts))
    for remark in heard.remarks:
        console.print(Padding(Text(f"{remark.text} [{remark.code}]"), (0, 0, 0, 2)), width=_LONGEST_LINE)

    _section(console, "Beat", _rows(_going_heard(heard)))
    if heard.soundings:
        rows = [(_clock_face(s.from_ns), _name_of_heard(s), _notes_of_heard(heard, s)) for s in heard.soundings]
        _section(console, "Soundings", _rows(rows, ("at", "heard as", "notes, or numbers of bars")))
    elif heard.blows:
        _section(console, "Blows", _rows([(_count(len(heard.blows), "blow"), "none that belongs to a sounding")]))
    else:
        _section(console, "Soundings", _rows([("none heard",)]))
    notes = [
        (_clock_face(gap.from_ns), f"gap of {to_s(gap.to_ns - gap.from_ns):.2f} s: no sound was recorded")
        for gap in facts.gaps
    ]
    notes += [(_clock_face(stop.t_ns), f"the clock stopped: {_how_it_stopped(stop.ended)}") for stop in heard.stops]
    notes += [
        ("", f"the record repeats itself every {r.period_s:.3f} s (likeness {r.correlation:.2f}): it is a loop")
        for r in heard.repeats
    ]
    if facts.clipped_samples:
        notes.append(("", f"{_count(facts.clipped_samples, 'sample')} clipped: the recording is too loud there"))
    if notes:
        _section(console, "Worth knowing", _rows(notes))


def _going_heard(heard: Heard) -> list[tuple[str, ...]]:
    going = heard.going
    if going is None:
        return [(_count(len(heard.ticks), "tick"), "no beat can be given")]
    rows = [
        (
            "Beats an hour",
            f"{going.beats_per_hour:.1f}",
            f"standard uncertainty {going.beats_per_hour_u:.1f}, from {_count(going.beats, 'tick')}",
        )
    ]
    return rows + _difference(going.beat_difference_ms, going.beat_difference_u_ms, going.long_side)


def _difference(ms: float | None, u_ms: float | None, long_side: str | None) -> list[tuple[str, ...]]:
    if ms is None:
        return []
    doubt = "" if u_ms is None else f"standard uncertainty {u_ms:.1f}"
    side = "" if long_side is None else f"the longer silence follows side {long_side}"
    return [("Beat difference", f"{ms:.1f} ms", ", ".join(filter(None, (doubt, side))))]


def _how_it_stopped(ended: str) -> str:
    words = {
        "cut off": "cut off (the train stood, the bob swings on)",
        "died away": "died away (the swing failed)",
    }
    return words.get(ended, ended)


def _name_of_heard(sounding: Sounding) -> str:
    if sounding.kind == "quarter":
        which = "a chime" if sounding.quarter is None else f"quarter {sounding.quarter}"
        return which if sounding.tune is None else f"{which}, {sounding.tune}"
    if sounding.kind in {"hour", "half"}:
        return f"{sounding.kind}, {_count(sounding.n_blows, 'blow')}"
    return _count(sounding.n_blows, "blow")


def _notes_of_heard(heard: Heard, sounding: Sounding) -> str:
    blows = heard.blows[sounding.first_blow : sounding.first_blow + sounding.n_blows]
    return _by_phrase([blow.note or str(blow.bar) for blow in blows], sounding.phrases)


# --- the verdict -----------------------------------------------------------------------------------------------------


def print_proof(proof: Proof) -> None:
    """Tell a verdict: findings first, then what they rest on."""
    with _page() as console:
        _proof(console, proof)


def _proof(console: Console, proof: Proof) -> None:
    console.print(Text(f"{proof.clock}: {proof.verdict.upper()}", style="bold"))
    console.print(f"  {proof.mode}, from {_count(len(proof.recordings), 'recording')}")
    if proof.findings:
        _section(console, "Findings", None)
        for number, finding in enumerate(proof.findings, 1):
            row = Table(box=None, pad_edge=False, show_header=False, padding=(0, 1, 0, 0))
            row.add_row(f"{number}.", Text(finding.text))
            console.print(Padding(row, (0, 0, 0, 2)), width=_LONGEST_LINE)
    if proof.going is not None:
        _section(console, "Going", _rows(_going_proved(proof.going)))
    if proof.soundings:
        several = len(proof.recordings) > 1
        _section(console, "Soundings", _rows([_sounding_proved(s, several) for s in proof.soundings], _HEADINGS))
    if proof.stops:
        rows = [
            (_clock_face(stop.t_ns), stop.dial or "dial time not known", _how_it_stopped(stop.ended))
            for stop in proof.stops
        ]
        _section(console, "Stops", _rows(rows))


_HEADINGS = ("at", "dial", "sounding", "expected", "heard", "verdict")


def _going_proved(going: ProvedGoing) -> list[tuple[str, ...]]:
    expected = "" if going.expected_beats_per_hour is None else f"the sheet gives {going.expected_beats_per_hour:.1f}"
    rows: list[tuple[str, ...]] = [("Beats an hour", f"{going.beats_per_hour:.2f}", expected)]
    if going.rate_s_per_day is not None:
        doubt = "" if going.rate_u_s_per_day is None else f"standard uncertainty {going.rate_u_s_per_day:.1f}"
        rows.append(
            ("Rate", f"{going.rate_s_per_day:+.1f} s a day", ", ".join(filter(None, (doubt, going.limited_by))))
        )
    rows += _difference(going.beat_difference_ms, going.beat_difference_u_ms, going.long_side)
    return [*rows, ("Heard", f"{going.heard_fraction:.1%}", "of the beats of the time recorded")]


def _sounding_proved(sounding: ProvedSounding, several: bool) -> tuple[str, ...]:
    at = _clock_face(sounding.t_ns)
    kind = f"quarter {sounding.quarter}" if sounding.kind == "quarter" and sounding.quarter else sounding.kind
    verdict = sounding.verdict if sounding.verdict == "right" else f"{sounding.verdict}: {sounding.why}"
    return (
        f"{sounding.recording + 1}, {at}" if several else at,
        sounding.dial or "?",
        kind,
        _told(sounding.notes_expected, sounding.blows_expected, sounding.phrases_expected),
        _told(sounding.notes_heard, sounding.blows_heard),
        verdict,
    )


def _told(notes: tuple[str, ...] | None, blows: int | None, phrases: tuple[int, ...] | None = None) -> str:
    if blows is not None:
        return _count(blows, "blow")
    return "-" if notes is None else _by_phrase(notes, phrases) or "nothing"


def _by_phrase(notes: Sequence[str], phrases: Sequence[int] | None) -> str:
    """Notes with a stroke between phrases."""
    said, at = [], 0
    for length in phrases or (len(notes),):
        said.append(" ".join(notes[at : at + length]))
        at += length
    return " / ".join(said)
