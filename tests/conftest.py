"""What all tests share: the folder of real recordings, and a browser."""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

# A busy machine must not fail a property: no example has a deadline, and slow drawing of examples is no fault.
settings.register_profile("quarterjack", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("quarterjack")

ROOT = Path(__file__).resolve().parent.parent
CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")


def _recordings_folder() -> Path:
    named = os.environ.get("QUARTERJACK_RECORDINGS")
    return Path(named) if named else ROOT.parent / "shared" / "recordings"


def _in_ci() -> bool:
    return os.environ.get("CI", "").lower() in {"1", "true", "yes"}


@pytest.fixture(scope="session")
def recordings() -> Path:
    """Folder of the real recordings; a test that asks for it is skipped where the folder is absent."""
    folder = _recordings_folder()
    if not folder.is_dir():
        pytest.skip(f"no recordings at {folder}: set QUARTERJACK_RECORDINGS to the folder that holds them")
    return folder


@dataclass(frozen=True)
class Chromium:
    """The system's Chromium and the switches that every test starts it with.

    Use as `playwright.chromium.launch(executable_path=chromium.path, args=[*chromium.args, …])`.
    """

    path: str
    args: tuple[str, ...]


@pytest.fixture(scope="session")
def chromium() -> Chromium:
    """The system's Chromium: missing, the page tests are skipped with a reason, or fail where CI is set."""
    path = os.environ.get("QUARTERJACK_CHROMIUM") or next(filter(None, map(shutil.which, CHROMIUM_NAMES)), None)
    if path is None:
        reason = f"no Chromium found ({', '.join(CHROMIUM_NAMES)}): install it from the system's packages"
        if _in_ci():
            pytest.fail(reason)
        pytest.skip(reason)
    # Chromium refuses its sandbox to root; anybody else keeps it.
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    return Chromium(path, ("--no-sandbox",) if is_root else ())
