"""The tunes whose notes stand in print, against the printed lists."""

from __future__ import annotations

import pytest

from quarterjack.tunes import CAMBRIDGE, SIX_BELL, TING_TANG, TUNES

# Bells from 1, the highest. Beckett 1903, "Quarters" (table of the Cambridge quarters; he numbers the low bell 6);
# Grove, "Cambridge Quarters"; Goodrich 1905, ch. XX, fig. 122: they agree.
CAMBRIDGE_IN_PRINT = ["1234", "3124 3213", "1324 4213 1234", "3124 3213 1324 4213"]

# C. Frye, Bell Historians list, 4 November 2009, from Starmer: bells from the lowest, 1 = D … 6 = C. Counts derived.
SIX_BELL_IN_PRINT = [
    "1345343",
    "1345343 454321",
    "1345343 454321 1345343",
    "1345343 454321 1345343 645343",
]


def digits(quarter: tuple[tuple[int, ...], ...]) -> str:
    return " ".join("".join(map(str, phrase)) for phrase in quarter)


def test_cambridge_quarters_are_the_printed_ones() -> None:
    assert [digits(quarter) for quarter in CAMBRIDGE.quarters] == CAMBRIDGE_IN_PRINT


def test_cambridge_phrases_follow_one_round_of_five() -> None:
    # Beckett 1903, "Quarters": the barrel holds five phrases and turns twice an hour; ten phrases in the four quarters.
    phrases = [phrase for quarter in CAMBRIDGE.quarters for phrase in quarter]
    assert len(phrases) == 10
    assert phrases[:5] == phrases[5:]
    assert len(set(phrases[:5])) == 5


def test_six_bell_quarters_are_the_printed_ones_from_the_other_end() -> None:
    printed = [[[7 - int(bell) for bell in phrase] for phrase in text.split()] for text in SIX_BELL_IN_PRINT]
    assert [[list(phrase) for phrase in quarter] for quarter in SIX_BELL.quarters] == printed
    assert [sum(map(len, quarter)) for quarter in SIX_BELL.quarters] == [7, 13, 20, 26]


def test_ting_tang_plays_one_to_four_pairs() -> None:
    # Beckett 1903, "Quarters": twenty blows an hour (the count is derived).
    assert [digits(quarter) for quarter in TING_TANG.quarters] == ["12", "12 12", "12 12 12", "12 12 12 12"]
    assert sum(len(phrase) for quarter in TING_TANG.quarters for phrase in quarter) == 20


@pytest.mark.parametrize("tune", TUNES.values(), ids=lambda tune: tune.name)
def test_every_tune_has_four_quarters_its_own_bells_and_a_source(tune: object) -> None:
    from quarterjack.tunes import Tune

    assert isinstance(tune, Tune)
    assert len(tune.quarters) == 4
    used = {bell for quarter in tune.quarters for phrase in quarter for bell in phrase}
    assert used == set(range(1, tune.bells + 1))
    assert tune.source
