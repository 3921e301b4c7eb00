"""What must be: the noun `Reckoning` and its parts (`quarterjack.reckoning/1`)."""

from __future__ import annotations

from dataclasses import dataclass, field

from quarterjack.tunes import Tune

DIAL_MINUTES = 720


@dataclass(frozen=True)
class ExpectedSounding:
    """One sounding that the dial calls for.

    For the hour of a chiming clock the chime and the blows are one sounding each, in that order.

    Parameters
    ----------
    dial_minute : int
        Minutes after twelve on the dial, 0 to 719; 0 is twelve o'clock.
    kind : str
        "quarter" (a chime; the one at the hour is quarter 4), "half" (blows at the half hour) or "hour".
    quarter : int or None
        1 to 4 for a chime.
    tune : str or None
        Name of the tune.
    hammers : tuple of phrases
        Hammer numbers phrase by phrase; a blow by several hammers at once names the first.
    bars : tuple of phrases
        Bar numbers, same shape as `hammers`.
    notes : tuple of phrases
        Note names, same shape as `hammers`.
    blows : int or None
        How many blows an hour or half hour has.
    """

    dial_minute: int
    kind: str
    quarter: int | None
    tune: str | None
    hammers: tuple[tuple[int, ...], ...]
    bars: tuple[tuple[int, ...], ...]
    notes: tuple[tuple[str, ...], ...]
    blows: int | None

    @property
    def dial(self) -> str:
        """Dial time as text, for example "12:15"."""
        hour, minute = divmod(self.dial_minute, 60)
        return f"{hour or 12}:{minute:02d}"

    @property
    def n_blows(self) -> int:
        """How many strokes are to be heard in all."""
        return sum(len(phrase) for phrase in self.hammers)


@dataclass(frozen=True)
class ReckonedBar:
    """A bar of this clock with what is known of its sound.

    Parameters
    ----------
    bar : int
        Its number.
    note : str or None
        Name of its note.
    place : str
        Where it is: "stand" or "house".
    hammers : tuple of int
        Hammers that strike it.
    hour : bool
        True where the hour is struck on it.
    partials_hz : tuple of float
        Its strongest partials, rising, where they are known.
    form : str
        What is struck: "bar", "tube", "rod", "gong" or "bell".
    """

    bar: int
    note: str | None
    place: str
    hammers: tuple[int, ...]
    hour: bool
    partials_hz: tuple[float, ...] = ()
    form: str = "bar"


@dataclass(frozen=True)
class ReckonedArbor:
    """One arbor of a train.

    Parameters
    ----------
    name : str
        What the sheet calls it.
    wheel : int or None
        Teeth of its wheel.
    pinion : int or None
        Leaves of its pinion.
    period_s : float or None
        Seconds for a turn; null where a count is missing before it.
    turns_per_hour : float or None
        Turns in an hour; null where a count is missing before it.
    """

    name: str
    wheel: int | None
    pinion: int | None
    period_s: float | None
    turns_per_hour: float | None


@dataclass(frozen=True)
class ReckonedTrain:
    """One train from the drive to its last arbor.

    Parameters
    ----------
    name : str
        "going", "strike" or "chime".
    arbors : tuple of ReckonedArbor
        Its arbors in order from the drive.
    run_time_h : float or None
        Hours from wound up to run down.
    run_time_limited_by : str or None
        What ends the run: the turns of the barrel or the fall of the weight.
    """

    name: str
    arbors: tuple[ReckonedArbor, ...]
    run_time_h: float | None = None
    run_time_limited_by: str | None = None


@dataclass(frozen=True)
class Pendulum:
    """Theoretical (simple) pendulum for the train's beats, with its sensitivity to length.

    Parameters
    ----------
    length_m : float
        Theoretical length, metres.
    rate_s_per_day_per_mm : float
        Seconds a day for each millimetre that it is made longer; negative, because it then loses.
    gravity_m_per_s2 : float
        Gravity that was reckoned with.
    """

    length_m: float
    rate_s_per_day_per_mm: float
    gravity_m_per_s2: float


@dataclass(frozen=True)
class CannotSay:
    """Something that cannot be said yet.

    Parameters
    ----------
    what : str
        What cannot be said.
    because : str
        Why not.
    key : str
        The sheet's key that would settle it.
    """

    what: str
    because: str
    key: str


@dataclass(frozen=True)
class Reckoning:
    """What this clock must do, as far as its sheet says.

    Parameters
    ----------
    clock : str
        The clock's name.
    soundings : tuple of ExpectedSounding
        Twelve hours of soundings in dial order from twelve o'clock; empty if the clock is silent.
    tunes : tuple of Tune
        The tunes that the clock plays.
    bars : tuple of ReckonedBar
        The bars in place.
    bells_to_bars : tuple of int
        For the tune's bells, highest first, the bar that each is struck on.
    beats_per_hour : float or None
        From the train, or as the sheet says it was heard.
    beats_per_turn : int or None
        Beats in one turn of the escape wheel.
    trains : tuple of ReckonedTrain
        The trains, as far as they are counted.
    going : str or None
        Name of the going train among `trains`.
    pendulum : Pendulum or None
        The pendulum that the beats call for; null where they are not known or a balance keeps the time.
    cannot_say : tuple of CannotSay
        What cannot be said yet, and what would settle it.
    settle_next : str or None
        Which one count or measurement would settle most, in words.
    beats_from : str or None
        "train" where beats an hour follow from counts, "sheet" where the sheet gives them, "pendulum" where they follow
        from the pendulum's length.
    dial_starts : dict of str to str
        For recordings named in the sheet, what the hands said when each began ("4:13"), by the name of the file.
    assumed : tuple of str
        Keys of the sheet whose values are assumed, or taken from the same movement elsewhere: all that is said here may
        rest on them.
    """

    format: str = field(default="quarterjack.reckoning/1", kw_only=True)
    clock: str
    soundings: tuple[ExpectedSounding, ...]
    tunes: tuple[Tune, ...] = ()
    bars: tuple[ReckonedBar, ...] = ()
    bells_to_bars: tuple[int, ...] = ()
    beats_per_hour: float | None = None
    beats_per_turn: int | None = None
    trains: tuple[ReckonedTrain, ...] = ()
    going: str | None = None
    pendulum: Pendulum | None = None
    cannot_say: tuple[CannotSay, ...] = ()
    settle_next: str | None = None
    beats_from: str | None = None
    assumed: tuple[str, ...] = ()
    dial_starts: dict[str, str] = field(default_factory=dict)
