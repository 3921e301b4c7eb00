"""Heard soundings gathered to what one letting-off brought: a chime, blows, or a chime with the blows after it."""

from __future__ import annotations

from dataclasses import dataclass

from quarterjack.listening.heard import Blow, Heard
from quarterjack.records import NS_PER_S

# Two soundings nearer than this come from one letting-off. With the hands led by hand the next quarter may follow soon.
TOGETHER_ON_TIME_S = 60.0
TOGETHER_BY_HAND_S = 8.0


@dataclass(frozen=True)
class Group:
    """What one letting-off brought, as numbers of blows in the record; `chime` or `blows` may be empty."""

    recording: int
    from_ns: int
    to_ns: int
    chime: tuple[int, ...]
    blows: tuple[int, ...]
    kinds: tuple[str, ...]

    @property
    def from_s(self) -> float:
        """Where it began, seconds."""
        return self.from_ns / NS_PER_S


def gather(
    heard: Heard,
    recording: int,
    *,
    chime_bars: frozenset[int],
    hour_bars: frozenset[int],
    names: dict[int, int],
    together_s: float,
) -> tuple[Group, ...]:
    """Gather the soundings of one record.

    Parameters
    ----------
    heard : Heard
        The record.
    recording : int
        Its number in the proof.
    chime_bars : frozenset of int
        Bars of the clock that its quarters use; empty for a clock without quarters.
    hour_bars : frozenset of int
        Bars of the clock that hours or half hours are struck on; they may be chime bars too.
    names : dict of int to int
        The clock's bar for each bar number of the record, as far as known.
    together_s : float
        Longest silence inside one letting-off, seconds.
    """
    groups: list[Group] = []
    bars = _Bars(chime_bars, hour_bars, names)
    for sounding in heard.soundings:
        numbers = tuple(range(sounding.first_blow, sounding.first_blow + sounding.n_blows))
        chime, blows = _parts(heard.blows, numbers, sounding.kind, bars)
        last = groups[-1] if groups else None
        if last and sounding.from_ns - last.to_ns < together_s * NS_PER_S and not (last.blows and chime):
            groups[-1] = Group(
                recording,
                last.from_ns,
                max(last.to_ns, sounding.to_ns),
                last.chime + chime,
                last.blows + blows,
                (*last.kinds, sounding.kind),
            )
        else:
            groups.append(Group(recording, sounding.from_ns, sounding.to_ns, chime, blows, (sounding.kind,)))
    return tuple(groups)


@dataclass(frozen=True)
class _Bars:
    chime: frozenset[int]
    hour: frozenset[int]
    names: dict[int, int]

    def may_be_hour(self, bar: int) -> bool:
        """Whether an hour may be struck on a bar: on the hour's own, or on one that no quarter uses."""
        name = self.names.get(bar, bar)
        return name in self.hour or name not in self.chime


def _parts(
    all_blows: tuple[Blow, ...], numbers: tuple[int, ...], kind: str, bars: _Bars
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Part the blows of a sounding into chime notes and blows of the hour or half hour.

    The listener's word counts where it gave one; else blows on one bar that may be the hour's are blows.
    """
    if not bars.chime:
        return (), numbers
    hour = tuple(number for number in numbers if all_blows[number].kind == "hour")
    rest = tuple(number for number in numbers if all_blows[number].kind != "hour")
    if hour or kind == "quarter":
        return rest, hour
    if kind in ("hour", "half") and not any(all_blows[number].kind == "chime" for number in rest):
        return (), rest
    struck = {all_blows[number].bar for number in rest}
    if len(struck) == 1 and bars.may_be_hour(*struck):
        return (), rest
    # A tail on a bar that no quarter uses is the hour, even where the listener could not tell.
    last = all_blows[rest[-1]].bar if rest else 0
    tail = len(rest)
    if bars.names.get(last, last) not in bars.chime:
        while tail and all_blows[rest[tail - 1]].bar == last:
            tail -= 1
    return rest[:tail], rest[tail:]
