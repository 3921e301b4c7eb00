"""What was listened to since the program was started: sound on disk, and what was heard of it, until kept or let go."""

from __future__ import annotations

import secrets
import shutil
import tempfile
import threading
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from quarterjack.errors import QuarterjackError, RecordingNotFound, StoppedByUser
from quarterjack.listening import Heard

MOST_HELD: Final = 8
"""Listenings held at a time; the oldest that is not being read is let go for a new one."""


@dataclass
class Listening:
    """One recording or one sitting at the microphone.

    `state` is "reading", "done", "failed" or "stopped". Only the thread that reads changes it, except for `stopping`
    and the presses.
    """

    id: str
    folder: Path
    name: str
    live: bool = False
    state: str = "reading"
    progress: float = 0.0
    doing: str = "taking the sound in"
    sound: Path | None = None
    heard: Heard | None = None
    error: QuarterjackError | None = None
    presses_s: list[float] = field(default_factory=list)
    crutch_m: float | None = None
    feet_m: float | None = None
    stopping: threading.Event = field(default_factory=threading.Event)

    def report(self, fraction: float, doing: str) -> None:
        """Note how far the reading has come; raises `StoppedByUser` once the user has called it off."""
        self.progress, self.doing = fraction, doing
        if self.stopping.is_set():
            raise StoppedByUser("Stopped before the end; nothing was kept.")

    def done(self, heard: Heard) -> None:
        """Note what was heard."""
        self.heard, self.state, self.progress = heard, "done", 1.0

    def failed(self, error: QuarterjackError) -> None:
        """Note why nothing was heard."""
        self.error = error
        self.state = "stopped" if isinstance(error, StoppedByUser) else "failed"


class Spool:
    """The listenings of one run of the program, in a temporary folder that goes with it."""

    def __init__(self) -> None:
        self._folder: Path | None = None
        self._held: dict[str, Listening] = {}
        self._lock = threading.Lock()

    def new(self, name: str, *, live: bool = False) -> Listening:
        """Begin a listening with a folder of its own; `name` must be safe as a file's name."""
        with self._lock:
            if self._folder is None:
                self._folder = Path(tempfile.mkdtemp(prefix="quarterjack-"))
            key = secrets.token_urlsafe(9)
            folder = self._folder / key
            folder.mkdir()
            listening = Listening(key, folder, name, live)
            self._held[key] = listening
            idle = [one for one in self._held.values() if one.state != "reading"]
        for old in idle[: max(0, len(self._held) - MOST_HELD)]:
            self.let_go(old.id)
        return listening

    def get(self, key: str) -> Listening:
        """The listening of that id.

        Raises
        ------
        RecordingNotFound
            If it was kept, let go, or never was.
        """
        try:
            return self._held[key]
        except KeyError:
            raise RecordingNotFound(
                "This is no longer held: it was kept, let go, or the program was started anew. Listen again.", id=key
            ) from None

    def held(self) -> tuple[Listening, ...]:
        """Every listening with something heard, the latest first."""
        return tuple(one for one in reversed(self._held.values()) if one.state == "done")

    def let_go(self, key: str) -> None:
        """Call off the reading if it still goes on, and delete the sound."""
        with self._lock:
            listening = self._held.pop(key, None)
        if listening is not None:
            listening.stopping.set()
            shutil.rmtree(listening.folder, ignore_errors=True)

    def close(self) -> None:
        """Delete everything that was not kept."""
        for key in list(self._held):
            self.let_go(key)
        if self._folder is not None:
            shutil.rmtree(self._folder, ignore_errors=True)
            self._folder = None
