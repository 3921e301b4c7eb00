"""Figures of the second door: a pendulum, a train, a line with its weight."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from markupsafe import Markup

from quarterjack.web.drawings import WIDTH, Figure

MARGIN: Final = 8.0


def pendulum(length_words: str, title: str) -> Markup:
    """A theoretical pendulum with its length, from where it bends to the middle of its swing's weight."""
    figure = Figure(244, title)
    x, top, bottom = 150.0, 16.0, 210.0
    figure.line(x - 26, top, x + 26, top)
    figure.line(x, top, x, bottom - 15)
    figure.circle(x, bottom, 15)
    figure.circle(x, bottom, 1.5, "solid")
    figure.line(x + 32, top, x + 92, top, "faint")
    figure.line(x + 20, bottom, x + 92, bottom, "faint")
    figure.measure_down(x + 84, top, bottom, length_words)
    figure.text(x - 34, top + 5, "bends here", "end soft")
    return figure.svg()


def line(falls: int, drop_words: str, fall_words: str, title: str) -> Markup:
    """A barrel over a seat board, the line with or without a pulley, and the weight wound up and run down."""
    figure = Figure(330, title)
    board, barrel_x, barrel_y, r = 92.0, 130.0, 52.0, 30.0
    figure.circle(barrel_x, barrel_y, r)
    figure.circle(barrel_x, barrel_y, 2, "solid")
    figure.text(barrel_x, barrel_y - r - 8, "barrel", "middle soft")
    figure.line(60, board, 118, board)
    figure.line(60, board + 6, 300, board + 6)
    figure.line(126, board, 300, board)
    figure.line(60, board, 60, board + 6)
    figure.line(300, board, 300, board + 6)
    figure.text(304, board + 8, "seat", "soft")
    figure.text(304, board + 23, "board", "soft")
    left = barrel_x + r
    up, down = 142.0, 262.0
    pulley = 14.0 if falls > 1 else 0.0
    for y, kind in ((up, "line"), (down, "faint")):
        x = left + pulley
        start = barrel_y if kind == "line" else up
        figure.line(left, start, left, y, kind)
        if pulley:
            figure.line(left + 2 * pulley, board if kind == "line" else up, left + 2 * pulley, y, kind)
            figure.circle(x, y, pulley, kind)
        top = y + pulley
        figure.line(x, top, x, top + 6, kind)
        figure.rect(x - 11, top + 6, 22, 40, kind)
    x = left + pulley
    figure.measure_down(x + 38, board + 6, up, drop_words)
    figure.measure_down(x + 38, up, down, fall_words)
    figure.text(x - 24 - pulley, board + 34, "wound up", "end soft")
    figure.text(x - 24 - pulley, down + 30, "run down", "end soft")
    return figure.svg()


def train(teeth: Sequence[int], pinions: Sequence[int], turns: Sequence[str], title: str) -> Markup:
    """A train as its pitch circles in mesh, to one scale, the arbors up and down in turn.

    Parameters
    ----------
    teeth : sequence of int
        Teeth of each arbor's wheel, the escape wheel last.
    pinions : sequence of int
        Leaves of each driven arbor's pinion.
    turns : sequence of str
        Time of one turn of each arbor, in words.
    """
    centres = [(0.0, 0.0)]
    for place, leaves in enumerate(pinions):
        apart = (teeth[place] + leaves) / 2
        slope = math.radians(38) * (1 if place % 2 else -1)
        x, y = centres[-1]
        centres.append((x + apart * math.cos(slope), y + apart * math.sin(slope)))
    left = min(x - count / 2 for (x, _), count in zip(centres, teeth, strict=True))
    right = max(x + count / 2 for (x, _), count in zip(centres, teeth, strict=True))
    top = min(y - count / 2 for (_, y), count in zip(centres, teeth, strict=True))
    bottom = max(y + count / 2 for (_, y), count in zip(centres, teeth, strict=True))
    scale = min((WIDTH - 2 * MARGIN) / (right - left), 220.0 / (bottom - top))
    inset = (WIDTH - scale * (right - left)) / 2
    height = scale * (bottom - top) + 2 * MARGIN
    figure = Figure(height + 20 * len(teeth) + 8, title)
    for place, ((x, y), count) in enumerate(zip(centres, teeth, strict=True)):
        cx, cy = inset + (x - left) * scale, MARGIN + (y - top) * scale
        last = place == len(teeth) - 1
        figure.circle(cx, cy, count / 2 * scale, "line accent" if last else "line")
        if place:
            figure.circle(cx, cy, pinions[place - 1] / 2 * scale)
        figure.circle(cx, cy, 1.5, "solid")
        figure.text(cx, cy - 5, str(place + 1), "middle")
        pinion = f"pinion {pinions[place - 1]}, " if place else ""
        wheel = f"escape wheel {count}" if last else f"wheel {count}"
        line_y = height + 20 * (place + 1)
        figure.text(inset + 4, line_y, f"{place + 1}")
        figure.text(inset + 24, line_y, f"{pinion}{wheel}", "soft")
        figure.text(WIDTH - inset - 4, line_y, f"a turn in {turns[place]}", "end soft")
    return figure.svg()
