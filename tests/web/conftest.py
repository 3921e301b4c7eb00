"""What the page tests share: the pages over an empty bench, asked directly, or served and met in a real browser."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx
import pytest
import uvicorn
from page_checks import QUIET, watch
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from quarterjack.web import create_app
from quarterjack.web.serve import free_port
from quarterjack.workshop import Bench, make_demo

OpenPage = Callable[..., Page]


@dataclass(frozen=True)
class Site:
    """Pages that are being served: where, and over which bench folder."""

    address: str
    folder: Path


@pytest.fixture
def client(tmp_path: Path) -> Iterator[httpx.Client]:
    """The pages over an empty bench, asked over the loopback address without a browser."""
    with _served(tmp_path / "bench") as site, httpx.Client(base_url=site.address, timeout=60) as opened:
        yield opened


class _served:
    """Serve the pages on a free port while inside."""

    def __init__(self, folder: Path) -> None:
        self.site = Site(f"http://127.0.0.1:{(port := free_port(0))}", folder)
        config = uvicorn.Config(
            create_app(folder), host="127.0.0.1", port=port, log_level="warning", ws="websockets-sansio"
        )
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, daemon=True)

    def __enter__(self) -> Site:
        self._thread.start()
        give_up = time.monotonic() + 20
        while not self._server.started:
            assert time.monotonic() < give_up, "the pages did not come up within 20 s"
            time.sleep(0.02)
        return self.site

    def __exit__(self, *_: object) -> None:
        self._server.should_exit = True
        self._thread.join(20)


@pytest.fixture(scope="session")
def invented(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bench folder with the invented clock in it, to be copied and not changed."""
    folder = tmp_path_factory.mktemp("invented")
    make_demo(Bench(folder))
    return folder


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    """Pages served over an empty bench."""
    with _served(tmp_path / "bench") as served:
        yield served


def _browser(chromium: Any, *switches: str) -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=chromium.path, args=[*chromium.args, *QUIET, *switches], headless=True
        )
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def browser(chromium: Any) -> Iterator[Browser]:
    """One Chromium for the tests of a module."""
    yield from _browser(chromium)


@pytest.fixture
def open_page(browser: Browser, site: Site) -> Iterator[OpenPage]:
    """Open a page of the site: `open_page("/listen", width=390, dark=True)`.

    A fault of a script, and anything the page's own rules refuse, fails the test at its end.
    """
    contexts: list[BrowserContext] = []
    troubles: list[str] = []

    def opened(path: str, *, width: int = 1280, dark: bool = False, **options: Any) -> Page:
        context = browser.new_context(
            base_url=site.address,
            viewport={"width": width, "height": 900},
            color_scheme="dark" if dark else "light",
            **options,
        )
        contexts.append(context)
        page = context.new_page()
        watch(page, troubles)
        page.goto(path)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert not troubles, troubles
