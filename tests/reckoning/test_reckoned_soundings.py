"""What must be heard: soundings of twelve hours, hammers, bars, notes, and the totals of a day."""

from __future__ import annotations

from textwrap import dedent

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quarterjack.reckoning import Reckoning, readable, reckon
from quarterjack.sheet import KINDS, Bar, Hammer, Movement, Sounds, parse_sheet, quick_sheet, starter
from quarterjack.tunes import CAMBRIDGE, TUNES


def quick(quarters: str = "cambridge", *, at_hour: bool = True, hours: bool = True, half: str = "none") -> Reckoning:
    return reckon(
        parse_sheet(quick_sheet("A", quarters=quarters, quarters_at_hour=at_hour, hours=hours, half_hour=half))
    )


def sheet(text: str) -> Reckoning:
    return reckon(parse_sheet(dedent(text)))


def strokes_a_day(reckoning: Reckoning, *kinds: str) -> int:
    return 2 * sum(s.n_blows for s in reckoning.soundings if not kinds or s.kind in kinds)


@pytest.mark.parametrize(
    ("reckoning", "quarters", "hours", "halves"),
    [
        # Goodrich ch. XVI and Beckett: 156 a day, 180 with half hours; 40 notes an hour follow from Beckett's table.
        (quick("none"), 0, 156, 0),
        (quick("none", half="one"), 0, 156, 24),
        (quick("none", half="hour"), 0, 156, 156),
        (quick("none", half="next-hour"), 0, 156, 156),
        (quick("cambridge"), 960, 156, 0),
        (quick("cambridge", at_hour=False), 24 * 24, 156, 0),
        (quick("cambridge", hours=False), 960, 0, 0),
        (quick("ting-tang"), 480, 156, 0),
        (quick("ting-tang", at_hour=False), 24 * 12, 156, 0),
        (quick("six-bell"), 24 * (7 + 13 + 20 + 26), 156, 0),
        (quick("none", hours=False), 0, 0, 0),
    ],
)
def test_strokes_of_a_day(reckoning: Reckoning, quarters: int, hours: int, halves: int) -> None:
    assert strokes_a_day(reckoning, "quarter") == quarters
    assert strokes_a_day(reckoning, "hour") == hours
    assert strokes_a_day(reckoning, "half") == halves
    assert strokes_a_day(reckoning) == quarters + hours + halves
    page = readable(reckoning)
    for total in filter(None, (quarters, hours, halves)):
        assert f" {total:,}\n" in page


def test_the_hour_is_a_chime_and_then_blows() -> None:
    reckoning = quick()
    assert [s.dial_minute for s in reckoning.soundings] == sorted(s.dial_minute for s in reckoning.soundings)
    at_three = [s for s in reckoning.soundings if s.dial == "3:00"]
    assert [(s.kind, s.quarter, s.blows) for s in at_three] == [("quarter", 4, None), ("hour", None, 3)]
    assert at_three[0].hammers == CAMBRIDGE.quarters[3]
    assert at_three[0].notes[0] == ("E", "G#", "F#", "B")
    assert at_three[1].hammers == ((5, 5, 5),)
    assert reckoning.soundings[0].dial == "12:00"
    assert [s.blows for s in reckoning.soundings if s.kind == "hour"] == [12, *range(1, 12)]


def test_each_quarter_stands_at_its_minute() -> None:
    for minute, quarter in ((15, 1), (30, 2), (45, 3), (60, 4)):
        found = [s for s in quick().soundings if s.dial_minute == minute and s.kind == "quarter"]
        assert [s.quarter for s in found] == [quarter]
        assert found[0].bars == CAMBRIDGE.quarters[quarter - 1]


@pytest.mark.parametrize(
    ("half", "at_half_past_twelve", "at_half_past_eleven"), [("one", 1, 1), ("hour", 12, 11), ("next-hour", 1, 12)]
)
def test_half_hours(half: str, at_half_past_twelve: int, at_half_past_eleven: int) -> None:
    blows = {s.dial: s.blows for s in quick("none", half=half).soundings if s.kind == "half"}
    assert len(blows) == 12
    assert (blows["12:30"], blows["11:30"]) == (at_half_past_twelve, at_half_past_eleven)


def test_bars_are_assumed_in_the_order_of_the_bells() -> None:
    reckoning = quick()
    assert [(b.bar, b.note, b.hammers, b.hour) for b in reckoning.bars] == [
        (1, "G#", (1,), False),
        (2, "F#", (2,), False),
        (3, "E", (3,), False),
        (4, "B", (4,), False),
        (5, None, (5,), True),
    ]
    assert reckoning.bells_to_bars == (1, 2, 3, 4)
    assert any(item.key == "hammers" for item in reckoning.cannot_say), "an assumption is said to be one"


