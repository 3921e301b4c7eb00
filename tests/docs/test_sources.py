"""Every source that the code names stands in the manual's list of sources."""

from __future__ import annotations

import re
from pathlib import Path

from quarterjack.tunes import TUNES

ROOT = Path(__file__).resolve().parents[2]
KEY = r"[a-z]{3,}\d{2,4}"


def listed() -> set[str]:
    text = (ROOT / "docs" / "sources.md").read_text(encoding="utf-8")
    return set(re.findall(r"^`(\w+)`\n: ", text, re.M))


def named() -> dict[str, set[str]]:
    """Keys that code and tests name, and the files that name them.

    A key is a name and a year wherever it stands, or any key that opens a part of a bracket: `[wgs84; derham1696 II]`.
    """
    found: dict[str, set[str]] = {}
    for folder in ("src", "tests", "benchmarks"):
        for path in (ROOT / folder).rglob("*.py"):
            text = path.read_text(encoding="utf-8")
            keys = set(re.findall(r"\b[a-z]{3,}(?:1[5-9]|20)\d\d\b", text))
            for bracket in re.findall(rf"\[({KEY}[^\]\n]*)\]", text):
                keys |= {part.split()[0].rstrip(",.") for part in bracket.split(";") if part.split()}
            for key in keys:
                found.setdefault(key, set()).add(str(path.relative_to(ROOT)))
    return found


def test_every_source_that_is_named_is_listed() -> None:
    missing = {key: sorted(files) for key, files in named().items() if key not in listed()}
    assert missing == {}


def test_the_test_sees_keys() -> None:
    assert {"beckett1903", "goodrich1905", "derham1696", "wgs84"} <= set(named())


def test_every_tune_names_listed_sources() -> None:
    for tune in TUNES.values():
        for part in re.split(r"[;,]", tune.source):
            key = part.split()[0]
            assert key in listed() or key == "after", tune.source
