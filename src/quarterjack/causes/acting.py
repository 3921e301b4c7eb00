"""What acts at one dial minute: levers lifted, trains let off, hands that pass, parts that turn with them.

Where the clock's kind is not known, everything that clocks of the kind may have is listed, each with its "if". Windows
are common practice (before a quarter 1 to 5 minutes of warning, before an hour 2 to 8; stops at set-off 0 to 7 minutes
before it), not measured on this clock.
"""

from __future__ import annotations

from dataclasses import dataclass

from quarterjack.errors import OutOfRange
from quarterjack.reckoning import DIAL_MINUTES, ExpectedSounding, Reckoning

CROSSINGS = 11
CROSSING_MIN = DIAL_MINUTES / CROSSINGS
"""The minute hand passes the hour hand 11 times in 12 hours, every 65 min 27 s."""

LIFT_BEFORE_MIN = 7.0
WARNING_BEFORE_MIN = (1.0, 5.0)
HOUR_WARNING_BEFORE_MIN = (2.0, 8.0)
AT_RELEASE_MIN = 1.0
SOUNDING_MIN = 2.0
NEAR_CROSSING_MIN = 2.0

CERTAIN, IF_FITTED = "certain", "if fitted"
_ORDINAL = {1: "first", 2: "second", 3: "third", 4: "fourth"}


@dataclass(frozen=True)
class Acting:
    """One thing that acts at a dial minute.

    Parameters
    ----------
    code : str
        Short name that does not change.
    text : str
        What it does, in plain words.
    look : str
        Where to look, in plain words.
    sure : str
        "certain" where it follows from the hands or from this clock's sheet, "if fitted" where the clock may not
        have it.
    basis : str
        "arithmetic", "sheet" or "common practice".
    every_min : float
        How often it comes round, dial minutes.
    off_min : float
        Minutes from its own moment to the dial minute; negative before it.
    """

    code: str
    text: str
    look: str
    sure: str
    basis: str
    every_min: float
    off_min: float


def what_acts_at(dial_minute: float, reckoning: Reckoning | None = None) -> tuple[Acting, ...]:
    """Everything that acts at a dial minute, nearest and surest first.

    Parameters
    ----------
    dial_minute : float
        Minutes after twelve on the dial, from 0 to less than 720; 227 is 3:47.
    reckoning : Reckoning, optional
        What this clock must do. Without it, everything that its kind may have is listed.

    Raises
    ------
    OutOfRange
        If the minute is not on the dial.
    """
    minute = dial_place(dial_minute)
    found = [*_set_off(minute, reckoning), *_hands(minute), *_slow_work(minute)]
    return tuple(sorted(found, key=lambda one: (one.sure != CERTAIN, abs(one.off_min))))


def dial_place(dial_minute: float) -> float:
    """A dial minute, checked.

    Raises
    ------
    OutOfRange
        If it is not from 0 to less than 720.
    """
    if not 0 <= dial_minute < DIAL_MINUTES:
        raise OutOfRange(
            f"{dial_minute} is not a minute of the dial; give minutes after twelve, from 0 to less than 720.",
            value=dial_minute,
            allowed=(0, DIAL_MINUTES),
        )
    return float(dial_minute)


def dial_name(minute: float) -> str:
    """For example "3:47"."""
    hour, rest = divmod(round(minute) % DIAL_MINUTES, 60)
    return f"{hour or 12}:{rest:02d}"


