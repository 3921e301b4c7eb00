"""The doors in a real browser: reachable, readable, narrow enough, and nothing for axe to find."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from page_checks import sideways, violations
from playwright.sync_api import Page

OpenPage = Callable[..., Page]

PAGES = (
    "/",
    "/listen",
    "/work-out",
    "/work-out/pendulum?beats=3600&length=39+1/8+in",
    "/work-out/train?wheels=64+60&pinions=8+8&escape=30",
    "/work-out/line?turns=16&barrel=45",
    "/work-out/line?turns=many&barrel=45&falls=1",
    "/stops?at=3:58+5:57+8:58",
    "/nowhere",
)


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize(("width", "dark"), [(1280, False), (390, True)])
def test_axe_finds_nothing_and_nothing_runs_off_sideways(
    open_page: OpenPage, path: str, width: int, dark: bool
) -> None:
    page = open_page(path, width=width, dark=dark)
    assert violations(page) == []
    assert sideways(page) <= 0


def test_every_page_fits_a_window_of_360_pixels(open_page: OpenPage) -> None:
    page = open_page("/", width=360)
    for path in PAGES:
        page.goto(path)
        assert sideways(page) <= 0, path


def test_the_first_page_has_three_doors_and_each_opens(open_page: OpenPage) -> None:
    page = open_page("/")
    doors = page.locator(".doors a")
    assert doors.locator("strong").all_inner_texts() == ["Listen", "Work out", "Why does it stop"]
    for name in ("Listen", "Work out", "Why does it stop"):
        page.goto("/")
        page.locator(".doors").get_by_role("link", name=name).click()
        assert page.locator("h1").inner_text() == name


def test_everything_that_is_pressed_is_big_enough_for_a_thumb(open_page: OpenPage) -> None:
    page = open_page("/", width=390)
    for path in PAGES:
        page.goto(path)
        for target in page.locator("button, .button, input:not(.visually-hidden), summary, nav a, .doors a").all():
            box: Any = target.bounding_box()
            if box is not None:
                assert box["height"] >= 48, f"{path}: {target.inner_html()[:80]}"


def test_the_doors_open_from_the_keyboard(open_page: OpenPage) -> None:
    page = open_page("/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the text"
    page.locator(".doors a").first.focus()
    page.keyboard.press("Enter")
    assert page.locator("h1").inner_text() == "Listen"
    assert page.evaluate("getComputedStyle(document.body).fontVariantNumeric").count("tabular-nums") == 1