def test_hour_of_a_ting_tang_is_on_its_low_bar() -> None:
    reckoning = quick("ting-tang")
    assert [(bar.bar, bar.hour) for bar in reckoning.bars] == [(1, False), (2, True)]
    assert reckoning.soundings[1].bars == ((2,) * 12,)


EIGHT_HAMMERS = (
    """
    name = "A"
    place = "{place}"
    [sounds]
    quarters = "cambridge"
    quarters_at_hour = true
    hours = "rack"
    half_hour = "none"
    quarter_hammers = [3, 4, 5, [8, 2]]
    hour_hammers = [1, 7]
    """
    + "".join(
        f"""
    [[hammers]]
    hammer = {hammer}
    bar = [{bar}, {100 + bar}]
    """
        for hammer, bar in ((1, 9), (2, 8), (3, 3), (4, 4), (5, 5), (7, 10), (8, 8))
    )
    + "".join(
        f"""
    [[bars]]
    bar = {bar}
    place = "{place}"
    form = "tube"
    note = "{note}"
    partials_hz = [{100 * bar}]
    """
        for place, plus in (("house", 0), ("stand", 100))
        for bar, note in (
            (3 + plus, "C"),
            (4 + plus, "B"),
            (5 + plus, "A"),
            (8 + plus, "E"),
            (9 + plus, "low A"),
            (10 + plus, "C#"),
        )
    )
)


def test_hammers_bars_and_places_are_two_numberings() -> None:
    house, stand = (sheet(EIGHT_HAMMERS.replace("{place}", place)) for place in ("house", "stand"))
    first = next(s for s in house.soundings if s.dial == "12:15")
    assert first.hammers == ((3, 4, 5, 8),)
    assert first.bars == ((3, 4, 5, 8),)
    assert first.notes == (("C", "B", "A", "E"),)
    assert house.bells_to_bars == (3, 4, 5, 8)
    assert [bar.bar for bar in house.bars] == [3, 4, 5, 8, 9, 10]
    assert {bar.bar: bar.hammers for bar in house.bars}[8] == (2, 8)
    assert {bar.bar for bar in house.bars if bar.hour} == {9, 10}
    assert next(s for s in stand.soundings if s.dial == "12:15").bars == ((103, 104, 105, 108),)
    assert [bar.place for bar in stand.bars] == ["stand"] * 6
    assert stand.bars[0].partials_hz == (10300.0,)
    assert stand.bars[0].form == "tube"


def test_blow_of_two_hammers_names_the_first() -> None:
    at_two = next(s for s in sheet(EIGHT_HAMMERS.replace("{place}", "house")).soundings if s.dial == "2:00" and s.blows)
    assert (at_two.hammers, at_two.bars, at_two.notes) == (((1, 1),), ((9, 9),), (("low A", "low A"),))


def test_second_hammer_strikes_where_the_bell_comes_twice_running() -> None:
    """Bell 4 ends the fourth phrase and begins the fifth; Beckett wants a second hammer for it."""
    reckoning = sheet(EIGHT_HAMMERS.replace("{place}", "house"))
    third = next(s for s in reckoning.soundings if s.dial == "12:45")
    assert third.hammers == ((3, 5, 4, 8), (2, 4, 3, 5), (3, 4, 5, 8))
    assert third.bars == ((3, 5, 4, 8), (8, 4, 3, 5), (3, 4, 5, 8))


def test_place_that_is_not_said() -> None:
    text = EIGHT_HAMMERS.replace('place = "{place}"\n', "", 1)
    reckoning = sheet(text)
    assert any(item.key == "place" for item in reckoning.cannot_say)
    assert {bar.place for bar in reckoning.bars} == {"house"}


def test_only_place_with_bars_is_taken() -> None:
    reckoning = sheet('name = "A"\n[sounds]\nhours = "rack"\n[[bars]]\nbar = 1\nplace = "stand"\nnote = "C"')
    assert reckoning.bars[0].place == "stand"
    assert reckoning.soundings[-1].notes == (("C",) * 11,)


def test_own_tune() -> None:
    reckoning = sheet(
        """
        name = "A"
        [sounds]
        quarters = "own"
        quarters_at_hour = false
        hours = "none"
        [own_tune]
        title = "Three bells"
        notes = ["C", "A", "F"]
        quarters = [[[1, 2, 3]], [[1, 2, 3], [3, 2, 1]], [[2, 1]], [[1]]]
        """
    )
    assert [(s.dial, s.notes) for s in reckoning.soundings[:3]] == [
        ("12:15", (("C", "A", "F"),)),
        ("12:30", (("C", "A", "F"), ("F", "A", "C"))),
        ("12:45", (("A", "C"),)),
    ]
    assert "Quarters: Three bells" in readable(reckoning)
    assert "silent at the hour" in readable(reckoning)


