"""One sounding beside what was due there: its verdict and why, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from statistics import median

from quarterjack.listening.heard import Heard
from quarterjack.proving.content import Chimed, Repertoire, flat
from quarterjack.proving.day import Call, Content, chimed, dial_text, quarter_name
from quarterjack.proving.groups import Group
from quarterjack.proving.placing import OFF_TIME_MIN, Placed, Placing
from quarterjack.proving.proved import ProvedSounding
from quarterjack.reckoning.reckoned import ExpectedSounding, Reckoning
from quarterjack.records import NS_PER_S, to_ns

_ONE_NOTE_S = 1.0
_ONE_BLOW_S = 3.0
_CHIME_TO_STRIKE_S = 8.0


@dataclass(frozen=True)
class Judged:
    """A proved sounding with what the findings need to know of it; `late_min` where its time was judged."""

    sounding: ProvedSounding
    call: Call | None
    part: str
    chimed: Chimed | None = None
    late_min: float | None = None
    excuse: str | None = None
    tags: frozenset[str] = field(default_factory=frozenset)


@dataclass(frozen=True)
class Bench:
    """What is the same for all soundings of a proof."""

    reckoning: Reckoning
    calls: tuple[Call, ...]
    repertoires: dict[str | None, Repertoire]
    mode: str

    @cached_property
    def _struck(self) -> dict[int, tuple[str, frozenset[int]]]:
        """Note and hammers of each bar that the day calls for."""
        notes: dict[int, str] = {}
        hammers: dict[int, set[int]] = {}
        for due in self.reckoning.soundings:
            for bar, note, hammer in zip(flat(due.bars), notes_of(due), flat(due.hammers), strict=True):
                notes.setdefault(bar, note)
                hammers.setdefault(bar, set()).add(hammer)
        return {bar: (note, frozenset(hammers[bar])) for bar, note in notes.items()}

    def note(self, bar: int) -> str:
        """Name of one of the clock's bars, "?" for any other."""
        return self._struck[bar][0] if bar in self._struck else "?"

    def hammer(self, bar: int) -> int | None:
        """The one hammer that strikes a bar, None where there are several or none."""
        hammers = self._struck[bar][1] if bar in self._struck else frozenset()
        return next(iter(hammers)) if len(hammers) == 1 else None


def phrases_of(due: ExpectedSounding) -> tuple[int, ...] | None:
    """How many notes each phrase of a chime has; None for blows."""
    return tuple(len(phrase) for phrase in due.bars) if due.kind == "quarter" else None


def notes_of(due: ExpectedSounding) -> tuple[str, ...]:
    """All notes of a sounding in one row."""
    return tuple(note for phrase in due.notes for note in phrase)


def contents_of(heard: Heard, groups: Sequence[Group], names: dict[int, int]) -> tuple[Content, ...]:
    """What each group sounded, in the clock's own bars."""
    return tuple(
        Content(tuple(names.get(heard.blows[at].bar, 0) for at in group.chime), len(group.blows)) for group in groups
    )


def judge_recording(
    bench: Bench,
    heard: Heard,
    groups: Sequence[Group],
    contents: Sequence[Content],
    placing: Placing,
    *,
    number: int,
    barrel_may_be_off: bool,
) -> list[Judged]:
    """Judge every sounding of one recording, and what was due and did not come."""
    found: list[Judged] = []
    for placed in placing.placed:
        call = bench.calls[placed.call] if placed.call is not None else None
        dial = _dial_of(placing, call)
        if placed.group is None:
            if call is not None:
                found.extend(_nothing_came(bench, heard, call, placed, dial=dial, number=number))
            continue
        group, content = groups[placed.group], contents[placed.group]
        judge = _Judge(bench, heard, group, content, call, dial, number, placed.late_min, placing.dial_from)
        found.extend(judge.chime(barrel_may_be_off))
        found.extend(judge.blows())
    return found


