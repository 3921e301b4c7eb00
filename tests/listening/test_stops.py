"""Stops: told from the end of a record and from a louder noise, and how they ended."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from quarterjack.listening.heard import Stop
from quarterjack.listening.stops import find_stop

BEAT_S = 0.5
NUMBER = np.arange(600)
T_S: NDArray[np.float64] = np.asarray(NUMBER * BEAT_S, np.float64)
LEVEL = np.full(600, -30.0)


def stop(
    *,
    level_db: NDArray[np.float64] = LEVEL,
    t_s: NDArray[np.float64] = T_S,
    clearness: float = 30.0,
    silent_s: float = 20.0,
) -> Stop | None:
    missed = t_s[-1] + BEAT_S * np.arange(1, 41)
    return find_stop(t_s, NUMBER, level_db, missed, np.full(40, clearness), BEAT_S, float(t_s[-1]) + silent_s)


def test_a_record_that_ends_is_no_stop() -> None:
    assert stop(silent_s=1.0) is None


def test_ticks_that_drown_are_no_stop() -> None:
    assert stop(clearness=3.0) is None


def test_a_train_that_stands_is_cut_off() -> None:
    found = stop()
    assert found is not None
    assert found.ended == "cut off"
    assert found.t_ns == pytest.approx(T_S[-1] * 1e9)


def test_fading_ticks_died_away() -> None:
    found = stop(level_db=LEVEL - np.linspace(0.0, 9.0, 600))
    assert found is not None
    assert found.ended == "died away"


def test_a_shifting_beat_died_away() -> None:
    late = (NUMBER % 2) * np.linspace(0.0, 0.06, 600)
    found = stop(t_s=T_S + late)
    assert found is not None
    assert found.ended == "died away"
