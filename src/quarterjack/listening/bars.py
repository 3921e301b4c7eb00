"""Which strokes fell on one bar: grouping by what each set ringing.

A stroke's portrait lays the lines it set going on one grid of frequencies, compressed so that the many faint partials
of a bar count beside the few strong ones. Strokes whose portraits point one way are one bar. No pitch is computed: the
partials of bars, rods and gongs stand in no harmonic order.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.cluster.hierarchy import fcluster, linkage
from scipy.spatial.distance import squareform

from quarterjack.listening.partials import Lines
from quarterjack.listening.ringing import HIGHEST_HZ, LOWEST_HZ

_CELL_HZ = 3.0
_CELL_SHARE = 0.003
_WIDTH_CELLS = 4.0 / 3.0
_LEAST_ALIKE, _MOST_ALIKE = 0.42, 0.62
"""Between these the cut between "one bar" and "two bars" is sought: where the joins leave the widest gap."""
_TAKEN_IN, _TAKEN_IN_MARGIN = 0.36, 0.15
_LEARN_FROM = 240
_ROUNDS = 3

Portrait = NDArray[np.float32]


def _grid() -> NDArray[np.float64]:
    """Middles of the cells: 3 Hz wide below 1 kHz, 0.3 % above."""
    low = np.arange(LOWEST_HZ, 1000.0, _CELL_HZ)
    steps = int(np.log(HIGHEST_HZ / 1000.0) / np.log1p(_CELL_SHARE)) + 1
    return np.concatenate([low, 1000.0 * (1.0 + _CELL_SHARE) ** np.arange(steps)])


GRID_HZ = _grid()


def _laid_out(hz: NDArray[np.float64], weight: NDArray[np.float64]) -> Portrait:
    """Lines as bumps of a cell's width on the grid, scaled to length 1 (all zeros where there is no line)."""
    portrait = np.zeros(GRID_HZ.size)
    if hz.size:
        width = _WIDTH_CELLS * np.maximum(_CELL_HZ, _CELL_SHARE * hz)
        portrait = weight @ np.exp(-(((hz[:, None] - GRID_HZ) / width[:, None]) ** 2))
    length = np.sqrt(portrait @ portrait)
    scaled: Portrait = (portrait / length if length > 0.0 else portrait).astype(np.float32)
    return scaled


def portrait(lines: Lines) -> Portrait:
    """Lay out what a stroke set ringing: lines count by being new and by having risen."""
    return _laid_out(lines.hz, lines.struck)


def given_portrait(partials_hz: Sequence[float]) -> Portrait:
    """Lay out a bar of which only the frequencies of its partials are known; all count alike."""
    hz = np.array([one for one in partials_hz if LOWEST_HZ <= one <= HIGHEST_HZ])
    return _laid_out(hz, np.ones(hz.size))


def group(portraits: NDArray[np.float32], weights: NDArray[np.float64]) -> NDArray[np.intp]:
    """Give strokes on one bar one number.

    Parameters
    ----------
    portraits : float32[strokes, cells]
        Portrait of each stroke, in order of time.
    weights : float64[strokes]
        How much each is trusted, above 0.

    Returns
    -------
    int[strokes]
        Numbers from 0, in order of first appearance.
    """
    count = len(portraits)
    labels = np.full(count, -1, np.intp)
    cut = 0.0
    # Bars are learned from the first strokes, chosen by their number alone; those that none of them explains are
    # learned from in turn, so that a bar first struck late is found and a week of chimes needs no week squared.
    while (labels < 0).any():
        todo = np.flatnonzero(labels < 0)[:_LEARN_FROM]
        fresh, cut_here = _learn(portraits[todo])
        cut = cut or cut_here
        labels[todo] = fresh + labels.max() + 1
        labels = _settle(portraits, weights, labels, todo)
        labels = _take_in(portraits, weights, labels)
        rest = np.flatnonzero(labels < 0)
        if rest.size:
            means = averages(portraits, weights, labels)
            alike = portraits[rest] @ means.T
            best = alike.argmax(axis=1)
            known = alike[np.arange(rest.size), best] >= cut
            labels[rest[known]] = best[known]
    return _by_appearance(labels)


