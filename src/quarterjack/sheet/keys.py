"""Every key that a sheet may hold: the one list from which sheets are checked and the manual is made."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

from quarterjack.tunes import TUNES

SOURCES_OF_VALUES = ("counted", "measured", "heard", "same movement", "assumed")
PLACES = ("stand", "house")
FORMS = ("bar", "tube", "rod", "gong", "bell")
TRAINS = ("going", "strike", "chime")
QUARTERS = (*TUNES, "own", "none")
HOURS = ("rack", "count-wheel", "yes", "none")
HALF_HOURS = ("none", "one", "hour", "next-hour")

TEXT, WHOLE, NUMBER, YES_NO, TIME = "text", "whole number", "number", "true or false", "dial time"
WHOLES, NUMBERS, TEXTS = "whole number or list of them", "list of numbers", "list of texts"
HAMMERS, PHRASES = "list of hammers", "phrases of four quarters"
TABLE, ROWS = "table", "rows"


@dataclass(frozen=True)
class Key:
    """One key of the sheet.

    Parameters
    ----------
    key : str
        Where it stands; `[]` follows the name of rows, `<train>` stands for going, strike or chime.
    kind : str
        What its value is, for example "whole number".
    meaning : str
        What it says, in words for the manual.
    unit : str
        Unit of a number, empty where there is none.
    allowed : tuple of str
        The choices; empty where any value of the kind may stand.
    low, high : float or None
        Bounds of a number, both included.
    needed : bool
        True where the table cannot stand without it. Everything else may be missing.
    """

    key: str
    kind: str
    meaning: str
    unit: str = ""
    allowed: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    needed: bool = False

    @property
    def bounds(self) -> str:
        """The allowed numbers in words, empty where there are no bounds."""
        if self.low is None and self.high is None:
            return ""
        unit = f" {self.unit}" if self.unit else ""
        if self.high is None:
            return f"{self.low:g}{unit} or more"
        return f"{self.low:g} to {self.high:g}{unit}" if self.low is not None else f"up to {self.high:g}{unit}"


SHEET_KEYS: tuple[Key, ...] = (
    Key("name", TEXT, "What the clock is called.", needed=True),
    Key("place", TEXT, "Where the clock is now, which decides the bars that sound.", allowed=PLACES),
    Key("notes", TEXT, "Anything else worth keeping."),
    Key(
        "from",
        TEXT,
        "Where the values of this table come from. It may stand in every table.",
        allowed=SOURCES_OF_VALUES,
    ),
    Key("sounds", TABLE, "How the clock sounds."),
    Key(
        "sounds.quarters",
        TEXT,
        "The quarter tune: one that stands in print, `own` (written under own_tune) or `none`.",
        allowed=QUARTERS,
    ),
    Key("sounds.quarters_at_hour", YES_NO, "Whether the quarters play at the hour too, before the hour is struck."),
    Key("sounds.hours", TEXT, "Whether hours are struck and what counts them; `yes` if not known what.", allowed=HOURS),
    Key(
        "sounds.half_hour",
        TEXT,
        "Blows at the half hour: `none`, `one`, `hour` (the hour past once more) or `next-hour` (the hour to come).",
        allowed=HALF_HOURS,
    ),
    Key(
        "sounds.quarter_hammers",
        HAMMERS,
        "The hammer for each bell of the tune, highest bell first. Two hammers for one bell, as [4, 5], strike in turn "
        "where that bell comes twice running.",
        low=1,
        high=99,
    ),
    Key("sounds.hour_hammers", WHOLES, "The hammer or hammers that strike the hour.", low=1, high=99),
    Key("recordings", ROWS, "Recordings of this clock for which it was noted what the hands said."),
    Key("recordings[].file", TEXT, "Name of the sound file, without its folder.", needed=True),
    Key("recordings[].dial_start", TIME, 'What the hands said when it began, as "4:13" or "4:13:30".'),
    Key("own_tune", TABLE, "A tune of your own."),
    Key("own_tune.title", TEXT, "What the tune is called."),
    Key("own_tune.notes", TEXTS, "Name of each bell's note, highest bell first.", needed=True),
    Key(
        "own_tune.quarters",
        PHRASES,
        "The four quarters; each is a list of phrases and each phrase a list of bells, 1 the highest.",
        needed=True,
    ),
    Key("bars", ROWS, "What is struck: tubes, rods, bells, gongs."),
    Key(
        "bars[].bar", WHOLE, "Number of the bar; no two bars share it, wherever they are.", low=1, high=999, needed=True
    ),
    Key("bars[].note", TEXT, "Name of its note."),
    Key("bars[].place", TEXT, "Where the bar is.", allowed=PLACES),
    Key("bars[].form", TEXT, "What kind of thing is struck.", allowed=FORMS),
    Key("bars[].partials_hz", NUMBERS, "Its strongest partials, rising.", "Hz", low=10.0, high=20000.0),
    Key("hammers", ROWS, "The hammers of the movement."),
    Key("hammers[].hammer", WHOLE, "Number of the hammer.", low=1, high=99, needed=True),
    Key(
        "hammers[].bar",
        WHOLES,
        "The bar it strikes; a list where it has one on the stand and one in the house.",
        low=1,
        high=999,
    ),
    Key("trains", TABLE, "The trains, as far as they are known."),
    Key("trains.<train>", TABLE, "The going, strike or chime train."),
    Key("trains.<train>.arbors", ROWS, "The arbors, from the one that is driven to the last."),
    Key("trains.<train>.arbors[].name", TEXT, "Name of the arbor.", needed=True),
    Key("trains.<train>.arbors[].wheel", WHOLE, "Teeth of its wheel.", "teeth", low=3, high=1000),
    Key(
        "trains.<train>.arbors[].pinion",
        WHOLE,
        "Leaves of its pinion, driven by the wheel before.",
        "leaves",
        low=3,
        high=200,
    ),
    Key(
        "trains.<train>.arbors[].turn_min",
        NUMBER,
        "Minutes for one turn; 60 for the one with the minute hand.",
        "min",
        low=0.001,
        high=6e5,
    ),
    Key(
        "trains.<train>.arbors[].pins",
        WHOLE,
        "Pins or cams that lift the hour hammer (strike train).",
        "pins",
        low=1,
        high=100,
    ),
    Key(
        "trains.<train>.arbors[].phrases_per_turn",
        NUMBER,
        "Phrases in one turn of the chime barrel (chime train).",
        "phrases",
        low=0.25,
        high=100,
    ),
    Key(
        "trains.<train>.beats_per_turn",
        WHOLE,
        "Beats in one turn of the escape wheel, where not two a tooth (going train).",
        "beats",
        low=1,
        high=400,
    ),
    Key(
        "trains.<train>.beats_per_hour",
        NUMBER,
        "Beats an hour as heard or as marked (going train).",
        "beats/h",
        low=60,
        high=72000,
    ),
    Key("trains.<train>.regulator", TEXT, "What keeps the time (going train).", allowed=("pendulum", "balance")),
    Key("trains.<train>.drive", TABLE, "What drives the train."),
    Key("trains.<train>.drive.kind", TEXT, "Weight or spring.", allowed=("weight", "spring")),
    Key(
        "trains.<train>.drive.turns",
        NUMBER,
        "Turns of the barrel from wound up to run down.",
        "turns",
        low=0.5,
        high=200,
    ),
    Key("trains.<train>.drive.barrel_mm", NUMBER, "Diameter of the barrel without the line.", "mm", low=5, high=2000),
    Key("trains.<train>.drive.line_mm", NUMBER, "Diameter of the line or cable.", "mm", low=0.2, high=50),
    Key(
        "trains.<train>.drive.falls",
        WHOLE,
        "Lines that carry the weight: 1 without a pulley, 2 with one.",
        "",
        low=1,
        high=4,
    ),
    Key("trains.<train>.drive.fall_mm", NUMBER, "How far the weight can fall.", "mm", low=50, high=60000),
    Key("trains.<train>.drive.weight_kg", NUMBER, "The weight.", "kg", low=0.05, high=2000),
    Key("pendulum", TABLE, "The pendulum and what the beat is set with."),
    Key(
        "pendulum.length_mm",
        NUMBER,
        "Theoretical length, measured by beats or estimated from the rod.",
        "mm",
        low=20,
        high=60000,
    ),
    Key("pendulum.latitude_deg", NUMBER, "Latitude where it hangs, which sets gravity.", "degrees", low=-90, high=90),
    Key("pendulum.swing_deg", NUMBER, "Swing each side of rest.", "degrees", low=0.1, high=60),
    Key("pendulum.release_deg", NUMBER, "Angle each side at which a tooth is let go.", "degrees", low=0.05, high=45),
    Key(
        "pendulum.crutch_mm", NUMBER, "Length of the crutch, from the pallet arbor to the fork.", "mm", low=5, high=3000
    ),
    Key(
        "pendulum.feet_mm", NUMBER, "Distance between the left and the right foot of the case.", "mm", low=20, high=3000
    ),
)

_BY_NAME = {key.key: key for key in SHEET_KEYS}


def find(pattern: str) -> Key | None:
    """The key of that pattern, or None; `from` may stand in every table."""
    return _BY_NAME["from"] if pattern.rsplit(".", 1)[-1] == "from" else _BY_NAME.get(pattern)


def children(prefix: str) -> tuple[Key, ...]:
    """The keys that stand directly under a table; an empty prefix means the top of the sheet."""
    lead = f"{prefix}." if prefix else ""
    return tuple(k for k in SHEET_KEYS if k.key.startswith(lead) and "." not in k.key[len(lead) :])


def nearest(word: str, choices: Iterable[str]) -> str | None:
    """The choice that the word was most likely meant to be, if one is near."""
    found = difflib.get_close_matches(word, tuple(choices), n=1, cutoff=0.6)
    return found[0] if found else None
