"""Prove a clock: lay what was heard on the dial, judge it, and say what was found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path

from quarterjack.errors import OutOfRange, UnknownChoice
from quarterjack.listening.heard import Heard, Ticks
from quarterjack.listening.hints import BarHint, Hints
from quarterjack.proving.codes import FAULT, finding, in_order
from quarterjack.proving.content import flat
from quarterjack.proving.day import (
    Content,
    apart_min,
    calls_of,
    dial_minutes,
    dial_text,
    local_dial,
    started,
)
from quarterjack.proving.going import UNLIKE_TRAIN, prove_going
from quarterjack.proving.groups import TOGETHER_BY_HAND_S, TOGETHER_ON_TIME_S, Group, gather
from quarterjack.proving.judging import Bench, Judged, contents_of, judge_recording
from quarterjack.proving.naming import Naming, name_bars, repertoires_of
from quarterjack.proving.patterns import barrel_stands_right, findings_of
from quarterjack.proving.placing import OFF_TIME_MIN, Placing, Record, place_found, place_given, place_in_order
from quarterjack.proving.proved import MODES, Finding, Proof, ProvedRecording, ProvedSounding, ProvedStop
from quarterjack.reckoning.reckoned import Reckoning
from quarterjack.records import NS_PER_S, to_ns, to_s
from quarterjack.tunes import TUNES

_PACE_U = 1e-3


def hints_for(reckoning: Reckoning) -> Hints:
    """What a listener may be told about this clock beforehand.

    The clock's own tunes come first; the printed ones stay, so that a wrong tune is recognised as what it is.
    """
    own = {tune.name: tune for tune in reckoning.tunes}
    return Hints(
        beats_per_hour=reckoning.beats_per_hour,
        beats_per_turn=reckoning.beats_per_turn,
        bars=tuple(BarHint(bar.bar, bar.partials_hz, bar.note, bar.hammers, bar.hour) for bar in reckoning.bars),
        tunes=(*own.values(), *(tune for name, tune in TUNES.items() if name not in own)),
        bells_to_bars=reckoning.bells_to_bars,
    )


@dataclass(frozen=True)
class _Laid:
    """One recording with all that was made of it."""

    heard: Heard
    groups: tuple[Group, ...]
    contents: tuple[Content, ...]
    placing: Placing
    likely_start: float | None


def prove(
    reckoning: Reckoning,
    heard: Sequence[Heard],
    *,
    mode: str = "on-time",
    dial_starts: Sequence[str | None] | None = None,
) -> Proof:
    """Say whether a clock does what it must.

    Parameters
    ----------
    reckoning : Reckoning
        What it must do.
    heard : sequence of Heard
        What was heard, one for each recording of this clock; they may overlap or repeat the same quarter.
    mode : str
        "on-time": everything against the dial. "round-the-dial": order and count while the hands are led by hand, and
        nothing may be passed over. "by-hand": the same, but what was passed over is merely not heard.
    dial_starts : sequence of str or None
        What the hands said at the start of each recording, for example "12:14"; None where nobody looked. Then
        what the sheet says of the recording of that name holds. Where it says nothing either, the dial time is found
        by matching what was heard to the day; the time at which the recording began chooses among dial times that
        fit equally well, but accuses nobody, since the hands need not have been set to time.

    Returns
    -------
    Proof
        With findings, most serious first. Verdict "wrong" if one of them is a fault; "too little heard" if nothing
        could be judged; else "right".

    Raises
    ------
    UnknownChoice
        If there is no such mode.
    OutOfRange
        If a dial time cannot be read, or there are not as many as recordings.
    """
    if mode not in MODES:
        raise UnknownChoice("mode", mode, MODES)
    heard = tuple(heard)
    starts = tuple(dial_starts) if dial_starts is not None else (None,) * len(heard)
    if len(starts) != len(heard):
        raise OutOfRange(
            f"{len(starts)} dial times were given for {len(heard)} recordings; give one for each, or none at all.",
            value=len(starts),
            allowed=len(heard),
        )
    noted = [reckoning.dial_starts.get(Path(one.recording.file).name) for one in heard]
    starts = tuple(start if start is not None else note for start, note in zip(starts, noted, strict=True))
    given = [dial_minutes(start) if start is not None else None for start in starts]
    findings: list[Finding] = []
    heard = tuple(_first_turn(record, findings) for record in _without_twins(heard, findings))
    repertoires = repertoires_of(reckoning)
    bench = Bench(reckoning, calls_of(reckoning), repertoires, mode)
    naming = name_bars(reckoning, heard, repertoires)
    laid = [_lay(bench, record, number, naming, given[number]) for number, record in enumerate(heard)]
    judged = _judge_all(bench, laid, barrel_may_be_off=True)
    if barrel_stands_right(judged):
        judged = _judge_all(bench, laid, barrel_may_be_off=False)
    judged = _heard_elsewhere(judged, laid)
    going, going_findings = prove_going(reckoning, heard)
    stops = tuple(stop for number, one in enumerate(laid) for stop in _stops(one, number))
    findings += going_findings + findings_of(bench, judged) + _stop_findings(stops, heard)
    findings += _about_dial(laid, bench) + _about_naming(naming, judged) + _remarks(heard)
    soundings = tuple(one.sounding for one in judged if "doubtful" not in one.tags)
    verdict = _verdict(findings, soundings, silent=not bench.calls, going=going is not None)
    if verdict == "too little heard":
        findings.append(finding("too-little-heard", "Nothing was heard that could be judged."))
    return Proof(
        clock=reckoning.clock,
        mode=mode,
        verdict=verdict,
        recordings=tuple(
            ProvedRecording(
                file=record.recording.file,
                sha256=record.recording.sha256,
                seconds=record.recording.seconds,
                started_utc=record.recording.started_utc,
            )
            for record in heard
        ),
        going=going,
        soundings=soundings,
        stops=stops,
        findings=in_order(findings),
    )


def _verdict(findings: Sequence[Finding], soundings: Sequence[ProvedSounding], *, silent: bool, going: bool) -> str:
    if any(one.weight == FAULT for one in findings):
        return "wrong"
    judged = any(sounding.verdict != "not heard" for sounding in soundings)
    return "right" if judged or (silent and going) else "too little heard"


def _without_twins(heard: Sequence[Heard], findings: list[Finding]) -> tuple[Heard, ...]:
    """Use a recording once, however often it was given; its place among the recordings stays."""
    seen: set[str] = set()
    kept: list[Heard] = []
    for record in heard:
        if record.recording.sha256 in seen:
            text = f"{record.recording.file} was given more than once; it was used once."
            findings.append(finding("recording-twice", text, file=record.recording.file))
            kept.append(Heard(recording=record.recording, going=None, ticks=Ticks.none()))
        else:
            kept.append(record)
        seen.add(record.recording.sha256)
    return tuple(kept)


def _first_turn(record: Heard, findings: list[Finding]) -> Heard:
    """A recording that repeats itself proves nothing beyond its first turn."""
    if not record.repeats:
        return record
    period = min(repeat.period_s for repeat in record.repeats)
    text = f"{record.recording.file} repeats itself every {period:.2f} s; only its first turn was used."
    findings.append(finding("recording-repeats", text, file=record.recording.file, period_s=period))
    kept = tuple(sounding for sounding in record.soundings if sounding.from_ns < to_ns(period))
    seconds = min(record.recording.seconds, period)
    return replace(record, soundings=kept, recording=replace(record.recording, seconds=seconds))


def _lay(bench: Bench, heard: Heard, number: int, naming: Naming, given: float | None) -> _Laid:
    names = naming.of(number)
    due = bench.reckoning.soundings
    groups = gather(
        heard,
        number,
        chime_bars=frozenset(bar for one in due if one.kind == "quarter" for bar in flat(one.bars)),
        hour_bars=frozenset(bar for one in due if one.kind != "quarter" for bar in flat(one.bars)),
        names=names,
        together_s=TOGETHER_ON_TIME_S if bench.mode == "on-time" else TOGETHER_BY_HAND_S,
    )
    contents = contents_of(heard, groups, names)
    record = Record(
        heard.recording.seconds, tuple(group.from_s for group in groups), contents, _pace(bench.reckoning, heard)
    )
    likely = local_dial(heard.recording.started_utc)
    if bench.mode != "on-time":
        placing = place_in_order(record, bench.calls, bench.repertoires, given)
    elif given is not None:
        placing = place_given(record, bench.calls, bench.repertoires, given)
    else:
        placing = place_found(record, bench.calls, bench.repertoires, likely)
        if placing.dial_from == "unknown" and not groups and likely is not None:
            placing = replace(placing, start_min=likely, hour_known=True, dial_from="start time")
    return _Laid(heard, groups, contents, placing, likely)


def _pace(reckoning: Reckoning, heard: Heard) -> float:
    """Dial minutes per minute of the recording, by the clock's own beats where they are counted well enough."""
    going, expected = heard.going, reckoning.beats_per_hour
    if going is None or not expected or going.beats_per_hour_u > _PACE_U * going.beats_per_hour:
        return 1.0
    pace = going.beats_per_hour / expected
    return pace if abs(pace - 1) <= UNLIKE_TRAIN else 1.0


