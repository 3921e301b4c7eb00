"""Which of the clock's bars each heard bar is, the same over all recordings of the clock.

A listener that was not told the bars numbers them as they come, afresh in each recording. The same bar is known again
by its partials; the clock's own bar is known by the sheet's partials, else by the note that the listener named, else
by the one naming under which all soundings together fit best. One naming holds for the whole proof: if it could change
from sounding to sounding, it would hide two swapped notes.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from operator import eq
from typing import Any

import numpy as np
from scipy.optimize import linear_sum_assignment

from quarterjack.listening.heard import Heard
from quarterjack.proving.content import BARREL_SHIFTED, Bars, Phrases, Repertoire, flat, misfit
from quarterjack.reckoning.reckoned import Reckoning

SAME_PARTIAL = 0.012
"""Two partials nearer than this, relatively, are taken for one."""
SAME_BAR, SURELY_SAME_BAR = 0.5, 0.6
"""Share of the shorter list's partials that must be found in the other's for two bars to be one."""

_PARTIALS_OVER_NOTES = 1000.0
_BORNE_OUT = 4
_CLEAR = 0.25
_ROWS_TRIED = 12
_NAMINGS_MEASURED = 12

FOREIGN = -1
"""Bars that are none of the clock's carry this number and the ones below it."""

Node = tuple[int, int]


@dataclass(frozen=True)
class Naming:
    """The clock's bar for each bar number of each recording.

    `sure` is False where too few notes bear the naming out, so that the order of notes proves little; `how` says what
    the naming rests on.
    """

    bars: dict[Node, int]
    sure: bool
    how: str

    def of(self, recording: int) -> dict[int, int]:
        """The names that hold in one recording."""
        return {bar: name for (number, bar), name in self.bars.items() if number == recording}


def likeness(first: Sequence[float], second: Sequence[float]) -> float:
    """Share of the shorter list's partials that stand in the other list, 0 to 1."""
    if not len(first) or not len(second):
        return 0.0
    short, long = sorted((list(first), list(second)), key=len)
    found = sum(any(abs(a - b) <= SAME_PARTIAL * b for b in long) for a in short)
    return found / len(short)


def name_bars(reckoning: Reckoning, heard: Sequence[Heard], repertoires: dict[str | None, Repertoire]) -> Naming:
    """Find the one naming for all recordings of a clock (see the module)."""
    nodes = _nodes(heard)
    groups = _same_bars(nodes)
    expected = sorted(reckoning.bars, key=lambda bar: bar.bar)
    numbers = [bar.bar for bar in expected]
    strength: list[dict[int, float]] = []
    by_partials = by_note = False
    for group in groups:
        votes: dict[int, float] = defaultdict(float)
        for node in group:
            for bar in expected:
                alike = likeness(nodes[node].partials_hz, bar.partials_hz)
                if alike > SAME_BAR:
                    by_partials = True
                    votes[bar.bar] += _PARTIALS_OVER_NOTES * alike * nodes[node].blows
            for note, count in nodes[node].notes.items():
                name = _bar_of_note(reckoning, note)
                if name is not None:
                    by_note = True
                    votes[name] += count
        strength.append(votes)
    names = _assign(strength, numbers)
    open_groups = [at for at in range(len(groups)) if at not in names]
    sure = True
    if open_groups and repertoires:
        sure = _fit_the_rest(names, open_groups, groups, heard, repertoires)
    by_ear = "notes named by ear" if by_note else "the best fit of all soundings"
    how = "partials in the sheet" if by_partials else by_ear
    return Naming(_spread(groups, names), sure, how)


@dataclass
class _Node:
    partials_hz: tuple[float, ...]
    blows: int
    notes: Counter[str]
    hour: int


def _nodes(heard: Sequence[Heard]) -> dict[Node, _Node]:
    """Every bar of every recording with what is known of it."""
    nodes: dict[Node, _Node] = {}
    for number, record in enumerate(heard):
        for blow in record.blows:
            node = nodes.setdefault((number, blow.bar), _Node(blow.partials_hz, 0, Counter(), 0))
            node.blows += 1
            node.hour += blow.kind == "hour"
            if len(blow.partials_hz) > len(node.partials_hz):
                node.partials_hz = blow.partials_hz
            if blow.note is not None:
                node.notes[blow.note] += 1
    return nodes


