"""What was heard, in words and in the figure: which verdict, which side, which way, which millimetres."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from quarterjack.listening.heard import Blow, Going, Heard, RecordingFacts, Remark, Sounding, Ticks
from quarterjack.web.beat_view import decimals_for
from quarterjack.web.heard_view import Ear, live_document, view_of
from quarterjack.web.spool import Listening


def heard(going: Going | None, silence_after_a_s: float = 1.0, silence_after_b_s: float = 1.0, n: int = 20) -> Heard:
    """A record of `n` ticks with those silences."""
    silences = np.tile([silence_after_a_s, silence_after_b_s], n)[: n - 1]
    times = np.concatenate([[0.5], 0.5 + np.cumsum(silences)])
    ticks = Ticks(
        np.round(times * 1e9).astype(np.int64),
        np.full(n, 400_000),
        (np.arange(n) % 2).astype(np.int8),
        np.full(n, -30.0),
    )
    return Heard(recording=RecordingFacts("one.wav", "0" * 64, 30.0, 44100, 1), going=going, ticks=ticks)


def listening(tmp_path: Path, *presses_s: float) -> Listening:
    return Listening("key", tmp_path, "one.wav", presses_s=list(presses_s))


OUT = Going(20, 3600.0, 0.3, 328.0, 1.0, "b")
QUIET = Ear(peak=0.1, clipped_now=0, processing=(), holes=0)


@pytest.mark.parametrize(
    ("difference_ms", "u_ms", "verdict"),
    [
        (3.0, 1.0, "in"),
        (19.0, 1.0, "in"),
        (35.0, 2.0, "nearly"),
        (60.0, 2.0, "out"),
        (328.0, 30.0, "out"),
        (60.0, 40.0, "unsure"),
        (0.0, 40.0, "unsure"),
    ],
)
def test_the_verdict_on_the_beat(tmp_path: Path, difference_ms: float, u_ms: float, verdict: str) -> None:
    """20 ms on a one-second beat is good, over 5 % of a beat correct it: common practice."""
    view = view_of(listening(tmp_path), heard(Going(20, 3600.0, 0.3, difference_ms, u_ms, "a")), seconds=30)
    assert view.beat is not None
    assert view.beat.verdict == verdict


def test_without_a_press_no_side_is_called_left_or_right(tmp_path: Path) -> None:
    document = live_document(listening(tmp_path), heard(OUT, 0.836, 1.164), seconds=30)
    assert document["right_side"] is None
    assert "Raise the" not in document["html"]
    assert "left is not known yet" in document["html"]
    assert "after tick a" in document["html"]


@pytest.mark.parametrize(("press_after", "side"), [("b", "right"), ("a", "left")])
def test_the_cure_lies_on_the_side_whose_tick_is_followed_by_the_longer_silence(
    tmp_path: Path, press_after: str, side: str
) -> None:
    """The bob is right of rest during the silence after the tick of the rightward swing.

    Source: ../shared/reference/trade_practice.md, section 8 item 18. Here b's tick is followed by the longer silence.
    """
    record = heard(OUT, 0.836, 1.164)
    place = 5 if press_after == "b" else 4
    press = float(record.ticks.t_s[place : place + 2].mean())
    document = live_document(listening(tmp_path, press), record, seconds=30)
    assert document["right_side"] == press_after
    assert f"Raise the {side} foot of the case, or bend the crutch to the {side}." in document["html"]
    assert "A tall case can tip." in document["more_html"]


def test_a_measured_crutch_narrows_the_range(tmp_path: Path) -> None:
    record, one = heard(OUT, 0.836, 1.164), listening(tmp_path)
    usual = view_of(one, record, seconds=30).beat
    one.crutch_m = 0.25
    measured = view_of(one, record, seconds=30).beat
    assert usual is not None
    assert measured is not None

    def ends(text: str) -> list[float]:
        return [float(number) for number in re.findall(r"\d+\.\d+|\d+", text)]

    assert ends(measured.how_far[0])[0] > ends(usual.how_far[0])[0]
    assert ends(measured.how_far[0])[1] < ends(usual.how_far[0])[1]
    assert "crutch" not in measured.how_far[2]


def test_the_figure_draws_the_silences_to_one_scale(tmp_path: Path) -> None:
    """The two dimension lines are in the ratio of the silences, 0.836 to 1.164."""
    view = view_of(listening(tmp_path), heard(OUT, 0.836, 1.164), seconds=30)
    assert view.beat is not None
    lengths = []
    for path in ElementTree.fromstring(view.beat.drawing).iter("path"):
        numbers = [float(number) for number in re.findall(r"-?\d+\.?\d*", path.attrib["d"])]
        if path.attrib["class"] == "line" and numbers[:2] == [180.0, 226.0] and numbers[3] == 226.0:
            lengths.append(abs(numbers[2] - 180.0))
    assert len(lengths) == 2
    assert lengths[1] / lengths[0] == pytest.approx(1.164 / 0.836, rel=0.01)


def test_what_is_wrong_is_said_in_words(tmp_path: Path) -> None:
    def wrong(ear: Ear, record: Heard) -> str:
        return " ".join(view_of(listening(tmp_path), record, seconds=10, ear=ear).wrong)

    nothing = heard(None)
    assert wrong(QUIET, nothing) == ""
    assert "Too quiet" in wrong(Ear(1e-5, 0, (), 0), nothing)
    assert "No sound at all" in wrong(Ear(0.0, 0, (), 0), nothing)
    assert "Too loud" in wrong(Ear(1.0, 12, (), 0), nothing)
    assert "noise suppression" in wrong(Ear(0.1, 0, ("noise suppression",), 0), nothing)
    assert "lost twice" in wrong(Ear(0.1, 0, (), 2), nothing)
    gated = Heard(
        recording=nothing.recording,
        going=None,
        ticks=nothing.ticks,
        remarks=(Remark("noise-gated", "It wipes out ticks."), Remark("clipped", "Samples are clipped.")),
    )
    assert wrong(QUIET, gated) == "It wipes out ticks."
    assert view_of(listening(tmp_path), gated, seconds=10).wrong == ("It wipes out ticks.", "Samples are clipped.")


def test_soundings_are_listed_with_their_notes_phrase_by_phrase(tmp_path: Path) -> None:
    notes = ("E", "G#", "F#", "B", "E", "F#", "G#", "E")
    blows = tuple(
        Blow(i * 10**9, 2 * 10**6, 1, note, None, "chime", (), -20.0) for i, note in enumerate(notes)
    ) + tuple(Blow((12 + i) * 10**9, 2 * 10**6, 5, None, None, "hour", (), -20.0) for i in range(2))
    record = Heard(
        recording=RecordingFacts("one.wav", "0" * 64, 30.0, 44100, 1),
        going=None,
        ticks=Ticks.none(),
        blows=blows,
        soundings=(
            Sounding(0, 8 * 10**9, "quarter", 2, "cambridge", 0, 8, (4, 4)),
            Sounding(75 * 10**9, 77 * 10**9, "hour", None, None, 8, 2),
        ),
    )
    view = view_of(listening(tmp_path), record, seconds=90)
    assert view.soundings == (
        ("0:00", "Second quarter", "E G♯ F♯ B, E F♯ G♯ E"),
        ("1:15", "Hour", "2 blows"),
    )
    assert view.say == "Blows are heard, but no steady beat."


@pytest.mark.parametrize(("u", "digits"), [(0.4, 1), (0.14, 2), (3.0, 0), (12.0, 0), (0.02, 2), (0.0, 1)])
def test_a_value_shows_the_decimals_that_its_uncertainty_deserves(u: float, digits: int) -> None:
    assert decimals_for(u) == digits
