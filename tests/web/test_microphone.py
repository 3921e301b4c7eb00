"""The laptop's own microphone, played by Chromium's stand-in device from a real clock's clip."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile
from page_checks import QUIET, watch
from playwright.sync_api import Page, sync_playwright

from quarterjack.listening import hear

CLIP = "ticks/mantel_10800_out_of_beat.ogg"


@dataclass(frozen=True)
class Played:
    """What the stand-in microphone plays over and over: where it is, and what `hear` makes of the whole clip."""

    path: Path
    beats_per_hour: float
    beat_difference_ms: float


@pytest.fixture(scope="module")
def played(recordings: Path, tmp_path_factory: pytest.TempPathFactory) -> Played:
    """The clip cut to whole double beats and laid end to end, so that the clock does not stumble at the seams.

    The device fills up with silence where a file ends, so the whole is longer than the test listens.
    """
    heard = hear(recordings / CLIP)
    assert heard.going is not None
    assert heard.going.beat_difference_ms is not None
    samples, rate = soundfile.read(recordings / CLIP, dtype="float32")
    double_beat = 7200 / heard.going.beats_per_hour
    keep = round(int(len(samples) / rate / double_beat) * double_beat * rate)
    path = tmp_path_factory.mktemp("microphone") / "clip.wav"
    soundfile.write(path, np.tile(samples[:keep], 25), rate, subtype="PCM_16")
    return Played(path, heard.going.beats_per_hour, heard.going.beat_difference_ms)


@pytest.fixture
def microphone_page(chromium: Any, site: Any, played: Played) -> Iterator[Page]:
    """A page in a browser whose microphone plays the clip."""
    troubles: list[str] = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=chromium.path,
            args=[
                *chromium.args,
                *QUIET,
                "--use-fake-device-for-media-stream",
                "--use-fake-ui-for-media-stream",
                f"--use-file-for-fake-audio-capture={played.path}",
            ],
        )
        page = browser.new_context(base_url=site.address, permissions=["microphone"]).new_page()
        watch(page, troubles)
        yield page
        browser.close()
    assert not troubles, troubles


def shown_rate(page: Page) -> float:
    return float(page.locator("#heard .big").inner_text().replace("\u2009", ""))


def test_within_30_s_the_microphone_gives_what_the_file_gives(microphone_page: Page, played: Played) -> None:
    page = microphone_page
    page.goto("/listen")
    page.get_by_role("button", name="Listen now").click()
    page.wait_for_selector("#heard .big", timeout=30_000)
    page.wait_for_selector("#heard svg", timeout=30_000)
    page.wait_for_timeout(5_000)
    assert shown_rate(page) == pytest.approx(played.beats_per_hour, rel=0.003)
    assert "Out of beat" in page.locator("#heard").inner_text()
    page.get_by_role("button", name="The bob is on the right now").click()
    page.get_by_text("Pressed once").wait_for(timeout=10_000)
    page.get_by_role("button", name="Stop listening").click()
    page.wait_for_selector("#keep:not([hidden])", timeout=20_000)
    assert shown_rate(page) == pytest.approx(played.beats_per_hour, rel=0.003)
    page.fill("#name", "Mantel clock")
    page.get_by_role("button", name="Keep this").click()
    page.wait_for_url("**/clocks/mantel-clock/sounds")


def test_what_the_browser_would_not_switch_off_is_said(microphone_page: Page) -> None:
    page = microphone_page
    page.add_init_script(
        """const asked = MediaStreamTrack.prototype.getSettings;
        MediaStreamTrack.prototype.getSettings = function () {
            return { ...asked.call(this), noiseSuppression: true, autoGainControl: true };
        };"""
    )
    page.goto("/listen")
    page.get_by_role("button", name="Listen now").click()
    page.get_by_text("would not switch off its noise suppression and automatic gain").wait_for(timeout=15_000)


def test_the_browser_is_asked_to_leave_the_sound_alone(microphone_page: Page) -> None:
    page = microphone_page
    page.add_init_script(
        """const open = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
        navigator.mediaDevices.getUserMedia = (wanted) => { window.wanted = wanted; return open(wanted); };"""
    )
    page.goto("/listen")
    page.get_by_role("button", name="Listen now").click()
    page.get_by_role("button", name="Stop listening").wait_for()
    wanted = page.evaluate("window.wanted.audio")
    assert {wanted[name] for name in ("echoCancellation", "noiseSuppression", "autoGainControl")} == {False}


def test_a_press_is_placed_where_the_sound_stands(microphone_page: Page) -> None:
    """A press lies between the last sound sent and the batch that is being gathered, give or take the latency."""
    page = microphone_page
    page.add_init_script(
        """const send = WebSocket.prototype.send;
        WebSocket.prototype.send = function (message) {
            if (typeof message === "string" && message.includes("sample_rate_hz"))
                window.rate = JSON.parse(message).sample_rate_hz;
            else if (typeof message === "string" && message.includes("press_s"))
                window.ahead = JSON.parse(message).press_s - window.sent;
            else if (typeof message !== "string") {
                const head = new DataView(message);
                window.sent = (head.getFloat64(8, true) + head.getUint32(4, true)) / window.rate;
            }
            return send.call(this, message);
        };"""
    )
    page.goto("/listen")
    page.get_by_role("button", name="Listen now").click()
    page.wait_for_selector("#bob:not([hidden])", timeout=30_000)
    ahead = []
    for _ in range(5):
        page.locator("#press").click()
        ahead.append(float(page.evaluate("window.ahead")))
        page.wait_for_timeout(170)
    # A batch is 0.125 s; a busy machine may sit on one or two of them before it sends them on.
    assert min(ahead) >= -0.1
    assert max(ahead) <= 0.5


@pytest.mark.parametrize(
    ("kind", "words"), [("NotAllowedError", "Allow it for this page"), ("NotFoundError", "No microphone was found")]
)
def test_a_microphone_that_cannot_be_had_says_what_to_do(open_page: Any, kind: str, words: str) -> None:
    page = open_page("/listen")
    page.evaluate(
        """(kind) => {
            navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException("no", kind));
        }""",
        kind,
    )
    page.get_by_role("button", name="Listen now").click()
    page.get_by_text(words).wait_for()
    assert page.get_by_role("button", name="Listen now").is_enabled()
