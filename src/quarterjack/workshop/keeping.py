"""How a file is kept: whole or not at all, on disk before it is acknowledged, and never in place of another.

A write goes to a temporary file in the same folder, is flushed to disk, and only then gets its name; the folder is
flushed too, because on many file systems the name is what a power cut loses.
"""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from quarterjack.errors import FileExists

TEMPORARY = ".part-"
# Names that Windows keeps for devices, whatever their suffix.
_DEVICES = {"con", "prn", "aux", "nul", *(f"com{n}" for n in range(1, 10)), *(f"lpt{n}" for n in range(1, 10))}
_LONGEST = 60
_CHUNK = 1 << 20


def flush_folder(folder: Path) -> None:
    """Make the names in a folder durable, where the system can (Windows keeps them without being asked)."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


@contextmanager
def being_written(folder: Path) -> Iterator[tuple[BinaryIO, Path]]:
    """Open a temporary file in `folder`; what is still there under that name at the end is removed."""
    folder.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(prefix=TEMPORARY, dir=folder)
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as stream:
            yield stream, temporary
    finally:
        with suppress(FileNotFoundError):
            temporary.unlink()


def settle(stream: BinaryIO) -> None:
    """Bring what was written to the disk itself, and close the file."""
    stream.flush()
    os.fsync(stream.fileno())
    stream.close()


def give_name(temporary: Path, path: Path) -> None:
    """Let a settled temporary file be known as `path`, which must not be there yet.

    Raises
    ------
    FileExists
        If there is already something of that name; it is left as it was.
    """
    try:
        try:
            os.link(temporary, path)
        except FileExistsError:
            raise
        except OSError:  # a file system without hard links (FAT on a stick): look first, then rename
            if path.exists():
                raise FileExistsError from None
            temporary.rename(path)
    except FileExistsError:
        raise FileExists(f"{path} is already there and is not overwritten.", file=str(path)) from None
    flush_folder(path.parent)


def write_new(path: Path, data: bytes) -> None:
    """Write a new file, whole and durable.

    Raises
    ------
    FileExists
        If there is already a file of that name.
    """
    with being_written(path.parent) as (stream, temporary):
        stream.write(data)
        settle(stream)
        give_name(temporary, path)


def sha256_of(path: Path) -> str:
    """SHA-256 of a file of any length, in hexadecimal."""
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        while chunk := stream.read(_CHUNK):
            digest.update(chunk)
    return digest.hexdigest()


def slug_of(name: str) -> str:
    """A name that is safe in a path and in an address on every system: a-z, 0-9 and hyphens, at most 60 letters."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:_LONGEST].strip("-")
    return f"clock-{slug}".rstrip("-") if not slug or slug in _DEVICES else slug


def is_slug(text: str) -> bool:
    """Whether a text from outside may be used as the name of a clock's folder."""
    return bool(re.fullmatch(r"[a-z0-9]+(?:-[a-z0-9]+)*", text)) and text not in _DEVICES


def safe_filename(name: str) -> str:
    """The name of an uploaded file without any folder and without letters that a system or an address could misread.

    The letters of any language stay, since a file should be known again by who recorded it.
    """
    last = re.split(r"[/\\]", unicodedata.normalize("NFC", name))[-1]
    kept = re.sub(r"[^\w.+@()-]+", "_", last).strip("._ ")
    stem, dot, suffix = kept.rpartition(".")
    stem, suffix = (stem, suffix[:10]) if dot else (kept, "")
    stem = stem.strip("._ ")[:80] or "recording"
    if stem.lower().split(".")[0] in _DEVICES:
        stem = f"recording-{stem}"
    return f"{stem}.{suffix}" if suffix else stem


def numbered(name: str, taken: set[str]) -> str:
    """`name`, or `name-2`, `name-3`, … before its suffix: the first that is not taken (case does not count)."""
    lower = {one.lower() for one in taken}
    stem, dot, suffix = name.rpartition(".")
    if not dot:
        stem, suffix = name, ""
    number, candidate = 1, name
    while candidate.lower() in lower:
        number += 1
        candidate = f"{stem}-{number}{dot}{suffix}"
    return candidate
