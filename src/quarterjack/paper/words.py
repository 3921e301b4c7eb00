"""Words for the parts of a proof that pages and paper both say; what is wrong and why is said by the proof itself."""

from __future__ import annotations

from collections.abc import Sequence

from quarterjack.listening import Heard
from quarterjack.proving import Proof, ProvedGoing, ProvedSounding, ProvedStop, rate_text
from quarterjack.records import to_s
from quarterjack.tunes import TUNES

_THIN = "\u2009"
_QUARTERS = {1: "First quarter", 2: "Second quarter", 3: "Third quarter", 4: "Fourth quarter"}
_MODES = {
    "on-time": "judged against the dial, as the clock ran",
    "round-the-dial": "judged for order and count, while the hands were led round",
    "by-hand": "judged for order only, as the soundings were let off by hand",
}
_ENDED = {
    "cut off": "cut off at full strength: the train stood while the bob swung on",
    "died away": "died away: the swing failed",
}
# The gap between words that say "right" and words that do not must not hang on colour.
RIGHT, NOT_HEARD = "right", "not heard"


def plural(count: int, one: str, many: str | None = None) -> str:
    """A count with its noun: "1 blow", "3 blows"."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def figure(count: int) -> str:
    """A count with thin spaces between thousands."""
    return f"{count:,}".replace(",", _THIN)


def length_of_time(seconds: float, *, clock: bool = False) -> str:
    """Seconds as "5 min 12 s" or, as a place in a record, "5:12"."""
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    if clock:
        return f"{hours}:{minutes:02d}:{left:02d}" if hours else f"{minutes}:{left:02d}"
    if hours:
        return f"{hours} h {minutes} min"
    if minutes:
        return f"{minutes} min {left} s" if left else f"{minutes} min"
    return f"{seconds:.1f} s" if seconds < 10 else f"{left} s"


def mode_in_words(mode: str) -> str:
    """What was judged."""
    return _MODES.get(mode, mode)


def verdict_in_words(proof: Proof) -> str:
    """The verdict as one plain line."""
    heard = [one for one in proof.soundings if one.verdict not in (NOT_HEARD, "missing")]
    wrong = [one for one in proof.soundings if one.verdict not in (RIGHT, NOT_HEARD)]
    if proof.verdict == "right":
        if not heard:
            return "Right, as far as it was heard; nothing sounded."
        if len(heard) == 1:
            return "Right: the one sounding that was heard is as it should be."
        return f"Right: all {len(heard)} soundings that were heard are as they should be."
    if proof.verdict == "wrong":
        told = []
        if proof.stops:
            dial = proof.stops[0].dial
            told.append(f"it stopped at {dial}" if dial else "it stopped")
        if wrong:
            told.append(f"{len(wrong)} of {plural(len(proof.soundings), 'sounding')} went wrong")
        return f"Wrong: {', and '.join(told)}." if told else "Wrong: see what was found."
    if proof.verdict == "too little heard":
        return "Too little was heard to say whether this clock is right."
    return f"The verdict is “{proof.verdict}”."


def sounding_name(one: ProvedSounding) -> str:
    """What a sounding is, in words, for example "Second quarter" or "Three o’clock: 3 blows"."""
    if one.kind == "quarter":
        return _QUARTERS.get(one.quarter or 0, "Quarter")
    if one.kind == "half":
        return "Half hour"
    if one.kind == "hour":
        return "Hour"
    return "Sounding"


def tune_title(name: str | None) -> str | None:
    """What people call a tune; a tune that a user wrote has its own name."""
    return TUNES[name].title if name in TUNES else name


def beats_an_hour(going: ProvedGoing) -> str:
    """Heard, and what the train gives."""
    text = f"{going.beats_per_hour:.2f}"
    if going.expected_beats_per_hour is not None:
        return f"{text}, where the train gives {going.expected_beats_per_hour:g}"
    return f"{text}; the train’s own number is not known yet"


def rate_in_words(going: ProvedGoing) -> str:
    """The rate in seconds a day with its doubt and what limits it, or why it cannot be given."""
    return rate_text(going) or "not given, since the train’s own beats are not known"


def side_in_words(going: ProvedGoing) -> str:
    """The beat difference and the side that has the longer silence."""
    if going.beat_difference_ms is None:
        return "not heard well enough to say"
    text = f"{going.beat_difference_ms:.1f} ms"
    if going.beat_difference_u_ms is not None:
        text += f" ± {going.beat_difference_u_ms:.1f} ms"
    return f"{text}, the longer silence after side {going.long_side}" if going.long_side else text


def stop_in_words(proof: Proof, stop: ProvedStop) -> str:
    """A stop: when, and how it ended."""
    at = f"at {stop.dial} by the dial, " if stop.dial else ""
    where = f"recording {stop.recording + 1}" if len(proof.recordings) > 1 else "the record"
    beats = f", after {figure(stop.beats_since_start)} beats" if stop.beats_since_start else ""
    ended = _ENDED.get(stop.ended, stop.ended)
    return f"Stopped {at}{length_of_time(to_s(stop.t_ns), clock=True)} into {where}{beats}; the beat {ended}."


def what_was_not_heard(proof: Proof, heard: Sequence[Heard | None]) -> list[str]:
    """Everything the proof cannot vouch for, each in a sentence."""
    told = []
    silent = [one for one in proof.soundings if one.verdict == NOT_HEARD]
    for one in silent:
        dial = f" at {one.dial}" if one.dial else ""
        told.append(f"{sounding_name(one)}{dial}: {one.why}" if one.why else f"{sounding_name(one)}{dial}.")
    for number, record in enumerate(heard):
        if record is None:
            continue
        several = len(proof.recordings) > 1
        which = f"Recording {number + 1}: " if several else ""
        told += [
            f"{which}{'no' if several else 'No'} sound was recorded from "
            f"{length_of_time(to_s(gap.from_ns), clock=True)} to {length_of_time(to_s(gap.to_ns), clock=True)}."
            for gap in record.recording.gaps
        ]
        told += [f"{which}{remark.text}" for remark in record.remarks]
    if proof.going is not None and proof.going.rate_s_per_day is not None and proof.going.time_reference == "none":
        told.append("The recorder’s own clock was not checked, which limits the rate and nothing else.")
    if not proof.soundings:
        told.append("No quarter and no hour: nothing is said here about striking or chiming.")
    if proof.going is None:
        told.append("No steady beat: nothing is said here about rate or beat.")
    return told