def _set_off(minute: float, reckoning: Reckoning | None) -> list[Acting]:
    """Lifting, warning, release and sounding of what is due at the quarters around."""
    found: list[Acting] = []
    before = int(minute // 15) * 15
    for due in (before, before + 15):
        off = minute - due
        sounds = _due_at(due % DIAL_MINUTES, reckoning)
        if sounds is None:
            continue
        what, sure, basis, hour = sounds
        every = 60.0 if hour else 15.0
        if -LIFT_BEFORE_MIN <= off < 0:
            weight = " The lift before the hour is the longest, so it asks most of the going train." if hour else ""
            found.append(
                Acting(
                    "lifting",
                    f"The lifting piece for {what} is being raised, {-off:.0f} min before it is let off.{weight}",
                    "Hold the lifting pieces clear and see whether the stop goes; feel cam, nose and return spring.",
                    sure,
                    basis,
                    every,
                    off,
                )
            )
        low, high = HOUR_WARNING_BEFORE_MIN if hour else WARNING_BEFORE_MIN
        if -high <= off <= -low:
            found.append(
                Acting(
                    "warning",
                    f"The train for {what} warns: unlocked, it runs to the warning pin and presses on the lever.",
                    "See whether the warning pin lands on its lever or binds against it.",
                    sure,
                    "common practice",
                    every,
                    off,
                )
            )
        if abs(off) <= AT_RELEASE_MIN:
            found.append(
                Acting(
                    "release",
                    f"{what[:1].upper()}{what[1:]} is let off: the lifting piece drops and the train runs.",
                    "See whether the lifting piece drops clear, and whether the train runs off without a catch.",
                    sure,
                    basis,
                    every,
                    off,
                )
            )
        if 0 <= off <= SOUNDING_MIN and hour:
            found.append(_count(due % DIAL_MINUTES, off, sure))
    return found


def _due_at(minute: int, reckoning: Reckoning | None) -> tuple[str, str, str, bool] | None:
    """What is let off at a quarter: words, how sure, on what basis, and whether it is the hour."""
    hour, quarter = minute % 60 == 0, minute // 15 % 4 or 4
    if reckoning is None:
        what = "the hour" if hour else f"the {_ORDINAL[quarter]} quarter"
        may = "chimes or strikes" if quarter in (2, 4) else "chimes"
        return f"{what} (if the clock {may} then)", IF_FITTED, "common practice", hour
    due = [sounding for sounding in reckoning.soundings if sounding.dial_minute == minute]
    if not due:
        return None
    return " and ".join(_in_words(sounding) for sounding in due), CERTAIN, "sheet", hour


def _in_words(due: ExpectedSounding) -> str:
    if due.kind == "quarter":
        return "the chime at the hour" if due.quarter == 4 else f"the {_ORDINAL[due.quarter or 4]} quarter"
    return "the half hour's blows" if due.kind == "half" else "the hour's blows"


def _count(minute: int, off: float, sure: str) -> Acting:
    hour = minute // 60 or 12
    return Acting(
        "count",
        f"The hour is counted: on a rack the tail falls on the snail's step for {hour}, on a count wheel the detent "
        "rides to the next slot.",
        "See whether the rack falls and rises freely, and whether its tail meets the middle of the step.",
        sure,
        "common practice",
        60.0,
        off,
    )


def crossing_off(minute: float) -> float:
    """Minutes from the nearest time at which the hands pass each other, negative before it."""
    return (minute + CROSSING_MIN / 2) % CROSSING_MIN - CROSSING_MIN / 2


def _hands(minute: float) -> list[Acting]:
    found: list[Acting] = []
    off = crossing_off(minute)
    if abs(off) <= NEAR_CROSSING_MIN:
        found.append(
            Acting(
                "hands-cross",
                f"The minute hand passes the hour hand (at {dial_name(minute - off)}, {CROSSINGS} times in 12 hours).",
                "Sight the hands edgewise: tips and bosses must clear each other and a seconds hand.",
                CERTAIN,
                "arithmetic",
                CROSSING_MIN,
                off,
            )
        )
    past = minute % 60
    if past > 30:
        found.append(
            Acting(
                "hand-rises",
                "The minute hand is on its way up and has to be lifted if it is not balanced; most at 45 minutes.",
                "Try the hand's balance; see whether it rubs dial, glass or seconds hand at this place.",
                CERTAIN,
                "arithmetic",
                60.0,
                past - 45,
            )
        )
    else:
        found.append(
            Acting(
                "hand-place",
                f"The minute hand stands at {past:.0f} minutes, as once every hour.",
                "See whether it rubs dial, glass or seconds hand at this place.",
                CERTAIN,
                "arithmetic",
                60.0,
                0.0,
            )
        )
    return found


def _slow_work(minute: float) -> list[Acting]:
    """Work that takes hours: the snail's rise, the date, the moon."""
    found: list[Acting] = []
    if 40 <= minute < 60:
        found.append(
            Acting(
                "snail-rise",
                "The snail turns from its lowest step, twelve, up to the highest, one. If the strike ran down with its "
                "rack fallen, the rack tail stands in the way and the hands lock.",
                "See whether the strike was run down; do not force the hands.",
                IF_FITTED,
                "common practice",
                720.0,
                minute - 60,
            )
        )
    to_twelve = (minute + 360) % DIAL_MINUTES - 360
    if abs(to_twelve) <= 120:
        found.append(
            Acting(
                "date",
                "A date work may be moving its ring, about two hours each side of midnight, on every second round.",
                "See whether the date's finger is in its ring and whether the ring turns freely.",
                IF_FITTED,
                "common practice",
                1440.0,
                to_twelve,
            )
        )
    found.append(
        Acting(
            "moon",
            "A moon work may be lifting its lever: one to three hours at a time, twice a day, at hours that depend on "
            "how it was put together.",
            "See whether the moon's lever is lifted now; do not turn the disc while it is.",
            IF_FITTED,
            "common practice",
            720.0,
            360.0,
        )
    )
    return found
