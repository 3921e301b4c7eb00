"""The chart of seconds gained or lost, drawn for paper: black, thin lines, labelled where they stand."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, MaxNLocator

from quarterjack.paper.gained import Gained, dial_text

_WIDTH_IN = 6.6
_PANEL_IN = 1.25
# Serif letters that travel inside matplotlib's own wheel; paths, so that the page needs no font for them.
_STYLE: dict[Any, Any] = {
    "font.family": "STIXGeneral",
    "font.size": 10.0,
    "svg.fonttype": "path",
    "svg.hashsalt": "quarterjack",
    "axes.linewidth": 0.6,
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
    "xtick.direction": "in",
    "ytick.direction": "in",
    "axes.unicode_minus": True,
}


def draw(curves: Sequence[Gained]) -> bytes:
    """Draw the curves one above the other as one SVG, black on white.

    Parameters
    ----------
    curves : sequence of Gained
        At least one.
    """
    with mpl.rc_context(_STYLE):
        figure = Figure(figsize=(_WIDTH_IN, 0.55 + _PANEL_IN * len(curves)), layout="constrained")
        panels = figure.subplots(len(curves), 1, squeeze=False)[:, 0]
        for panel, curve in zip(panels, curves, strict=True):
            time, gain, low, high = (column.values for column in curve.columns)
            panel.fill_between(time, low, high, color="0.85", linewidth=0)
            panel.axhline(0.0, color="black", linewidth=0.5, dashes=(2, 3))
            panel.plot(time, gain, color="black", linewidth=1.0)
            panel.set_ylabel("seconds gained")
            if len(curves) > 1:
                panel.set_title(curve.title, loc="left", fontsize=10, style="italic")
            for side in ("top", "right"):
                panel.spines[side].set_visible(False)
            panel.margins(x=0.01, y=0.08)
            panel.yaxis.set_major_locator(MaxNLocator(4))
            panel.xaxis.set_major_locator(MaxNLocator(8, steps=[1, 2, 3, 5, 6, 10], integer=bool(np.ptp(time) > 8)))
            if curve.on_dial:
                seconds = bool(np.nanmax(time) - np.nanmin(time) < 8)
                panel.xaxis.set_major_formatter(
                    FuncFormatter(lambda value, _, seconds=seconds: dial_text(value, seconds=seconds))
                )
            panel.set_xlabel("dial time" if curve.on_dial else "minutes from the start of the recording")
        sheet = io.BytesIO()
        figure.savefig(sheet, format="svg", metadata={"Date": None, "Creator": "quarterjack"})
    return sheet.getvalue()
