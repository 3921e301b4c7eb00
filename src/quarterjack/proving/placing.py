"""Where on the dial each heard group belongs: by time where the dial is known, else by what was sounded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from quarterjack.proving.content import Repertoire
from quarterjack.proving.day import Call, Content, apart_min, fit, nearest_calls
from quarterjack.reckoning.reckoned import DIAL_MINUTES

REACH_MIN = 10.0
"""A sounding is taken for the one that is due within so many minutes: faults of letting-off give up to ten."""
OFF_TIME_MIN = 2.0
"""From here on a sounding is early or late: the dial is read to a half minute, levers drop within one."""

_NOT_PLACED = 0.9
_SKIPPED = 0.8
_TIE = 0.02
_ANCHORS = 8


@dataclass(frozen=True)
class Placed:
    """One group beside the call that it answers; either may be missing. `late_min` is None where time is no matter."""

    group: int | None
    call: int | None
    at_s: float
    late_min: float | None = None


@dataclass(frozen=True)
class Placing:
    """A recording laid on the dial.

    `start_min` is the dial time at its first sample, None where it is not known at all; `hour_known` is False where
    only the minutes are; `dial_from` is "given", "start time", "matching" or "unknown".
    """

    placed: tuple[Placed, ...]
    start_min: float | None
    hour_known: bool
    dial_from: str


@dataclass(frozen=True)
class Record:
    """What placing must know of a recording; `pace` is dial minutes per minute of the recording."""

    seconds: float
    times_s: tuple[float, ...]
    contents: tuple[Content, ...]
    pace: float = 1.0

    def minutes(self, seconds: float) -> float:
        """Dial minutes that pass in so many seconds of the recording."""
        return seconds / 60 * self.pace


def place_given(
    record: Record, calls: Sequence[Call], repertoires: dict[str | None, Repertoire], start_min: float
) -> Placing:
    """Lay a recording on the dial whose time at the first sample is known from outside."""
    placed, _ = _by_time(record, calls, repertoires, start_min, OFF_TIME_MIN)
    return Placing(placed, start_min % DIAL_MINUTES, True, "given")


def place_found(
    record: Record, calls: Sequence[Call], repertoires: dict[str | None, Repertoire], likely_start: float | None
) -> Placing:
    """Find the dial time under which everything heard fits the day best.

    Where several dial times fit equally well, the time at which the recording began chooses among them if it is within
    half an hour of one; else the dial time stays open as far as they differ.
    """
    trials: dict[int, tuple[float, float, tuple[Placed, ...]]] = {}
    for at in range(min(len(record.times_s), _ANCHORS)):
        for call in calls:
            start = (call.minute - record.minutes(record.times_s[at])) % DIAL_MINUTES
            key = round(start * 2)
            if key not in trials:
                placed, score = _by_time(record, calls, repertoires, start, OFF_TIME_MIN / 4)
                trials[key] = (score, start, placed)
    if not trials:
        return Placing((), None, False, "unknown")
    best = max(score for score, _, _ in trials.values())
    tied = [trial for trial in trials.values() if trial[0] > best - _TIE]
    if len(tied) > 1 and likely_start is not None:
        _, start, placed = min(tied, key=lambda trial: abs(apart_min(trial[1], likely_start)))
        if abs(apart_min(start, likely_start)) <= 30:
            return Placing(placed, start, True, "start time")
    _, start, placed = max(tied, key=lambda trial: trial[0])
    return _open(placed, start, [other for _, other, _ in tied])


def place_in_order(
    record: Record, calls: Sequence[Call], repertoires: dict[str | None, Repertoire], start_min: float | None
) -> Placing:
    """Lay the groups on the calls in their order alone, hands being led by hand."""
    firsts = list(range(len(calls)))
    if start_min is not None:
        ahead = [(calls[at].minute - start_min + 1) % DIAL_MINUTES for at in firsts]
        firsts = [ahead.index(min(ahead))] if firsts else []
    best: tuple[float, int, tuple[Placed, ...]] | None = None
    tied: list[int] = []
    for first in firsts:
        cost, placed = _in_order(record, calls, repertoires, first)
        if best is None or cost < best[0] - _TIE:
            best, tied = (cost, first, placed), [first]
        elif cost < best[0] + _TIE:
            tied.append(first)
    if best is None:
        return Placing((), None, False, "unknown")
    if start_min is not None:
        return Placing(best[2], start_min, True, "given")
    return _open(best[2], float(calls[best[1]].minute), [float(calls[at].minute) for at in tied])


def _open(placed: tuple[Placed, ...], start: float, tied: list[float]) -> Placing:
    """What is known of the dial when several starts fit equally well."""
    if len(tied) == 1:
        return Placing(placed, start, True, "matching")
    same_minute = all(abs((other - start + 30) % 60 - 30) < 1 for other in tied)
    return Placing(placed, start if same_minute else None, False, "matching" if same_minute else "unknown")


def _by_time(
    record: Record, calls: Sequence[Call], repertoires: dict[str | None, Repertoire], start: float, margin_min: float
) -> tuple[tuple[Placed, ...], float]:
    """Give each group the call that it answers, in order, and list the calls that nothing answered."""
    # Each state: last call used (counted on through the rounds of the dial) -> (score, answers so far).
    states: dict[int, tuple[float, tuple[tuple[int, float] | None, ...]]] = {-1: (0.0, ())}
    for number, content in enumerate(record.contents):
        minute = start + record.minutes(record.times_s[number])
        options = [
            (at + round((minute - late - calls[at].minute) / DIAL_MINUTES) * len(calls), at, late)
            for at, late in nearest_calls(calls, minute, REACH_MIN)
        ]
        after: dict[int, tuple[float, tuple[tuple[int, float] | None, ...]]] = {}
        for last, (score, answers) in states.items():
            _keep(after, last, score - _NOT_PLACED, (*answers, None))
            for turn, at, late in options:
                if turn > last:
                    gain = fit(calls[at], content, repertoires) - 0.5 * abs(late) / REACH_MIN
                    _keep(after, turn, score + gain, (*answers, (at, late)))
        states = after
    score, answers = max(states.values(), key=lambda state: state[0])
    placed = [
        Placed(number, answer and answer[0], record.times_s[number], answer and answer[1])
        for number, answer in enumerate(answers)
    ]
    unanswered = _unanswered(record, calls, start, placed, margin_min)
    placed.extend(unanswered)
    return tuple(sorted(placed, key=lambda one: one.at_s)), score - _SKIPPED * len(unanswered)


def _keep(
    states: dict[int, tuple[float, tuple[tuple[int, float] | None, ...]]],
    last: int,
    score: float,
    answers: tuple[tuple[int, float] | None, ...],
) -> None:
    if last not in states or states[last][0] < score:
        states[last] = (score, answers)


def _unanswered(
    record: Record, calls: Sequence[Call], start: float, placed: Sequence[Placed], margin_min: float
) -> list[Placed]:
    """Calls whose time lies well inside the recording and that no group answered."""
    answered = [(one.call, one.at_s - (one.late_min or 0.0) * 60 / record.pace) for one in placed]
    found: list[Placed] = []
    for at, call in enumerate(calls):
        due_s = ((call.minute - start) % DIAL_MINUTES) * 60 / record.pace
        while due_s + margin_min * 60 <= record.seconds:
            if due_s >= margin_min * 60 and not any(at == other and abs(due_s - when) < 60 for other, when in answered):
                found.append(Placed(None, at, due_s))
            due_s += DIAL_MINUTES * 60 / record.pace
    return found


def _in_order(
    record: Record, calls: Sequence[Call], repertoires: dict[str | None, Repertoire], first: int
) -> tuple[float, tuple[Placed, ...]]:
    """The cheapest way to walk through groups and calls side by side, beginning at call number `first`."""
    groups, reach = len(record.contents), len(record.contents) * 2 + 4
    cost = {(0, 0): 0.0}
    came: dict[tuple[int, int], str] = {}
    for group in range(groups + 1):
        for step in range(reach + 1):
            ways: list[tuple[float, str]] = []
            if group and step:
                call = calls[(first + step - 1) % len(calls)]
                fitting = 1 - fit(call, record.contents[group - 1], repertoires)
                ways.append((cost[group - 1, step - 1] + fitting, "answer"))
            if group:
                ways.append((cost[group - 1, step] + _NOT_PLACED, "extra"))
            if step:
                ways.append((cost[group, step - 1] + _SKIPPED, "skip"))
            if ways:
                cost[group, step], came[group, step] = min(ways)
    step = min(range(reach + 1), key=lambda last: cost[groups, last])
    total, group = cost[groups, step], groups
    placed: list[Placed] = []
    while group or step:
        way = came[group, step]
        at_s = record.times_s[max(group - 1, 0)]
        call_at = (first + step - 1) % len(calls)
        placed.append(Placed(None if way == "skip" else group - 1, None if way == "extra" else call_at, at_s))
        group -= way != "skip"
        step -= way != "extra"
    return total, tuple(reversed(placed))
