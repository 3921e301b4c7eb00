"""A clock that can be broken: plays a `Reckoning` as events and as sound.

All is decided by the seed and by absolute place: the sound is built in chunks of fixed length on the absolute sample
grid, and handed out in blocks of any size.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from quarterjack.errors import OutOfRange
from quarterjack.reckoning.reckoned import Reckoning
from quarterjack.simulate.bars import make_voices
from quarterjack.simulate.faults import Fault, break_clock, dial_seconds
from quarterjack.simulate.knocks import FRACTIONS, Knock, make_knock, shifted_waves
from quarterjack.simulate.noise import Colour, ColouredNoise, room, train
from quarterjack.simulate.ringing import Knocks, RingingBar, on_grid
from quarterjack.simulate.schedule import Running, plan
from quarterjack.simulate.ticking import tick
from quarterjack.simulate.truth import truth_of

CHUNK = 32_768
DEFAULT_BEATS_PER_HOUR = 3600.0

TICK_DB = (-28.0, -30.0)
CHIME_DB, HOUR_DB = -10.0, -9.0
CLUNK_DB, WARNING_DB, LOCK_DB = -18.0, -30.0, -32.0
LEATHER_DB = -14.0
"""Below the peak of its blow."""
ROOM_DB, TRAIN_DB, WARNING_TRAIN_DB = -64.0, -50.0, -58.0

# Each side's tick: delay in seconds and level in dB of the impacts of which it is made.
_IMPACTS = (
    ((0.0, -5.0), (0.0075, 0.0), (0.0160, -5.0)),
    ((0.0, -3.0), (0.0052, 0.0), (0.0118, -8.0)),
)
_IMPACT_JITTER_S, _IMPACT_JITTER_DB = 0.08e-3, 1.0
_PARTIAL_JITTER_DB = 1.0
_RAMP_S = 0.08
_FLY_TURNS_PER_S = 9.0


_Events = tuple[str, NDArray[np.int64], NDArray[np.float64]]


def _gain(db: float) -> float:
    return float(10 ** (db / 20))


def _dry_sounds(seed: int) -> dict[str, Knock]:
    """Make the dry sounds of one clock."""
    kinds: dict[str, Knock] = {}
    for side, impacts in enumerate(_IMPACTS):
        for i in range(len(impacts)):
            rng = np.random.default_rng((seed, 12, side, i))
            kinds[f"tick {side}{i}"] = make_knock(
                rng, from_hz=(300.0, 350.0)[side], to_hz=(9000.0, 8000.0)[side], decay_s=0.007,
                tilt_db_per_octave=(1.0, 0.5)[side],
            )  # fmt: skip
    rng = np.random.default_rng((seed, 13))
    kinds["clunk"] = make_knock(rng, from_hz=70.0, to_hz=3000.0, decay_s=0.018, tilt_db_per_octave=-3.0)
    kinds["warning"] = make_knock(rng, from_hz=150.0, to_hz=5000.0, decay_s=0.008, tilt_db_per_octave=-1.0)
    kinds["lock"] = make_knock(rng, from_hz=200.0, to_hz=6000.0, decay_s=0.006)
    return kinds


def _tick_peak(kinds: dict[str, Knock], side: int) -> float:
    """Peak of one side's tick before it is brought to its level."""
    fs = 48_000
    whole = np.zeros(fs)
    for i, (delay_s, level_db) in enumerate(_IMPACTS[side]):
        wave = shifted_waves(kinds[f"tick {side}{i}"], fs)[0] * _gain(level_db)
        at = round(delay_s * fs)
        whole[at : at + wave.size] += wave[: fs - at]
    return float(np.abs(whole).max())


