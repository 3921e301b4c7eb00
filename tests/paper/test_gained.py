"""Seconds gained or lost: a clock that is known to gain must be drawn as gaining just that."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from by_hand import heard_of, wrong_proof

from quarterjack.listening.heard import Stop
from quarterjack.paper import dial_text, gained
from quarterjack.paper.gained import dial_minute
from quarterjack.records import to_ns


@pytest.mark.parametrize("rate", [-120.0, -3.0, 0.0, 30.0])
def test_the_slope_is_the_rate(rate: float) -> None:
    (curve,) = gained(wrong_proof(), (heard_of(rate=rate),))
    minutes, gain, low, high = (column.values for column in curve.columns)
    slope_s_per_day = np.polyfit(minutes, gain, 1)[0] * 1440
    # 0.3 ms of jitter over half an hour: 0.03 s/day.
    assert slope_s_per_day == pytest.approx(rate, abs=0.2)
    assert np.all((low <= gain) & (gain <= high))
    # An unchecked recorder is anywhere within 50 parts in a million of right, 4.32 s a day (common practice).
    hours = (minutes[-1] - minutes[0]) / 60
    assert high[-1] - gain[-1] == pytest.approx(4.32 * hours / 24, rel=0.02)


def test_beats_that_were_not_heard_are_counted_and_the_sides_make_no_teeth() -> None:
    heard = heard_of(rate=30.0, difference_ms=326.0)
    keep = np.ones(len(heard.ticks), bool)
    keep[300:340] = False  # lost under a chime
    keep[1000] = False
    t = heard.ticks
    holes = replace(heard, ticks=type(t)(t.t_ns[keep], t.u_ns[keep], t.side[keep], t.level_db[keep]))
    (curve,) = gained(wrong_proof(), (holes,))
    minutes, gain = curve.columns[0].values, curve.columns[1].values
    line = np.polyval(np.polyfit(minutes, gain, 1), minutes)
    assert np.abs(gain - line).max() < 0.002


def test_dial_time_is_on_the_axis_when_a_sounding_tells_it() -> None:
    (curve,) = gained(wrong_proof(), (heard_of(),))
    assert curve.on_dial
    # The first quarter after two began 480 s into the record.
    assert curve.columns[0].values[0] == pytest.approx(2 * 60 + 15 - 8, abs=0.2)
    (bare,) = gained(replace(wrong_proof(), soundings=()), (heard_of(),))
    assert not bare.on_dial


def test_after_a_stop_it_is_counted_anew() -> None:
    (curve,) = gained(wrong_proof(), (heard_of(stops=(Stop(to_ns(900.2), "cut off"),)),))
    gain = curve.columns[1].values
    (hole,) = np.flatnonzero(np.isnan(gain))
    assert gain[hole + 1] == 0.0


def test_without_a_train_only_evenness_is_drawn() -> None:
    proof = wrong_proof()
    assert proof.going
    proof = replace(proof, going=replace(proof.going, expected_beats_per_hour=None))
    (curve,) = gained(proof, (heard_of(rate=30.0),))
    assert "its train is not known yet" in curve.against
    assert np.abs(curve.columns[1].values).max() < 0.01


def test_too_few_beats_give_no_curve() -> None:
    assert gained(wrong_proof(), (heard_of(8.0),)) == ()
    assert gained(wrong_proof(), (None,)) == ()


def test_dial_text() -> None:
    assert dial_minute("?:15") is None
    assert [dial_text(m) for m in (0, 59.99, 723.5, -2.0)] == ["12:00", "12:59", "12:03", "11:58"]
    assert dial_text(723.5, seconds=True) == "12:03:30"


def test_ticks_timed_far_out_through_a_chime_make_no_spike() -> None:
    heard = heard_of(rate=30.0)
    t = heard.ticks.t_ns.copy()
    t[600:620:7] += 40_000_000
    told = replace(heard, ticks=replace(heard.ticks, t_ns=t))
    (curve,) = gained(wrong_proof(), (told,))
    minutes, gain = curve.columns[0].values, curve.columns[1].values
    assert np.abs(gain - np.polyval(np.polyfit(minutes, gain, 1), minutes)).max() < 0.002