def _dial_of(placing: Placing, call: Call | None) -> str | None:
    if call is None or placing.start_min is None:
        return None
    return dial_text(call.minute, hour_known=placing.hour_known)


def _nothing_came(
    bench: Bench, heard: Heard, call: Call, placed: Placed, *, dial: str | None, number: int
) -> list[Judged]:
    """The soundings of a call that no group answered."""
    verdict, why, tags = "missing", "nothing was struck", set[str]()
    stop = next((stop for stop in heard.stops if stop.t_ns <= to_ns(placed.at_s)), None)
    if bench.mode == "by-hand":
        verdict, why = "not heard", "the hands went past it before it was heard"
    elif bench.mode == "round-the-dial":
        why = "it was passed over"
    elif stop is not None:
        why, tags = "the clock had stopped", {"stopped"}
    else:
        around = to_ns(placed.at_s - OFF_TIME_MIN * 60), to_ns(placed.at_s + OFF_TIME_MIN * 60)
        if any(gap.from_ns < around[1] and gap.to_ns > around[0] for gap in heard.recording.gaps):
            verdict, why = "not heard", "the recording has a gap there"
        elif any(noise.from_ns < around[1] and noise.to_ns > around[0] for noise in heard.train_noise):
            why, tags = "the train ran, but nothing was struck", {"train ran"}
    due = [sounding for sounding in (call.chime, call.blows) if sounding is not None]
    return [
        Judged(
            ProvedSounding(
                recording=number,
                t_ns=to_ns(placed.at_s),
                dial=dial,
                kind=sounding.kind,
                quarter=sounding.quarter,
                tune=sounding.tune,
                notes_expected=notes_of(sounding) if sounding.kind == "quarter" else None,
                notes_heard=None,
                blows_expected=sounding.blows,
                blows_heard=None,
                why=sentence(why),
                verdict=verdict,
                bars_expected=flat(sounding.bars),
                phrases_expected=phrases_of(sounding),
            ),
            call,
            "chime" if sounding.kind == "quarter" else "blows",
            tags=frozenset(tags),
        )
        for sounding in due
    ]


