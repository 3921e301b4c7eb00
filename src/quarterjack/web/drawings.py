"""Thin-line figures as SVG: plain geometry on a field 360 units wide, labelled where things stand.

A figure shows; the numbers beside it are worked out elsewhere. Coordinates are drawing units, y downwards.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from html import escape

from markupsafe import Markup

WIDTH = 360


class Figure:
    """An SVG figure in the making."""

    def __init__(self, height: float, title: str, *, top: float = 0.0) -> None:
        self.height, self.title, self.top = height, title, top
        self.parts: list[str] = []

    def line(self, x1: float, y1: float, x2: float, y2: float, kind: str = "line") -> None:
        """A straight line."""
        self.parts.append(f'<path class="{kind}" d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}"/>')

    def path(self, d: str, kind: str = "line") -> None:
        """Any path."""
        self.parts.append(f'<path class="{kind}" d="{d}"/>')

    def circle(self, x: float, y: float, r: float, kind: str = "line") -> None:
        """A circle."""
        self.parts.append(f'<circle class="{kind}" cx="{x:.1f}" cy="{y:.1f}" r="{r:.1f}"/>')

    def rect(self, x: float, y: float, w: float, h: float, kind: str = "line") -> None:
        """A rectangle."""
        self.parts.append(f'<rect class="{kind}" x="{x:.1f}" y="{y:.1f}" width="{w:.1f}" height="{h:.1f}"/>')

    def text(self, x: float, y: float, words: str, kind: str = "") -> None:
        """A label; `kind` holds "middle" or "end" for where it is anchored."""
        named = f' class="{kind}"' if kind else ""
        self.parts.append(f'<text{named} x="{x:.1f}" y="{y:.1f}">{escape(words)}</text>')

    def measure_across(self, x1: float, x2: float, y: float, words: str) -> None:
        """A dimension line between two end strokes, with its label over the middle."""
        self.line(x1, y, x2, y)
        for x in (x1, x2):
            self.line(x, y - 5, x, y + 5)
        self.text((x1 + x2) / 2, y - 6, words, "middle")

    def measure_down(self, x: float, y1: float, y2: float, words: str) -> None:
        """A dimension line downwards, with its label at the right of the middle."""
        self.line(x, y1, x, y2)
        for y in (y1, y2):
            self.line(x - 5, y, x + 5, y)
        self.text(x + 8, (y1 + y2) / 2 + 5, words)

    def svg(self) -> Markup:
        """The figure as it goes into a page."""
        return Markup(
            f'<svg class="drawing" viewBox="0 {self.top:g} {WIDTH} {self.height:g}" role="img" '
            f'aria-label="{escape(self.title, quote=True)}">{"".join(self.parts)}</svg>'
        )


@dataclass(frozen=True)
class Silence:
    """The silence after one side's tick: what it is called, how long, and its standard uncertainty."""

    name: str
    seconds: float
    u_seconds: float


def swing(left: Silence, right: Silence, title: str) -> Markup:
    """The swing with both sides: where on it the two ticks fall, and how long the silence after each is.

    The silences are drawn to one scale, outwards from rest; the tick moments are drawn where a pendulum that swings
    as far as the one shown would have them, so that their middle stands beside rest as the escapement's does.
    """
    figure = Figure(256, title)
    pivot, rod, swing_rad, middle = (180.0, 12.0), 150.0, math.radians(30), 180.0

    def at(angle: float, length: float = rod) -> tuple[float, float]:
        return pivot[0] + length * math.sin(angle), pivot[1] + length * math.cos(angle)

    for sign in (-1, 1):
        x, y = at(sign * swing_rad)
        figure.line(*pivot, x, y, "faint")
        figure.circle(x, y, 9, "faint")
    x1, y1 = at(-swing_rad)
    x2, y2 = at(swing_rad)
    figure.path(f"M{x1:.1f} {y1:.1f}A{rod:g} {rod:g} 0 0 0 {x2:.1f} {y2:.1f}", "faint")
    figure.line(*pivot, *at(0.0, rod - 9))
    figure.circle(*at(0.0), 9, "line")
    figure.line(pivot[0] - 12, pivot[1], pivot[0] + 12, pivot[1])

    period = left.seconds + right.seconds
    usual = math.asin(0.55)
    shift = math.pi / 2 * (left.seconds - right.seconds) / period
    for phase, name, anchor in ((usual + shift, right.name, ""), (-usual + shift, left.name, "end")):
        angle = swing_rad * math.sin(phase)
        figure.line(*at(angle, rod - 8), *at(angle, rod + 14), "line accent")
        x, y = at(angle, rod + 28)
        figure.text(x + (2 if not anchor else -2), y, name, f"accent {anchor}".strip())

    per_s = 240 / period
    y = 226.0
    figure.line(middle, 180, middle, y + 24, "faint")
    for sign, silence in ((-1, left), (1, right)):
        long = min(172.0, silence.seconds * per_s)
        figure.line(middle, y, middle + sign * long, y)
        figure.line(middle + sign * 120, y - 14, middle + sign * 120, y + 14, "faint")
        if long > 120:
            figure.rect(min(middle + sign * 120, middle + sign * long), y - 3, long - 120, 6, "solid accent")
        doubt = min(20.0, silence.u_seconds * per_s)
        figure.line(middle + sign * long, y - 8, middle + sign * long, y + 8)
        if doubt > 0.4:
            figure.line(middle + sign * (long - doubt), y + 8, middle + sign * (long + doubt), y + 8)
        figure.text(middle + sign * 60, y - 9, f"{silence.seconds:.3f} s", "middle")
        figure.text(middle + sign * 60, y + 22, f"after {silence.name}", "middle soft")
    return figure.svg()


def dial(minutes: tuple[int, ...], title: str) -> Markup:
    """A dial with a hand position for every stop: minute marks round the edge, the stops as strokes from inside."""
    figure = Figure(300, title)
    cx, cy, r = 180.0, 150.0, 118.0
    figure.circle(cx, cy, r)
    figure.circle(cx, cy, 2.5, "solid")

    def at(turn: float, radius: float) -> tuple[float, float]:
        return cx + radius * math.sin(2 * math.pi * turn), cy - radius * math.cos(2 * math.pi * turn)

    for minute in range(60):
        figure.line(*at(minute / 60, r), *at(minute / 60, r - (9 if minute % 5 == 0 else 4)), "line")
    for hour in range(3, 13, 3):
        x, y = at(hour / 12, r - 22)
        figure.text(x, y + 5, str(hour), "middle soft")
    for dial_minute in minutes:
        figure.line(cx, cy, *at(dial_minute % 60 / 60, r - 12), "line accent")
        figure.line(cx, cy, *at(dial_minute / 720, r * 0.5))
    for first, last in _neighbours(sorted({dial_minute % 60 for dial_minute in minutes})):
        x, y = at((first + last) / 120, r + 15)
        words = f"{first:02d}" if first == last else f"{first:02d} to {last:02d}"
        side = "middle" if abs(x - cx) < 40 else "" if x > cx else "end"
        figure.text(x, y + 5, words, f"{side} accent".strip())
    return figure.svg()


def _neighbours(minutes: list[int]) -> list[tuple[int, int]]:
    """Minutes gathered into runs whose labels would run into one another."""
    runs: list[tuple[int, int]] = []
    for minute in minutes:
        if runs and minute - runs[-1][1] <= 4:
            runs[-1] = (runs[-1][0], minute)
        else:
            runs.append((minute, minute))
    return runs