def _same_bars(nodes: dict[Node, _Node]) -> list[list[Node]]:
    """Join bars of different recordings that share their partials; two bars of one recording are never joined.

    The hour's bar is joined with none but the hour's, since it may be struck too softly for its partials to be plain.
    """
    groups: list[list[Node]] = []
    for node, facts in nodes.items():
        best: tuple[float, list[Node]] | None = None
        for group in groups:
            if any(other[0] == node[0] for other in group):
                continue
            alike = max(likeness(facts.partials_hz, nodes[other].partials_hz) for other in group)
            if alike > SAME_BAR and (best is None or alike > best[0]):
                best = (alike, group)
        if best is None:
            groups.append([node])
        else:
            best[1].append(node)
    return _rejoined(groups, nodes)


def _rejoined(groups: list[list[Node]], nodes: dict[Node, _Node]) -> list[list[Node]]:
    """Give a bar that stands alone to the group that it is like beyond doubt, though its recording is in it already.

    A listener may take one bar for two where a stroke fell on loud ringing; other recordings then tell.
    """
    kept = [group for group in groups if len(group) > 1]
    for alone in (group[0] for group in groups if len(group) == 1):
        others = [(_likeness_elsewhere(alone, group, nodes), group) for group in kept]
        alike, group = max(others, key=lambda other: other[0], default=(0.0, []))
        if alike >= SURELY_SAME_BAR and not nodes[alone].notes:
            group.append(alone)
        else:
            kept.append([alone])
    return kept


def _likeness_elsewhere(node: Node, group: list[Node], nodes: dict[Node, _Node]) -> float:
    """Likeness to a group's bars in other recordings, the mean over them."""
    elsewhere = [likeness(nodes[node].partials_hz, nodes[other].partials_hz) for other in group if other[0] != node[0]]
    return sum(elsewhere) / len(elsewhere) if elsewhere else 0.0


def _bar_of_note(reckoning: Reckoning, note: str) -> int | None:
    """The clock's bar for a note's name: as the sheet spells it, else as the tune does."""
    spelled = [bar.bar for bar in reckoning.bars if bar.note == note]
    if len(spelled) == 1:
        return spelled[0]
    for tune in reckoning.tunes:
        if note in tune.notes and len(reckoning.bells_to_bars) >= tune.bells:
            return reckoning.bells_to_bars[tune.notes.index(note)]
    return None


def _assign(votes: Sequence[dict[int, float]], numbers: list[int]) -> dict[int, int]:
    """The bar with most votes for each group that has any."""
    return {at: max(numbers, key=lambda bar: for_bar.get(bar, 0.0)) for at, for_bar in enumerate(votes) if for_bar}


def _fit_the_rest(
    names: dict[int, int],
    open_groups: list[int],
    groups: list[list[Node]],
    heard: Sequence[Heard],
    repertoires: dict[str | None, Repertoire],
) -> bool:
    """Name the groups that nothing else names by the best fit of all chimes; return whether only one naming fits so."""
    group_of = {node: at for at, group in enumerate(groups) for node in group}
    chimes = Counter(chime for chime in _chimes(heard, group_of) if set(chime) & set(open_groups))
    if not chimes:
        return True
    tune_bars = {bar for repertoire in repertoires.values() for bar in flat(repertoire.barrel)}
    wanted = sorted(tune_bars - set(names.values()))
    supposed = [_supposed(repertoire) for repertoire in repertoires.values()]
    tried = {
        tuple(sorted(_by_place(chime, guess, open_groups, wanted).items()))
        for chime, _ in chimes.most_common(_ROWS_TRIED)
        for rows in supposed
        for guess in _with_one_dead(rows, wanted)
    }
    if not tried:
        return True

    def fits(trial: tuple[tuple[int, int], ...], measure: Callable[[Bars, list[dict[Bars, float]]], float]) -> float:
        naming = {**names, **dict(trial)}
        return sum(
            times * measure(tuple(naming.get(group, FOREIGN - group) for group in chime), supposed)
            for chime, times in chimes.items()
        )

    likely = sorted(tried, key=lambda trial: (-fits(trial, _in_place), trial))[:_NAMINGS_MEASURED]
    ranked = sorted(((trial, fits(trial, _explained)) for trial in likely), key=lambda item: -item[1])
    best, score = ranked[0]
    names.update(dict(best))
    # Each bar's first note goes into naming it; only what comes after can bear the naming out.
    borne_out = score - len(best) >= _BORNE_OUT
    rivals = [other for trial, other in ranked[1:] if len(trial) == len(best)]
    return borne_out and (not rivals or rivals[0] < score - _CLEAR)


