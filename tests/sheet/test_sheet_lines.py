"""The line of every key, against plain text search for values that occur once."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from quarterjack.sheet import KINDS, starter
from quarterjack.sheet.lines import Path, find_lines


def leaves(value: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    if isinstance(value, dict):
        for key, below in value.items():
            yield from leaves(below, (*path, key))
    elif isinstance(value, list):
        for index, below in enumerate(value):
            yield from leaves(below, (*path, index))
    else:
        yield path, value


names = st.one_of(st.from_regex(r"[a-z][a-z0-9_-]{0,6}", fullmatch=True), st.sampled_from(["a b", 'q"q', "ü.x", ""]))
trees = st.recursive(
    st.just(0),
    lambda below: st.one_of(st.dictionaries(names, below, max_size=4), st.lists(below, max_size=3)),
    max_leaves=12,
)


def numbered(value: Any, count: Iterator[int]) -> Any:
    """Every leaf a number of its own that occurs nowhere else in the text."""
    if isinstance(value, dict):
        return {key: numbered(below, count) for key, below in value.items()}
    if isinstance(value, list):
        return [numbered(below, count) for below in value]
    return next(count)


@given(st.dictionaries(names, trees, max_size=5))
def test_lines_of_generated_documents(tree: dict[str, Any]) -> None:
    document = numbered(tree, iter(range(700_001, 800_000)))
    text = tomlkit.dumps(document)
    assert tomllib.loads(text) == document
    lines = find_lines(text)
    for path, value in leaves(document):
        at = next(number for number, line in enumerate(text.splitlines(), start=1) if str(value) in line)
        assert lines[path] == at, path


TEXT = '''\
# [not.a.table]
title = "x # not a comment" # comment
long = """
key = 'inside'
[inside]
"""
raw = \'\'\'a
b\'\'\'
[ a . "b c" ]
d.e = 1 # d
d.f = { g = 2, "h i" = [3, 4] }
list = [ # comment with ] in it
  1,
  { x = 5 }, # {
  [ 6,
    7 ],
]
when = 1979-05-27 07:32:00
[[row]]
k = 1
[[row.sub]]
k = 2
[[row.sub]]
k = 3
[[row]]
k = 4
[row.more]
k = 5
[[row.sub]]
k = 6
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("title",), 2),
        (("long",), 3),
        (("raw",), 7),
        (("a", "b c"), 9),
        (("a", "b c", "d", "e"), 10),
        (("a", "b c", "d", "f", "g"), 11),
        (("a", "b c", "d", "f", "h i", 1), 11),
        (("a", "b c", "list", 0), 13),
        (("a", "b c", "list", 1, "x"), 14),
        (("a", "b c", "list", 2, 1), 16),
        (("a", "b c", "when"), 18),
        (("row", 0, "k"), 20),
        (("row", 0, "sub", 0, "k"), 22),
        (("row", 0, "sub", 1, "k"), 24),
        (("row", 1, "k"), 26),
        (("row", 1, "more", "k"), 28),
        (("row", 1, "sub", 0, "k"), 30),
    ],
)
def test_lines_of_every_form_of_toml(path: Path, line: int) -> None:
    tomllib.loads(TEXT)
    assert find_lines(TEXT)[path] == line


def test_windows_lines_count_alike() -> None:
    assert find_lines(TEXT.replace("\n", "\r\n")) == find_lines(TEXT)


@pytest.mark.parametrize("kind", KINDS)
def test_every_value_of_a_starter_has_a_line(kind: str) -> None:
    text = starter(kind)
    lines = find_lines(text)
    for path, _ in leaves(tomllib.loads(text)):
        key = [part for part in path if isinstance(part, str)][-1]
        assert key in text.splitlines()[lines[path] - 1]