def test_what_the_sheet_leaves_open_is_said() -> None:
    reckoning = sheet('name = "A"')
    assert reckoning.soundings == ()
    assert [item.key for item in reckoning.cannot_say] == [
        "sounds.quarters",
        "sounds.hours",
        "sounds.half_hour",
        "trains.going.beats_per_hour",
    ]
    assert reckoning.settle_next is not None
    assert "sounds.quarters" in reckoning.settle_next
    half_known = sheet('name = "A"\n[sounds]\nquarters = "ting-tang"')
    assert half_known.cannot_say[0].key == "sounds.quarters_at_hour"
    assert len([s for s in half_known.soundings if s.quarter == 4]) == 0
    full_tune = sheet('name = "A"\n[sounds]\nquarters = "cambridge"')
    assert len([s for s in full_tune.soundings if s.quarter == 4]) == 12


@pytest.mark.parametrize("tune", TUNES)
def test_soundings_repeat_every_hour(tune: str) -> None:
    chimes = [s for s in quick(tune).soundings if s.kind == "quarter"]
    by_quarter = {s.quarter: s for s in chimes}
    assert len(chimes) == 48
    assert all(s.hammers == by_quarter[s.quarter].hammers for s in chimes)
    assert all(len(h) == len(b) == len(n) for s in chimes for h, b, n in zip(s.hammers, s.bars, s.notes, strict=True))


@pytest.mark.parametrize("kind", KINDS)
def test_starters_reckon(kind: str) -> None:
    assert max(map(len, readable(reckon(parse_sheet(starter(kind)))).splitlines())) <= 80


def test_hammer_without_a_bar_where_the_clock_is() -> None:
    reckoning = sheet(
        """
        name = "A"
        place = "stand"
        [sounds]
        quarters = "ting-tang"
        quarters_at_hour = false
        hours = "none"
        half_hour = "none"
        [[bars]]
        bar = 1
        place = "stand"
        [[bars]]
        bar = 12
        place = "house"
        [[hammers]]
        hammer = 1
        bar = 1
        [[hammers]]
        hammer = 2
        bar = 12
        """
    )
    assert [(bar.bar, bar.place) for bar in reckoning.bars] == [(1, "stand"), (12, "house")]
    because = [item.because for item in reckoning.cannot_say if item.key == "hammers"]
    assert because == ["the sheet lists no bar in the stand for hammer 2"]


@st.composite
def movements(draw: st.DrawFn) -> Movement:
    """Any clock that a sheet could describe: some hammers and bars listed, some not, in either place or none said."""
    quarters = draw(st.sampled_from([None, "none", *TUNES]))
    tune = TUNES.get(quarters or "")
    numbers = st.lists(st.integers(1, 12), min_size=1, max_size=3, unique=True).map(tuple)
    by_bell = tuple(draw(numbers) for _ in range(tune.bells)) if tune and draw(st.booleans()) else ()
    hours = draw(st.sampled_from([None, "none", "yes", "rack"]))
    places = st.sampled_from([None, "stand", "house"])
    bars = tuple(
        Bar(number, draw(st.sampled_from([None, "C", "D"])), draw(places))
        for number in draw(st.lists(st.integers(1, 20), unique=True, max_size=8))
    )
    hammers = tuple(
        Hammer(number, draw(st.lists(st.integers(1, 20), unique=True, max_size=2).map(tuple)))
        for number in draw(st.lists(st.integers(1, 12), unique=True, max_size=8))
    )
    sounds = Sounds(
        quarters=quarters,
        tune=tune,
        quarters_at_hour=draw(st.sampled_from([None, True, False])),
        hours=hours,
        half_hour=draw(st.sampled_from([None, "none", "one", "hour", "next-hour"])),
        quarter_hammers=by_bell,
        hour_hammers=draw(st.one_of(st.just(()), numbers)) if hours != "none" else (),
    )
    return Movement(name="A", place=draw(places), sounds=sounds, bars=bars, hammers=hammers)


@given(movements())
def test_every_stroke_has_a_hammer_a_bar_and_a_note(movement: Movement) -> None:
    reckoning = reckon(movement)
    bars = {bar.bar: bar for bar in reckoning.bars}
    for sounding in reckoning.soundings:
        for hammers, struck, notes in zip(sounding.hammers, sounding.bars, sounding.notes, strict=True):
            for hammer, number, note in zip(hammers, struck, notes, strict=True):
                assert hammer in bars[number].hammers
                assert note == (bars[number].note or ("hour" if sounding.blows else "?"))
        assert sounding.blows is None or sounding.n_blows == sounding.blows
    tune = movement.sounds.tune
    if tune:
        played = {s.quarter: s for s in reckoning.soundings if s.kind == "quarter"}
        for quarter, sounding in played.items():
            assert [len(phrase) for phrase in sounding.hammers] == [len(p) for p in tune.quarters[(quarter or 0) - 1]]
    assert readable(reckoning)