def _chimes(heard: Sequence[Heard], group_of: dict[Node, int]) -> list[Bars]:
    rows: list[Bars] = []
    for number, record in enumerate(heard):
        for sounding in record.soundings:
            blows = record.blows[sounding.first_blow : sounding.first_blow + sounding.n_blows]
            row = tuple(group_of[number, blow.bar] for blow in blows if blow.kind != "hour")
            if row:
                rows.append(row)
    return rows


def _supposed(repertoire: Repertoire) -> dict[Bars, float]:
    """What a chime may have been, each quarter with the barrel at each phase, and what it costs to suppose it."""
    rows = {flat(phrases): 0.0 for _, phrases in repertoire.quarters}
    for quarter, _ in repertoire.quarters:
        for by in range(1, len(repertoire.barrel)):
            rows.setdefault(flat(repertoire.shifted(quarter, by)), BARREL_SHIFTED)
    return rows


def _with_one_dead(rows: dict[Bars, float], wanted: list[int]) -> set[Bars]:
    """The rows, whole and with each one hammer dead."""
    return {tuple(bar for bar in row if bar != dead) for row in rows for dead in (None, *wanted)}


def _by_place(chime: Bars, guess: Bars, open_groups: list[int], wanted: list[int]) -> dict[int, int]:
    """The naming that puts most notes of the chime in their place, counted from the front and from the back."""
    counts: dict[tuple[int, int], int] = defaultdict(int)
    for pairs in (zip(chime, guess, strict=False), zip(reversed(chime), reversed(guess), strict=False)):
        for group, bar in pairs:
            counts[group, bar] += 1
    table: Any = np.array([[-counts[group, bar] for bar in wanted] for group in open_groups], float)
    if not table.size:
        return {}
    rows, columns = linear_sum_assignment(table)
    return {
        open_groups[row]: wanted[column] for row, column in zip(rows, columns, strict=True) if table[row, column] < 0
    }


def _in_place(row: Bars, supposed: list[dict[Bars, float]]) -> float:
    """How many notes stand in their place, counted from the front or the back: quick, and near enough to choose by."""
    best = 0.0
    for rows in supposed:
        for guess, cost in rows.items():
            front, back = sum(map(eq, row, guess)), sum(map(eq, reversed(row), reversed(guess)))
            best = max(best, max(front, back) - cost)
    return best


def _explained(row: Bars, supposed: list[dict[Bars, float]]) -> float:
    """How many notes are explained, whichever quarter it was."""
    if any(rows.get(row) == 0 for rows in supposed):
        return float(len(row))
    return len(row) - min(misfit(guess, row) + cost for rows in supposed for guess, cost in rows.items())


def _spread(groups: list[list[Node]], names: dict[int, int]) -> dict[Node, int]:
    return {node: names.get(at, FOREIGN - at) for at, group in enumerate(groups) for node in group}


def repertoires_of(reckoning: Reckoning) -> dict[str | None, Repertoire]:
    """The quarters of each tune that this clock is to play, in its own bars."""
    found: dict[str | None, dict[int, Phrases]] = defaultdict(dict)
    for sounding in reckoning.soundings:
        if sounding.kind == "quarter" and sounding.quarter is not None:
            found[sounding.tune].setdefault(sounding.quarter, sounding.bars)
    return {tune: Repertoire(tuple(sorted(quarters.items()))) for tune, quarters in found.items()}
