"""What a simulated clock really did, for whoever wants to check a listener (`quarterjack.truth/1`)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from quarterjack.simulate.knocks import FRACTIONS
from quarterjack.simulate.ringing import on_grid
from quarterjack.simulate.tempo import CHIME_TO_STRIKE_S, HOUR_BLOW_S, NOTE_S, PHRASE_GAP_S

if TYPE_CHECKING:
    from quarterjack.simulate.simulation import Simulation

FORMAT = "quarterjack.truth/1"

TRUTH_FIELDS: dict[str, str] = {
    "format": "always quarterjack.truth/1",
    "clock": "the clock's name",
    "seed": "the seed; with the same sheet and choices it gives the same samples",
    "sample_rate_hz": "nominal sample rate of the file",
    "seconds": "length of the file at nominal rate",
    "ppm": "how fast the recorder's clock was, millionths",
    "dial_start": "what the hands said at the first sample",
    "beats_per_hour": "beats an hour as they lie in the file, the recorder's error included",
    "beat_difference_ms": "mean silence after the long side less the other, at full swing, as in the file",
    "long_side": "side whose tick is followed by the longer silence",
    "ticks": "every tick within the file",
    "ticks[].t_s": "onset, seconds of the file's samples",
    "ticks[].side": "a or b; the first tick of the clock is a",
    "ticks[].level_db": "beside the usual level of its side",
    "blows": "every blow whose onset lies within the file",
    "blows[].t_s": "onset, seconds of the file's samples",
    "blows[].bar": "number of the bar, as on the sheet",
    "blows[].note": "name of its note",
    "blows[].hammer": "number of the hammer, as on the sheet",
    "blows[].kind": "chime or hour",
    "blows[].dial": "dial time that called for it",
    "blows[].level_db": "beside the usual level of its kind",
    "soundings": "every sounding of which a blow lies within the file",
    "soundings[].from_s": "onset of its first blow",
    "soundings[].to_s": "onset of its last blow",
    "soundings[].kind": "quarter, half or hour, as the dial called for it",
    "soundings[].quarter": "1 to 4 for a chime",
    "soundings[].tune": "name of the tune",
    "soundings[].dial": "dial time that called for it",
    "soundings[].first_blow": "its first blow's place in blows, from 0",
    "soundings[].n_blows": "how many blows of it lie within the file",
    "soundings[].whole": "false where the file begins or ends within it",
    "train_noise": "stretches in which a striking or chiming train turned",
    "train_noise[].from_s": "from its release",
    "train_noise[].to_s": "until it was locked",
    "train_noise[].train": "chime or strike",
    "train_noise[].warning": "true for the short run at warning",
    "stops": "at most one: the last tick before the clock stood",
    "stops[].t_s": "onset of the last tick",
    "stops[].ended": "cut off or died away",
    "faults": "what was broken on purpose",
    "faults[].name": "name of the fault",
    "faults[].value": "its value as given, or null",
    "assumed": "what the sheet left open and was assumed, in words",
}
"""Every field of the document with what it means, for the manual and its test."""


def truth_of(simulation: Simulation) -> dict[str, Any]:
    """Give the events of a simulation as they lie in its file.

    Times (`…_s`) are seconds of the file's own samples at nominal rate, as a listener counts them, on the grid of
    sixteenths of a sample on which the sounds were placed. Only what begins within the file is listed; a sounding of
    which some blows lie outside says `"whole": false`.
    """
    end_s = simulation.seconds

    def file_s(true_s: float) -> float:
        return round(on_grid(true_s, simulation.true_rate_hz) / FRACTIONS / simulation.sample_rate_hz, 9)

    blows: list[dict[str, Any]] = []
    soundings: list[dict[str, Any]] = []
    for sounding in simulation.plan.soundings:
        rows = [
            {
                "t_s": file_s(blow.t_s),
                "bar": blow.bar,
                "note": blow.note or None,
                "hammer": blow.hammer,
                "kind": blow.kind,
                "dial": sounding.dial,
                "level_db": round(blow.level_db, 2),
            }
            for blow in sounding.blows
            if 0 <= file_s(blow.t_s) < end_s
        ]
        if rows:
            soundings.append(
                {
                    "from_s": rows[0]["t_s"],
                    "to_s": rows[-1]["t_s"],
                    "kind": sounding.called.kind,
                    "quarter": sounding.called.quarter,
                    "tune": sounding.called.tune,
                    "dial": sounding.dial,
                    "first_blow": len(blows),
                    "n_blows": len(rows),
                    "whole": len(rows) == len(sounding.blows),
                }
            )
            blows += rows
    ticks = [
        {"t_s": round(float(place / FRACTIONS / simulation.sample_rate_hz), 9), "side": "ab"[side],
         "level_db": round(float(level), 2)}
        for place, side, level in zip(
            simulation.tick_places, simulation.ticks.side, simulation.ticks.level_db, strict=True
        )
    ]  # fmt: skip
    difference_ms = 1000 * simulation.ticks.difference_s * (1 + simulation.ppm * 1e-6)
    broken = simulation.broken
    stops = [] if broken.stop_s is None or not ticks else [{"t_s": ticks[-1]["t_s"], "ended": broken.ended}]
    assumed = [
        f"tempo by common practice: notes {NOTE_S} s apart, {PHRASE_GAP_S} s between phrases, "
        f"{CHIME_TO_STRIKE_S} s from chime to strike, hour blows {HOUR_BLOW_S} s apart"
    ]
    if simulation.reckoning.beats_per_hour is None:
        assumed.append(f"beats an hour: {simulation.beats_per_hour:g}")
    if any(not bar.partials_hz for bar in simulation.reckoning.bars):
        assumed.append("partials of the bars, from their notes")
    return {
        "format": FORMAT,
        "clock": simulation.reckoning.clock,
        "seed": simulation.seed,
        "sample_rate_hz": simulation.sample_rate_hz,
        "seconds": round(end_s, 9),
        "ppm": simulation.ppm,
        "dial_start": simulation.dial_start,
        "beats_per_hour": simulation.beats_per_hour / (1 + simulation.ppm * 1e-6),
        "beat_difference_ms": round(abs(difference_ms), 6),
        "long_side": "a" if difference_ms >= 0 else "b",
        "ticks": ticks,
        "blows": blows,
        "soundings": soundings,
        "train_noise": [
            {"from_s": file_s(max(0.0, run.from_s)), "to_s": min(file_s(run.to_s), end_s), "train": run.train,
             "warning": not run.loud}
            for run in sorted(simulation.plan.runnings, key=lambda run: run.from_s)
            if run.to_s > 0 and file_s(run.from_s) < end_s
        ],
        "stops": stops,
        "faults": [{"name": fault.name, "value": fault.value or None} for fault in simulation.faults],
        "assumed": assumed,
    }  # fmt: skip
