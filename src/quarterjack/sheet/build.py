"""Turns checked values into a `Movement`, and looks for faults that only several values together show."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any

from quarterjack.sheet.check import Checked
from quarterjack.sheet.faults import Faults, Path
from quarterjack.sheet.keys import TRAINS
from quarterjack.sheet.movement import Arbor, Bar, Drive, Hammer, Movement, PendulumSaid, Sounds, Train
from quarterjack.tunes import TUNES, Tune

_PERIODS_AGREE = 0.002


def build(checked: Checked, faults: Faults) -> Movement:
    """Make the movement; faults are noted, never raised here."""
    tune = _tune(checked, faults)
    bars = _bars(checked, faults)
    hammers = _hammers(checked, bars, faults)
    return Movement(
        name=checked.get("name") or "",
        place=checked.get("place"),
        sounds=_sounds(checked, tune, hammers, faults),
        bars=bars,
        hammers=hammers,
        trains=tuple(_train(checked, name, faults) for name in TRAINS if checked.has("trains", name)),
        pendulum=_pendulum(checked, faults),
        dial_starts=_dial_starts(checked, faults),
        notes=checked.get("notes") or "",
        comes_from=checked.comes_from,
    )


def _twice(numbers: Sequence[tuple[Path, Any]], code: str, what: str, faults: Faults) -> None:
    seen: Counter[Any] = Counter()
    for path, number in numbers:
        seen[number] += 1
        if number is not None and seen[number] > 1:
            faults.add(code, path, f"there is already {what} {number!r}.")


def _dial_starts(checked: Checked, faults: Faults) -> dict[str, str]:
    files = [(("recordings", i, "file"), checked.get("recordings", i, "file")) for i in checked.rows("recordings")]
    _twice(files, "name-twice", "a recording", faults)
    said = {file: checked.get("recordings", path[1], "dial_start") for path, file in files}
    return {file: dial for file, dial in said.items() if file is not None and dial is not None}


def _bars(checked: Checked, faults: Faults) -> tuple[Bar, ...]:
    rows = checked.rows("bars")
    _twice([(("bars", i, "bar"), checked.get("bars", i, "bar")) for i in rows], "number-twice", "a bar", faults)
    bars = []
    for i in rows:
        partials = checked.get("bars", i, "partials_hz") or ()
        if any(after <= before for before, after in pairwise(partials)):
            faults.add("partials-not-rising", ("bars", i, "partials_hz"), "write the partials from the lowest up.")
        number, note, place, form = (checked.get("bars", i, key) for key in ("bar", "note", "place", "form"))
        if number is not None:
            bars.append(Bar(number, note, place, form, partials))
    return tuple(bars)


def _hammers(checked: Checked, bars: tuple[Bar, ...], faults: Faults) -> tuple[Hammer, ...]:
    rows = checked.rows("hammers")
    numbers = [(("hammers", i, "hammer"), checked.get("hammers", i, "hammer")) for i in rows]
    _twice(numbers, "number-twice", "a hammer", faults)
    places = {bar.bar: bar.place for bar in bars}
    hammers = []
    for i in rows:
        struck = checked.get("hammers", i, "bar") or ()
        path: Path = ("hammers", i, "bar")
        for bar in struck:
            if checked.has("bars") and bar not in places:
                faults.add("no-such-bar", path, f"there is no bar {bar}; the bars are {_list(places)}.")
        where = Counter(places.get(bar) for bar in struck)
        if any(count > 1 for count in where.values()):
            faults.add("two-bars-in-one-place", path, "one hammer strikes one bar in each place (stand, house).")
        if checked.get("hammers", i, "hammer") is not None:
            hammers.append(Hammer(checked.get("hammers", i, "hammer"), struck))
    return tuple(hammers)


def _list(numbers: Any) -> str:
    return ", ".join(str(number) for number in sorted(numbers)) or "none"


def _tune(checked: Checked, faults: Faults) -> Tune | None:
    quarters = checked.get("sounds", "quarters")
    written = checked.has("own_tune")
    if written and quarters is not None and quarters != "own":
        faults.add("tune-not-played", ("own_tune",), f'quarters is "{quarters}"; write "own" to play this.')
    if quarters == "own" and not written:
        faults.add("tune-not-written", ("sounds", "quarters"), "write the tune under [own_tune]: notes and quarters.")
    if quarters != "own":
        return TUNES.get(quarters) if quarters else None
    notes, phrases = checked.get("own_tune", "notes"), checked.get("own_tune", "quarters")
    if not notes or not phrases:
        return None
    path: Path = ("own_tune", "quarters")
    before = len(faults.found)
    if len(phrases) != 4:
        faults.add("tune-malformed", path, f"a tune has four quarters, not {len(phrases)}.")
    for number, quarter in enumerate(phrases, start=1):
        if not quarter or not all(quarter):
            faults.add("tune-malformed", path, f"quarter {number} has no phrase, or an empty one.")
        strange = sorted({bell for phrase in quarter for bell in phrase if not 1 <= bell <= len(notes)})
        if strange:
            text = f"quarter {number} has bell {_list(strange)}, but notes names bells 1 to {len(notes)}."
            faults.add("tune-malformed", path, text)
    if len(faults.found) > before:
        return None
    return Tune("own", checked.get("own_tune", "title") or "own tune", notes, phrases)


def _sounds(checked: Checked, tune: Tune | None, hammers: tuple[Hammer, ...], faults: Faults) -> Sounds:
    def get(key: str) -> Any:
        return checked.get("sounds", key)

    by_bell, hour_hammers = get("quarter_hammers") or (), get("hour_hammers") or ()
    listed = {hammer.hammer for hammer in hammers}
    for key, named in (("quarter_hammers", {h for bell in by_bell for h in bell}), ("hour_hammers", set(hour_hammers))):
        strange = named - listed
        if checked.has("hammers") and strange:
            text = f"there is no hammer {_list(strange)}; the hammers are {_list(listed)}."
            faults.add("no-such-hammer", ("sounds", key), text)
    if tune and by_bell and len(by_bell) != tune.bells:
        text = f"{tune.title} has {tune.bells} bells, but hammers are listed for {len(by_bell)}."
        faults.add("hammers-do-not-fit-tune", ("sounds", "quarter_hammers"), text)
    elif tune and not by_bell and checked.has("hammers") and not set(range(1, tune.bells + 1)) <= listed:
        text = f"{tune.title} needs hammers 1 to {tune.bells}; list them, or say in quarter_hammers which play it."
        faults.add("hammers-do-not-fit-tune", ("hammers",), text)
    if get("quarters") == "none" and get("quarters_at_hour"):
        faults.add("says-two-things", ("sounds", "quarters_at_hour"), 'quarters is "none", so none plays then.')
    if get("quarters") == "none" and by_bell:
        faults.add("says-two-things", ("sounds", "quarter_hammers"), 'quarters is "none", so no hammer plays them.')
    if get("hours") == "none" and hour_hammers:
        faults.add("says-two-things", ("sounds", "hour_hammers"), 'hours is "none", so no hammer strikes them.')
    return Sounds(get("quarters"), tune, get("quarters_at_hour"), get("hours"), get("half_hour"), by_bell, hour_hammers)


def _train(checked: Checked, name: str, faults: Faults) -> Train:
    at: Path = ("trains", name)

    def get(*path: str | int) -> Any:
        return checked.get(*at, *path)

    rows = checked.rows(*at, "arbors")
    _twice([((*at, "arbors", i, "name"), get("arbors", i, "name")) for i in rows], "name-twice", "an arbor", faults)
    arbors = tuple(
        Arbor(
            name=get("arbors", i, "name") or f"arbor {i + 1}",
            wheel=get("arbors", i, "wheel"),
            pinion=get("arbors", i, "pinion"),
            turn_min=get("arbors", i, "turn_min"),
            pins=get("arbors", i, "pins"),
            phrases_per_turn=get("arbors", i, "phrases_per_turn"),
        )
        for i in rows
    )
    if arbors and arbors[0].pinion is not None:
        text = "the first arbor is the one that weight or spring drives and has no pinion; list the arbors from there."
        faults.add("driven-first-arbor", (*at, "arbors", 0, "pinion"), text)
    for key, only in (("beats_per_turn", "going"), ("beats_per_hour", "going"), ("regulator", "going")):
        if get(key) is not None and name != only:
            faults.add("wrong-train", (*at, key), f"{key} belongs to the {only} train.")
    for i in rows:
        for key, only in (("pins", "strike"), ("phrases_per_turn", "chime"), ("turn_min", "going")):
            if get("arbors", i, key) is not None and name != only:
                faults.add("wrong-train", (*at, "arbors", i, key), f"{key} belongs to the {only} train.")
    _periods_agree(arbors, at, faults)
    return Train(
        name=name,
        arbors=arbors,
        drive=_drive(checked, (*at, "drive"), faults) if checked.has(*at, "drive") else None,
        beats_per_turn=get("beats_per_turn"),
        beats_per_hour=get("beats_per_hour"),
        regulator=get("regulator"),
    )


def _periods_agree(arbors: tuple[Arbor, ...], at: Path, faults: Faults) -> None:
    """Follow the counts from each given period to the next and compare."""
    expected: float | None = None
    for i, arbor in enumerate(arbors):
        if i and expected is not None:
            before = arbors[i - 1].wheel
            expected = expected * arbor.pinion / before if before and arbor.pinion else None
        if arbor.turn_min is not None:
            if expected is not None and abs(arbor.turn_min / expected - 1.0) > _PERIODS_AGREE:
                text = f"the counts before {arbor.name} give {expected:.6g} min for a turn, not {arbor.turn_min:g}."
                faults.add("counts-disagree", (*at, "arbors", i, "turn_min"), text)
            expected = arbor.turn_min


def _metres(get: Callable[[str], Any], key: str) -> float | None:
    millimetres = get(key)
    return None if millimetres is None else millimetres / 1000.0


def _drive(checked: Checked, at: Path, faults: Faults) -> Drive:
    def get(key: str) -> Any:
        return checked.get(*at, key)

    if get("kind") == "spring":
        for key in ("falls", "fall_mm", "weight_kg"):
            if get(key) is not None:
                faults.add("says-two-things", (*at, key), f"the drive is a spring, and {key} belongs to a weight.")
    return Drive(
        kind=get("kind"),
        turns=get("turns"),
        barrel_m=_metres(get, "barrel_mm"),
        line_m=_metres(get, "line_mm"),
        falls=get("falls"),
        fall_m=_metres(get, "fall_mm"),
        weight_kg=get("weight_kg"),
    )


def _pendulum(checked: Checked, faults: Faults) -> PendulumSaid:
    def get(key: str) -> Any:
        return checked.get("pendulum", key)

    swing, release = get("swing_deg"), get("release_deg")
    if swing is not None and release is not None and swing <= release:
        text = f"a swing of {swing:g} degrees does not reach the release at {release:g} degrees."
        faults.add("swing-too-small", ("pendulum", "swing_deg"), text)
    length, crutch, feet = _metres(get, "length_mm"), _metres(get, "crutch_mm"), _metres(get, "feet_mm")
    return PendulumSaid(length, get("latitude_deg"), swing, release, crutch, feet)
