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
    figure.rect(60, board, 240, 6)
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


def train(teeth: Sequence[int], pinions: Sequence[int], title: str) -> Markup:
    """A train as its pitch circles in mesh, to one scale, the arbors up and down in turn.

    Parameters
    ----------
    teeth : sequence of int
        Teeth of each arbor's wheel, the escape wheel last.
    pinions : sequence of int
        Leaves of each driven arbor's pinion.
    """
    centres = [(0.0, 0.0)]
    for place, leaves in enumerate(pinions):
        apart = (teeth[place] + leaves) / 2
        slope = math.radians(30) * (1 if place % 2 else -1)
        x, y = centres[-1]
        centres.append((x + apart * math.cos(slope), y + apart * math.sin(slope)))
    circles = list(zip(centres, teeth, strict=True))
    left = min(x - count / 2 for (x, _), count in circles)
    right = max(x + count / 2 for (x, _), count in circles)
    top = min(y - count / 2 for (_, y), count in circles)
    bottom = max(y + count / 2 for (_, y), count in circles)
    scale = min((WIDTH - 2 * MARGIN) / (right - left), 240.0 / (bottom - top))
    inset = (WIDTH - scale * (right - left)) / 2
    figure = Figure(scale * (bottom - top) + 2 * MARGIN, title)
    for place, ((x, y), count) in enumerate(circles):
        cx, cy, r = inset + (x - left) * scale, MARGIN + (y - top) * scale, count / 2 * scale
        last = place == len(teeth) - 1
        figure.circle(cx, cy, r, "line accent" if last else "line")
        figure.circle(cx, cy, 1.5, "solid")
        # Teeth stand inside the wheel on the side away from its neighbours, leaves beside the pinion.
        below = place % 2 == 0
        figure.text(cx, cy + (r - 7 if below else 17 - r), str(count), "middle accent" if last else "middle")
        if place:
            leaf = pinions[place - 1] / 2 * scale
            figure.circle(cx, cy, leaf)
            figure.text(cx + leaf + 4, cy + 5, str(pinions[place - 1]), "soft")
    return figure.svg()
