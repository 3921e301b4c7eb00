"""Which side is right: somebody who watches the bob says when it hangs on the right, and the sides get their names.

After the tick of a swing to the right the bob flies on to the right, turns and comes back: the whole silence after
that tick, but for its last few hundredths, the bob is right of rest, and it stands still there halfway through. So a
press belongs to the silence that it falls into, and counts the more the nearer it is to the middle of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from quarterjack.listening.heard import SIDES, Ticks

SURE = 0.4
"""Agreement from which the sides are named: one press within 0.36 of a silence from its middle, or four of five."""

_LONGEST_SILENCE = 1.6
"""A silence longer than this many median ones holds a tick that was not heard, and places no press."""


@dataclass(frozen=True)
class SidesCalled:
    """What the presses say.

    Parameters
    ----------
    right : str or None
        The side ("a" or "b") whose tick belongs to the swing to the right; None while the presses do not agree.
    agreement : float
        0 (they contradict one another, or fall beside the ticks) to 1 (all in the middle of the silence).
    counted : int
        How many presses fell between two heard ticks.
    """

    right: str | None
    agreement: float
    counted: int


def sides_from_presses(ticks: Ticks, presses_s: Sequence[float]) -> SidesCalled:
    """Name the sides from the moments at which the bob was seen on the right.

    Parameters
    ----------
    ticks : Ticks
        Ticks heard, n in number.
    presses_s : sequence of float
        Moments of the presses, seconds of the same record.

    Returns
    -------
    SidesCalled
        A press before the first tick, after the last, or in a silence that holds a missed tick is not counted.
    """
    times = ticks.t_s
    if times.size < 3:
        return SidesCalled(None, 0.0, 0)
    usual = float(np.median(np.diff(times)))
    votes: list[float] = []
    for press in presses_s:
        before = int(np.searchsorted(times, press, side="right")) - 1
        if before < 0 or before + 1 >= times.size:
            continue
        silence = float(times[before + 1] - times[before])
        if silence > _LONGEST_SILENCE * usual:
            continue
        vote = math.sin(math.pi * (press - float(times[before])) / silence)
        votes.append(vote if ticks.side[before] == 0 else -vote)
    if not votes:
        return SidesCalled(None, 0.0, 0)
    mean = math.fsum(votes) / len(votes)
    right = None if abs(mean) < SURE else SIDES[0 if mean > 0 else 1]
    return SidesCalled(right, abs(mean), len(votes))
