"""What was heard: the noun `Heard` and the events that it is made of (`quarterjack.heard/1`)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

from quarterjack.records import FromNs, TimeNs, ToNs, UncertaintyNs, read_only

SIDES = ("a", "b")


@dataclass(frozen=True)
class Gap:
    """A stretch in which no sound was recorded: lost samples, or digital silence below the record's own floor.

    Parameters
    ----------
    from_ns, to_ns : int
        Where it begins and where it ends, nanoseconds from the first sample (seconds in JSON).
    """

    from_ns: FromNs
    to_ns: ToNs


@dataclass(frozen=True)
class Remark:
    """Something that a user must know about the recording itself.

    Parameters
    ----------
    code : str
        Short name that does not change.
    text : str
        The same for people, with its numbers.
    """

    code: str
    text: str


@dataclass(frozen=True)
class RecordingFacts:
    """The recording as it was read.

    Parameters
    ----------
    file : str
        Name of the file as it was given.
    sha256 : str
        Digest of the file's bytes, by which a recording is known again.
    seconds : float
        How much sound was read, at the nominal rate.
    sample_rate_hz : int
        Nominal samples a second.
    channels : int
        How many channels the recording has.
    channel : int
        The one that was listened to, counted from 1.
    started_utc : str or None
        When the recording began (ISO 8601), from its metadata or from its name; null where neither says it.
    clipped_samples : int
        Samples at the very end of the scale, where the recording is too loud.
    gaps : tuple of Gap
        Stretches in which no sound was recorded.
    """

    file: str
    sha256: str
    seconds: float
    sample_rate_hz: int
    channels: int
    channel: int = 1
    started_utc: str | None = None
    clipped_samples: int = 0
    gaps: tuple[Gap, ...] = ()


@dataclass(frozen=True)
class Going:
    """How the clock goes: one slope and one offset a side, fitted to beat number.

    Parameters
    ----------
    beats : int
        Ticks that the fit rests on.
    beats_per_hour : float
        Beats an hour, by the recorder's own clock.
    beats_per_hour_u : float
        Standard uncertainty of the beats an hour.
    beat_difference_ms : float or None
        Mean of the long side's silences less the other's, never negative; null where the sides cannot be told apart.
    beat_difference_u_ms : float or None
        Standard uncertainty of the beat difference.
    long_side : str or None
        The side, "a" or "b", whose tick is followed by the longer silence.
    """

    beats: int
    beats_per_hour: float
    beats_per_hour_u: float
    beat_difference_ms: float | None
    beat_difference_u_ms: float | None
    long_side: str | None


@dataclass(frozen=True, eq=False)
class Ticks:
    """Ticks as read-only columns of one length; in JSON as rows.

    Parameters
    ----------
    t_ns : int64[n]
        Onset of each tick, nanoseconds from the first sample (seconds in JSON), rising.
    u_ns : int64[n]
        Standard uncertainty of each onset, nanoseconds (milliseconds in JSON).
    side : int8[n]
        0 for side a, 1 for side b; "a" and "b" in JSON.
    level_db : float64[n]
        Peak level, dB relative to full scale.
    """

    t_ns: NDArray[np.int64]
    u_ns: NDArray[np.int64]
    side: NDArray[np.int8]
    level_db: NDArray[np.float64]

    def __post_init__(self) -> None:
        for name, dtype in (("t_ns", np.int64), ("u_ns", np.int64), ("side", np.int8), ("level_db", np.float64)):
            object.__setattr__(self, name, read_only(getattr(self, name), dtype))
        if len({self.t_ns.size, self.u_ns.size, self.side.size, self.level_db.size}) != 1:
            raise ValueError("the columns of Ticks must be equally long")

    @classmethod
    def none(cls) -> Ticks:
        """No ticks at all."""
        return cls(np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0, np.int8), np.empty(0))

    def __len__(self) -> int:
        return int(self.t_ns.size)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Ticks):
            return NotImplemented
        return all(
            np.array_equal(getattr(self, name), getattr(other, name)) for name in ("t_ns", "u_ns", "side", "level_db")
        )

    __hash__ = None  # type: ignore[assignment]

    @property
    def t_s(self) -> NDArray[np.float64]:
        """Onsets in seconds."""
        return self.t_ns / 1e9

    def rows(self) -> Iterator[dict[str, Any]]:
        """The ticks as JSON rows, one at a time."""
        for t, u, side, level in zip(self.t_ns, self.u_ns, self.side, self.level_db, strict=True):
            yield {"t_s": int(t) / 1e9, "u_ms": int(u) / 1e6, "side": SIDES[side], "level_db": float(level)}

    @classmethod
    def from_rows(cls, rows: list[dict[str, Any]]) -> Ticks:
        """Read the ticks back from JSON rows."""
        return cls(
            np.array([round(r["t_s"] * 1e9) for r in rows], np.int64),
            np.array([round(r["u_ms"] * 1e6) for r in rows], np.int64),
            np.array([SIDES.index(r["side"]) for r in rows], np.int8),
            np.array([r["level_db"] for r in rows], np.float64),
        )

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        row = core_schema.typed_dict_schema(
            {
                "t_s": core_schema.typed_dict_field(core_schema.float_schema()),
                "u_ms": core_schema.typed_dict_field(core_schema.float_schema()),
                "side": core_schema.typed_dict_field(core_schema.literal_schema(list(SIDES))),
                "level_db": core_schema.typed_dict_field(core_schema.float_schema()),
            }
        )
        return core_schema.no_info_after_validator_function(
            cls.from_rows,
            core_schema.list_schema(row),
            serialization=core_schema.plain_serializer_function_ser_schema(
                lambda ticks: list(ticks.rows()), return_schema=core_schema.list_schema(row)
            ),
        )

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        return handler(schema)


@dataclass(frozen=True)
class Blow:
    """One hammer's stroke.

    Parameters
    ----------
    t_ns : int
        Onset, nanoseconds from the first sample (seconds in JSON).
    u_ns : int
        Standard uncertainty of the onset, nanoseconds (milliseconds in JSON).
    bar : int
        The same number for the same bar throughout.
    note : str or None
        Name of the bar's note; null while unknown.
    hammer : int or None
        The hammer; null while unknown, and where two hammers share the bar.
    kind : str
        "chime", "hour" or "unknown".
    partials_hz : tuple of float
        The strongest partials of the stroke, rising.
    level_db : float
        Peak level, dB relative to full scale.
    """

    t_ns: TimeNs
    u_ns: UncertaintyNs
    bar: int
    note: str | None
    hammer: int | None
    kind: str
    partials_hz: tuple[float, ...]
    level_db: float


@dataclass(frozen=True)
class Sounding:
    """All that is heard for one quarter, half or hour.

    Parameters
    ----------
    from_ns, to_ns : int
        Where it begins and where it ends, nanoseconds from the first sample (seconds in JSON).
    kind : str
        "quarter", "half", "hour" or "unknown".
    quarter : int or None
        1 to 4 for a chime that was recognised.
    tune : str or None
        Name of the tune that was recognised.
    first_blow : int
        Number of its first blow among `blows`, counted from 0.
    n_blows : int
        How many blows belong to it, from `first_blow` on.
    phrases : tuple of int
        How many blows each phrase has.
    """

    from_ns: FromNs
    to_ns: ToNs
    kind: str
    quarter: int | None
    tune: str | None
    first_blow: int
    n_blows: int
    phrases: tuple[int, ...] = ()


@dataclass(frozen=True)
class TrainNoise:
    """A stretch in which a striking or chiming train was heard to turn.

    Parameters
    ----------
    from_ns, to_ns : int
        Where it begins and where it ends, nanoseconds from the first sample (seconds in JSON).
    train : str or None
        Which train; null while unknown.
    """

    from_ns: FromNs
    to_ns: ToNs
    train: str | None = None


@dataclass(frozen=True)
class Stop:
    """The last tick before silence.

    Parameters
    ----------
    t_ns : int
        Onset of that tick, nanoseconds from the first sample (seconds in JSON).
    ended : str
        "cut off" (the train stood, the bob swings on) or "died away" (the swing failed).
    """

    t_ns: TimeNs
    ended: str


@dataclass(frozen=True)
class Repeat:
    """The record repeats itself: it is a loop, and proves nothing beyond its first turn.

    Parameters
    ----------
    period_s : float
        Length of one turn, seconds.
    correlation : float
        Likeness of one turn to the next, 1 for the same samples: normalised autocorrelation.
    """

    period_s: float
    correlation: float


@dataclass(frozen=True)
class Heard:
    """Everything that one recording told, and nothing about what it should have told.

    Parameters
    ----------
    recording : RecordingFacts
        The recording as it was read.
    going : Going or None
        How the clock goes; null where it cannot be given.
    ticks : Ticks
        Every tick; rows in JSON.
    blows : tuple of Blow
        Every stroke on a bar.
    soundings : tuple of Sounding
        The blows gathered into quarters, halves and hours.
    train_noise : tuple of TrainNoise
        Where a striking or chiming train was heard to turn.
    stops : tuple of Stop
        Where the clock stopped.
    repeats : tuple of Repeat
        Where the recording repeats itself.
    remarks : tuple of Remark
        What must be known about the recording itself.
    """

    format: str = field(default="quarterjack.heard/1", kw_only=True)
    recording: RecordingFacts
    going: Going | None
    ticks: Ticks
    blows: tuple[Blow, ...] = ()
    soundings: tuple[Sounding, ...] = ()
    train_noise: tuple[TrainNoise, ...] = ()
    stops: tuple[Stop, ...] = ()
    repeats: tuple[Repeat, ...] = ()
    remarks: tuple[Remark, ...] = ()