@dataclass(frozen=True)
class _Judge:
    bench: Bench
    heard: Heard
    group: Group
    content: Content
    call: Call | None
    dial: str | None
    number: int
    late_min: float | None
    dial_from: str

    def _span(self, numbers: Sequence[int]) -> tuple[int, float]:
        """Start in nanoseconds and length in seconds of some blows."""
        times = [self.heard.blows[at].t_ns for at in numbers]
        start, end = (min(times), max(times)) if times else (self.group.to_ns, self.group.to_ns)
        return start, (end - start) / NS_PER_S

    def _cut(self, numbers: Sequence[int], usual_s: float) -> tuple[bool, bool, bool]:
        """Whether the recording may have cut off the beginning, the end, or has a gap within."""
        times = [self.heard.blows[at].t_ns / NS_PER_S for at in numbers]
        if not times:
            return False, self.heard.recording.seconds - self.group.to_ns / NS_PER_S < _CHIME_TO_STRIKE_S, False
        between = median(later - earlier for earlier, later in pairwise(times)) if len(times) > 1 else usual_s
        train_before = any(0.3 * NS_PER_S < noise.from_ns < times[0] * NS_PER_S for noise in self.heard.train_noise)
        begun = times[0] < 1.5 * between and not train_before
        ended = self.heard.recording.seconds - times[-1] < 2.5 * between
        lo, hi = (times[0] - 2 * between) * NS_PER_S, (times[-1] + 2 * between) * NS_PER_S
        return begun, ended, any(gap.from_ns < hi and gap.to_ns > lo for gap in self.heard.recording.gaps)

    def _timed(self, judged: Judged) -> Judged:
        """Turn a right sounding into an early or late one where time counts."""
        late = self.late_min
        if self.bench.mode != "on-time" or late is None:
            return judged
        if judged.sounding.verdict == "right" and abs(late) > OFF_TIME_MIN:
            word = "late" if late > 0 else "early"
            beside = "by the dial" if self.dial_from == "given" else "beside the others"
            why = f"Right, but {abs(late):.1f} minutes {word} {beside}."
            judged = replace(judged, sounding=replace(judged.sounding, verdict=word, why=why))
        return replace(judged, late_min=late)

    def chime(self, barrel_may_be_off: bool) -> list[Judged]:
        """The chime's verdict, if one was heard or due."""
        due = self.call.chime if self.call else None
        if not self.group.chime and due is None:
            return []
        start, seconds = self._span(self.group.chime)
        base = ProvedSounding(
            recording=self.number,
            t_ns=start if self.group.chime else self.group.from_ns,
            dial=self.dial,
            kind="quarter",
            quarter=due.quarter if due else None,
            tune=due.tune if due else None,
            notes_expected=notes_of(due) if due else None,
            notes_heard=tuple(self.bench.note(bar) for bar in self.content.chime) or None,
            blows_expected=None,
            blows_heard=None,
            why="",
            verdict="right",
            bars_expected=flat(due.bars) if due else None,
            phrases_expected=phrases_of(due) if due else None,
            bars_heard=self.content.chime or None,
            seconds=seconds,
        )
        if due is None or self.call is None:
            doubtful = set(self.group.kinds) == {"unknown"} and len(self.group.chime) < 2
            tags = frozenset({"doubtful"} if doubtful else ())
            why = "No chime is due here." if self.call else "Nothing is due here."
            return [Judged(replace(base, verdict="unexpected", why=why), self.call, "chime", tags=tags)]
        if not self.group.chime:
            why = "The hour was struck, but its chime was not heard."
            begun = self.group.from_s < _CHIME_TO_STRIKE_S and not self._train_from_the_start()
            verdict, why = ("not heard", "The recording begins after it.") if begun else ("missing", why)
            return [Judged(replace(base, verdict=verdict, why=why), self.call, "chime")]
        judged = chimed(self.call, self.content, self.bench.repertoires, barrel_may_be_off)
        assert judged is not None
        excuse = self._excuse() if judged.verdict != "right" else None
        if excuse:
            return [Judged(replace(base, verdict="not heard", why=excuse), self.call, "chime", judged, excuse=excuse)]
        why = chime_in_words(self.bench, due, judged, self.content.chime)
        return [self._timed(Judged(replace(base, verdict=judged.verdict, why=why), self.call, "chime", judged))]

    def _train_from_the_start(self) -> bool:
        return any(0.3 * NS_PER_S < noise.from_ns < self.group.from_ns for noise in self.heard.train_noise)

    def _excuse(self) -> str | None:
        """Why a faulty chime may be the recording's fault, or None."""
        begun, ended, gap = self._cut(self.group.chime, _ONE_NOTE_S)
        if gap:
            return "The recording has a gap while it sounds."
        bars = flat(self.call.chime.bars) if self.call and self.call.chime else ()
        heard = self.content.chime
        if not 0 < len(heard) < len(bars):
            return None
        if ended and bars[: len(heard)] == heard:
            return "The recording ends while it sounds; as far as it goes it is right."
        if begun and bars[-len(heard) :] == heard:
            return "The recording begins while it sounds; from there on it is right."
        return None

    def blows(self) -> list[Judged]:
        """The verdict on the blows of an hour or half hour, if any were heard or due."""
        due = self.call.blows if self.call else None
        heard = len(self.group.blows)
        if not heard and due is None:
            return []
        start, seconds = self._span(self.group.blows)
        wanted = due.blows if due else None
        base = ProvedSounding(
            recording=self.number,
            t_ns=start,
            dial=self.dial,
            kind=due.kind if due else "hour",
            quarter=None,
            tune=None,
            notes_expected=None,
            notes_heard=None,
            blows_expected=wanted,
            blows_heard=heard,
            why="",
            verdict="right",
            bars_expected=flat(due.bars) if due else None,
            phrases_expected=phrases_of(due) if due else None,
            seconds=seconds,
        )
        if due is None or wanted is None:
            doubtful = set(self.group.kinds) == {"unknown"} and heard < 2
            tags = frozenset({"doubtful"} if doubtful else ())
            why = "No blows are due here." if self.call else "Nothing is due here."
            return [Judged(replace(base, verdict="unexpected", why=why), self.call, "blows", tags=tags)]
        if heard == wanted:
            why = sentence(f"{_times(heard)}, as it should be")
            return [self._timed(Judged(replace(base, why=why), self.call, "blows"))]
        begun, ended, gap = self._cut(self.group.blows, _ONE_BLOW_S)
        begun = begun and not self.group.chime
        if heard < wanted and (gap or ended or begun):
            where = "has a gap" if gap else "ends" if ended else "begins"
            why = f"The recording {where} while it strikes; {_times(heard)} were heard of {wanted}."
            return [Judged(replace(base, verdict="not heard", why=why), self.call, "blows", excuse=why)]
        if not heard:
            why = f"The chime was heard, but {_times(wanted)} did not follow."
            return [Judged(replace(base, verdict="missing", why=why), self.call, "blows")]
        why = sentence(f"{_times(heard)} instead of {wanted}")
        return [self._timed(Judged(replace(base, verdict="wrong count", why=why), self.call, "blows"))]


