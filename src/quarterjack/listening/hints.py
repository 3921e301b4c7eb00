"""What a listener may be told beforehand, as plain numbers: listening knows no sheet and no other room."""

from __future__ import annotations

from dataclasses import dataclass

from quarterjack.tunes import TUNES, Tune


@dataclass(frozen=True)
class BarHint:
    """One bar (tube, rod, gong, bell) that may be struck.

    Parameters
    ----------
    bar : int
        Number of the bar, from 1; blows on it carry this number.
    partials_hz : tuple of float
        Its strongest partials, rising; empty where they are not known and must be learned.
    note : str or None
        Name of its note.
    hammers : tuple of int
        Hammers that strike it; a blow's hammer is named only where there is exactly one.
    hour : bool
        True where the hour is struck on it.
    """

    bar: int
    partials_hz: tuple[float, ...] = ()
    note: str | None = None
    hammers: tuple[int, ...] = ()
    hour: bool = False


@dataclass(frozen=True)
class Hints:
    """Everything that may be told; all of it may be missing.

    Parameters
    ----------
    beats_per_hour : float or None
        What the train gives; the tracker then looks near it first.
    beats_per_turn : int or None
        Beats in one turn of the escape wheel, so that the beat difference is averaged over whole turns.
    bars : tuple of BarHint
        The bars, where known.
    tunes : tuple of Tune
        Tunes that may be recognised; the printed ones unless the user has others.
    bells_to_bars : tuple of int
        For the tune that the clock is known to play: bar number of each bell, highest bell first; empty if unknown.
    """

    beats_per_hour: float | None = None
    beats_per_turn: int | None = None
    bars: tuple[BarHint, ...] = ()
    tunes: tuple[Tune, ...] = tuple(TUNES.values())
    bells_to_bars: tuple[int, ...] = ()


NO_HINTS = Hints()
