"""Long work behind a page: one thing at a time, with how far it is, and a way to stop it."""

from __future__ import annotations

import itertools
import logging
import secrets
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import Any

from quarterjack.errors import QuarterjackError, StoppedByUser
from quarterjack.records import Progress
from quarterjack.web.faults import document_of, error_document

_KEPT = 50
_LOG = logging.getLogger("quarterjack.web")


@dataclass
class Job:
    """A piece of work: `state` is "waiting", "running", "done", "stopped" or "failed"."""

    id: str
    title: str
    back: str
    state: str = "waiting"
    fraction: float = 0.0
    doing: str = "Waiting for its turn"
    result: str | None = None
    error: dict[str, Any] | None = None
    stop: threading.Event = field(default_factory=threading.Event)

    def document(self) -> dict[str, Any]:
        """The job as JSON, for the page that watches it."""
        return {
            "format": "quarterjack.work/1",
            "state": self.state,
            "fraction": round(self.fraction, 4),
            "doing": self.doing,
            "result": self.result,
            "error": self.error,
        }

    @property
    def over(self) -> bool:
        """True once nothing more will happen."""
        return self.state in ("done", "stopped", "failed")


class Work:
    """The jobs of one application; they run one after the other, so that two tabs do not fight for the computer."""

    def __init__(self) -> None:
        self._jobs: dict[str, Job] = {}
        self._lock = threading.Lock()
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="quarterjack-work")

    def start(self, title: str, back: str, do: Callable[[Progress], str]) -> Job:
        """Begin a job.

        Parameters
        ----------
        title : str
            What is being done, for the page.
        back : str
            Address to return to when it is stopped or fails.
        do : callable
            Gets a `Progress` to tell, and returns the address of what it made.
        """
        job = Job(secrets.token_urlsafe(9), title, back)
        with self._lock:
            self._jobs[job.id] = job
            over = [one.id for one in self._jobs.values() if one.over]
            for old in itertools.islice(over, max(0, len(self._jobs) - _KEPT)):
                del self._jobs[old]
        self._pool.submit(self._run, job, do)
        return job

    def get(self, job_id: str) -> Job | None:
        """The job of that id, if it is still known."""
        return self._jobs.get(job_id)

    @staticmethod
    def _run(job: Job, do: Callable[[Progress], str]) -> None:
        def progress(fraction: float, what: str) -> None:
            if job.stop.is_set():
                raise StoppedByUser("This was stopped. What was heard by then is kept.")
            job.fraction, job.doing = min(max(fraction, job.fraction), 1.0), what

        try:
            job.state = "running"
            progress(0.0, "Beginning")
            job.result = do(progress)
            job.fraction, job.doing, job.state = 1.0, "Done", "done"
        except StoppedByUser as error:
            job.error, job.state = document_of(error), "stopped"
        except QuarterjackError as error:
            job.error, job.state = document_of(error), "failed"
        except Exception as error:
            told = f"{type(error).__name__}: {error}. What was stored before is untouched."
            job.error, job.state = error_document("internal", told), "failed"
            _LOG.exception("unforeseen error while at work: %s", job.title)