def sentence(text: str) -> str:
    """With a capital and a full stop; the rest stays as it is, since notes have capitals too."""
    return f"{text[:1].upper()}{text[1:]}."


def _times(blows: int) -> str:
    return "1 blow" if blows == 1 else f"{blows} blows"


def _plural(count: int, noun: str) -> str:
    return f"1 {noun}" if count == 1 else f"{count} {noun}s"


def chime_in_words(bench: Bench, due: ExpectedSounding, judged: Chimed, heard: Sequence[int]) -> str:
    """Why a chime got its verdict."""
    expected = flat(due.bars)
    if judged.verdict == "right":
        return f"All {len(expected)} notes in order."
    if judged.verdict == "wrong quarter":
        return f"It played {quarter_name(judged.as_quarter)} instead of {quarter_name(due.quarter)}."
    if judged.verdict == "out of sequence":
        if judged.barrel_shift is not None:
            turn = len(bench.repertoires[due.tune].barrel)
            return f"Right number of phrases, but as if the barrel stood {shift_words(judged.barrel_shift, turn)}."
        return "The right phrases, but in the wrong order."
    if judged.runs_on:
        return "It went on playing after its last phrase."
    parts = [
        f"notes {first + 1} and {second + 1} ({bench.note(expected[first])} and {bench.note(expected[second])}) "
        "changed places"
        for first, second in judged.swapped
    ]
    told = {place for pair in judged.swapped for place in pair}
    missing = [step.expected_at for step in judged.steps if step.what == "missing" and step.expected_at is not None]
    extra = [step.heard_at for step in judged.steps if step.what == "extra" and step.heard_at is not None]
    wrong = [step for step in judged.steps if step.what == "wrong" and step.expected_at not in told]
    if missing:
        parts.append(f"missing: {', '.join(f'note {at + 1} ({bench.note(expected[at])})' for at in missing)}")
    if wrong:
        parts.append(
            ", ".join(
                f"note {step.expected_at + 1} is {bench.note(heard[step.heard_at])}, not "
                f"{bench.note(expected[step.expected_at])}"
                for step in wrong
                if step.expected_at is not None and step.heard_at is not None
            )
        )
    if extra:
        parts.append(f"{_plural(len(extra), 'note')} too many ({', '.join(bench.note(heard[at]) for at in extra)})")
    return sentence("; ".join(parts))


def shift_words(by: int, turn: int) -> str:
    """A barrel's shift in words, by the shorter way round."""
    if by * 2 <= turn:
        return f"{_plural(by, 'phrase')} ahead"
    return f"{_plural(turn - by, 'phrase')} behind"
