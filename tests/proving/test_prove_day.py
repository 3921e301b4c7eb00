"""Proving on hours of a made-up clock, played from its own reckoning: times, order, counts, stops, recordings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from made_heard import Struck, floor_clock, made

from quarterjack.errors import OutOfRange, UnknownChoice
from quarterjack.listening.heard import Gap, Going, Heard, Remark, Repeat, Stop, TrainNoise
from quarterjack.proving import Proof, prove, rate_text
from quarterjack.reckoning import ExpectedSounding, Reckoning, reckon
from quarterjack.records import to_ns
from quarterjack.sheet import parse_sheet, quick_sheet

CLOCK = floor_clock()
Change = Callable[[ExpectedSounding], ExpectedSounding | None]


def played(  # what a clock plays in order, each sounding changed or left out as asked
    clock: Reckoning = CLOCK,
    *,
    start: float = 0.0,
    hours: float = 2.0,
    change: Change = lambda due: due,
    late_min: Callable[[int], float] = lambda minute: 0.0,
    step_min: float | None = None,
    file: str = "bench.flac",
    started_utc: str | None = None,
) -> Heard:
    """Hours of a clock as a perfect listener hears them; `step_min` leads the hands so many minutes of time a call."""
    struck: list[Struck] = []
    names = {bar.bar: "HOUR" if bar.hour else bar.note or "?" for bar in clock.bars}
    round_of_dial = sorted({due.dial_minute for due in clock.soundings})
    ahead = sorted(((minute - start) % 720, minute) for minute in round_of_dial)
    for turn, (after, minute) in enumerate(ahead):
        if after > hours * 60:
            break
        t = (after + late_min(minute)) * 60 if step_min is None else turn * step_min * 60 + 5
        for due in clock.soundings:
            changed = change(due) if due.dial_minute == minute else None
            if changed is None:
                continue
            for phrase in changed.bars:
                for bar in phrase:
                    struck.append(Struck(t, names[bar], t))
                    t += 1.5 if changed.kind != "quarter" else 0.6
                t += 0.6
            t += 1.5
    seconds = hours * 3600 if step_min is None else (struck[-1].t_s if struck else 0.0) + 30
    return made([one for one in struck if one.t_s < seconds], file=file, seconds=seconds, started_utc=started_utc)


def codes(proof: Proof, weight: int = 1) -> list[str]:
    return [one.code for one in proof.findings if one.weight == weight]


def with_bars(due: ExpectedSounding, *quarters: int) -> ExpectedSounding:
    """The sounding with another quarter's phrases."""
    other = next(one for one in CLOCK.soundings if one.quarter == quarters[0])
    return replace(due, bars=other.bars)


def blows(count: Callable[[int], int]) -> Change:
    """Strike another number of blows at each hour."""
    return lambda due: replace(due, bars=((5,) * count(due.blows or 0),)) if due.kind == "hour" else due


@pytest.mark.parametrize("given", [None, "11:50"])
def test_hours_in_order_are_right(given: str | None) -> None:
    proof = prove(CLOCK, [played(start=710, hours=3)], dial_starts=[given])
    assert proof.verdict == "right"
    assert [one.dial for one in proof.soundings if one.kind == "hour"] == ["12:00", "1:00", "2:00"]
    assert {one.verdict for one in proof.soundings} == {"right"}


def test_a_missing_quarter_is_missed_only_where_the_recording_covers_it() -> None:
    left_out: Change = lambda due: None if due.dial_minute == 75 else due  # noqa: E731
    heard = played(start=30, hours=2, change=left_out)
    proof = prove(CLOCK, [heard], dial_starts=["12:30"])
    assert [(one.dial, one.verdict) for one in proof.soundings if one.verdict != "right"] == [("1:15", "missing")]
    assert codes(proof) == ["sounding-missing"]
    noise = replace(heard, train_noise=(TrainNoise(to_ns(2690), to_ns(2710)),))
    assert "though the train ran" in prove(CLOCK, [noise], dial_starts=["12:30"]).findings[0].text
    gap = replace(heard, recording=replace(heard.recording, gaps=(Gap(to_ns(2600), to_ns(2800)),)))
    proof = prove(CLOCK, [gap], dial_starts=["12:30"])
    assert proof.verdict == "right"
    assert next(one for one in proof.soundings if one.dial == "1:15").verdict == "not heard"


