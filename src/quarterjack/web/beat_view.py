"""Whether a clock is in beat, in words and as the drawing of the swing, and which way and how far to correct it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from markupsafe import Markup

from quarterjack.errors import QuarterjackError
from quarterjack.horology import beat_correction, usual_geometry
from quarterjack.listening import Going, SidesCalled, Ticks
from quarterjack.proving.going import BEAT_CORRECT, BEAT_GOOD
from quarterjack.web import drawings
from quarterjack.web.pages import figure
from quarterjack.web.spool import Listening


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


def decimals_for(u: float) -> int:
    """How many decimals a value deserves whose standard uncertainty is `u`: one figure of `u`, two if it starts 1."""
    if not u > 0 or not math.isfinite(u):
        return 1
    lead = math.floor(math.log10(u))
    return max(0, min(6, -lead + (1 if u / 10**lead < 2 else 0)))


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
