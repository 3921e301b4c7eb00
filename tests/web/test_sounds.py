"""Three taps: from a recording that was kept to a proof, and a sheet in which everything else stays."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest
from page_checks import violations
from playwright.sync_api import Page

from quarterjack.errors import UnknownChoice
from quarterjack.web.sounds import WAYS, write_sounds
from quarterjack.workshop import Bench

OpenPage = Callable[..., Page]
HTML = {"accept": "text/html"}


def test_every_way_of_sounding_makes_a_sheet_that_can_be_reckoned(tmp_path: Path) -> None:
    clock = Bench(tmp_path).new_clock("Hall clock", 'name = "Hall clock"\n')
    day = {
        "cambridge": 4 * 12 + 12,
        "ting-tang": 4 * 12 + 12,
        "six-bell": 4 * 12 + 12,
        "hours-and-half": 24,
        "hours": 12,
        "silent": 0,
    }
    for way in WAYS:
        write_sounds(clock, way.key, quarters_at_hour=True)
        assert len(clock.reckoning().soundings) == day[way.key], way.key
    write_sounds(clock, "ting-tang", quarters_at_hour=False)
    assert len(clock.reckoning().soundings) == 3 * 12 + 12
    with pytest.raises(UnknownChoice):
        write_sounds(clock, "bagpipes", quarters_at_hour=True)


def test_what_else_the_sheet_says_stays(tmp_path: Path) -> None:
    text = '# Mrs Ohm\nname = "Hall clock"  # her word\n[sounds]\nhours = "count-wheel"\nhour_hammers = 5\n'
    clock = Bench(tmp_path).new_clock("Hall clock", text)
    write_sounds(clock, "cambridge", quarters_at_hour=True)
    written = clock.sheet_text()
    for kept in ("# Mrs Ohm", "# her word", 'hours = "count-wheel"', "hour_hammers = 5"):
        assert kept in written
    assert clock.movement().sounds.quarters == "cambridge"


def test_the_answers_are_checked(client: httpx.Client, tmp_path: Path) -> None:
    Bench(tmp_path / "bench").new_clock("Hall clock", 'name = "Hall clock"\n')
    page = "/clocks/hall-clock/sounds"
    assert client.get(page, headers=HTML).status_code == 200
    assert client.post(page, data={"way": "bagpipes"}).status_code == 422
    assert client.post(page, data={"way": "hours", "at_hour": "perhaps"}).status_code == 422
    assert client.post(page, data={}).status_code == 422
    done = client.post(page, data={"way": "hours"})
    assert (done.status_code, done.headers["location"]) == (303, "/clocks/hall-clock")
    assert client.get("/clocks/nobody/sounds").status_code == 404


def test_three_taps_prove_a_real_chime(open_page: OpenPage, recordings: Path, tmp_path: Path) -> None:
    clip = next((recordings / "chimes").glob("floor_clock_half.*[!v]"))
    clock = Bench(tmp_path / "bench").new_clock("Hall clock", 'name = "Hall clock"\n')
    clock.add_recording(clip, clip.name)
    page = open_page("/clocks/hall-clock/sounds")
    assert violations(page) == []
    page.get_by_label("Cambridge quarters").check()
    page.get_by_label("Yes, before the hour is struck").check()
    page.get_by_label(clip.name).fill("4:29")
    page.get_by_role("button", name="Is it right?").click()
    page.wait_for_url("**/clocks/hall-clock/proofs/*", timeout=60_000)
    give_up = time.monotonic() + 5
    while not clock.proofs():
        assert time.monotonic() < give_up
        time.sleep(0.1)
    assert clock.proofs()[-1].proof.recordings[0].file == clip.name