class Simulation:
    """Some hours of one clock, as a recorder would have kept them.

    Parameters
    ----------
    reckoning : Reckoning
        What the clock must do. Where it gives no beats an hour, 3,600 are assumed; the tempo of its soundings is
        common practice (see `quarterjack.simulate.tempo`); `truth()` names what was assumed.
    hours : float
        Length of the recording by its own count, above 0, at most 400.
    dial_start : str
        Dial time at the first sample, such as "12:00" or "3:58:30".
    seed : int
        Same seed, same samples. Not negative.
    faults : sequence of Fault or str
        What is broken (see `quarterjack.simulate.faults`).
    sample_rate_hz : int
        8,000 to 192,000.
    ppm : float
        How fast the recorder's clock is, in millionths, -1,000 to 1,000: at +50 it takes 50 samples too many in a
        million, so that times counted in the file are too long by that much.

    Attributes
    ----------
    n_samples : int
        Length of the recording.
    true_rate_hz : float
        Samples that the recorder takes in a true second.
    ticks, plan : Ticking, Plan
        All events, in true seconds.

    Raises
    ------
    OutOfRange
        If a number lies outside these bounds.
    UnitNotUnderstood
        If `dial_start` cannot be read.
    UnknownChoice, FaultNotPossible
        If a fault has no such name, or this clock cannot have it.
    """

    def __init__(
        self,
        reckoning: Reckoning,
        *,
        hours: float,
        dial_start: str = "12:00",
        seed: int = 1,
        faults: Sequence[Fault | str] = (),
        sample_rate_hz: int = 48_000,
        ppm: float = 0.0,
    ) -> None:
        for what, value, low, high in (
            ("hours", hours, 0.0, 400.0),
            ("sample_rate_hz", sample_rate_hz, 8_000, 192_000),
            ("ppm", ppm, -1000.0, 1000.0),
            ("seed", seed, 0, 2**63),
        ):
            if not low <= value <= high or (what == "hours" and value == 0):
                raise OutOfRange(f"{what} is {value}; allowed: {low:g} to {high:g}.", value=value)
        self.reckoning, self.dial_start, self.seed, self.ppm = reckoning, dial_start, seed, ppm
        self.sample_rate_hz = sample_rate_hz
        self.n_samples = max(1, round(hours * 3600 * sample_rate_hz))
        self.true_rate_hz = sample_rate_hz * (1 + ppm * 1e-6)
        true_s = self.n_samples / self.true_rate_hz
        start_s = dial_seconds(dial_start)
        self.beats_per_hour = reckoning.beats_per_hour or DEFAULT_BEATS_PER_HOUR
        beat_s = 3600.0 / self.beats_per_hour
        self.faults, self.broken = break_clock(faults, reckoning, beat_s=beat_s, dial_start_s=start_s, seconds=true_s)
        self.ticks = tick(
            beat_s=beat_s,
            teeth_beats=reckoning.beats_per_turn,
            seconds=true_s,
            seed=(seed, 10),
            difference_s=self.broken.beat_difference_s,
            stop_s=self.broken.stop_s,
            ended=self.broken.ended,
        )
        self.plan = plan(reckoning, self.broken, dial_start_s=start_s, seconds=true_s, seed=seed)
        self._lay_out()

    @property
    def seconds(self) -> float:
        """Length in seconds of the file's own samples at nominal rate."""
        return self.n_samples / self.sample_rate_hz

    def _lay_out(self) -> None:
        """Put every event on the grid and make the sounds."""
        kinds, ticks, rate = _dry_sounds(self.seed), self.ticks, self.true_rate_hz
        self.tick_places = np.round(ticks.t_s * rate * FRACTIONS).astype(np.int64)
        events: list[_Events] = []
        for side in (0, 1):
            mine = ticks.side == side
            peak = _tick_peak(kinds, side)
            for i, (delay_s, level_db) in enumerate(_IMPACTS[side]):
                n = int(mine.sum())
                when, how_loud = (np.random.default_rng((self.seed, 11, side, i, stream)) for stream in (0, 1))
                late_s = delay_s + when.normal(0.0, _IMPACT_JITTER_S if i else 0.0, n)
                db = TICK_DB[side] + level_db + ticks.level_db[mine] + how_loud.normal(0.0, _IMPACT_JITTER_DB, n)
                places = self.tick_places[mine] + np.round(late_s * rate * FRACTIONS).astype(np.int64)
                events.append((f"tick {side}{i}", places, 10 ** (db / 20) / peak))
        for times, kind, level_db in (
            (self.plan.releases_s, "clunk", CLUNK_DB),
            (self.plan.warnings_s, "warning", WARNING_DB),
            (self.plan.locks_s, "lock", LOCK_DB),
        ):
            places = np.array([on_grid(t, rate) for t in times], np.int64)
            events.append((kind, places, np.full(places.size, _gain(level_db))))
        events += self._lay_out_blows(kinds)
        self._knocks = Knocks(kinds, events, sample_rate_hz=rate)
        self._room = self._noise(room, ROOM_DB, 30)
        self._train = self._noise(train, TRAIN_DB, 31)

    def _lay_out_blows(self, kinds: dict[str, Knock]) -> list[_Events]:
        voices = make_voices(self.reckoning, (self.seed, 20))
        hits: dict[int, list[tuple[int, float, NDArray[np.float64]]]] = {}
        for blow in (blow for sounding in self.plan.soundings for blow in sounding.blows):
            rng = np.random.default_rng(blow.seed)
            level_db = (HOUR_DB if blow.kind == "hour" else CHIME_DB) + blow.level_db - 10 * np.log10(len(blow.bars))
            for i, bar in enumerate(blow.bars):
                # Hammers that fall together fall a few milliseconds apart; the first of them is the blow's onset.
                t_s = blow.t_s + (float(rng.uniform(0.0, 0.008)) if i else 0.0)
                uneven_db = rng.normal(0.0, _PARTIAL_JITTER_DB, int(voices[bar].partial_of.max()) + 1)
                place = on_grid(t_s, self.true_rate_hz)
                hits.setdefault(bar, []).append((place, _gain(level_db), 10 ** (uneven_db / 20)))
        self._bars, events = [], []
        for bar, struck in sorted(hits.items()):
            places = np.array([place for place, _, _ in struck], np.int64)
            gains = np.array([gain for _, gain, _ in struck])
            partials = gains[:, None] * np.array([uneven for _, _, uneven in struck])
            self._bars.append(RingingBar(voices[bar], places, partials, sample_rate_hz=self.true_rate_hz, chunk=CHUNK))
            kinds[f"leather {bar}"] = voices[bar].knock
            events.append((f"leather {bar}", places, gains * _gain(LEATHER_DB)))
        return events

    def _noise(self, colour: Colour, level_db: float, stream: int) -> ColouredNoise:
        return ColouredNoise(colour, level_db, chunk=CHUNK, sample_rate_hz=self.true_rate_hz, seed=(self.seed, stream))

    def _running_gain(self, running: Running, start: int) -> tuple[int, NDArray[np.float32]]:
        """Loudness of one running train over its part of a chunk, with the flutter of its fly."""
        first = max(start, int(running.from_s * self.true_rate_hz))
        last = min(start + CHUNK, int(running.to_s * self.true_rate_hz))
        t = np.arange(first, last) / self.true_rate_hz - running.from_s
        ramp = np.clip(np.minimum(t, running.to_s - running.from_s - t) / _RAMP_S, 0.0, 1.0)
        flutter = 1 + 0.5 * np.sin(2 * np.pi * _FLY_TURNS_PER_S * t)
        level = 1.0 if running.loud else _gain(WARNING_TRAIN_DB - TRAIN_DB)
        return first - start, (ramp * flutter * level).astype(np.float32)

    def _chunk(self, k: int) -> NDArray[np.float32]:
        start = k * CHUNK
        out = self._room.samples(k)
        for running in self.plan.runnings:
            if running.from_s * self.true_rate_hz < start + CHUNK and running.to_s * self.true_rate_hz > start:
                at, gain = self._running_gain(running, start)
                out[at : at + gain.size] += self._train.samples(k)[at : at + gain.size] * gain
        for bar in self._bars:
            bar.add_to(out, start)
        self._knocks.add_to(out, start)
        return np.clip(out, -1.0, 1.0, out=out)

    def blocks(self, size: int = CHUNK) -> Iterator[NDArray[np.float32]]:
        """Yield the sound from its first sample to its last in blocks of `size` samples, the last one shorter.

        Yields
        ------
        float32[size]
            Mono, full scale one. The samples do not depend on `size`.
        """
        if size < 1:
            raise OutOfRange(f"A block of {size} samples is not possible; allowed: 1 or more.", value=size)
        held: list[NDArray[np.float32]] = []
        n_held = 0
        for k in range(-(-self.n_samples // CHUNK)):
            chunk = self._chunk(k)[: self.n_samples - k * CHUNK]
            held.append(chunk)
            n_held += chunk.size
            if n_held >= size:
                joined = np.concatenate(held)
                whole = joined.size // size * size
                yield from (joined[i : i + size] for i in range(0, whole, size))
                held = [joined[whole:]]
                n_held = joined.size - whole
        if n_held:
            yield np.concatenate(held)

    def truth(self) -> dict[str, Any]:
        """Give what was done, as one JSON document `quarterjack.truth/1`; times in seconds of the file's samples."""
        return truth_of(self)