def _judge_all(bench: Bench, laid: Sequence[_Laid], *, barrel_may_be_off: bool) -> list[Judged]:
    return [
        judged
        for number, one in enumerate(laid)
        for judged in judge_recording(
            bench, one.heard, one.groups, one.contents, one.placing, number=number, barrel_may_be_off=barrel_may_be_off
        )
    ]


def _heard_elsewhere(judged: Sequence[Judged], laid: Sequence[_Laid]) -> list[Judged]:
    """What one recording missed at a moment when another recording heard it is not missing."""

    def moment(one: Judged) -> float | None:
        start = started(laid[one.sounding.recording].heard.recording.started_utc)
        return (start + timedelta(seconds=one.sounding.t_ns / NS_PER_S)).timestamp() if start else None

    came = [
        (when, one.part) for one in judged if one.sounding.verdict != "missing" and (when := moment(one)) is not None
    ]
    result: list[Judged] = []
    for one in judged:
        when = moment(one) if one.sounding.verdict == "missing" else None
        if when is not None and any(part == one.part and abs(when - other) < 60 * OFF_TIME_MIN for other, part in came):
            why = "Another recording heard it at that moment."
            one = replace(one, sounding=replace(one.sounding, verdict="not heard", why=why))  # noqa: PLW2901
        result.append(one)
    return result


