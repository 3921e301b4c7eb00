"""How values that rooms hand one another are kept and written.

A noun is a frozen dataclass; pydantic's `TypeAdapter` reads the dataclass itself, so that there is one definition
of each. Times are integer nanoseconds inside (`t_ns`) and seconds in JSON (`t_s`); what is written is read back equal.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Annotated, Any, TypeVar, cast

import numpy as np
from numpy.typing import NDArray
from pydantic import BeforeValidator, Field, PlainSerializer, TypeAdapter, ValidationError

from quarterjack.errors import ResultNotUnderstood

NS_PER_S = 1_000_000_000

T = TypeVar("T")


def to_ns(seconds: float) -> int:
    """Seconds as whole nanoseconds, to the nearest."""
    return round(seconds * NS_PER_S)


def to_s(ns: int) -> float:
    """Whole nanoseconds as seconds; `to_ns` gives them back exactly below 48 days (2**22 s), where doubles are fine."""
    return round(int(ns) / NS_PER_S, 9)


def _scaled(per_unit: float, digits: int) -> tuple[BeforeValidator, PlainSerializer]:
    def read(value: Any) -> Any:
        return round(value * per_unit) if isinstance(value, int | float) and not isinstance(value, bool) else value

    def write(ns: int) -> float:
        return round(int(ns) / per_unit, digits)

    return BeforeValidator(read), PlainSerializer(write, return_type=float)


_S_READ, _S_WRITE = _scaled(NS_PER_S, 9)
_MS_READ, _MS_WRITE = _scaled(1_000_000, 6)

# The attribute holds nanoseconds; the JSON field of the alias holds seconds or milliseconds.
TimeNs = Annotated[int, _S_READ, _S_WRITE, Field(alias="t_s")]
FromNs = Annotated[int, _S_READ, _S_WRITE, Field(alias="from_s")]
ToNs = Annotated[int, _S_READ, _S_WRITE, Field(alias="to_s")]
UncertaintyNs = Annotated[int, _MS_READ, _MS_WRITE, Field(alias="u_ms")]


def read_only(values: Any, dtype: Any) -> NDArray[Any]:
    """Return a one-dimensional read-only copy of `values`, so that no caller can change an event afterwards."""
    column = np.array(values, dtype=dtype, copy=True)
    if column.ndim != 1:
        raise ValueError(f"a column has one dimension, not {column.ndim}")
    column.flags.writeable = False
    return column


@cache
def _adapter(kind: Any) -> TypeAdapter[Any]:
    return TypeAdapter(kind)


def to_json(value: object, *, indent: int | None = 2) -> str:
    """Write a noun as one JSON document."""
    kind: Any = type(value)
    return _adapter(kind).dump_json(value, by_alias=True, indent=indent).decode()


def to_plain(value: object) -> Any:
    """A noun as plain lists, dicts, numbers and strings, just as its JSON says."""
    return json.loads(to_json(value, indent=None))


def from_json(kind: type[T], text: str | bytes, *, where: str = "the document") -> T:
    """Read a noun back.

    Raises
    ------
    ResultNotUnderstood
        If the text is not a document of this kind; the message names the first field that does not fit.
    """
    try:
        reader: TypeAdapter[Any] = _adapter(cast(Any, kind))
        value: T = reader.validate_json(text)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        field = ".".join(str(part) for part in first["loc"]) or "the whole"
        raise ResultNotUnderstood(
            f"{where} is not a {kind.__name__} that this version can read: {field}: {first['msg']}.", file=where
        ) from error
    expected = getattr(kind, "format", None)
    found = getattr(value, "format", None)
    if isinstance(expected, str) and found != expected:
        raise ResultNotUnderstood(f"{where} says that it is {found!r}; this version reads {expected!r}.", file=where)
    return value


def read_json(kind: type[T], path: str | Path) -> T:
    """Read a noun from a file (see `from_json`)."""
    return from_json(kind, Path(path).read_bytes(), where=str(path))


def json_fields(kind: Any) -> dict[str, Any]:
    """The JSON schema of a noun as it is written, from which the manual lists every field."""
    return _adapter(kind).json_schema(by_alias=True, mode="serialization")


Progress = Callable[[float, str], None]
"""Called with the fraction done (0 to 1) and what is being done; it may raise `StoppedByUser`."""
