"""The error tree: one kind, one code, the same on the command line, in the API and on the page.

Each kind inherits `QuarterjackError` and the built-in that fits it. A message says what is wrong, with which
value, what is allowed and what to do; the values stay on the exception as attributes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, ClassVar

EXIT_ALL_RIGHT = 0
EXIT_CLOCK_AT_FAULT = 1
EXIT_INPUT_UNUSABLE = 2
EXIT_TOO_LITTLE_HEARD = 3
EXIT_INTERNAL = 70
EXIT_STOPPED_BY_USER = 130


def _plain(value: object) -> Any:
    if isinstance(value, str | int | float | bool) or value is None:
        return value
    if isinstance(value, Mapping):
        return {str(name): _plain(item) for name, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [_plain(item) for item in value]
    return str(value)


def error_document(code: str, message: str, **fields: object) -> dict[str, Any]:
    """Any error as the one JSON document that command line and pages answer with (`quarterjack.error/1`)."""
    return {"format": "quarterjack.error/1", "code": code, "message": message, "fields": _plain(fields)}


class QuarterjackError(Exception):
    """Anything that quarterjack itself refuses to do, with the reason in plain words."""

    code: ClassVar[str] = "error"
    exit_code: ClassVar[int] = EXIT_INPUT_UNUSABLE

    def __init__(self, message: str, **fields: object) -> None:
        super().__init__(message)
        self.message = message
        self.fields = fields

    def __str__(self) -> str:
        return self.message

    def document(self) -> dict[str, Any]:
        """The error as a JSON document (see `error_document`)."""
        return error_document(self.code, self.message, **self.fields)


class OutOfRange(QuarterjackError, ValueError):
    """A number lies outside what the formula or the table covers."""

    code = "out-of-range"


class UnitNotUnderstood(QuarterjackError, ValueError):
    """A length, mass or other quantity was typed in a way that cannot be read."""

    code = "unit-not-understood"


class UnknownChoice(QuarterjackError, ValueError):
    """A name was given that is not among the ones allowed."""

    code = "unknown-choice"

    def __init__(self, what: str, value: object, allowed: Iterable[str]) -> None:
        self.what, self.value, self.allowed = what, value, tuple(allowed)
        super().__init__(
            f"{what} {value!r} is not known; choose one of: {', '.join(self.allowed)}.",
            value=value,
            allowed=self.allowed,
        )


class SheetFault:
    """One fault of a sheet: where it stands and what is wrong there."""

    __slots__ = ("code", "file", "key", "line", "text")

    def __init__(self, *, code: str, file: str, line: int | None, key: str, text: str) -> None:
        self.code, self.file, self.line, self.key, self.text = code, file, line, key, text

    def __str__(self) -> str:
        where = self.file if self.line is None else f"{self.file}:{self.line}"
        return f"{where}: {self.key}: {self.text} [{self.code}]" if self.key else f"{where}: {self.text} [{self.code}]"


class SheetInvalid(QuarterjackError, ValueError):
    """A movement sheet has faults; all of them are listed together."""

    code = "sheet-invalid"

    def __init__(self, faults: Sequence[SheetFault]) -> None:
        self.faults = tuple(faults)
        count = "1 fault" if len(self.faults) == 1 else f"{len(self.faults)} faults"
        super().__init__(
            "\n".join([f"The sheet has {count}:", *(str(f) for f in self.faults)]),
            faults=[{name: getattr(fault, name) for name in SheetFault.__slots__} for fault in self.faults],
        )


class SheetNotFound(QuarterjackError, FileNotFoundError):
    """There is no sheet at the place that was named."""

    code = "sheet-not-found"


class SheetChangedMeanwhile(QuarterjackError, RuntimeError):
    """The file on disk is no longer the one that was read, so a save would undo somebody's change."""

    code = "sheet-changed-meanwhile"


class RecordingNotFound(QuarterjackError, FileNotFoundError):
    """There is no recording at the place that was named."""

    code = "recording-not-found"


class RecordingUnreadable(QuarterjackError, ValueError):
    """No sound at all could be decoded from the file."""

    code = "recording-unreadable"


class TooLittleHeard(QuarterjackError, ValueError):
    """The sound was read, but neither tick nor blow was found, or not enough to answer."""

    code = "too-little-heard"
    exit_code = EXIT_TOO_LITTLE_HEARD


class FileExists(QuarterjackError, FileExistsError):
    """A file that would be overwritten is already there."""

    code = "file-exists"


class ResultNotUnderstood(QuarterjackError, ValueError):
    """A result file is not one of quarterjack's, or is of a later format."""

    code = "result-not-understood"


class FaultNotPossible(QuarterjackError, ValueError):
    """A fault was asked for that this clock cannot have or that nobody could hear on it."""

    code = "fault-not-possible"


class StoppedByUser(QuarterjackError, RuntimeError):
    """The user asked for long work to stop; what was finished is kept."""

    code = "stopped-by-user"
    exit_code = EXIT_STOPPED_BY_USER


def every_kind() -> tuple[type[QuarterjackError], ...]:
    """Return every kind of error, the root last, for the manual and its test."""
    found: list[type[QuarterjackError]] = []

    def walk(kind: type[QuarterjackError]) -> None:
        for child in kind.__subclasses__():
            walk(child)
        found.append(kind)

    walk(QuarterjackError)
    return tuple(found)
