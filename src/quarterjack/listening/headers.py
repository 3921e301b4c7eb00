"""What the header of a WAV, RF64 or W64 file says, read without believing its sizes.

A recorder that lost power leaves a header whose sizes are zero, or those of its last flush. The samples go on to
the end of the file all the same, so the data chunk is followed as far as the file goes unless another chunk
really begins where it is said to end. Sources: EBU Tech 3285 (bext) and 3306 (RF64); the W64 layout is that which
libsndfile writes.
"""

from __future__ import annotations

import os
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

_W64_DATA = b"data\xf3\xac\xd3\x11\x8c\xd1\x00\xc0\x4f\x8e\xdb\x8a"
_W64_RIFF = b"riff"
_W64_HEAD = 40
_MOST_CHUNKS = 200


@dataclass(frozen=True)
class WaveHeader:
    """Where the samples stand in the file (`data_bytes` reaches at most to its end) and what a bext chunk says."""

    data_at: int
    data_bytes: int
    sizes_believed: bool
    originated: str | None = None


def read_wave_header(path: Path) -> WaveHeader | None:
    """Find the samples of a WAV, RF64 or W64 file; None where the file is none of these or has no data chunk."""
    with path.open("rb") as file:
        size = os.fstat(file.fileno()).st_size
        head = file.read(16)
        if head[:4] in (b"RIFF", b"RF64") and head[8:12] == b"WAVE":
            return _walk(file, size, at=12, wide=False)
        if head[:4] == _W64_RIFF:
            return _walk(file, size, at=_W64_HEAD, wide=True)
    return None


def _walk(file: BinaryIO, size: int, *, at: int, wide: bool) -> WaveHeader | None:
    head_bytes = 24 if wide else 8
    originated, ds64_data = None, 0
    for _ in range(_MOST_CHUNKS):
        file.seek(at)
        head = file.read(head_bytes)
        if len(head) < head_bytes:
            return None
        if wide:
            length = max(struct.unpack("<Q", head[16:])[0] - head_bytes, 0)
            is_data = head[:16] == _W64_DATA
        else:
            length = struct.unpack("<I", head[4:])[0]
            is_data = head[:4] == b"data"
        body = at + head_bytes
        if is_data:
            if not wide and length == 0xFFFFFFFF and ds64_data:
                length = ds64_data
            believed = body + length == size or (length > 0 and _chunk_at(file, body + length, size, wide))
            return WaveHeader(body, length if believed else size - body, believed, originated)
        if not wide and head[:4] == b"ds64":
            ds64_data = struct.unpack("<Q", file.read(16)[8:16].ljust(8, b"\0"))[0]
        if not wide and head[:4] == b"bext":
            originated = _bext_origin(file.read(338))
        at = body + length
        at += -at % 8 if wide else length & 1
    return None


def _chunk_at(file: BinaryIO, at: int, size: int, wide: bool) -> bool:
    """Whether a chunk that fits the file begins at `at` (or after its padding)."""
    for start in (at + -at % 8,) if wide else (at, at + 1):
        if start == size:
            return True
        file.seek(start)
        head = file.read(24 if wide else 8)
        if len(head) < (24 if wide else 8) or not head[:4].isascii() or not head[:4].decode().isprintable():
            continue
        length = struct.unpack("<Q", head[16:])[0] - 24 if wide else struct.unpack("<I", head[4:])[0]
        if length >= 0 and start + len(head) + length <= size + 1:
            return True
    return False


def _bext_origin(chunk: bytes) -> str | None:
    """Origination date and time of a bext chunk (bytes 320 to 337), separators as written."""
    text = chunk[320:338].decode("ascii", "replace").strip("\0 ")
    return f"{text[:10]} {text[10:]}" if len(text) == 18 else None
