"""From `Movement` to `Reckoning`: what the clock must do, and what cannot be said yet."""

from __future__ import annotations

from quarterjack.reckoning import sounding
from quarterjack.reckoning.reckoned import Reckoning
from quarterjack.sheet import Movement


def reckon(movement: Movement) -> Reckoning:
    """Work out what a clock must do.

    Parameters
    ----------
    movement : Movement
        The clock as far as it is known.

    Returns
    -------
    Reckoning
        Where the sheet says nothing of hammers and bars, bell 1 of the tune is taken to be hammer 1 and bar 1 and so
        on, and the hour the next; an hour on a ting-tang is taken to be on its low bar.
    """
    who = sounding.voices(movement)
    tune = movement.sounds.tune
    return Reckoning(
        clock=movement.name,
        soundings=sounding.soundings(movement, who),
        tunes=(tune,) if tune else (),
        bars=who.bars,
        bells_to_bars=tuple(who.bar_of.get(hammers[0], hammers[0]) for hammers in who.bells),
        cannot_say=tuple(sounding.cannot_say(movement)),
    )
