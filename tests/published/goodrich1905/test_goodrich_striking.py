"""Blows of a day: Goodrich, *The Modern Clock* (1905), chapter XVI."""

from __future__ import annotations

import pytest

from quarterjack.horology import blows_in_hours, count_wheel_divisions


@pytest.mark.parametrize(
    ("hours", "half_hour_blows", "blows"),
    [
        (12, 0, 78),
        (24, 0, 156),
        (30, 0, 177),  # a thirty-hour clock strikes one to six once more
        (24, 1, 180),
        (12, 1, 90),
    ],
)
def test_blows(hours: int, half_hour_blows: int, blows: int) -> None:
    assert blows_in_hours(hours, half_hour_blows=half_hour_blows) == blows


def test_count_wheels() -> None:
    assert count_wheel_divisions() == 78
    assert count_wheel_divisions(silent_half_hours=0) == 90
