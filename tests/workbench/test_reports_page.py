"""A report is looked at and taken away."""

from __future__ import annotations

import csv
import io
import zipfile

import pytest
from playwright.sync_api import expect

from .conftest import faults_for_assistive_technology, overflows


def test_a_report_is_looked_at_and_taken_away(served, open_page, size):
    page = open_page(size)
    page.goto(served.site + "/reports")
    expect(page.get_by_role("heading", level=1)).to_have_text("The report on Autumn round")
    inside = page.frame_locator("iframe.preview")
    expect(inside.get_by_role("heading", level=1)).to_contain_text("Autumn round")
    expect(inside.locator("body")).to_contain_text("DANGER")
    begins = {"PDF, to print": b"%PDF-", "HTML, to send": b"<!doctype html>", "Repair list as CSV": b"\xef\xbb\xbf"}
    for name, head in begins.items():
        with page.expect_download() as coming:
            page.get_by_role("link", name=name).click()
        assert coming.value.path().read_bytes().lstrip().lower().startswith(head.lower()), name
    with page.expect_download() as coming:
        page.get_by_role("link", name="Repair list as XLSX").click()
    book = zipfile.ZipFile(io.BytesIO(coming.value.path().read_bytes()))
    assert not any(b"<f>" in book.read(n) for n in book.namelist() if n.startswith("xl/worksheets/sheet"))
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)


def test_the_report_has_what_the_survey_had(served, open_page, demo):
    """The repair list from the ledger is the one that the command wrote: dangers first, the same order."""
    page = open_page()
    page.goto(served.site + "/reports")
    with page.expect_download() as coming:
        page.get_by_role("link", name="Repair list as CSV").click()
    ours, theirs = (
        list(csv.DictReader(io.StringIO(path.read_text("utf-8-sig"))))
        for path in (coming.value.path(), demo / "repair-list.csv")
    )
    assert theirs[0]["act now"] == "yes"
    for column in ("reading", "act now", "signal word", "verdict"):
        assert [row[column] for row in ours] == [row[column] for row in theirs]


def test_a_period_is_reported_and_a_foreign_survey_is_not(served, open_page):
    page = open_page()
    page.goto(served.site + "/reports")
    page.get_by_label("From").fill("2026-11-01")
    page.get_by_label("to", exact=True).fill("2026-11-30")
    page.get_by_role("button", name="Look at the period").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("from 2026-11-01 to 2026-11-30")
    api = served.site.replace("/site/", "/api/site/")
    assert page.request.get(f"{api}/reports?survey=00000000-0000-0000-0000-000000000000").status == 404
    assert page.request.get(f"{api}/reports?from=2026-12-01&to=2026-11-01").status == 422


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_reports_have_contrast(served, open_page, scheme):
    page = open_page(color_scheme=scheme)
    page.goto(served.site + "/reports")
    assert not faults_for_assistive_technology(page)