def _stops(laid: _Laid, number: int) -> list[ProvedStop]:
    placing, ticks, going = laid.placing, laid.heard.ticks, laid.heard.going
    found: list[ProvedStop] = []
    for stop in laid.heard.stops:
        beats: int | None = None
        if len(ticks) and going is not None:
            beats = round((stop.t_ns - int(ticks.t_ns[0])) / NS_PER_S * going.beats_per_hour / 3600) + 1
        dial: str | None = None
        if placing.start_min is not None:
            dial = dial_text(placing.start_min + stop.t_ns / NS_PER_S / 60, hour_known=placing.hour_known)
        found.append(ProvedStop(number, stop.t_ns, dial, beats, stop.ended))
    return found


_ENDED = {
    "cut off": "its ticks end at once, so the train stood while the bob swung on",
    "died away": "its ticks died away, so the swing failed",
}


def _stop_findings(stops: Sequence[ProvedStop], heard: Sequence[Heard]) -> list[Finding]:
    found: list[Finding] = []
    for stop in stops:
        when = f"at {stop.dial} by the dial" if stop.dial else f"{stop.t_ns / NS_PER_S:.0f} s into the recording"
        ended = _ENDED.get(stop.ended, stop.ended)
        text = f"It stopped {when} in {heard[stop.recording].recording.file}: {ended}."
        found.append(
            finding("stopped", text, recording=stop.recording, t_s=to_s(stop.t_ns), dial=stop.dial, ended=stop.ended)
        )
    return found


def _about_dial(laid: Sequence[_Laid], bench: Bench) -> list[Finding]:
    """How each dial time was found, and whether a name says otherwise."""
    if not bench.calls or not laid:
        return []
    found: list[Finding] = []
    rows = []
    for number, one in enumerate(laid):
        placing = one.placing
        dial = dial_text(placing.start_min, hour_known=placing.hour_known) if placing.start_min is not None else None
        rows.append({"recording": number, "dial_at_start": dial, "from": placing.dial_from})
        likely, start = one.likely_start, placing.start_min
        if bench.mode == "on-time" and placing.dial_from == "matching" and likely is not None and start is not None:
            unlike = apart_min(start, likely) if placing.hour_known else (start - likely + 30) % 60 - 30
            if abs(unlike) > 10:
                text = (
                    f"{one.heard.recording.file} was begun at {dial_text(likely)}, but sounds as if the dial said "
                    f"{dial}. If the hands were set to time, the clock is out of step; say what they showed."
                )
                found.append(finding("start-time-unlike", text, recording=number, apart_min=unlike))
    ways = {
        "given": "was given",
        "start time": "was chosen by the time at which the recording began",
        "matching": "was found by matching what was heard to the day",
        "unknown": "is not known",
    }
    how = sorted({str(row["from"]) for row in rows})
    text = f"The dial time {'; or '.join(ways[way] for way in how)}."
    found.append(finding("dial-time", text, recordings=rows))
    return found


def _about_naming(naming: Naming, judged: Sequence[Judged]) -> list[Finding]:
    if naming.sure or not any(one.chimed for one in judged):
        return []
    text = (
        "The bars could not be told apart by name: the notes come in the pattern of the tune, but with this little to "
        "go by two bars that changed places would sound the same."
    )
    return [finding("bars-not-named", text, named_by=naming.how)]


def _remarks(heard: Sequence[Heard]) -> list[Finding]:
    return [
        finding("recording-remark", f"{record.recording.file}: {remark.text}", recording=number, remark=remark.code)
        for number, record in enumerate(heard)
        for remark in record.remarks
    ]