def test_one_late_quarter_and_a_hand_that_is_out() -> None:
    late = played(hours=3, start=5, late_min=lambda minute: 6.0 if minute == 90 else 0.0)
    proof = prove(CLOCK, [late], dial_starts=["12:05"])
    assert codes(proof) == ["late"]
    assert next(one for one in proof.soundings if one.verdict == "late").dial == "1:30"
    # With the dial unknown the others agree, so it is late beside them.
    proof = prove(CLOCK, [late])
    assert codes(proof) == ["late"]
    assert "beside the others" in next(one for one in proof.soundings if one.verdict == "late").why
    out = prove(CLOCK, [played(hours=2, start=5, late_min=lambda minute: 4.0)], dial_starts=["12:05"])
    assert codes(out) == ["dial-offset"]
    assert out.findings[0].evidence["late_min"] == pytest.approx(4.0, abs=0.1)
    # Without a dial nobody can say that all are out.
    assert prove(CLOCK, [played(hours=2, start=5, late_min=lambda minute: 4.0)]).verdict == "right"


def test_an_hour_that_comes_eight_minutes_early_is_early() -> None:
    early = played(hours=3, start=5, late_min=lambda minute: -8.0 if minute == 120 else 0.0)
    proof = prove(CLOCK, [early], dial_starts=["12:05"])
    assert codes(proof) == ["early"]
    assert {one.dial for one in proof.soundings if one.verdict == "early"} == {"2:00"}


@pytest.mark.parametrize("given", [None, "12:05"])
def test_a_locking_wheel_one_out(given: str | None) -> None:
    # Right phrases in number for the quarter before; the hours keep their counts, so the dial can be found by them.
    lagging: Change = lambda due: with_bars(due, (due.quarter - 2) % 4 + 1) if due.quarter else due  # noqa: E731
    proof = prove(CLOCK, [played(hours=3.5, start=5, change=lagging)], dial_starts=[given])
    assert codes(proof) == ["wrong-quarter"]
    assert proof.findings[0].evidence["quarters_on"] == 3
    assert {one.verdict for one in proof.soundings if one.kind == "quarter"} == {"wrong quarter"}


def test_a_barrel_two_phrases_out() -> None:
    from quarterjack.proving.content import Repertoire

    quarters = tuple((quarter, CLOCK.tunes[0].quarters[quarter - 1]) for quarter in (1, 2, 3, 4))
    barrel = Repertoire(quarters)
    assert len(barrel.barrel) == 5  # two turns an hour of a barrel of five phrases: item 118
    turned: Change = lambda due: replace(due, bars=barrel.shifted(due.quarter, 2)) if due.quarter else due  # noqa: E731
    proof = prove(CLOCK, [played(hours=2, start=5, change=turned)])
    assert codes(proof) == ["barrel-phase"]
    assert proof.findings[0].evidence["phrases_ahead"] == 2
    assert "2 phrases ahead" in proof.findings[0].text


@pytest.mark.parametrize(
    ("count", "code"),
    [
        (lambda n: n % 12 + 1, "count-shifted"),
        (lambda n: 1, "one-blow-always"),
        (lambda n: n + (n == 3), "wrong-count"),
    ],
)
def test_counts(count: Callable[[int], int], code: str) -> None:
    proof = prove(CLOCK, [played(hours=4, start=65, change=blows(count))], dial_starts=["1:05"])
    assert codes(proof) == [code]


def test_something_unexpected() -> None:
    no_hour = replace(CLOCK, soundings=tuple(one for one in CLOCK.soundings if one.kind != "hour"))
    proof = prove(no_hour, [played(hours=1.5, start=5)], dial_starts=["12:05"])
    assert codes(proof) == ["unexpected-sounding"]


