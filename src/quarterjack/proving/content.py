"""Which notes and how many blows: one sounding as heard beside one as expected, times left aside.

Notes are compared by edit distance. A tune's quarters, laid end to end, repeat after one turn of the chime barrel;
the phrase that a quarter starts on is the barrel's phase. So the right number of phrases in the wrong order points to
the barrel, and another quarter's phrases complete point to the locking wheel (trade practice, section 0).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import permutations
from math import inf

Bars = tuple[int, ...]
Phrases = tuple[Bars, ...]

# What it costs, in notes, to suppose something other than the expected quarter with single notes at fault.
_ANOTHER_QUARTER = 0.4
BARREL_SHIFTED = 0.5
_OTHER_ORDER = 0.7
_MORE_OF_A_RUN = 0.25
_SECOND_OF_A_SWAP = 0.75
_MOST_TURNED = 4
_SCORE_OF_ANOTHER = 0.7
# Another quarter or phase is supposed only where it leaves no more than one note in so many unexplained.
_NOTES_A_SLIP = 8


@dataclass(frozen=True)
class Step:
    """One step of the alignment: "same", "wrong", "missing" or "extra", with the two places."""

    what: str
    expected_at: int | None
    heard_at: int | None


@lru_cache(maxsize=4096)
def align(expected: Bars, heard: Bars) -> tuple[Step, ...]:
    """Line two rows of bars up with the fewest wrong, missing and extra notes (Levenshtein distance).

    A swapped pair comes out as two wrong notes rather than one missing and one extra: on equal cost the pair of
    places stays together. Where one block is all that is missing, it is shown as one block.
    """
    rows, columns = len(expected), len(heard)
    absent = rows - columns
    for at in range(columns, -1, -1) if absent > 0 else ():
        if expected[:at] + expected[at + absent :] == heard:
            return tuple(
                Step("missing", place, None)
                if at <= place < at + absent
                else Step("same", place, place if place < at else place - absent)
                for place in range(rows)
            )
    cost = [[row + column if not row or not column else 0 for column in range(columns + 1)] for row in range(rows + 1)]
    for row in range(1, rows + 1):
        for column in range(1, columns + 1):
            together = cost[row - 1][column - 1] + (expected[row - 1] != heard[column - 1])
            cost[row][column] = min(together, cost[row - 1][column] + 1, cost[row][column - 1] + 1)
    steps: list[Step] = []
    row, column = rows, columns
    while row or column:
        differs = bool(row and column) and expected[row - 1] != heard[column - 1]
        if row and column and cost[row][column] == cost[row - 1][column - 1] + differs:
            row, column = row - 1, column - 1
            steps.append(Step("wrong" if differs else "same", row, column))
        elif row and cost[row][column] == cost[row - 1][column] + 1:
            row -= 1
            steps.append(Step("missing", row, None))
        else:
            column -= 1
            steps.append(Step("extra", None, column))
    return tuple(reversed(steps))


def distance(expected: Bars, heard: Bars) -> int:
    """How many notes are wrong, missing or extra."""
    return sum(step.what != "same" for step in align(expected, heard))


def misfit(expected: Bars, heard: Bars) -> float:
    """How much has to go wrong, counted in single notes, for one row to become the other.

    Two notes that changed places are one event, so is a run of notes missing together, with a little for its length,
    and so is a bar that is not heard at all; the plain distance is the most that it can be.
    """
    steps = align(expected, heard)
    plain = float(sum(step.what != "same" for step in steps))
    ways = [plain - _SECOND_OF_A_SWAP * len(_exchanged(expected, heard, steps))]
    if plain and all(step.what in ("same", "missing") for step in steps):
        runs = sum(step.what == "missing" and steps[at - 1].what != "missing" for at, step in enumerate(steps) if at)
        runs += steps[0].what == "missing"
        ways.append(runs + (plain - runs) * _MORE_OF_A_RUN)
    silent = set(expected) - set(heard)
    sounding = tuple(bar for bar in expected if bar not in silent)
    if len(expected) - len(sounding) > 1 and heard:
        ways.append(len(silent) + distance(sounding, heard))
    return min(ways)


def flat(phrases: Phrases) -> Bars:
    """All notes of some phrases in one row."""
    return tuple(bar for phrase in phrases for bar in phrase)


@dataclass(frozen=True)
class Repertoire:
    """The quarters of one tune in bars of this clock; `quarters` maps 1 to 4 to the phrases of each that sounds."""

    quarters: tuple[tuple[int, Phrases], ...]

    @cached_property
    def barrel(self) -> Phrases:
        """The phrases of one turn of the barrel: the shortest row that, repeated, gives all quarters in order."""
        laid = [phrase for _, phrases in self.quarters for phrase in phrases]
        for period in range(1, len(laid)):
            if all(laid[at] == laid[at + period] for at in range(len(laid) - period)):
                return tuple(laid[:period])
        return tuple(laid)

    def shifted(self, quarter: int, by: int) -> Phrases:
        """Return what the quarter would play with the barrel turned on by so many phrases."""
        start = 0
        for number, phrases in self.quarters:
            if number == quarter:
                turn = len(self.barrel)
                return tuple(self.barrel[(start + at + by) % turn] for at in range(len(phrases)))
            start += len(phrases)
        return ()

    def phrases_in(self, heard: Bars) -> Phrases | None:
        """The row cut into whole phrases of this tune, or None if it is not made of them."""
        if not heard:
            return ()
        for phrase in sorted(set(self.barrel), key=len, reverse=True):
            if heard[: len(phrase)] == phrase:
                rest = self.phrases_in(heard[len(phrase) :])
                if rest is not None:
                    return (phrase, *rest)
        return None


@dataclass(frozen=True)
class Chimed:
    """What a chime turned out to be.

    `verdict` is one of the words of `SOUNDING_VERDICTS`; `misfit` counts what stays unexplained, in notes, and
    `score` is 1 for a perfect fit and falls to 0.
    """

    verdict: str
    misfit: float
    score: float
    steps: tuple[Step, ...]
    barrel_shift: int | None = None
    as_quarter: int | None = None
    swapped: tuple[tuple[int, int], ...] = ()
    runs_on: bool = False


@dataclass(frozen=True)
class _Guess:
    cost: float
    verdict: str
    barrel_shift: int | None = None
    as_quarter: int | None = None


@lru_cache(maxsize=4096)
def judge_chime(
    repertoire: Repertoire, quarter: int, phrases: Phrases, heard: Bars, barrel_may_be_off: bool = True
) -> Chimed:
    """Say what is the matter with the notes of one chime.

    Parameters
    ----------
    repertoire : Repertoire
        The clock's quarters.
    quarter : int
        Which one is due, 1 to 4.
    phrases : tuple of phrases
        Its notes as bars.
    heard : tuple of int
        Bars heard, in order.
    barrel_may_be_off : bool
        False where other soundings of the same clock have shown that the barrel stands right.
    """
    expected = flat(phrases)
    guesses = [_Guess(misfit(expected, heard), "")]
    for other, its_phrases in repertoire.quarters:
        if other != quarter and its_phrases != phrases:
            left = _if_near(flat(its_phrases), heard)
            guesses.append(_Guess(left + _ANOTHER_QUARTER, "wrong quarter", as_quarter=other))
    if barrel_may_be_off:
        for by in range(1, len(repertoire.barrel)):
            shifted = repertoire.shifted(quarter, by)
            if shifted and shifted != phrases:
                left = _if_near(flat(shifted), heard)
                guesses.append(_Guess(left + BARREL_SHIFTED, "out of sequence", barrel_shift=by))
    for order in set(permutations(phrases)) - {phrases} if len(phrases) <= _MOST_TURNED else ():
        guesses.append(_Guess(_if_near(flat(order), heard) + _OTHER_ORDER, "out of sequence"))
    best = min(guesses, key=lambda guess: guess.cost)
    steps = align(expected, heard)
    # What places the sounding in the day is its fit to the quarter that is due there, every missing note counted.
    plain = sum(step.what != "same" for step in steps)
    places = min([plain, *(guess.cost for guess in guesses if guess.verdict == "out of sequence")])
    score = max(0.0, 1 - places / max(len(expected), len(heard), 1))
    if best.as_quarter is not None:
        score = max(score, _SCORE_OF_ANOTHER)
    if best.verdict:
        return Chimed(best.verdict, best.cost, score, steps, best.barrel_shift, best.as_quarter)
    return _by_notes(
        expected, heard, steps, score, whole_phrases=len(repertoire.phrases_in(heard) or ()) > len(phrases)
    )


def _if_near(supposed: Bars, heard: Bars) -> float:
    """What a supposed row leaves unexplained; without limit where that is more than a slip or two."""
    left = misfit(supposed, heard)
    return left if left <= len(supposed) // _NOTES_A_SLIP else inf


def _by_notes(expected: Bars, heard: Bars, steps: tuple[Step, ...], score: float, whole_phrases: bool) -> Chimed:
    kinds = {step.what for step in steps} - {"same"}
    off = float(sum(step.what != "same" for step in steps))
    if not kinds:
        return Chimed("right", 0.0, score, steps)
    if kinds == {"missing"}:
        return Chimed("incomplete", off, score, steps)
    if kinds == {"extra"} and whole_phrases:
        return Chimed("wrong count", off, score, steps, runs_on=True)
    return Chimed("wrong notes", off, score, steps, swapped=_exchanged(expected, heard, steps))


def _exchanged(expected: Bars, heard: Bars, steps: Sequence[Step]) -> tuple[tuple[int, int], ...]:
    """Pairs of expected places whose notes changed places with each other."""
    wrong = [
        (step.expected_at, step.heard_at)
        for step in steps
        if step.what == "wrong" and step.expected_at is not None and step.heard_at is not None
    ]
    pairs: list[tuple[int, int]] = []
    taken: set[int] = set()
    for number, (first, first_heard) in enumerate(wrong):
        for second, second_heard in wrong[number + 1 :]:
            crossed = expected[first] == heard[second_heard] and expected[second] == heard[first_heard]
            if crossed and not {first, second} & taken:
                pairs.append((first, second))
                taken |= {first, second}
    return tuple(pairs)
