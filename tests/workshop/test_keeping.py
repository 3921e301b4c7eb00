"""Whole or not at all, never in place of another, and no name that a system could misread."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quarterjack.errors import FileExists
from quarterjack.workshop import is_slug, safe_filename, slug_of
from quarterjack.workshop.keeping import numbered, sha256_of, write_new


def test_a_file_is_never_written_over(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "one.json"
    write_new(path, b"first")
    with pytest.raises(FileExists, match="already there"):
        write_new(path, b"second")
    assert path.read_bytes() == b"first"
    assert [p.name for p in path.parent.iterdir()] == ["one.json"]


def test_a_write_that_fails_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        write_new(tmp_path / "one.json", b"first")
    assert list(tmp_path.iterdir()) == []


def test_without_hard_links_it_is_kept_all_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_links(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    write_new(tmp_path / "one.json", b"first")
    with pytest.raises(FileExists):
        write_new(tmp_path / "one.json", b"second")
    assert (tmp_path / "one.json").read_bytes() == b"first"
    assert len(list(tmp_path.iterdir())) == 1


@given(st.text(max_size=200))
def test_every_name_gives_a_safe_slug(name: str) -> None:
    slug = slug_of(name)
    assert is_slug(slug)
    assert len(slug) <= 70


@pytest.mark.parametrize(
    ("name", "slug"),
    [
        ("Église de Saint-Merle, 3 trains", "eglise-de-saint-merle-3-trains"),
        ("../../etc/passwd", "etc-passwd"),
        ("時計", "clock"),
        ("CON", "clock-con"),
        ("  ", "clock"),
    ],
)
def test_slugs(name: str, slug: str) -> None:
    assert slug_of(name) == slug


@pytest.mark.parametrize("bad", ["..", ".", "", "a/b", "a\\b", "A", "a--b", "-a", "nul", ".part-x", "a b", "a\n"])
def test_what_is_no_slug(bad: str) -> None:
    assert not is_slug(bad)


@given(st.text(min_size=0, max_size=300))
def test_every_file_name_is_safe(name: str) -> None:
    safe = safe_filename(name)
    assert safe
    assert not set(safe) & set('/\\:*?"<>|\0\n %#&')
    assert not safe.startswith(".")
    assert not safe.endswith((".", " "))
    assert len(safe.encode()) < 400


def test_file_names_stay_readable() -> None:
    assert safe_filename("C:\\sound\\Küche abends 19.50.m4a") == "Küche_abends_19.50.m4a"
    assert safe_filename("2026-03-04T19-50-00.WAV") == "2026-03-04T19-50-00.WAV"
    assert safe_filename("..") == "recording"
    assert safe_filename("aux.wav") == "recording-aux.wav"


def test_numbered() -> None:
    assert numbered("a.wav", set()) == "a.wav"
    assert numbered("a.wav", {"A.WAV", "a-2.wav"}) == "a-3.wav"
    assert numbered("hall-clock", {"hall-clock"}) == "hall-clock-2"


def test_sha256_of_the_published_example(tmp_path: Path) -> None:
    # FIPS 180-2, appendix B.1: "abc".
    path = tmp_path / "abc"
    path.write_bytes(b"abc")
    assert sha256_of(path) == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert sha256_of(path) == hashlib.sha256(b"abc").hexdigest()
