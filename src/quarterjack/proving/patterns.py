"""What the judged soundings have in common: one finding for one cause, however often it shows."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from statistics import mean

from quarterjack.proving.codes import finding
from quarterjack.proving.day import quarter_name
from quarterjack.proving.judging import Bench, Judged, sentence, shift_words
from quarterjack.proving.proved import Finding

_OFFSET_SPREAD_MIN = 1.0

Numbered = tuple[int, Judged]


def barrel_stands_right(judged: Sequence[Judged]) -> bool:
    """Whether the chimes, taken together, rule out a barrel that is out of phase.

    A barrel is out by one and the same step in every quarter; a swap of two notes in one quarter may sound like a
    shift, but then the other quarters come right.
    """
    chimes = [one.chimed for one in judged if one.chimed is not None and one.excuse is None]
    shifts = {chime.barrel_shift for chime in chimes if chime.barrel_shift is not None}
    return len(shifts) > 1 or (bool(shifts) and any(chime.verdict == "right" for chime in chimes))


def findings_of(bench: Bench, judged: Sequence[Judged]) -> list[Finding]:
    """All findings on the soundings of a proof."""
    numbered = list(enumerate(judged))
    dead = _dead_bars(judged)
    found = [_dead_hammer(bench, bar, numbered) for bar in sorted(dead)]
    found += _chimes(bench, [one for one in numbered if one[1].part == "chime"], dead)
    found += _counts([one for one in numbered if one[1].part == "blows"])
    found += _absent(numbered)
    found += _off_time(numbered)
    return found


def _where(ones: Sequence[Numbered]) -> str:
    """The dial times of some soundings as words."""
    dials = list(dict.fromkeys(one.sounding.dial or "a time not known" for _, one in ones))
    shown = ", ".join(dials[:6]) + (f" and {len(dials) - 6} more" if len(dials) > 6 else "")
    return f"at {shown}"


def _numbers(ones: Sequence[Numbered]) -> list[int]:
    return [number for number, _ in ones]


def _dead_bars(judged: Sequence[Judged]) -> set[int]:
    """Bars that were missing every time that they were due, twice at least."""
    due: Counter[int] = Counter()
    missing: Counter[int] = Counter()
    for one in judged:
        if one.chimed is None or one.excuse or one.sounding.bars_expected is None:
            continue
        if one.chimed.barrel_shift is not None or one.chimed.as_quarter is not None:
            continue
        for step in one.chimed.steps:
            if step.expected_at is not None:
                bar = one.sounding.bars_expected[step.expected_at]
                due[bar] += 1
                missing[bar] += step.what == "missing"
    silent = {bar for bar in due if due[bar] == missing[bar] >= 2}
    # Where nothing at all was struck it is not the hammers.
    return silent if len(silent) < len(due) else set()


def _dead_hammer(bench: Bench, bar: int, numbered: Sequence[Numbered]) -> Finding:
    ones = [
        (number, one)
        for number, one in numbered
        if one.chimed and not one.excuse and one.sounding.bars_expected and bar in one.sounding.bars_expected
    ]
    strokes = sum(list(one.sounding.bars_expected or ()).count(bar) for _, one in ones)
    hammer = bench.hammer(bar)
    named = f"note {bench.note(bar)}" + (f" (hammer {hammer})" if hammer is not None else "")
    return finding(
        "dead-hammer",
        f"The hammer of {named} does not strike: missing all {strokes} times that it was due.",
        note=bench.note(bar),
        bar=bar,
        hammer=hammer,
        strokes=strokes,
        soundings=_numbers(ones),
    )


def _only_dead(one: Judged, dead: set[int]) -> bool:
    """Whether dead hammers explain all that is wrong with a chime."""
    bars = one.sounding.bars_expected
    if one.chimed is None or bars is None or not dead:
        return False
    faults = [step for step in one.chimed.steps if step.what != "same"]
    return all(
        step.what == "missing" and step.expected_at is not None and bars[step.expected_at] in dead for step in faults
    )


def _chimes(bench: Bench, chimes: Sequence[Numbered], dead: set[int]) -> list[Finding]:
    found: list[Finding] = []
    by_lag: dict[int, list[Numbered]] = defaultdict(list)
    by_shift: dict[int, list[Numbered]] = defaultdict(list)
    by_verdict: dict[str, list[Numbered]] = defaultdict(list)
    for number, one in chimes:
        chimed = one.chimed
        if chimed is None or one.excuse or chimed.verdict == "right" or _only_dead(one, dead):
            continue
        if chimed.as_quarter is not None and one.sounding.quarter is not None:
            by_lag[(chimed.as_quarter - one.sounding.quarter) % 4].append((number, one))
        elif chimed.barrel_shift is not None:
            by_shift[chimed.barrel_shift].append((number, one))
        elif chimed.runs_on:
            by_verdict["chime-runs-on"].append((number, one))
        elif chimed.swapped and len(chimed.swapped) * 2 == chimed.misfit:
            by_verdict["notes-swapped"].append((number, one))
        else:
            codes = {"out of sequence": "phrases-out-of-order", "incomplete": "chime-incomplete"}
            by_verdict[codes.get(chimed.verdict, "wrong-notes")].append((number, one))
    for lag, ones in by_lag.items():
        first = ones[0][1]
        played = quarter_name(first.chimed.as_quarter if first.chimed else None)
        text = f"{_where(ones)} it played {played} instead of {quarter_name(first.sounding.quarter)}"
        if len(ones) > 1:
            text = f"{_where(ones)} it played another quarter than was due, {lag} on each time"
        found.append(finding("wrong-quarter", sentence(text), quarters_on=lag, soundings=_numbers(ones)))
    for by, ones in by_shift.items():
        turn = len(bench.repertoires[ones[0][1].sounding.tune].barrel)
        text = (
            f"{_where(ones)} the right number of phrases came in the wrong order: the chime barrel stands "
            f"{shift_words(by, turn)}"
        )
        found.append(
            finding("barrel-phase", sentence(text), phrases_ahead=by, phrases_a_turn=turn, soundings=_numbers(ones))
        )
    for code, ones in by_verdict.items():
        why = ones[0][1].sounding.why
        text = sentence(_where(ones)).rstrip(".") + f": {why[:1].lower() if why[1:2].islower() else why[:1]}{why[1:]}"
        if len(ones) > 1:
            text = f"{text.rstrip('.')} (the first of {len(ones)})."
        found.append(finding(code, text, soundings=_numbers(ones)))
    return found


def _counts(blows: Sequence[Numbered]) -> list[Finding]:
    """Findings on wrong counts, with what the errors have in common over the hours."""
    hours = [(number, one) for number, one in blows if one.sounding.kind == "hour" and not one.excuse]
    counted = [one for one in hours if one[1].sounding.verdict in ("right", "wrong count", "early", "late")]
    wrong = [one for one in blows if one[1].sounding.verdict == "wrong count"]
    if not wrong:
        return []
    pairs = [(one.sounding.blows_expected or 0, one.sounding.blows_heard or 0) for _, one in counted]
    rows = [[one.sounding.dial, one.sounding.blows_expected, one.sounding.blows_heard] for _, one in wrong]
    evidence = {"counts": rows, "soundings": _numbers(wrong)}
    distinct = {expected for expected, _ in pairs}
    if len(wrong) > 1 and len(distinct) > 1 and all(heard == 1 for _, heard in pairs):
        return [finding("one-blow-always", f"One blow at every hour, {len(pairs)} times.", **evidence)]
    shifts = {(heard - expected) % 12 for expected, heard in pairs}
    if len(wrong) > 1 and len(distinct) > 1 and len(shifts) == 1:
        by = shifts.pop()
        words = f"{by} too many" if by <= 6 else f"{12 - by} too few"
        text = f"Every hour struck {words}, {len(pairs)} times: the hour hand or the count stands out by that much."
        return [finding("count-shifted", text, blows=by if by <= 6 else by - 12, **evidence)]
    first = wrong[0][1].sounding
    text = f"{_where(wrong)} it struck {first.blows_heard} instead of {first.blows_expected}"
    if len(wrong) > 1:
        text += f" (the first of {len(wrong)})"
    return [finding("wrong-count", sentence(text), **evidence)]


def _absent(numbered: Sequence[Numbered]) -> list[Finding]:
    by_code: dict[str, list[Numbered]] = defaultdict(list)
    for number, one in numbered:
        verdict = one.sounding.verdict
        if verdict == "not heard":
            by_code["not-heard"].append((number, one))
        elif verdict == "missing" and "stopped" not in one.tags:
            partial = one.call is not None and one.call.chime is not None and one.call.blows is not None
            came = partial and one.sounding.notes_heard is None and "was heard" in one.sounding.why
            code = {"blows": "blows-missing", "chime": "chime-missing"}[one.part] if came else "sounding-missing"
            by_code[code].append((number, one))
        elif verdict == "unexpected":
            by_code["doubtful-sounding" if "doubtful" in one.tags else "unexpected-sounding"].append((number, one))
    words = {
        "not-heard": "could not be judged",
        "blows-missing": "the blows did not follow the chime",
        "chime-missing": "the chime before the blows did not come",
        "sounding-missing": "nothing was heard",
        "unexpected-sounding": "something sounded that is not due",
        "doubtful-sounding": "a single sound was left out of account",
    }
    found: list[Finding] = []
    for code, ones in by_code.items():
        ran = code == "sounding-missing" and all("train ran" in one.tags for _, one in ones)
        text = f"{_where(ones)} {words[code]}" + (", though the train ran" if ran else "")
        if code == "not-heard":
            text += f": {ones[0][1].sounding.why.rstrip('.')}"
        seconds = [round(one.sounding.t_ns / 1e9, 3) for _, one in ones]
        found.append(finding(code, sentence(text), soundings=_numbers(ones), t_s=seconds))
    return found


def _off_time(numbered: Sequence[Numbered]) -> list[Finding]:
    """Findings on early and late soundings; one cause where all are off by the same time."""
    timed = [(number, one) for number, one in numbered if one.late_min is not None]
    off = [(number, one) for number, one in timed if one.sounding.verdict in ("early", "late")]
    if not off:
        return []
    lates = [one.late_min or 0.0 for _, one in timed]
    quarters = {one.call.minute % 60 for _, one in timed if one.call is not None}
    if len(off) == len(timed) and len(quarters) > 1 and max(lates) - min(lates) < _OFFSET_SPREAD_MIN:
        by = mean(lates)
        text = f"All soundings came {abs(by):.1f} minutes {'late' if by > 0 else 'early'} by the dial."
        return [finding("dial-offset", text, late_min=by, soundings=_numbers(off))]
    found: list[Finding] = []
    for word in ("early", "late"):
        ones = [(number, one) for number, one in off if one.sounding.verdict == word]
        if ones:
            worst = max(abs(one.late_min or 0.0) for _, one in ones)
            text = f"{_where(ones)} it sounded up to {worst:.1f} minutes {word}"
            found.append(finding(word, sentence(text), late_min=worst, soundings=_numbers(ones)))
    return found
