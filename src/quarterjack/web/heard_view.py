"""What was heard, in the words and the figure that a page shows; the same for the microphone and for a file."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

from markupsafe import Markup

from quarterjack.errors import QuarterjackError
from quarterjack.horology import SECONDS_A_DAY, beat_correction, usual_geometry
from quarterjack.listening import Going, Heard, SidesCalled, Sounding, Ticks, sides_from_presses
from quarterjack.paper import printed
from quarterjack.paper.words import length_of_time, plural
from quarterjack.proving.going import BEAT_CORRECT, BEAT_GOOD, RECORDER_LIMIT_S_PER_DAY
from quarterjack.records import to_plain, to_s
from quarterjack.web import drawings
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
class BeatView:
    """Whether the clock is in beat: a word for the verdict, the sentence, the figure, and which way to correct."""

    verdict: str
    sentence: str
    drawing: Markup
    share: str
    known: bool
    do: str | None
    how_far: tuple[str, ...]


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


def decimals_for(u: float) -> int:
    """How many decimals a value deserves whose standard uncertainty is `u`: one figure of `u`, two if it starts 1."""
    if not u > 0 or not math.isfinite(u):
        return 1
    lead = math.floor(math.log10(u))
    return max(0, min(6, -lead + (1 if u / 10**lead < 2 else 0)))


def _clock_note(going: Going | None) -> str | None:
    """What an unchecked sound card allows, once the beat is known well enough for it to matter."""
    if going is None or SECONDS_A_DAY * going.beats_per_hour_u / going.beats_per_hour > 10 * RECORDER_LIMIT_S_PER_DAY:
        return None
    limit = f"{RECORDER_LIMIT_S_PER_DAY:.0f}"
    return f"The computer’s or recorder’s own clock has not been checked: that adds ± {limit} s a day."


def beat_view(going: Going, sides: SidesCalled, listening: Listening) -> BeatView | None:
    """Say whether the two silences are equal, and which way to correct them once the sides are known."""
    if going.beat_difference_ms is None or going.beat_difference_u_ms is None:
        return None
    beat_ms = 3_600_000 / going.beats_per_hour
    difference, u = going.beat_difference_ms, going.beat_difference_u_ms
    share = difference / beat_ms
    long_side = going.long_side or "a"
    half = difference / 2000
    silence = {side: beat_ms / 1000 + (half if side == long_side else -half) for side in ("a", "b")}
    right = sides.right
    named = {"a": "a", "b": "b"} if right is None else {right: "right", "a" if right == "b" else "b": "left"}
    places = ("a", "b") if right is None else tuple(sorted(named, key=lambda side: named[side]))
    left_figure, right_figure = (drawings.Silence(_tick_name(named[side]), silence[side], u / 2000) for side in places)
    digits = decimals_for(u)
    amount = f"{figure(difference, digits)} ± {figure(u, digits)} ms"
    doubt = 2 * u / beat_ms
    if doubt > BEAT_CORRECT / 2 and share - doubt <= BEAT_CORRECT and share + doubt > BEAT_GOOD:
        verdict, sentence = "unsure", f"Still too uncertain to call: the two silences differ by {amount}."
    elif share > BEAT_CORRECT:
        verdict, sentence = "out", f"Out of beat: the two silences differ by {amount}."
    elif share > BEAT_GOOD:
        verdict, sentence = "nearly", f"Nearly in beat: the two silences differ by {amount}."
    else:
        verdict, sentence = "in", f"In beat: the two silences differ by {amount} only."
    title = (
        f"The swing: {left_figure.seconds:.3f} seconds of silence after {left_figure.name}, "
        f"{right_figure.seconds:.3f} after {right_figure.name}."
    )
    drawing = drawings.swing(left_figure, right_figure, title)
    do: str | None = None
    how_far: tuple[str, ...] = ()
    if verdict in ("out", "nearly"):
        do, how_far = correction(going, named[long_side] if right is not None else None, listening)
        if do and verdict == "nearly":
            do = f"It could be finer. {do}"
    good, correct = f"{100 * BEAT_GOOD:.0f} %", f"{100 * BEAT_CORRECT:.0f} %"
    words = (
        f"That is {figure(100 * share, 1)} % of a beat; under {good} is good, over {correct} wants correcting "
        "(common practice)."
    )
    return BeatView(verdict, sentence, drawing, words, right is not None, do, how_far)


def correction(going: Going, side: str | None, listening: Listening) -> tuple[str | None, tuple[str, ...]]:
    """Say which foot to raise or which way to bend the crutch, and the range in millimetres."""
    do = None if side is None else f"Raise the {side} foot of the case, or bend the crutch to the {side}."
    crutch, feet = listening.crutch_m, listening.feet_m
    try:
        found = beat_correction(
            going.beats_per_hour,
            (going.beat_difference_ms or 0.0) / 1000,
            long_side=side,
            crutch_m=None if crutch is None else (crutch, crutch),
            feet_m=None if feet is None else (feet, feet),
        )
    except QuarterjackError as error:
        return do, (str(error),)
    usual = usual_geometry(going.beats_per_hour)
    taken = [
        f"a swing of {_range(usual.swing_deg, 1, 1)} degrees each side and release at {_range(usual.release_deg, 1, 1)}"
    ]
    if crutch is None:
        taken.append(f"a crutch of {_range(usual.crutch_m, 1000, 0)} mm")
    if feet is None:
        taken.append(f"feet {_range(usual.feet_m, 1000, 0)} mm apart")
    return do, (
        f"At the crutch: its lower end moves {mm_range(found.crutch_m)}.",
        f"At the foot: {mm_range(found.foot_m)} of packing.",
        f"Reckoned with what is usual for these beats: {', '.join(taken)}.",
    )


def mm_range(metres: tuple[float, float]) -> str:
    """A range of metres as millimetres."""
    low, high = (1000 * value for value in metres)
    digits = 0 if high >= 20 else 1 if high >= 2 else 2
    return f"{low:.{digits}f} to {high:.{digits}f} mm"


def _range(ends: tuple[float, float], scale: float, digits: int) -> str:
    return f"{ends[0] * scale:.{digits}f} to {ends[1] * scale:.{digits}f}"


def _tick_name(name: str) -> str:
    return f"{name} tick" if name in ("left", "right") else f"tick {name}"


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
    notes = [printed(blow.note) if blow.note else f"bar {blow.bar}" for blow in blows]
    phrases: list[str] = []
    at = 0
    for length in sounding.phrases or (len(notes),):
        phrases.append(" ".join(notes[at : at + length]))
        at += length
    name = QUARTER_WORDS.get(sounding.quarter or 0, "Chime" if sounding.kind == "quarter" else "Strokes")
    return name, ", ".join(phrases)


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


def presses_words(sides: SidesCalled, presses_s: list[float], ticks: Ticks) -> str:
    """What the presses have come to, in words."""
    if not presses_s:
        return ""
    pressed = "Pressed once" if len(presses_s) == 1 else f"Pressed {len(presses_s)} times"
    if not sides.counted:
        # Ticks are told with some seconds' delay, since they are timed against others that come after them.
        waits = not len(ticks) or presses_s[-1] > ticks.t_s[-1]
        return (
            f"{pressed}. Waiting for the ticks."
            if waits
            else f"{pressed}, but no tick was heard beside it. Press again."
        )
    if sides.right is None:
        return f"{pressed}; the presses do not agree yet. Press when the bob stands still at its right end."
    firm = "Press a few times more to be sure." if sides.counted < 3 else "They agree."
    return f"{pressed}: the sides are named. {firm}"


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
