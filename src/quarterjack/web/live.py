"""The live line: numbered batches of sound come in, and once a second what was heard so far goes back."""

from __future__ import annotations

import asyncio
import contextlib
import hashlib
import json
import logging
import struct
import time
from collections import deque
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

import numpy as np
import soundfile
from fastapi import APIRouter, WebSocket, WebSocketDisconnect
from numpy.typing import NDArray
from pydantic import BaseModel, Field, ValidationError

from quarterjack.errors import OutOfRange, QuarterjackError, error_document
from quarterjack.listening import Listener, RecordingFacts
from quarterjack.web.heard_view import Ear, live_document
from quarterjack.web.mending import Mender
from quarterjack.web.spool import Listening, Spool

router = APIRouter()
_LOG = logging.getLogger("quarterjack.web")

HEAD: Final = struct.Struct("<IId")
"""A batch begins with its sequence number, the count of its samples, and the number of its first sample."""

LONGEST_BATCH_S: Final = 5.0
LONGEST_HOLE_S: Final = 600.0
LONGEST_SITTING_S: Final = 4 * 3600.0
LEVEL_OVER_S: Final = 5.0
BEHIND_SHARE: Final = 0.01
"""Silence put in by the browser is taken out without a word up to this share of the sound."""

FULL_SCALE: Final = 0.999


class Hello(BaseModel):
    """What the page says before the first batch."""

    sample_rate_hz: int = Field(ge=8_000, le=192_000)
    processing: list[str] = Field(default_factory=list, max_length=8)
    microphone: str = Field(default="", max_length=200)


class Sitting:
    """One sitting at the microphone: the listener, and the sound on disk as it comes.

    The sound goes into a W64 file, which can be read after the program was killed, and becomes FLAC at the end.
    """

    def __init__(self, listening: Listening, hello: Hello) -> None:
        self.listening, self.hello = listening, hello
        self.rate = hello.sample_rate_hz
        self.listener = Listener(self.rate)
        self.mender = Mender(self.rate)
        self.started = datetime.now(UTC)
        self.next_sample = 0
        self.written = 0
        self.lost_batches = 0
        self._levels: deque[tuple[int, float, int]] = deque()
        self._path = listening.folder / "live.w64"
        self._file = soundfile.SoundFile(
            self._path, "w", samplerate=self.rate, channels=1, format="W64", subtype="PCM_24"
        )

    def take(self, batch: bytes) -> None:
        """Feed one batch to the listener and to the disk.

        Raises
        ------
        OutOfRange
            If the batch does not say of itself what it holds, or lies before sound that is already in.
        """
        first, samples = self._unpack(batch)
        hole = first - self.next_sample
        if hole > 0:
            self._pass_on(self.mender.rest())
            self._pass_on(np.zeros(hole, np.float32), lost=True)
            self.lost_batches += 1
        self._pass_on(self.mender.feed(samples))
        self.next_sample = first + samples.size
        magnitude = np.abs(samples)
        full = int(np.count_nonzero(magnitude >= FULL_SCALE))
        self._levels.append((self.next_sample, float(magnitude.max(initial=0.0)), full))
        while self._levels[0][0] < self.next_sample - LEVEL_OVER_S * self.rate:
            self._levels.popleft()

    def _pass_on(self, samples: NDArray[np.float32], *, lost: bool = False) -> None:
        """Write samples to disk and let them be heard; lost ones are written as silence and heard as a gap."""
        if not samples.size:
            return
        self._file.write(samples)
        if not lost:
            self.listener.feed(samples, self.written)
        self.written += samples.size

    def _unpack(self, batch: bytes) -> tuple[int, NDArray[np.float32]]:
        if len(batch) < HEAD.size:
            raise OutOfRange("A batch of sound is shorter than its own heading.", bytes=len(batch))
        _, count, first_number = HEAD.unpack_from(batch)
        if count * 4 != len(batch) - HEAD.size or not 0 < count <= LONGEST_BATCH_S * self.rate:
            raise OutOfRange(
                f"A batch of sound says {count} samples; up to {LONGEST_BATCH_S:g} s are taken, "
                "and the count must be true.",
                count=count,
            )
        if not (first_number.is_integer() and 0 <= first_number - self.next_sample <= LONGEST_HOLE_S * self.rate):
            raise OutOfRange(
                f"A batch of sound begins at sample {first_number:g}, but the next one is {self.next_sample}.",
                first_sample=first_number,
            )
        samples = np.frombuffer(batch, "<f4", count, HEAD.size).astype(np.float32)
        if not np.isfinite(samples).all():
            raise OutOfRange("A batch of sound holds values that are not numbers.", first_sample=first_number)
        return int(first_number), np.clip(samples, -1.0, 1.0)

    @property
    def seconds(self) -> float:
        """How much sound has come in."""
        return self.written / self.rate

    def press(self, seconds: float) -> None:
        """Take the moment of a press, in seconds of the page's own count, in which put-in silence still counts."""
        self.listening.presses_s.append(max(0.0, seconds - self.mender.taken_out / self.rate))

    def ear(self) -> Ear:
        """How the microphone does: level and clipping of the last seconds, and what the browser does to the sound."""
        return Ear(
            peak=max((peak for _, peak, _ in self._levels), default=0.0),
            clipped_now=sum(full for *_, full in self._levels),
            processing=tuple(self.hello.processing),
            holes=self.lost_batches,
            fell_behind=self.mender.times if self.mender.taken_out > BEHIND_SHARE * self.written else 0,
        )

    def now(self) -> dict[str, Any]:
        """What was heard so far, as the page shows it."""
        return live_document(self.listening, self.listener.now(), seconds=self.seconds, ear=self.ear())

    def finish(self) -> None:
        """Close the sound, turn it into FLAC, and hear out what is left."""
        self._pass_on(self.mender.rest())
        self._file.close()
        local = self.started.astimezone()
        path = self.listening.folder / f"heard {local:%Y-%m-%d %H-%M-%S}.flac"
        turn_into_flac(self._path, path)
        self._path.unlink()
        facts = RecordingFacts(
            file=path.name,
            sha256=_sha256(path),
            seconds=self.seconds,
            sample_rate_hz=self.rate,
            channels=1,
            started_utc=self.started.isoformat(timespec="seconds").replace("+00:00", "Z"),
        )
        self.listening.sound, self.listening.name = path, path.name
        self.listening.done(self.listener.finish(facts))

    def abandon(self) -> None:
        """Close the sound without hearing it out."""
        with contextlib.suppress(OSError, RuntimeError):
            self._file.close()


