"""Stops folded on the periods of the parts that turn with the hands."""

from __future__ import annotations

import numpy as np
import pytest

from quarterjack.causes import CROSSING_MIN, Folded, fold_stops
from quarterjack.errors import OutOfRange
from quarterjack.reckoning import ReckonedArbor, ReckonedTrain, Reckoning
from quarterjack.records import from_json, to_json


def best_period(folded: Folded) -> float:
    assert folded.best is not None
    return folded.folds[folded.best].period_min


@pytest.mark.parametrize(
    ("stops", "period"),
    [
        ([227, 468, 707, 47], 60.0),
        ([57, 117, 297, 357], 60.0),
        ([12, 28, 57, 73, 133, 148], 15.0),
        ([65, 131, 196, 262], CROSSING_MIN),
        ([301, 302, 300], 720.0),
        ([719, 0, 1], 720.0),
    ],
)
def test_the_period_that_stops_share_is_found(stops: list[float], period: float) -> None:
    folded = fold_stops(stops)
    assert folded.points in ("points", "settled")
    assert best_period(folded) == pytest.approx(period)


def test_stops_without_anything_in_common_say_so() -> None:
    folded = fold_stops([100, 250, 611])
    assert folded.points == "nothing yet"
    assert "could not be chance" in folded.text


def test_fewer_than_three_only_list_what_acts() -> None:
    folded = fold_stops([57, 117])
    assert folded.points == "too few"
    assert folded.text.startswith("1 more stop ")
    assert "lifting" in [one.code for one in folded.acting]
    assert fold_stops([]).acting == ()


def test_more_stops_in_the_same_stretch_settle_it_as_promised() -> None:
    stops = [227.0, 468.0, 707.0]
    folded = fold_stops(stops)
    assert folded.points == "points"
    assert folded.best is not None
    more = folded.folds[folded.best].more_to_settle
    assert more == 1
    assert fold_stops([*stops, 47.0]).points == "settled"


def test_chance_points_no_more_often_than_it_says() -> None:
    # 200 trials of five stops at random: a fold may point in 5 of 100; four standard deviations are allowed.
    rng = np.random.default_rng(7)
    pointing = sum(
        fold_stops([float(t) for t in rng.integers(0, 720, 5)]).points in ("points", "settled") for _ in range(200)
    )
    assert pointing <= 200 * 0.05 + 4 * np.sqrt(200 * 0.05 * 0.95)


def test_a_wheel_of_the_sheet_is_folded_on_and_warned_about_moved_hands() -> None:
    arbors = (
        ReckonedArbor("centre", 64, None, 3600.0, 1.0),
        ReckonedArbor("third", 60, 8, 450.0, 8.0),
        ReckonedArbor("escape", 30, 8, 60.0, 60.0),
    )
    clock = Reckoning(clock="Regulator", soundings=(), trains=(ReckonedTrain("going", arbors),), going="going")
    # Five stops at the same place of an arbor of 7.5 minutes, and of nothing longer.
    folded = fold_stops([7.5 * k + 2 for k in (3, 20, 41, 62, 87, 75)], clock)
    assert best_period(folded) == 7.5
    assert folded.best is not None
    assert not folded.folds[folded.best].with_hands
    assert "third" in folded.text
    assert any("hands were moved" in caution for caution in folded.cautions)
    assert from_json(Folded, to_json(folded)) == folded


def test_a_time_that_is_not_on_the_dial_is_refused() -> None:
    with pytest.raises(OutOfRange):
        fold_stops([10, 20, 900])
