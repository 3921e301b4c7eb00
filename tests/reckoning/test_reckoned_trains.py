"""How trains turn, as far as counts reach; what cannot be said, and which one count would settle most."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from quarterjack.reckoning import ReckonedTrain, Reckoning, readable, reckon
from quarterjack.records import from_json, to_json
from quarterjack.sheet import KINDS, SHEET_KEYS, Movement, Train, parse_sheet, read_sheet, starter
from quarterjack.sheet.keys import TRAINS

EXAMPLES = sorted((Path(__file__).resolve().parents[2] / "examples").glob("*.toml"))
ALDER = next(path for path in EXAMPLES if path.stem == "alder-house")


def going(arbors: str, more: str = "") -> Reckoning:
    quiet = '[sounds]\nquarters = "none"\nhours = "none"\nhalf_hour = "none"\n'
    return reckon(parse_sheet(f'name = "A"\n{quiet}[trains.going]\narbors = [{arbors}]\n{more}'))


def train_of(reckoning: Reckoning, name: str) -> ReckonedTrain:
    return next(train for train in reckoning.trains if train.name == name)


@pytest.mark.parametrize(
    ("wheels", "pinions", "escape", "beats_a_minute"),
    [
        # Goodrich ch. XIV, from the centre wheel on.
        ((64, 60), (8, 8), 30, 60.0),
        ((84, 78), (7, 7), 27, 120.34),
        ((36, 36, 35), (6, 6, 6), 25, 175.0),
        ((128, 102), (8, 8), 25, 170.0),
    ],
)
def test_beats_of_printed_trains(
    wheels: tuple[int, ...], pinions: tuple[int, ...], escape: int, beats_a_minute: float
) -> None:
    rows = [f'{{ name = "centre", wheel = {wheels[0]}, turn_min = 60 }}']
    rows += [
        f'{{ name = "arbor {i}", pinion = {pinion}, wheel = {wheel} }}'
        for i, (wheel, pinion) in enumerate(zip(wheels[1:], pinions, strict=False))
    ]
    rows.append(f'{{ name = "escape", pinion = {pinions[-1]}, wheel = {escape} }}')
    reckoning = going(", ".join(rows))
    assert reckoning.beats_per_hour == pytest.approx(60 * beats_a_minute, abs=0.5)  # 0.01 a minute
    assert reckoning.beats_per_turn == 2 * escape
    assert reckoning.cannot_say == ()
    assert reckoning.settle_next is None


def test_derham_eight_day_piece() -> None:
    """Page 110: great wheel 96, then 8-60, 8-56, 7-30, sixteen turns: 192 hours."""
    reckoning = going(
        '{ name = "great", wheel = 96, turn_min = 720 }, { name = "centre", pinion = 8, wheel = 60 },'
        '{ name = "third", pinion = 8, wheel = 56 }, { name = "escape", pinion = 7, wheel = 30 }',
        "[trains.going.drive]\nturns = 16",
    )
    train = train_of(reckoning, "going")
    assert [arbor.period_s for arbor in train.arbors] == pytest.approx([43200.0, 3600.0, 480.0, 60.0])
    assert reckoning.beats_per_hour == pytest.approx(3600.0)
    assert train.run_time_h == pytest.approx(192.0)
    assert "Runs 8 days" in readable(reckoning)


def test_gravity_escapement_says_its_beats() -> None:
    """Goodrich: great wheel 3 h, 120, 90, 75 on 10, 10, 9 and six beats a turn give 30 a minute."""
    reckoning = going(
        '{ name = "great", wheel = 120, turn_min = 180 }, { name = "second", pinion = 10, wheel = 90 },'
        '{ name = "third", pinion = 10, wheel = 75 }, { name = "escape", pinion = 9 }',
        "beats_per_turn = 6",
    )
    assert reckoning.beats_per_hour == pytest.approx(1800.0)
    assert reckoning.beats_per_turn == 6
    assert reckoning.pendulum is not None
    assert reckoning.pendulum.length_m / 0.0254 == pytest.approx(156.56, abs=0.1)  # standard, not London gravity


def test_strike_and_chime_trains_of_the_example() -> None:
    """Beckett: great wheel 78 on 8 with 8 pins turns once in 12 h; a five-phrase barrel turns twice an hour."""
    reckoning = reckon(read_sheet(ALDER))
    strike, chime = train_of(reckoning, "strike"), train_of(reckoning, "chime")
    assert strike.arbors[0].turns_per_hour == pytest.approx(1 / 12)
    assert strike.arbors[2].turns_per_hour == pytest.approx(6.5)  # once for each of 156 blows a day
    assert strike.run_time_h == pytest.approx(192.0)
    assert chime.arbors[2].turns_per_hour == pytest.approx(2.0)
    assert chime.arbors[1].turns_per_hour == pytest.approx(1.0)
    assert all(arbor.period_s is None for arbor in (*strike.arbors, *chime.arbors)), "they do not turn all the time"
    assert reckoning.cannot_say == ()


def test_run_is_limited_by_the_fall_where_that_is_shorter() -> None:
    arbors = '{ name = "great", wheel = 96 }, { name = "centre", pinion = 8, turn_min = 60 }'
    drive = "[trains.going.drive]\nkind = 'weight'\nturns = 16\nfalls = 2\nbarrel_mm = 45\nline_mm = 1.4\nfall_mm = {}"
    long_fall, short_fall = (train_of(going(arbors, drive.format(fall)), "going") for fall in (1300, 600))
    assert long_fall.run_time_h == pytest.approx(192.0)
    assert long_fall.run_time_limited_by == "the turns of the barrel"
    assert short_fall.run_time_limited_by == "the fall of the weight"
    assert short_fall.run_time_h == pytest.approx(12 * 1200 / (3.14159265 * 46.4), rel=1e-6)


def test_heard_beats_carry_back_along_the_train() -> None:
    reckoning = going(
        '{ name = "great", wheel = 96 }, { name = "centre", pinion = 8, wheel = 64 },'
        '{ name = "third", pinion = 8, wheel = 60 }, { name = "escape", pinion = 8, wheel = 30 }',
        "beats_per_hour = 3600",
    )
    assert [a.period_s for a in train_of(reckoning, "going").arbors] == pytest.approx([43200.0, 3600.0, 450.0, 60.0])


def test_counts_that_contradict_the_ear() -> None:
    arbors = (
        '{ name = "centre", wheel = 64, turn_min = 60 }, { name = "third", pinion = 8, wheel = 60 },'
        '{ name = "escape", pinion = 8, wheel = 30 }'
    )
    wrong = going(arbors, "beats_per_hour = 3720")
    assert wrong.beats_per_hour == pytest.approx(3600.0)
    assert [item.what for item in wrong.cannot_say] == ["whether the counts are right"]
    assert going(arbors, "beats_per_hour = 3605").cannot_say == (), "a clock out of rate is not out of count"


def test_pendulum_by_latitude_and_from_its_length() -> None:
    arbors = '{ name = "escape", wheel = 30 }'
    here = going(arbors, "beats_per_hour = 3600\n[pendulum]\nlatitude_deg = 51.5")
    assert here.pendulum is not None
    assert here.pendulum.length_m == pytest.approx(0.994166855763, abs=1e-9)  # normal gravity of WGS 84
    assert here.pendulum.rate_s_per_day_per_mm == pytest.approx(43.45, abs=0.01)
    from_length = going(arbors, "[pendulum]\nlength_mm = 993.621385566")
    assert from_length.beats_per_hour == pytest.approx(3600.0, abs=1e-6)
    assert going(arbors, 'beats_per_hour = 18000\nregulator = "balance"').pendulum is None


def test_the_last_wheel_is_no_escape_wheel_unless_it_is_called_so() -> None:
    reckoning = going('{ name = "great", wheel = 96 }, { name = "centre", pinion = 8, wheel = 64, turn_min = 60 }')
    assert reckoning.beats_per_hour is None
    assert reckoning.beats_per_turn is None


def test_strike_train_that_may_play_the_quarters_too() -> None:
    text = (
        'name = "A"\n[sounds]\nquarters = "ting-tang"\nquarters_at_hour = false\nhours = "rack"\nhalf_hour = "none"\n'
    )
    strike = '[trains.strike]\narbors = [{ name = "great", wheel = 78 }, { name = "pin wheel", pinion = 8, pins = 8 }]'
    reckoning = reckon(parse_sheet(text + strike))
    assert [arbor.turns_per_hour for arbor in reckoning.trains[0].arbors] == [None, None]
    assert reckoning.cannot_say[-1].because == "it may play the quarters too, as no chime train is listed"


def without(movement: Movement, train: str, i: int, part: str) -> Movement:
    def cut(one: Train) -> Train:
        arbors = list(one.arbors)
        arbors[i] = replace(arbors[i], **{part: None})  # type: ignore[arg-type]
        return replace(one, arbors=tuple(arbors))

    return replace(movement, trains=tuple(cut(one) if one.name == train else one for one in movement.trains))


def all_counts() -> list[tuple[str, int, str]]:
    found = []
    for train in read_sheet(ALDER).trains:
        for i, arbor in enumerate(train.arbors):
            for part in ("wheel", "pinion", "turn_min", "pins", "phrases_per_turn"):
                if getattr(arbor, part) is not None:
                    found.append((train.name, i, part))
    return found


@pytest.mark.parametrize(("train", "i", "part"), all_counts())
def test_one_lost_count_is_the_one_that_would_settle_most(train: str, i: int, part: str) -> None:
    movement = without(read_sheet(ALDER), train, i, part)
    reckoning = reckon(movement)
    assert reckoning.cannot_say
    assert reckoning.settle_next is not None
    wanted = f"(trains.{train}.arbors[{i + 1}].{part})"
    assert wanted in reckoning.settle_next or "beats_per_hour" in reckoning.settle_next
    assert any(item.key in reckoning.settle_next for item in reckoning.cannot_say)


def test_two_lost_counts_name_one_to_begin_with() -> None:
    movement = without(without(read_sheet(ALDER), "strike", 1, "wheel"), "strike", 2, "pinion")
    settle = reckon(movement).settle_next
    assert settle is not None
    assert "trains.strike.arbors[2].wheel" in settle


def sheets() -> list[Movement]:
    return [*(parse_sheet(starter(kind)) for kind in KINDS), *map(read_sheet, EXAMPLES), Movement(name="A")]


@pytest.mark.parametrize("movement", sheets(), ids=lambda movement: movement.name)
def test_reckoning_is_read_back_and_its_page_is_narrow(movement: Movement) -> None:
    reckoning = reckon(movement)
    assert from_json(Reckoning, to_json(reckoning)) == reckoning
    page = readable(reckoning)
    assert max(map(len, page.splitlines())) <= 80
    assert page.startswith(f"{movement.name}\n=")
    assert "None" not in page
    assert "nan" not in page


@pytest.mark.parametrize("movement", sheets(), ids=lambda movement: movement.name)
def test_what_cannot_be_said_names_keys_that_a_sheet_has(movement: Movement) -> None:
    known = {key.key for key in SHEET_KEYS}
    for item in reckon(movement).cannot_say:
        pattern = re.sub(r"\[\d+\]", "[]", item.key)
        pattern = re.sub(rf"^trains\.({'|'.join(TRAINS)})", "trains.<train>", pattern)
        assert pattern in known, item


def test_examples_are_invented_and_whole() -> None:
    assert len(EXAMPLES) >= 3
    for path in EXAMPLES:
        assert "invented" in path.read_text("utf-8").lower()
        assert read_sheet(path).train("going") is not None


def test_where_beats_come_from_and_what_is_only_assumed() -> None:
    arbors = '{ name = "escape", wheel = 30 }'
    assert going(arbors, "beats_per_hour = 3600").beats_from == "sheet"
    assert going(arbors, "[pendulum]\nlength_mm = 994").beats_from == "pendulum"
    assert going(arbors).beats_from is None
    counted = reckon(read_sheet(ALDER))
    assert counted.beats_from == "train"
    assert counted.assumed == ()
    assert "Assumed so far" not in readable(counted)
    taken = reckon(parse_sheet(starter("regulator")))
    assert "trains.going.arbors[3].wheel" in taken.assumed
    assert "trains.going.arbors (12)" in readable(taken)