def turn_into_flac(source: Path, target: Path) -> None:
    """Write the sound of one file as FLAC, 24 bits, and check that it reads back the same."""
    with (
        soundfile.SoundFile(source) as sound,
        soundfile.SoundFile(
            target, "w", samplerate=sound.samplerate, channels=sound.channels, format="FLAC", subtype="PCM_24"
        ) as flac,
    ):
        for block in sound.blocks(blocksize=1 << 16, dtype="int32"):
            flac.write(block)
    with soundfile.SoundFile(source) as one, soundfile.SoundFile(target) as other:
        for left, right in zip(
            one.blocks(blocksize=1 << 16, dtype="int32"), other.blocks(blocksize=1 << 16, dtype="int32"), strict=True
        ):
            if not np.array_equal(left, right):
                raise OSError(f"{target.name} does not read back as it was written; is the disk full?")


def _sha256(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


@router.websocket("/api/listen")
async def listen_live(socket: WebSocket) -> None:
    """Take batches until the page says stop or goes away."""
    await socket.accept()
    spool: Spool = socket.app.state.spool
    try:
        hello = Hello.model_validate_json(await socket.receive_text())
    except (ValidationError, KeyError):
        await socket.close(1003, "The first message must say the sample rate (8000 to 192000).")
        return
    sitting = Sitting(spool.new("live sound", live=True), hello)
    try:
        gone = await _converse(socket, sitting)
        await asyncio.to_thread(sitting.finish)
        if not gone:
            await socket.send_json(sitting_document(sitting))
            await socket.close()
    except QuarterjackError as error:
        sitting.abandon()
        sitting.listening.failed(error)
        await _last_word(socket, error.document())
    except Exception as error:
        _LOG.exception("the live line broke")
        sitting.abandon()
        spool.let_go(sitting.listening.id)
        await _last_word(socket, error_document("internal", f"{type(error).__name__}: {error}"))


def sitting_document(sitting: Sitting) -> dict[str, Any]:
    """What was heard in the whole sitting, as the page shows it."""
    heard = sitting.listening.heard
    assert heard is not None
    return live_document(sitting.listening, heard, seconds=sitting.seconds, ear=sitting.ear())


async def _converse(socket: WebSocket, sitting: Sitting) -> bool:
    """Take what comes until it ends; true if the page is gone without having said so."""
    next_answer = time.monotonic() + 1.0
    while True:
        message = await socket.receive()
        if message["type"] == "websocket.disconnect":
            return True
        if message.get("bytes") is not None:
            await asyncio.to_thread(sitting.take, message["bytes"])
            if sitting.seconds >= LONGEST_SITTING_S:
                return False
        elif message.get("text") is not None and _told(sitting, message["text"]):
            return False
        if time.monotonic() >= next_answer:
            began = time.monotonic()
            try:
                await socket.send_json(await asyncio.to_thread(sitting.now))
            except WebSocketDisconnect:
                return True
            # After hours of chimes an answer takes longer; it must never take the time that listening needs.
            now = time.monotonic()
            next_answer = now + max(1.0, 4 * (now - began))


def _told(sitting: Sitting, text: str) -> bool:
    """Take a word from the page; true if it says stop."""
    try:
        word = json.loads(text)
    except ValueError:
        return False
    if not isinstance(word, dict):
        return False
    press = word.get("press_s")
    if isinstance(press, int | float) and 0 <= press <= LONGEST_SITTING_S:
        sitting.press(float(press))
    if word.get("forget_presses"):
        sitting.listening.presses_s.clear()
    return bool(word.get("stop"))


async def _last_word(socket: WebSocket, document: dict[str, Any]) -> None:
    with contextlib.suppress(RuntimeError, OSError, WebSocketDisconnect):
        await socket.send_json(document)
        await socket.close(1011, document["message"][:120])
