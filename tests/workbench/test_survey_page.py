"""A survey is dropped, judged in the background, and mended cell by cell."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

from playwright.sync_api import expect

from .conftest import faults_for_assistive_technology, overflows

JUDGING_MS = 120_000


def test_a_survey_folder_is_dropped_judged_and_shown(served_empty, open_page, size, demo: Path):
    page = open_page(size)
    page.goto(served_empty.address)
    expect(page.get_by_role("heading", level=1)).to_have_text("Nothing is filed in this ledger yet")
    page.locator("[data-folder]").set_input_files(demo / "survey")
    page.wait_for_url(re.compile(r"/site/[\w-]+/survey/"), timeout=JUDGING_MS)
    heading = page.get_by_role("heading", level=1).inner_text()
    assert re.match(r"\d+\sreadings: \d+ judged, \d+ to act on, \d+\sproblems", heading), heading
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)


def test_a_cell_is_corrected_where_it_stands_and_judged_again(served, open_page, size):
    page = open_page(size)
    page.goto(served.site + "/surveys")
    page.get_by_role("link", name="Autumn round").click()
    cell = page.get_by_label(re.compile(r"^pressure of row"))
    assert cell.input_value() == "7 bananas"
    before = page.locator(".troubles tbody tr").count()
    cell.fill("7 bar(g)")
    page.get_by_role("button", name="Correct the cells and judge again").click()
    page.wait_for_url(re.compile(r"/survey/[\w-]+$"), timeout=JUDGING_MS)
    expect(page.get_by_label(re.compile(r"^pressure of row"))).to_have_count(0)
    assert page.locator(".troubles tbody tr").count() == before - 1


def test_a_sheet_alone_is_asked_for_what_the_survey_is(served_empty, open_page):
    page = open_page()
    page.goto(served_empty.address)
    sheet = b"point,kind,level_db,background_db,medium,pressure\nPress 4,leak,61,40,air,7 bar(g)\n"
    page.locator("[data-files]").set_input_files({"name": "readings.csv", "mimeType": "text/csv", "buffer": sheet})
    form = page.locator("[data-heading]")
    for label, text in (("Title", 'Round "4"'), ("Site", "Testing ground"), ("Day", "2026-11-20"), ("Inspector", "T")):
        form.get_by_label(label).fill(text)
    form.get_by_role("button", name="Go on").click()
    page.wait_for_url(re.compile("/survey/"), timeout=60_000)
    expect(page.get_by_text('Round "4", 20 November 2026')).to_be_visible()


def test_a_recording_is_assigned_to_the_row_that_misses_one(served_empty, open_page, demo: Path, tmp_path: Path):
    folder = tmp_path / "round"
    (folder / "recordings").mkdir(parents=True)
    shutil.copy(demo / "survey" / "survey.toml", folder)
    shutil.copy(demo / "survey" / "recordings" / "A-001.wav", folder / "recordings" / "loose.wav")
    sheet = "reading,point,kind,recording\nA-1,Press 4,leak,lost-0815.wav\n"
    (folder / "readings.csv").write_text(sheet, "utf-8")
    page = open_page()
    page.goto(served_empty.address)
    page.locator("[data-folder]").set_input_files(folder)
    page.wait_for_url(re.compile("/survey/"), timeout=60_000)
    page.get_by_label("Recording for row 2").select_option("loose.wav")
    page.get_by_role("button", name="Correct the cells").click()
    page.wait_for_url(re.compile(r"/survey/[\w-]+$"), timeout=60_000)
    expect(page.get_by_label("Recording for row 2")).to_have_count(0)
    page.locator("a[href*='/reading/']").first.click()
    expect(page.get_by_role("button", name="Play")).to_be_visible()
