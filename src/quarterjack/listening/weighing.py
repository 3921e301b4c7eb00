"""Which strokes are blows, and which of them fell on one bar.

A stroke with evidence enough stands by itself. A faint one, such as a note that falls into the loud ring of fifteen
others, is believed only where a blow may be looked for, among its neighbours and in their rhythm, and only if what it
set ringing is one of the bars that the plain strokes taught; which bar the tune would want there is not asked.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from quarterjack.listening.bars import averages, given_portrait, group, likenesses, portrait
from quarterjack.listening.hints import BarHint
from quarterjack.listening.strokes import Stroke
from quarterjack.records import NS_PER_S

PLAIN_WEIGHT = 5.0
FAINT_WEIGHT = 1.4
_PLAIN_JUMP, _FAINT_JUMP = 0.3, 0.19
_PLAIN_JUMP_TIMES_STEP_DB = 0.8
_FAINT_STEP_DB = 2.0
_STRONG_WEIGHT = 8.0
_MOST_BELOW_DB = 18.0
_BESIDE_S = 90.0
_FAINT_ALIKE, _FAINT_MARGIN, _FAINT_SUM = 0.5, 0.1, 0.79
_FAINTER_JUMP, _FAINTER_SUM = 0.14, 0.9
_USUALLY_BELOW_DB = 5.0
_LEAST_GAP, _MOST_GAP = 0.7, 1.6
"""A faint stroke may stand this far from its neighbours, as a share of the usual interval around it."""
_IS_GIVEN_BAR, _MAY_BE_GIVEN_BAR = 0.35, 0.15


def weigh(
    strokes: Sequence[Stroke], given: Sequence[BarHint] = ()
) -> tuple[list[Stroke], NDArray[np.intp], NDArray[np.float32], dict[int, BarHint]]:
    """Judge the strokes of a record.

    Parameters
    ----------
    strokes : sequence of Stroke
        All strokes of the record, in order.
    given : sequence of BarHint
        Bars whose partials are known; others are passed over.

    Returns
    -------
    blows : list of Stroke
        The strokes that are blows, in order.
    labels : int[blows]
        Number of each one's bar, from 0.
    means : float32[bars, cells]
        Mean portrait of each bar.
    told : dict of int to BarHint
        The given bar that a number stands for.
    """
    strokes = _loud_enough(strokes)
    plain = _plain(strokes)
    if not plain:
        return [], np.empty(0, np.intp), np.empty((0, 0), np.float32), {}
    portraits = np.array([portrait(stroke.lines) for stroke in plain])
    weights = np.array([stroke.weight for stroke in plain])
    labels = group(portraits, weights)
    labels, told, templates = _told(portraits, weights, labels, [bar for bar in given if bar.partials_hz])
    means = averages(portraits, weights, labels)
    faint = _faint(strokes, plain, _filled(means, templates))
    blows = sorted([*plain, *(stroke for stroke, _ in faint)], key=lambda stroke: stroke.t_ns)
    bar_of = {id(stroke): int(label) for stroke, label in zip(plain, labels, strict=True)}
    bar_of.update({id(stroke): label for stroke, label in faint})
    return blows, np.array([bar_of[id(stroke)] for stroke in blows], np.intp), means, told


def _plain(strokes: Sequence[Stroke]) -> list[Stroke]:
    """Strokes with evidence enough."""
    return [
        one
        for one in strokes
        if one.weight >= PLAIN_WEIGHT
        and one.jump >= _PLAIN_JUMP
        and one.jump * one.step_db >= _PLAIN_JUMP_TIMES_STEP_DB
    ]


def _loud_enough(strokes: Sequence[Stroke]) -> list[Stroke]:
    """Strokes not far below the usual level of the sure ones near them: an echo of a tick may look like a stroke."""
    plain = _plain(strokes)
    strong = [one for one in plain if one.weight >= _STRONG_WEIGHT] or plain
    times = np.array([one.t_ns for one in strong]) / NS_PER_S
    levels = np.array([one.level_db for one in strong])
    kept = []
    for one in strokes:
        at = one.t_ns / NS_PER_S
        near = levels[np.searchsorted(times, at - _BESIDE_S) : np.searchsorted(times, at + _BESIDE_S)]
        if not near.size or one.level_db >= np.median(near) - _MOST_BELOW_DB:
            kept.append(one)
    return kept


def _told(
    portraits: NDArray[np.float32],
    weights: NDArray[np.float64],
    labels: NDArray[np.intp],
    given: list[BarHint],
) -> tuple[NDArray[np.intp], dict[int, BarHint], NDArray[np.float32] | None]:
    """Say which given bar each group is, and let strokes go over between given bars by partials given and learned.

    Given bars take the numbers 0 to `len(given) - 1`; groups that are none of them take the numbers after.
    """
    if not given:
        return labels, {}, None
    templates = np.array([given_portrait(bar.partials_hz) for bar in given])
    means = averages(portraits, weights, labels)
    alike = means @ templates.T
    bar_of = {
        number: int(likenesses(mean, templates).argmax())
        for number, mean in enumerate(means)
        if alike[number].max() >= _IS_GIVEN_BAR
    }
    # A bar whose listed partials are not the ones that ring loudest here is still likelier than a bar unheard of.
    for number in np.argsort(-alike.max(axis=1)).tolist():
        left = [bar for bar in range(len(given)) if bar not in bar_of.values()]
        if number not in bar_of and left and alike[number, left].max() >= _MAY_BE_GIVEN_BAR:
            bar_of[number] = left[int(alike[number, left].argmax())]
    free = iter(range(len(given), len(given) + len(means)))
    renamed = np.array([bar_of.get(number, -1) for number in range(len(means))], np.intp)
    renamed[renamed < 0] = [next(free) for _ in range(int((renamed < 0).sum()))]
    renamed = renamed[labels]
    known = _joined(averages(portraits, weights, renamed), templates)
    for stroke in np.flatnonzero(renamed < len(given)):
        renamed[stroke] = int(likenesses(portraits[stroke], known[: len(given)]).argmax())
    heard = set(renamed.tolist())
    return renamed, {number: bar for number, bar in enumerate(given) if number in heard}, templates


def _joined(means: NDArray[np.float32], templates: NDArray[np.float32] | None) -> NDArray[np.float32]:
    """Mean portraits, those of given bars with what was given added at equal weight."""
    if templates is None:
        return means
    joined = np.zeros((max(len(means), len(templates)), means.shape[1]), np.float32)
    joined[: len(means)] += means
    joined[: len(templates)] += templates
    return joined


def _filled(means: NDArray[np.float32], templates: NDArray[np.float32] | None) -> NDArray[np.float32]:
    """Mean portraits, and what was given where a bar has no blow yet."""
    if templates is None:
        return means
    filled = np.zeros((max(len(means), len(templates)), means.shape[1]), np.float32)
    filled[: len(templates)] = templates
    heard = means.any(axis=1)
    filled[: len(means)][heard] = means[heard]
    return filled


def _faint(strokes: Sequence[Stroke], plain: list[Stroke], known: NDArray[np.float32]) -> list[tuple[Stroke, int]]:
    """Faint strokes that stand in the rhythm of the plain ones and ring as one of their bars does."""
    taken = np.array([one.t_ns for one in plain]) / NS_PER_S
    kept = {id(one) for one in plain}
    found: list[tuple[Stroke, int]] = []
    usual_db = float(np.median([one.level_db for one in plain]))
    for stroke in sorted(strokes, key=lambda one: -one.weight):
        if id(stroke) in kept or stroke.weight < FAINT_WEIGHT or stroke.jump < _FAINTER_JUMP:
            continue
        at = stroke.t_ns / NS_PER_S
        if not _in_rhythm(at, taken):
            continue
        alike = likenesses(portrait(stroke.lines), known)
        best = int(alike.argmax())
        margin = alike[best] - max(np.delete(alike, best), default=0.0)
        below_db = max(0.0, usual_db - stroke.level_db - _USUALLY_BELOW_DB)
        total = alike[best] + 0.5 * stroke.jump + 0.03 * min(stroke.step_db, 5.0) - 0.01 * below_db
        is_clear = stroke.jump >= _FAINT_JUMP and stroke.step_db >= _FAINT_STEP_DB
        enough = _FAINT_SUM if is_clear else _FAINTER_SUM
        if alike[best] >= _FAINT_ALIKE and margin >= _FAINT_MARGIN and total >= enough:
            found.append((stroke, best))
            taken = np.sort(np.append(taken, at))
    return found


def _in_rhythm(at: float, taken: NDArray[np.float64]) -> bool:
    """Whether a blow may fall here: between or just beside others, no nearer to them than they are to one another."""
    place = int(np.searchsorted(taken, at))
    around = np.diff(taken[max(0, place - 5) : place + 5])
    if around.size < 2:
        return False
    usual = float(np.median(around[around < 4.0 * np.min(around)]))
    before = at - taken[place - 1] if place else np.inf
    after = taken[place] - at if place < taken.size else np.inf
    return min(before, after) >= _LEAST_GAP * usual and min(before, after) <= _MOST_GAP * usual
