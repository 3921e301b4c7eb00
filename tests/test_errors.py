"""The error tree: one kind, one code, and the built-in that fits."""

from __future__ import annotations

import inspect
import json
import re

import pytest

from quarterjack import errors
from quarterjack.errors import OutOfRange, QuarterjackError, SheetFault, SheetInvalid, UnknownChoice, every_kind

KINDS = every_kind()


def test_every_kind_is_found_and_the_root_last() -> None:
    named = {kind for _, kind in inspect.getmembers(errors, inspect.isclass) if issubclass(kind, QuarterjackError)}
    assert set(KINDS) == named
    assert KINDS[-1] is QuarterjackError


def test_no_two_kinds_share_a_code_and_codes_are_plain_words() -> None:
    codes = [kind.code for kind in KINDS]
    assert len(set(codes)) == len(codes)
    assert all(re.fullmatch(r"[a-z]+(-[a-z]+)*", code) for code in codes)


@pytest.mark.parametrize("kind", KINDS[:-1], ids=lambda kind: kind.__name__)
def test_every_kind_is_also_a_builtin_and_has_an_exit_code_of_the_table(kind: type[QuarterjackError]) -> None:
    builtins = [base for base in kind.__mro__ if base.__module__ == "builtins"]
    assert builtins[0] not in {Exception, BaseException, object}
    assert kind.exit_code in {errors.EXIT_INPUT_UNUSABLE, errors.EXIT_TOO_LITTLE_HEARD, errors.EXIT_STOPPED_BY_USER}


def test_values_stay_on_the_exception() -> None:
    error = OutOfRange("the swing is 91 degrees; allowed are 0 to 90.", value=91.0, high=90.0)
    assert error.fields == {"value": 91.0, "high": 90.0}
    assert error.document() == {
        "format": "quarterjack.error/1",
        "code": "out-of-range",
        "message": "the swing is 91 degrees; allowed are 0 to 90.",
        "fields": {"value": 91.0, "high": 90.0},
    }


def test_a_refused_choice_lists_the_legal_ones() -> None:
    with pytest.raises(ValueError, match=r"mode 'fast' is not known; choose one of: on-time, by-hand\.") as caught:
        raise UnknownChoice("mode", "fast", ["on-time", "by-hand"])
    assert isinstance(caught.value, UnknownChoice)
    assert caught.value.allowed == ("on-time", "by-hand")


def test_several_faults_of_a_sheet_come_together_with_line_and_key() -> None:
    faults = [
        SheetFault(code="out-of-range", file="a.toml", line=3, key="bars[1].bar", text="0 is below 1"),
        SheetFault(code="toml-syntax", file="a.toml", line=None, key="", text="no closing quote"),
    ]
    error = SheetInvalid(faults)
    assert str(error).splitlines() == [
        "The sheet has 2 faults:",
        "a.toml:3: bars[1].bar: 0 is below 1 [out-of-range]",
        "a.toml: no closing quote [toml-syntax]",
    ]
    document = json.loads(json.dumps(error.document()))
    assert document["fields"]["faults"][0] == {
        "code": "out-of-range",
        "file": "a.toml",
        "key": "bars[1].bar",
        "line": 3,
        "text": "0 is below 1",
    }


def test_what_json_cannot_hold_becomes_text() -> None:
    document = QuarterjackError("x", where=errors, names={"b"}, table={1: (None, True)}).document()
    assert document["fields"] == {"where": str(errors), "names": ["b"], "table": {"1": [None, True]}}
