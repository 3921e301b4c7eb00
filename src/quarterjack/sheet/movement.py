"""`Movement`: a clock as its sheet describes it, in SI units, with None wherever nothing is known."""

from __future__ import annotations

from dataclasses import dataclass, field

from quarterjack.tunes import Tune


@dataclass(frozen=True)
class Bar:
    """Whatever is struck; `place` is "stand" or "house", `form` "bar", "tube", "rod", "gong" or "bell"."""

    bar: int
    note: str | None = None
    place: str | None = None
    form: str | None = None
    partials_hz: tuple[float, ...] = ()


@dataclass(frozen=True)
class Hammer:
    """A hammer of the movement and the bars that it strikes, at most one in each place."""

    hammer: int
    bars: tuple[int, ...] = ()


@dataclass(frozen=True)
class Sounds:
    """How the clock sounds.

    Parameters
    ----------
    quarters : str or None
        Name of the tune, "own", "none", or None while unknown.
    tune : Tune or None
        The tune itself.
    quarters_at_hour : bool or None
        Whether the fourth quarter plays at the hour.
    hours : str or None
        "rack", "count-wheel", "yes" (struck, counted by either), "none", or None while unknown.
    half_hour : str or None
        "none", "one", "hour", "next-hour", or None while unknown.
    quarter_hammers : tuple of tuple of int
        For each bell of the tune, highest first, its hammers; empty while unknown.
    hour_hammers : tuple of int
        Hammers that strike the hour at once; empty while unknown.
    """

    quarters: str | None = None
    tune: Tune | None = None
    quarters_at_hour: bool | None = None
    hours: str | None = None
    half_hour: str | None = None
    quarter_hammers: tuple[tuple[int, ...], ...] = ()
    hour_hammers: tuple[int, ...] = ()


@dataclass(frozen=True)
class Arbor:
    """One arbor: the pinion that is driven, the wheel that drives on, and what else is known of it."""

    name: str
    wheel: int | None = None
    pinion: int | None = None
    turn_min: float | None = None
    pins: int | None = None
    phrases_per_turn: float | None = None


@dataclass(frozen=True)
class Drive:
    """What drives a train; lengths in metres."""

    kind: str | None = None
    turns: float | None = None
    barrel_m: float | None = None
    line_m: float | None = None
    falls: int | None = None
    fall_m: float | None = None
    weight_kg: float | None = None


@dataclass(frozen=True)
class Train:
    """One train, its arbors from the driven one to the last."""

    name: str
    arbors: tuple[Arbor, ...] = ()
    drive: Drive | None = None
    beats_per_turn: int | None = None
    beats_per_hour: float | None = None
    regulator: str | None = None


@dataclass(frozen=True)
class PendulumSaid:
    """What the sheet says of the pendulum and of what the beat is set with; lengths in metres."""

    length_m: float | None = None
    latitude_deg: float | None = None
    swing_deg: float | None = None
    release_deg: float | None = None
    crutch_m: float | None = None
    feet_m: float | None = None


@dataclass(frozen=True)
class Movement:
    """A clock as far as it is known.

    Parameters
    ----------
    name : str
        What the clock is called.
    place : str or None
        "stand" or "house", where the clock is now.
    dial_starts : dict of str to str
        For recordings of this clock, by the name of the file: what the hands said when it began ("4:13").
    comes_from : dict of str to str
        For each key that says so, where its value comes from ("counted", "measured", "heard", "same movement",
        "assumed"); keys as in faults, rows counted from 1.
    """

    format: str = field(default="quarterjack.movement/1", kw_only=True)
    name: str
    place: str | None = None
    sounds: Sounds = Sounds()
    bars: tuple[Bar, ...] = ()
    hammers: tuple[Hammer, ...] = ()
    trains: tuple[Train, ...] = ()
    pendulum: PendulumSaid = PendulumSaid()
    dial_starts: dict[str, str] = field(default_factory=dict)
    notes: str = ""
    comes_from: dict[str, str] = field(default_factory=dict)

    def train(self, name: str) -> Train | None:
        """The train of that name, or None."""
        return next((train for train in self.trains if train.name == name), None)
