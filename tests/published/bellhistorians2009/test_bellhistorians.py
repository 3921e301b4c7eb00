"""Blows a day in different styles: F. H. King, Bell Historians mailing list, 6 November 2009."""

from __future__ import annotations

import pytest

from quarterjack.horology import blows_in_hours


@pytest.mark.parametrize(
    ("style", "a_day"),
    [("twelve", 156), ("twenty-four", 300), ("six", 84), ("twelve-each-quarter", 624)],
)
def test_blows_a_day(style: str, a_day: int) -> None:
    assert blows_in_hours(24, style=style) == a_day
