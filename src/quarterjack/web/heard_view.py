"""What was heard, in the words and the figure that a page shows; the same for the microphone and for a file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from quarterjack.horology import SECONDS_A_DAY
from quarterjack.listening import Going, Heard, SidesCalled, Sounding, sides_from_presses
from quarterjack.paper import printed
from quarterjack.paper.words import length_of_time, plural
from quarterjack.proving.going import RECORDER_LIMIT_S_PER_DAY
from quarterjack.records import to_plain, to_s
from quarterjack.web.beat_view import BeatView, beat_view, decimals_for, presses_words
from quarterjack.web.pages import TEMPLATES, figure
from quarterjack.web.spool import Listening

TOO_QUIET: Final = 10 ** (-66 / 20)

SAID_BY_EAR: Final = frozenset({"silent", "clipped", "samples-lost"})

QUARTER_WORDS: Final = {1: "First quarter", 2: "Second quarter", 3: "Third quarter", 4: "Fourth quarter"}


@dataclass(frozen=True)
class Ear:
    """How the microphone does.

    Parameters
    ----------
    peak : float
        Greatest sample of the last seconds, full scale 1.
    clipped_now : int
        Samples at full scale in the last seconds.
    processing : tuple of str
        What the browser does to the sound although it was asked not to, in words.
    holes : int
        How often sound was lost so far.
    fell_behind : int
        How often the browser put in silence so far, if so often that it must be said.
    """

    peak: float
    clipped_now: int
    processing: tuple[str, ...]
    holes: int
    fell_behind: int = 0


@dataclass(frozen=True)
class HeardView:
    """Everything that `_heard.html` prints."""

    seconds: str
    rate: str | None
    rate_u: str | None
    clock_note: str | None
    beats: int
    beat: BeatView | None
    wrong: tuple[str, ...]
    soundings: tuple[tuple[str, str, str], ...]
    stops: tuple[tuple[str, str], ...]
    sides: SidesCalled
    presses: int
    live: bool
    say: str


def _clock_note(going: Going | None) -> str | None:
    """What an unchecked sound card allows, once the beat is known well enough for it to matter."""
    if going is None or SECONDS_A_DAY * going.beats_per_hour_u / going.beats_per_hour > 10 * RECORDER_LIMIT_S_PER_DAY:
        return None
    limit = f"{RECORDER_LIMIT_S_PER_DAY:.0f}"
    return f"The computer’s or recorder’s own clock has not been checked: that adds ± {limit} s a day."


def what_is_wrong(heard: Heard, ear: Ear | None, seconds: float) -> tuple[str, ...]:
    """Everything about the sound itself that the listener should put right, in words that say what to do."""
    found: list[str] = []
    if ear is not None:
        if ear.processing:
            found.append(
                f"The browser would not switch off its {' and '.join(ear.processing)}: it may swallow ticks. "
                "Switch it off in the system's sound settings, use another browser, or record with a phone."
            )
        if ear.peak == 0 and seconds > 1:
            found.append("No sound at all arrives. Is the microphone switched off, or the wrong one chosen?")
        elif ear.peak < TOO_QUIET and seconds > 1 and heard.going is None:
            found.append("Too quiet. Bring the microphone nearer, or let it touch the case or the seat board.")
        if ear.clipped_now:
            found.append("Too loud: the tops of the sound are cut off. Move the microphone away, or turn it down.")
        if ear.holes:
            times = {1: "once", 2: "twice"}.get(ear.holes, f"{ear.holes} times")
            found.append(f"Sound was lost {times}: the computer could not keep up. Close other programs.")
        if ear.fell_behind:
            found.append(
                f"The browser fell behind {ear.fell_behind} times and put in silence, which was taken out again. The "
                "figures may still suffer: close other programs."
            )
    # While the microphone is open, what it does now counts, not what it did an hour ago.
    found += [remark.text for remark in heard.remarks if ear is None or remark.code not in SAID_BY_EAR]
    return tuple(dict.fromkeys(found))


def sounding_words(heard: Heard, sounding: Sounding) -> tuple[str, str]:
    """A sounding's name, and what was heard in it."""
    blows = heard.blows[sounding.first_blow : sounding.first_blow + sounding.n_blows]
    if sounding.kind == "hour":
        return "Hour", plural(len(blows), "blow")
    if sounding.kind == "half":
        return "Half hour", plural(len(blows), "blow")
    named = all(blow.note for blow in blows)
    notes = [printed(blow.note or "") if named else str(blow.bar) for blow in blows]
    phrases: list[str] = []
    at = 0
    for length in sounding.phrases or (len(notes),):
        phrases.append(" ".join(notes[at : at + length]))
        at += length
    name = QUARTER_WORDS.get(sounding.quarter or 0, "Chime" if sounding.kind == "quarter" else "Strokes")
    return name, ("" if named else "bars ") + ", ".join(phrases)


def view_of(listening: Listening, heard: Heard, *, seconds: float, ear: Ear | None = None) -> HeardView:
    """Put what was heard into words."""
    sides = sides_from_presses(heard.ticks, listening.presses_s)
    going = heard.going
    beat = beat_view(going, sides, listening) if going else None
    rate = rate_u = None
    if going is not None:
        digits = decimals_for(going.beats_per_hour_u)
        rate, rate_u = figure(going.beats_per_hour, digits), figure(going.beats_per_hour_u, digits)
    if going is None and heard.blows:
        say = "Blows are heard, but no steady beat."
    elif going is None:
        say = "No steady beat yet." if listening.state == "reading" else "No steady beat was heard."
    else:
        say = f"{rate} beats an hour. {beat.sentence if beat else ''}"
    return HeardView(
        seconds=length_of_time(seconds, clock=True),
        rate=rate,
        rate_u=rate_u,
        clock_note=_clock_note(going),
        beats=len(heard.ticks),
        beat=beat,
        wrong=what_is_wrong(heard, ear, seconds),
        soundings=tuple(
            (length_of_time(to_s(sounding.from_ns), clock=True), *sounding_words(heard, sounding))
            for sounding in heard.soundings
        ),
        stops=tuple((length_of_time(to_s(stop.t_ns), clock=True), stop.ended) for stop in heard.stops),
        sides=sides,
        presses=len(listening.presses_s),
        live=listening.live and listening.state == "reading",
        say=say,
    )


def live_document(listening: Listening, heard: Heard, *, seconds: float, ear: Ear | None = None) -> dict[str, Any]:
    """What was heard as one document (`quarterjack.listening/1`): the figures, and the page's own piece of text."""
    view = view_of(listening, heard, seconds=seconds, ear=ear)
    return {
        "format": "quarterjack.listening/1",
        "id": listening.id,
        "name": listening.name,
        "state": listening.state,
        "seconds": round(seconds, 3),
        "going": to_plain(heard.going) if heard.going else None,
        "beats": len(heard.ticks),
        "soundings": [to_plain(sounding) for sounding in heard.soundings],
        "right_side": view.sides.right,
        "verdict": view.beat.verdict if view.beat else None,
        "correcting": bool(view.beat and view.beat.how_far),
        "presses": view.presses,
        "presses_say": presses_words(view.sides, listening.presses_s, heard.ticks),
        "wrong": list(view.wrong),
        "say": view.say,
        "more_html": TEMPLATES.env.get_template("_heard_more.html").render(view=view),
        "html": TEMPLATES.env.get_template("_heard.html").render(view=view),
    }
