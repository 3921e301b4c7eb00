"""The third door, asked without a browser."""

from __future__ import annotations

import httpx
import pytest

from quarterjack.errors import OutOfRange, UnitNotUnderstood
from quarterjack.web.stop_pages import dial_minutes

HTML = {"accept": "text/html"}


def test_dial_times_are_read_as_people_write_them() -> None:
    assert dial_minutes("3:58, 5.57 and 20:58;12:00") == (238, 357, 538, 0)
    assert dial_minutes("  ") == ()
    with pytest.raises(UnitNotUnderstood, match="half-past"):
        dial_minutes("3:58 half-past")
    with pytest.raises(OutOfRange, match="61"):
        dial_minutes("1:00 " * 61)


def test_one_stop_lists_what_acts_and_three_say_what_they_share(client: httpx.Client) -> None:
    one = client.get("/stops", params={"at": "3:58"}, headers=HTML).text
    assert "At 3:58" in one
    assert "lifting piece for the hour" in one
    assert "What they share" not in one
    three = client.get("/stops", params={"at": "3:58 5:57 8:58 11:57"}, headers=HTML).text
    assert "What they share" in three
    assert "into every 60 min" in three
    assert "Caution" not in three  # the word is set by the style, once
    assert "A stopped clock keeps its power" in three


def test_a_stop_at_a_crossing_names_it(client: httpx.Client) -> None:
    """Hands pass each other 11 times in 12 hours, one near 3:16: ../shared/reference/trade_practice.md, F1."""
    assert "minute hand passes the hour hand" in client.get("/stops", params={"at": "3:16"}, headers=HTML).text
    assert "minute hand passes the hour hand" not in client.get("/stops", params={"at": "3:30"}, headers=HTML).text


def test_what_is_no_time_is_said_beside_the_field(client: httpx.Client) -> None:
    page = client.get("/stops", params={"at": "27:80"}, headers=HTML)
    assert page.status_code == 422
    assert 'id="at-wrong"' in page.text
    assert client.get("/stops", params={"at": "3:58", "clock": "no-such"}, headers=HTML).status_code == 422
