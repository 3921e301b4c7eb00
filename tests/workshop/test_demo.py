"""The invented clock says that it is invented, and shows one healthy and one faulty record."""

from __future__ import annotations

from pathlib import Path

import pytest

from quarterjack.errors import StoppedByUser
from quarterjack.workshop import Bench, make_demo


def test_what_is_made_and_what_is_found(tmp_path: Path) -> None:
    told: list[float] = []
    clock = make_demo(Bench(tmp_path), lambda fraction, _: told.append(fraction))
    assert told == sorted(told)
    assert told[-1] <= 1.0
    assert "invented" in clock.name
    assert "Invented" in str(clock.movement().notes)
    assert clock.faults() == ()
    healthy, faulty = (one.proof for one in clock.proofs())
    assert (healthy.verdict, faulty.verdict) == ("right", "wrong")
    assert {one.verdict for one in healthy.soundings} == {"right"}
    # The faults that were put in, and no other.
    assert [one.code for one in faulty.findings if one.weight < 3] == ["stopped", "dead-hammer", "out-of-beat"]
    assert faulty.stops[0].ended == "cut off"
    assert all(one.heard and clock.heard_at(one.heard) for one in (*healthy.recordings, *faulty.recordings))


def test_stopped_half_way_it_leaves_nothing_half_made(tmp_path: Path) -> None:
    def stop(fraction: float, _: str) -> None:
        if fraction > 0.05:
            raise StoppedByUser("enough")

    bench = Bench(tmp_path)
    with pytest.raises(StoppedByUser):
        make_demo(bench, stop)
    # The clock's folder is whole: a sheet, and no part of a recording.
    (clock,) = bench.clocks()
    assert clock.faults() == ()
    assert clock.recordings() == ()
