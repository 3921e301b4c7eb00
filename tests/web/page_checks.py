"""What is checked of a page in a browser: faults of scripts, what axe finds, and whether it fits its window."""

from __future__ import annotations

from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

# A browser that asks nobody anything while it is tested.
QUIET = (
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
)


def watch(page: Page, troubles: list[str]) -> None:
    """Note every fault of a script, and every refusal by the page's own rules."""
    page.on("pageerror", lambda error: troubles.append(str(error)))

    def console(message: Any) -> None:
        # That an answer was 4xx is for the test to judge; the browser's own line about it is no fault of a script.
        if message.type == "error" and "Failed to load resource" not in message.text:
            troubles.append(message.text)

    page.on("console", console)


def violations(page: Page) -> list[str]:
    """What axe finds wrong on the page, one line each."""
    found = Axe().run(page).response["violations"]
    return [f"{one['id']}: {one['help']}: {[node['html'][:160] for node in one['nodes'][:3]]}" for one in found]


def sideways(page: Page) -> int:
    """By how many pixels the page is wider than the window."""
    return int(page.evaluate("document.documentElement.scrollWidth - window.innerWidth"))
