"""A survey is dropped, judged in the background, and mended cell by cell."""

from __future__ import annotations

import re
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
