"""Every public function says its units, its bounds, what it refuses and where its formula comes from."""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from quarterjack import horology

FUNCTIONS = [getattr(horology, name) for name in horology.__all__ if inspect.isfunction(getattr(horology, name))]
SOURCES = Path(__file__).resolve().parents[2] / "docs" / "sources.md"
NO_FORMULA = ("derived", "common practice", "a count")


def sections(function: Callable[..., object]) -> dict[str, str]:
    """The parts of a numpydoc docstring by their titles."""
    parts = re.split(r"^(\w+)\n-{3,}$", inspect.getdoc(function) or "", flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda function: function.__name__)
def test_docstring(function: Callable[..., object]) -> None:
    parts = sections(function)
    described = re.findall(r"^(\w[\w, ]*) : [^\n]+\n    \S", parts["Parameters"], re.MULTILINE)
    names = [name.strip() for entry in described for name in entry.split(",")]
    assert names == list(inspect.signature(function).parameters)
    assert parts["Returns"].strip()
    notes = parts["Notes"]
    keys = set(re.findall(r"^`(\w+)`$", SOURCES.read_text("utf-8"), re.MULTILINE))
    named = set(re.findall(r"\b[a-z]+\d{2,4}\b", notes))
    assert named <= keys, "a source is named that docs/sources.md does not list"
    assert named or any(word in notes.lower() for word in NO_FORMULA)
    raised = set(re.findall(r"raise (\w+)", inspect.getsource(function)))
    if raised or "checked(" in inspect.getsource(function):
        assert raised <= set(re.findall(r"^\w+", parts["Raises"], re.MULTILINE))


def test_functions_of_numbers_name_their_unit() -> None:
    for function in FUNCTIONS:
        name = function.__name__
        units = r"_(m|s|h|deg|s_per_day|m_per_s2|per_hour|beats_per_hour)$"
        hints = inspect.signature(function).return_annotation
        if hints == "Number" and not re.search(units, name):
            assert name in {
                "barrel_turns",
                "beats_of_escape_wheel",
                "chime_barrel_turns_per_hour",
                "train_ratio",
                "turns_of_fall",
            }, f"{name} does not say its unit"