def averages(
    portraits: NDArray[np.float32], weights: NDArray[np.float64], labels: NDArray[np.intp]
) -> NDArray[np.float32]:
    """Mean portrait of each number, scaled to length 1."""
    means = np.zeros((labels.max() + 1, portraits.shape[1]), np.float32)
    known = labels >= 0
    np.add.at(means, labels[known], portraits[known] * weights[known, None].astype(np.float32))
    lengths = np.sqrt((means**2).sum(axis=1, keepdims=True))
    scaled: NDArray[np.float32] = means / np.maximum(lengths, np.float32(1e-12))
    return scaled


def likenesses(one: NDArray[Any], bars: NDArray[Any]) -> NDArray[np.float64]:
    """How like each bar a stroke is, 0 to 1, by the frequencies that tell the bars from one another.

    A partial that several bars share, or one that beats and so seems new at every stroke, says little.
    """
    bars = bars / np.maximum(np.sqrt((bars**2).sum(axis=1, keepdims=True)), 1e-9)
    tells = (bars.max(axis=0) - bars.mean(axis=0)) / (bars.max(axis=0) + 0.02) if len(bars) > 1 else 1.0
    told, own = bars * tells, one * tells
    lengths = np.sqrt((told**2).sum(axis=1)) * np.sqrt((own**2).sum())
    alike: NDArray[np.float64] = (told @ own) / np.maximum(lengths, 1e-9)
    return alike


def _learn(portraits: NDArray[np.float32]) -> tuple[NDArray[np.intp], float]:
    """Group by average likeness; the cut stands in the widest gap between joins."""
    if len(portraits) < 2:
        return np.zeros(len(portraits), np.intp), 0.5 * (_LEAST_ALIKE + _MOST_ALIKE)
    distance = np.clip(1.0 - portraits.astype(np.float64) @ portraits.T, 0.0, 2.0)
    np.fill_diagonal(distance, 0.0)
    tree = linkage(squareform(distance, checks=False), "average")
    joins = np.sort(1.0 - tree[:, 2])
    edges = np.concatenate([[_LEAST_ALIKE], joins[(joins > _LEAST_ALIKE) & (joins < _MOST_ALIKE)], [_MOST_ALIKE]])
    widest = int(np.diff(edges).argmax())
    cut = float(0.5 * (edges[widest] + edges[widest + 1]))
    return fcluster(tree, 1.0 - cut, "distance").astype(np.intp) - 1, cut


def _settle(
    portraits: NDArray[np.float32], weights: NDArray[np.float64], labels: NDArray[np.intp], movable: NDArray[np.intp]
) -> NDArray[np.intp]:
    """Let each stroke go to the bar whose mean it is most like, its own part in the mean left out."""
    labels = labels.copy()
    for _ in range(_ROUNDS):
        totals = np.zeros((labels.max() + 1, portraits.shape[1]))
        known = labels >= 0
        np.add.at(totals, labels[known], portraits[known] * weights[known, None])
        moved = False
        for stroke in movable:
            own = labels[stroke]
            without = totals.copy()
            without[own] -= portraits[stroke] * weights[stroke]
            if np.sqrt(without[own] @ without[own]) < 1e-6:
                continue
            best = int(likenesses(portraits[stroke], without).argmax())
            if best != own:
                labels[stroke] = best
                moved = True
        if not moved:
            break
    return labels


def _take_in(
    portraits: NDArray[np.float32], weights: NDArray[np.float64], labels: NDArray[np.intp]
) -> NDArray[np.intp]:
    """Let a bar of one or two strokes go up in the one bar that it is clearly most like.

    A bar struck twice running shows little new the second time, and may stand apart for that alone.
    """
    labels = labels.copy()
    for few in np.flatnonzero(np.bincount(labels[labels >= 0]) <= 2):
        means = averages(portraits, weights, labels)
        others = np.array([other for other in range(len(means)) if other != few and means[other].any()])
        if others.size < 2 or not means[few].any():
            continue
        alike = likenesses(means[few], means[others])
        order = np.argsort(alike)[::-1]
        plainly = float(means[few] @ means[others[order[0]]])
        if plainly >= _TAKEN_IN and alike[order[0]] - alike[order[1]] >= _TAKEN_IN_MARGIN:
            labels[labels == few] = others[order[0]]
    return labels


def _by_appearance(labels: NDArray[np.intp]) -> NDArray[np.intp]:
    """Number the groups afresh in order of first appearance."""
    numbers: dict[int, int] = {}
    return np.array([numbers.setdefault(int(label), len(numbers)) for label in labels], np.intp)