@pytest.mark.parametrize("mode", ["by-hand", "round-the-dial"])
def test_hands_led_by_hand(mode: str) -> None:
    fine = prove(CLOCK, [played(hours=4, start=5, step_min=0.7)], mode=mode)
    assert fine.verdict == "right"
    assert [one.dial for one in fine.soundings if one.kind == "hour"] == ["1:00", "2:00", "3:00", "4:00"]
    skipping: Change = lambda due: None if due.dial_minute == 105 else due  # noqa: E731
    skipped = prove(CLOCK, [played(hours=4, start=5, step_min=0.7, change=skipping)], mode=mode)
    assert skipped.verdict == ("right" if mode == "by-hand" else "wrong")
    verdict = next(one for one in skipped.soundings if one.dial == "1:45").verdict
    assert verdict == ("not heard" if mode == "by-hand" else "missing")
    wrong = prove(CLOCK, [played(hours=4, start=5, step_min=0.7, change=blows(lambda n: n + (n == 2)))], mode=mode)
    assert codes(wrong) == ["wrong-count"]
    named = prove(CLOCK, [played(hours=1, start=5, step_min=0.7)], mode=mode, dial_starts=["12:20"])
    assert codes(named) == ["unexpected-sounding"]
    alone = prove(CLOCK, [played(hours=0.3, start=5, step_min=0.7)], mode=mode, dial_starts=["12:20"])
    assert codes(alone) == ["wrong-quarter"]


def test_a_stop_has_its_dial_and_its_beats() -> None:
    heard = played(hours=1, start=5)
    ticks = made([], ticks=[(t + 0.5, "AB"[t % 2]) for t in range(1000)]).ticks
    stopped = replace(heard, ticks=ticks, stops=(Stop(to_ns(999.5), "cut off"),))
    stopped = replace(stopped, going=Going(1000, 3600.0, 0.05, 2.0, 0.1, "a"))
    stopped = replace(stopped, soundings=tuple(one for one in stopped.soundings if one.from_ns < to_ns(999)))
    proof = prove(CLOCK, [stopped], dial_starts=["12:05"])
    assert codes(proof) == ["stopped"]
    assert proof.stops[0].dial == "12:21"
    assert proof.stops[0].beats_since_start == 1000
    assert {one.why for one in proof.soundings if one.verdict == "missing"} == {"The clock had stopped."}
    assert proof.going is not None
    assert proof.going.heard_fraction == pytest.approx(1.0, abs=0.002)


def test_two_recordings_that_overlap_make_up_for_each_other() -> None:
    begun = datetime(2026, 3, 2, 10, 5, tzinfo=UTC)
    first = played(hours=1, start=5, file="one.flac", started_utc=begun.isoformat())
    deaf: Change = lambda due: None if due.dial_minute == 45 else due  # noqa: E731
    later = (begun + timedelta(minutes=20)).isoformat()
    second = played(hours=1, start=25, file="two.flac", change=deaf, started_utc=later)
    proof = prove(CLOCK, [first, second], dial_starts=["12:05", "12:25"])
    assert proof.verdict == "right"
    missed = [one for one in proof.soundings if one.recording == 1 and one.dial == "12:45"]
    assert [one.verdict for one in missed] == ["not heard"]
    apart = replace(second, recording=replace(second.recording, started_utc=None))
    assert prove(CLOCK, [first, apart], dial_starts=["12:05", "12:25"]).verdict == "wrong"


def test_the_start_time_chooses_the_hour_but_accuses_nobody() -> None:
    quarter = played(hours=0.2, start=5)
    here = datetime(2026, 3, 2, 15, 5).astimezone()
    named = replace(quarter, recording=replace(quarter.recording, started_utc=here.astimezone(UTC).isoformat()))
    proof = prove(CLOCK, [named])
    assert [one.dial for one in proof.soundings] == ["3:15"]
    assert proof.findings[-1].evidence["recordings"][0]["from"] == "start time"
    elsewhere = datetime(2026, 3, 2, 15, 25).astimezone().astimezone(UTC).isoformat()
    named = replace(quarter, recording=replace(quarter.recording, started_utc=elsewhere))
    proof = prove(CLOCK, [named])
    assert proof.verdict == "right"


