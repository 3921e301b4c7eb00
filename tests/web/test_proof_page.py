"""A proof in a real browser: a file dropped, heard and proved, played, drawn, and taken away on paper."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pypdf
import pytest
from page_checks import sideways, violations
from playwright.sync_api import Page, expect

from quarterjack.sheet import quick_sheet
from quarterjack.workshop import Bench, ClockFolder

OpenPage = Callable[..., Page]


@pytest.fixture
def clock(site: Any, invented: Path) -> ClockFolder:
    """The invented clock on the site's bench."""
    shutil.copytree(invented, site.folder, dirs_exist_ok=True, copy_function=os.link)
    (clock,) = Bench(site.folder).clocks()
    return clock


def faulty(clock: ClockFolder) -> str:
    return f"/clocks/{clock.slug}/proofs/{clock.proofs()[-1].id}"


@pytest.mark.parametrize(("width", "dark"), [(1280, False), (390, True), (360, False)])
def test_axe_finds_nothing_and_nothing_runs_off_sideways(
    open_page: OpenPage, clock: ClockFolder, width: int, dark: bool
) -> None:
    page = open_page(faulty(clock), width=width, dark=dark)
    page.locator(".drawn .main-svg").first.wait_for()
    assert sideways(page) <= 0
    for path in (faulty(clock), "/clocks", f"/clocks/{clock.slug}"):
        page.goto(path)
        page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
        assert violations(page) == []
        assert sideways(page) <= 0


def test_a_sounding_is_played_beside_what_should_be(open_page: OpenPage, clock: ClockFolder) -> None:
    page = open_page(faulty(clock))
    sounding = page.locator("article.sounding").first
    record = sounding.get_by_role("button", name="Hear the record")
    expected = sounding.get_by_role("button", name="Hear what should be")
    for press, other in ((record, expected), (expected, record)):
        press.click()
        expect(press).to_have_attribute("aria-pressed", "true")
        expect(other).to_have_attribute("aria-pressed", "false")
        audio = press.locator("xpath=following-sibling::audio[1]")
        page.wait_for_function("audio => audio.currentTime > 0.2 && !audio.paused", arg=audio.element_handle())
        # The quarter's own length and a little before and after it.
        assert 6.0 < audio.evaluate("audio => audio.duration") < 30.0
    expected.click()
    expect(expected).to_have_attribute("aria-pressed", "false")
    assert audio.evaluate("audio => audio.paused")


def test_the_strip_leads_to_each_sounding_by_keyboard(open_page: OpenPage, clock: ClockFolder) -> None:
    page = open_page(faulty(clock), width=390)
    proof = clock.proofs()[-1].proof
    marks = page.locator(".strip a")
    assert marks.count() == len(proof.soundings) + len(proof.stops)
    for number, sounding in enumerate(proof.soundings, start=1):
        mark = page.locator(f'.strip a[href="#sounding-{number}"]')
        assert sounding.verdict in str(mark.get_attribute("aria-label"))
        mark.focus()
        page.keyboard.press("Enter")
        assert page.evaluate("location.hash") == f"#sounding-{number}"
        expect(page.locator(f"#sounding-{number}")).to_be_in_viewport()


def test_the_chart_moves_by_words_and_its_table_holds_the_same(open_page: OpenPage, clock: ClockFolder) -> None:
    page = open_page(faulty(clock), width=390)
    chart = page.locator("figure.chart").first
    drawn = chart.locator(".drawn")
    drawn.locator(".main-svg").first.wait_for()
    shown = "place => place.layout.xaxis.range.map(Number)"
    data = page.evaluate("JSON.parse(document.getElementById('chart-1').textContent)")
    before = drawn.evaluate(shown)
    chart.get_by_role("button", name="Closer").click()
    page.wait_for_function(
        "([place, width]) => place.layout.xaxis.range[1] - place.layout.xaxis.range[0] < 0.6 * width",
        arg=[drawn.element_handle(), before[1] - before[0]],
    )
    chart.get_by_role("button", name="Later").click()
    later = drawn.evaluate(shown)
    assert later[1] == pytest.approx(max(data["x"]), abs=1e-6)
    chart.get_by_role("button", name="All").click()
    assert drawn.evaluate(shown) == pytest.approx([min(data["x"]), max(data["x"])])
    table = page.locator(".chart + details").first
    table.locator("summary").click()
    rows = table.locator("tbody tr")
    assert rows.count() == len(data["x"])
    last = rows.last.locator("td").all_inner_texts()
    assert last[0] == data["x_words"][-1]
    assert float(last[1].replace("−", "-")) == pytest.approx(data["gained"][-1], abs=6e-4)


def test_the_paper_and_the_data_are_downloaded(open_page: OpenPage, clock: ClockFolder, tmp_path: Path) -> None:
    page = open_page(faulty(clock))
    for name, points in (("A4", (595.28, 841.89)), ("Letter", (612.0, 792.0))):
        with page.expect_download() as download:
            page.get_by_role("link", name=f"Bench proof, {name} (PDF)").click()
        path = tmp_path / f"{name}.pdf"
        download.value.save_as(path)
        first = pypdf.PdfReader(path).pages[0]
        assert (float(first.mediabox.width), float(first.mediabox.height)) == pytest.approx(points, abs=0.1)
        assert "The Saltmere hall clock (invented)" in first.extract_text()
    with page.expect_download() as download:
        page.get_by_role("link", name="The data (JSON)").click()
    assert download.value.suggested_filename.endswith(".json")


def test_a_file_is_dropped_heard_proved_and_read(open_page: OpenPage, site: Any, recordings: Path) -> None:
    sheet = quick_sheet("Real clock", quarters="cambridge", quarters_at_hour=True, hours=True, half_hour="none")
    clock = Bench(site.folder).new_clock("Real clock", sheet)
    page = open_page(f"/clocks/{clock.slug}", width=390)
    page.get_by_label("Add recordings").set_input_files(
        [recordings / "chimes" / f"floor_clock_{name}.flac" for name in ("quarter1", "hour2")]
    )
    page.get_by_role("button", name="Add to this clock").click()
    expect(page.get_by_role("checkbox")).to_have_count(2)
    page.get_by_role("checkbox", name="hour2").uncheck()
    page.locator("summary", has_text="How it was let off").click()
    page.get_by_role("radio", name="By hand").check()
    page.get_by_role("button", name="Hear and prove those chosen").click()
    page.wait_for_url("**/proofs/*", timeout=30_000)
    heading = page.locator("h1")
    expect(heading).to_contain_text("Right")
    expect(page.locator("article.sounding h3").first).to_contain_text("First quarter")
    expect(page.locator("article.sounding h3").first).to_contain_text("right")
    assert [one.file for one in clock.proofs()[0].proof.recordings] == ["floor_clock_quarter1.flac"]


def test_work_is_stopped_from_its_page(open_page: OpenPage, site: Any) -> None:
    page = open_page("/clocks")
    page.get_by_role("button", name="Make the invented clock").click()
    page.wait_for_function("() => document.getElementById('work-done')?.value > 0.02")
    page.get_by_role("button", name="Stop").click()
    expect(page.locator("h1")).to_have_text("Clocks in hand")
    page.go_back()
    expect(page.locator(".lead")).to_have_text("It was stopped.", timeout=15_000)
