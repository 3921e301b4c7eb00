"""The second door, asked without a browser: forms that are part of the address, and numbers from print."""

from __future__ import annotations

import re

import httpx
import pytest

from quarterjack.web.asked import Asked


def answer(client: httpx.Client, path: str, **fields: str) -> str:
    """The answer's text without its marks."""
    page = client.get(path, params=fields, headers={"accept": "text/html"})
    assert page.status_code == 200
    found = re.search(r'<section id="answer".*?</section>', page.text, re.DOTALL)
    assert found, page.text
    words = re.sub(r"<[^>]*>", " ", found[0]).replace("\u2009", "")
    return re.sub(r"\s+", " ", words)


def test_a_seconds_pendulum_is_994_mm_in_standard_gravity(client: httpx.Client) -> None:
    """L = g/pi^2: 0.993621 m for g = 9.80665 m/s^2 (3rd CGPM 1901)."""
    text = answer(client, "/work-out/pendulum", beats="3600")
    assert "993.6 mm" in text
    assert "39.12 in" in text
    assert "43.5 s a day" in text  # 43,200/L, ../shared/reference/trade_practice.md, section 0


def test_a_length_in_inches_gives_beats_and_both_give_what_to_change(client: httpx.Client) -> None:
    """39 1/8 in is 993.775 mm, 0.154 mm longer than the seconds pendulum."""
    text = answer(client, "/work-out/pendulum", beats="3600", length="39 1/8 in")
    assert "3599.7" in text
    assert "Shorten by 0.15 mm" in text


def test_a_decimal_comma_is_read(client: httpx.Client) -> None:
    assert "3599.3" in answer(client, "/work-out/pendulum", length="0,994 m")


def test_the_train_of_a_seconds_clock(client: httpx.Client) -> None:
    """64/8 x 60/8 x 30 x 2 = 3600: the ordinary eight-day train, ../shared/reference/trade_practice.md, section 0."""
    text = answer(client, "/work-out/train", wheels="64, 60", pinions="8 8", escape="30")
    assert "Beats an hour 3600" in text
    assert "7.5 min" in text
    assert "993.6 mm" in text


def test_a_line_from_two_numbers_says_what_it_took_and_from_six_takes_nothing(client: httpx.Client) -> None:
    """16 turns of 45 mm with a 1.4 mm line wind pi x 46.4 x 16 = 2332 mm (Goodrich 1905, ch. XV)."""
    rough = answer(client, "/work-out/line", turns="16", barrel="45")
    assert "2332 mm" in rough
    assert "1166 mm on 2 falls" in rough
    assert "Not given, so taken as is usual" in rough
    fields = {"turns": "16", "barrel": "45", "line": "1.4", "falls": "1", "drop": "100", "fastening": "100"}
    exact = answer(client, "/work-out/line", **fields)
    assert "Cut 2532 mm" in exact
    assert "taken" not in exact
    assert "Caution" not in exact
    assert "Never wind a weight up on a doubtful line" in exact


@pytest.mark.parametrize(
    ("path", "fields", "field"),
    [
        ("/work-out/pendulum", {"beats": "often"}, "beats"),
        ("/work-out/pendulum", {"length": "12 cubits"}, "length"),
        ("/work-out/train", {"wheels": "64 and 60", "pinions": "8 8", "escape": "30"}, "wheels"),
        ("/work-out/line", {"turns": "1/0", "barrel": "45"}, "turns"),
    ],
)
def test_what_cannot_be_read_is_said_beside_its_field(
    client: httpx.Client, path: str, fields: dict[str, str], field: str
) -> None:
    page = client.get(path, params=fields, headers={"accept": "text/html"})
    assert page.status_code == 422
    assert f'aria-describedby="{field}-wrong"' in page.text
    assert f'id="{field}-wrong"' in page.text


@pytest.mark.parametrize(
    ("path", "fields"),
    [
        ("/work-out/pendulum", {"beats": "-5"}),
        ("/work-out/train", {"wheels": "64 60", "pinions": "8", "escape": "30"}),
        ("/work-out/train", {"wheels": "64", "pinions": "0", "escape": "30"}),
        ("/work-out/line", {"turns": "16", "barrel": "45", "falls": "9"}),
        ("/work-out/pendulum", {"beats": "3600", "latitude": "120"}),
    ],
)
def test_what_is_out_of_range_is_said_and_breaks_nothing(
    client: httpx.Client, path: str, fields: dict[str, str]
) -> None:
    page = client.get(path, params=fields, headers={"accept": "text/html"})
    assert page.status_code == 422
    assert 'class="notice"' in page.text


def test_what_was_typed_is_shown_again_and_is_never_markup(client: httpx.Client) -> None:
    page = client.get(
        "/work-out/pendulum", params={"beats": '"><script>alert(1)</script>'}, headers={"accept": "text/html"}
    )
    assert "<script>alert" not in page.text


def test_counts_are_read_as_people_write_them() -> None:
    asked = Asked({"a": "64, 60", "b": "64/60", "c": "64x60", "d": "", "e": "6.4"})
    assert [asked.counts(name) for name in "abcd"] == [(64, 60), (64, 60), (64, 60), None]
    assert asked.counts("e") is None
    assert set(asked.wrong) == {"e"}