def test_the_rate_and_its_limits() -> None:
    def going(beats_per_hour: float, u: float, difference: float = 0.0) -> Heard:
        return replace(played(hours=1, start=5), going=Going(3600, beats_per_hour, u, difference, 0.2, "a"))

    # 3600.5 beats for 3600 gain 12 s a day; 50 parts in a million of a day are 4.32 s, rectangular u 2.49 s.
    proof = prove(CLOCK, [going(3600.5, 0.01)])
    assert proof.going is not None
    assert proof.going.rate_s_per_day == pytest.approx(12.0)
    assert proof.going.rate_u_s_per_day == pytest.approx(2.506, abs=0.01)
    assert rate_text(proof.going) == "gains 12 s a day (± 4 s/day, recorder not checked)"
    assert "rate" not in codes(proof, 2)
    assert codes(prove(CLOCK, [going(3598.0, 0.01)]), 2) == ["rate"]
    assert codes(prove(CLOCK, [going(3598.0, 2.0)]), 2) == []
    assert codes(prove(CLOCK, [going(4000.0, 0.01)]), 2) == ["unlike-train"]
    # Common practice: under 2 % of a beat good, over 5 % to be corrected.
    assert codes(prove(CLOCK, [going(3600.0, 0.01, 15.0)]), 3) == ["dial-time"]
    assert codes(prove(CLOCK, [going(3600.0, 0.01, 30.0)]), 3) == ["beat-uneven", "dial-time"]
    assert codes(prove(CLOCK, [going(3600.0, 0.01, 60.0)]), 2) == ["out-of-beat"]
    # Half-second beats: the same 30 ms are 6 % of a beat.
    half = replace(CLOCK, beats_per_hour=7200.0)
    assert codes(prove(half, [going(7200.0, 0.01, 30.0)]), 2) == ["out-of-beat"]


def test_a_silent_clock_is_right_when_its_beat_was_heard() -> None:
    silent = replace(CLOCK, soundings=())
    ticking = made([], ticks=[(float(t), "AB"[t % 2]) for t in range(40)])
    assert prove(silent, [ticking]).verdict == "right"
    assert prove(CLOCK, [ticking]).verdict == "too little heard"
    assert prove(silent, [made([])]).verdict == "too little heard"


def test_a_loop_proves_its_first_turn_only_and_remarks_are_passed_on() -> None:
    heard = played(hours=1, start=5)
    looped = replace(heard, repeats=(Repeat(900.0, 0.99),), remarks=(Remark("clipped", "it is clipped"),))
    proof = prove(CLOCK, [looped])
    assert len(proof.soundings) == 1
    assert {"recording-repeats", "recording-remark"} <= set(codes(proof, 3))


def test_an_hour_striker_and_a_ting_tang() -> None:
    for sheet in (
        quick_sheet("Bracket", quarters="none", quarters_at_hour=False, hours=True, half_hour="one"),
        quick_sheet("Ting", quarters="ting-tang", quarters_at_hour=False, hours=True, half_hour="none"),
        quick_sheet("Ting", quarters="ting-tang", quarters_at_hour=True, hours=True, half_hour="none"),
        quick_sheet("Six", quarters="six-bell", quarters_at_hour=True, hours=True, half_hour="none"),
    ):
        clock = reckon(parse_sheet(sheet))
        proof = prove(clock, [_plain(clock)])
        assert proof.verdict == "right", sheet
        assert {one.verdict for one in proof.soundings} == {"right"}


def _plain(clock: Reckoning) -> Heard:
    """Three hours from five past one, bars by the clock's own numbers, partials unlike each other."""
    from quarterjack.listening.heard import Blow, RecordingFacts, Sounding, Ticks

    blows: list[Blow] = []
    soundings: list[Sounding] = []
    for due in clock.soundings:
        if not 65 < due.dial_minute < 245:
            continue
        t = (due.dial_minute - 65) * 60.0 + (15 if due.kind == "hour" and due.dial_minute else 0)
        first = len(blows)
        for bar in [bar for phrase in due.bars for bar in phrase]:
            kind = "chime" if due.kind == "quarter" else "hour"
            blows.append(Blow(to_ns(t), 1_000_000, bar, None, None, kind, (100.0 * 1.3**bar, 171.0 * 1.3**bar), -20.0))
            t += 1.0
        soundings.append(Sounding(blows[first].t_ns, blows[-1].t_ns, due.kind, None, None, first, len(blows) - first))
    facts = RecordingFacts("plain.flac", "plain", 3 * 3600.0, 48_000, 1)
    return Heard(recording=facts, going=None, ticks=Ticks.none(), blows=tuple(blows), soundings=tuple(soundings))


def test_what_is_refused() -> None:
    with pytest.raises(UnknownChoice):
        prove(CLOCK, [played(hours=0.3)], mode="sometimes")
    with pytest.raises(OutOfRange):
        prove(CLOCK, [played(hours=0.3)], dial_starts=["12:00", "1:00"])
    for wrong in ("noon", "12:61", "25:00", "?:15"):
        with pytest.raises(OutOfRange):
            prove(CLOCK, [played(hours=0.3)], dial_starts=[wrong])
