"""The bob's side: checked against the motion of a pendulum written down independently of the rule."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from quarterjack.listening.heard import Ticks
from quarterjack.listening.sides import sides_from_presses


def pendulum(swing: float, release: float, offset: float, period_s: float, turns: int) -> tuple[Ticks, list[float]]:
    """Ticks of x = A sin(2 pi t / T), released at offset + release going right and offset - release going left.

    Side a is the tick going right. Also gives the moments at which the bob stands at its right end.
    """
    per_radian = period_s / (2 * math.pi)
    right = math.asin((offset + release) / swing) * per_radian
    left = (math.pi - math.asin((offset - release) / swing)) * per_radian
    starts = np.arange(turns) * period_s
    times = np.sort(np.concatenate([starts + right, starts + left]))
    ticks = Ticks(
        np.round(times * 1e9).astype(np.int64),
        np.full(times.size, 1000),
        (np.arange(times.size) % 2).astype(np.int8),
        np.zeros(times.size),
    )
    return ticks, [float(start + period_s / 4) for start in starts]


@given(
    swing=st.floats(2.0, 5.0),
    offset=st.floats(-0.2, 0.2),
    period_s=st.floats(0.4, 2.5),
    late=st.floats(-0.05, 0.1),
    turn=st.integers(1, 8),
)
def test_one_press_near_the_right_end_names_the_tick_of_the_rightward_swing(
    swing: float, offset: float, period_s: float, late: float, turn: int
) -> None:
    ticks, right_ends = pendulum(swing, 1.5, offset, period_s, 10)
    press = right_ends[turn] + late * period_s
    called = sides_from_presses(ticks, [press])
    after = int(np.searchsorted(ticks.t_s, right_ends[turn]))
    before, silence = float(ticks.t_s[after - 1]), float(ticks.t_s[after] - ticks.t_s[after - 1])
    # A swing that hardly clears its release leaves a short silence: a press near its edge may be doubted, never turned.
    near_middle = abs((press - before) / silence - 0.5) < 0.36
    assert called.counted == 1
    assert called.right == "a" if near_middle else called.right != "b"


def test_the_long_side_is_the_side_the_bob_hangs_too_long_on() -> None:
    """A centre of the escapement right of rest gives the longer silence after the tick of the leftward swing.

    Source: ../shared/reference/trade_practice.md, section 8 item 18.
    """
    ticks, right_ends = pendulum(3.0, 1.75, 0.05, 2.0, 10)
    silences = np.diff(ticks.t_s)
    after_a, after_b = silences[::2].mean(), silences[1::2].mean()
    assert sides_from_presses(ticks, right_ends[1:4]).right == "a"
    assert after_b > after_a


def test_presses_that_contradict_one_another_name_nothing() -> None:
    ticks, right_ends = pendulum(3.0, 1.75, 0.0, 1.0, 20)
    called = sides_from_presses(ticks, [right_ends[2], right_ends[3] + 0.5, right_ends[5], right_ends[8] + 0.5])
    assert called.right is None
    assert called.counted == 4
    assert called.agreement == pytest.approx(0.0, abs=1e-6)


def test_four_good_presses_outvote_a_bad_one() -> None:
    ticks, right_ends = pendulum(3.0, 1.75, 0.0, 1.0, 20)
    presses = [right_ends[2], right_ends[4], right_ends[6], right_ends[8], right_ends[9] + 0.5]
    assert sides_from_presses(ticks, presses).right == "a"


def test_a_press_in_a_hole_or_outside_the_record_is_not_counted() -> None:
    ticks, right_ends = pendulum(3.0, 1.75, 0.0, 2.0, 10)
    keep = np.ones(len(ticks), bool)
    keep[6:9] = False
    holed = Ticks(ticks.t_ns[keep], ticks.u_ns[keep], ticks.side[keep], ticks.level_db[keep])
    assert sides_from_presses(holed, [right_ends[3], -1.0, 1000.0]).counted == 0
    assert sides_from_presses(Ticks.none(), [1.0]).right is None
