"""What a simulated clock strikes, and when: releases, warnings, blows and the noise of its trains."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from quarterjack.reckoning.reckoned import ExpectedSounding, Reckoning
from quarterjack.simulate.faults import HALF_DIAL_S, Broken, shift_barrel
from quarterjack.simulate.tempo import CHIME_TO_STRIKE_S, FREE_RUN_S, RUN_ON_S, blow_offsets_s, strokes

WARNING_BEFORE_S = {"quarter": 200.0, "half": 300.0, "hour": 300.0}
"""Common practice: 1 to 5 minutes before a quarter, about 5 before the hour."""
_LATENESS_S = 3.0
_PIN_SPREAD, _BLOW_SPREAD = 0.03, 0.008
_LEVEL_DB = 0.8


@dataclass(frozen=True)
class PlannedBlow:
    """One blow in true seconds from the start; `bars` are all that it strikes, `bar` the one it is named after."""

    t_s: float
    bar: int
    bars: tuple[int, ...]
    note: str
    hammer: int
    kind: str
    level_db: float
    seed: tuple[int, ...]


@dataclass(frozen=True)
class PlannedSounding:
    """One sounding as it will be played; `dial` is what the dial called it for."""

    called: ExpectedSounding
    dial: str
    from_s: float
    to_s: float
    blows: tuple[PlannedBlow, ...]


@dataclass(frozen=True)
class Running:
    """A stretch in which a train turns; `loud` is false for a warning."""

    from_s: float
    to_s: float
    train: str
    loud: bool


@dataclass(frozen=True)
class Plan:
    """Everything that is struck, in order of time."""

    soundings: tuple[PlannedSounding, ...]
    runnings: tuple[Running, ...]
    releases_s: tuple[float, ...]
    warnings_s: tuple[float, ...]
    locks_s: tuple[float, ...]


def _groups(soundings: tuple[ExpectedSounding, ...]) -> list[tuple[int, tuple[ExpectedSounding, ...]]]:
    """Soundings that one release sets off, by dial minute; the chime before the hour, as the reckoning has them."""
    rising = sorted(soundings, key=lambda sounding: sounding.dial_minute)
    return [(minute, tuple(group)) for minute, group in groupby(rising, key=lambda sounding: sounding.dial_minute)]


def _play(
    reckoning: Reckoning, sounding: ExpectedSounding, first_s: float, broken: Broken, seed: tuple[int, ...]
) -> PlannedSounding:
    """Place the blows of one sounding; the barrel's pins are unevenly set, the same way at every turn."""
    phrases = strokes(sounding, reckoning.bars)
    flat = [stroke for phrase in phrases for stroke in phrase]
    offsets = blow_offsets_s(sounding, tuple(len(phrase) for phrase in phrases))
    steps = np.diff(offsets, prepend=0.0)
    pins = np.random.default_rng((*seed[:1], 40, sounding.quarter or 9)).normal(0.0, _PIN_SPREAD, steps.size)
    rng = np.random.default_rng(seed)
    times = first_s + np.cumsum(steps * (1 + pins + rng.normal(0.0, _BLOW_SPREAD, steps.size)))
    levels = rng.normal(0.0, _LEVEL_DB, steps.size)
    hour_bars = tuple(bar.bar for bar in reckoning.bars if bar.hour)
    kind = "chime" if sounding.kind == "quarter" else "hour"
    blows = tuple(
        PlannedBlow(
            t_s=float(t),
            bar=bar,
            bars=hour_bars if kind == "hour" and bar in hour_bars else (bar,),
            note=note,
            hammer=hammer,
            kind=kind,
            level_db=float(level),
            seed=(*seed, i),
        )
        for i, (t, level, (hammer, bar, note)) in enumerate(zip(times, levels, flat, strict=True))
        if hammer not in broken.dead_hammers
    )
    last = float(times[-1]) if times.size else first_s
    return PlannedSounding(sounding, sounding.dial, first_s, last, blows)


def _releases(
    groups: list[tuple[int, tuple[ExpectedSounding, ...]]], dial_start_s: float, seconds: float
) -> Iterator[tuple[int, float, tuple[ExpectedSounding, ...]]]:
    """Every release that may be heard, with a number that is never negative; from one minute before the start on."""
    for turn in range(-1, int((seconds + dial_start_s) // HALF_DIAL_S) + 2):
        for minute, group in groups:
            t_s = turn * HALF_DIAL_S + minute * 60 - dial_start_s
            if -60.0 <= t_s < seconds + max(WARNING_BEFORE_S.values()):
                yield (turn + 1) * 720 + minute, t_s, group


def plan(reckoning: Reckoning, broken: Broken, *, dial_start_s: float, seconds: float, seed: int) -> Plan:
    """Lay out all that a clock strikes in some seconds from a dial time.

    A clock that has stopped lets nothing off afterwards; a train already running plays to its end.

    Parameters
    ----------
    reckoning : Reckoning
        The clock.
    broken : Broken
        Its faults.
    dial_start_s, seconds : float
        Dial time at the start in seconds after twelve, and how long is simulated, in true seconds.
    seed : int
        Decides all that is uneven.
    """
    soundings = shift_barrel(reckoning.soundings, broken.phrases_out) if broken.phrases_out else reckoning.soundings
    played: list[PlannedSounding] = []
    runnings: list[Running] = []
    releases: list[float] = []
    warnings: list[float] = []
    locks: list[float] = []
    going_until = np.inf if broken.stop_s is None else broken.stop_s
    for number, nominal_s, group in _releases(_groups(soundings), dial_start_s, seconds):
        kind = group[0].kind
        train = "chime" if kind == "quarter" else "strike"
        lobe = np.random.default_rng((seed, 41, group[0].dial_minute % 60)).uniform(0.3, _LATENESS_S)
        warned = nominal_s - WARNING_BEFORE_S[kind] + lobe
        if 0 <= warned < min(going_until, seconds):
            warnings.append(warned)
            runnings.append(Running(warned, warned + 0.35, train, loud=False))
        t_s = nominal_s + lobe
        if t_s >= min(going_until, seconds):
            continue
        first_s = t_s + FREE_RUN_S
        for i, sounding in enumerate(group):
            sounded = _play(reckoning, sounding, first_s, broken, (seed, 42, number, i))
            played.append(sounded)
            releases.append(t_s)
            locks.append(sounded.to_s + RUN_ON_S)
            name = "chime" if sounding.kind == "quarter" else "strike"
            runnings.append(Running(t_s, sounded.to_s + RUN_ON_S, name, loud=True))
            # The last lift of the chime lets the strike off, which has been warned during it.
            first_s = sounded.to_s + CHIME_TO_STRIKE_S
            t_s = sounded.to_s + 0.4 * CHIME_TO_STRIKE_S
    return Plan(tuple(played), tuple(runnings), tuple(releases), tuple(warnings), tuple(locks))
