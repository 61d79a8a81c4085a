"""A report is looked at and taken away."""

from __future__ import annotations

import csv
import io
import json
import math
import re
import zipfile

import pytest
from playwright.sync_api import expect

from earwitness.intake import read_survey
from earwitness.ledger import open_ledger, sites
from earwitness.report.blocks import anchor
from earwitness.work import desk_reports
from earwitness.work.economy import PRICE_SIGMA
from earwitness.work.file_survey import file_survey
from earwitness.work.survey import judge_survey

from .conftest import faults_for_assistive_technology, overflows


def take(page, name) -> bytes:
    with page.expect_download() as coming:
        page.get_by_role("link", name=name).click()
    return coming.value.path().read_bytes()


def make(page) -> None:
    page.get_by_role("button", name="Make the HTML and the PDF").click()
    expect(page.get_by_role("link", name="HTML, to send")).to_be_visible(timeout=180_000)


def test_a_report_is_looked_at_made_and_taken_away(served, open_page, size):
    page = open_page(size)
    page.goto(served.site + "/reports")
    expect(page.get_by_role("heading", level=1)).to_have_text("The report on Autumn round")
    inside = page.frame_locator("iframe.preview")
    expect(inside.get_by_role("heading", level=1)).to_contain_text("Autumn round")
    expect(inside.locator("body")).to_contain_text("DANGER")
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)
    make(page)
    begins = {"PDF, to print": b"%PDF-", "HTML, to send": b"<!doctype html>", "Repair list as CSV": b"\xef\xbb\xbf"}
    for name, head in begins.items():
        assert take(page, name).lstrip().lower().startswith(head.lower()), name
    book = zipfile.ZipFile(io.BytesIO(take(page, "Repair list as XLSX")))
    assert not any(b"<f>" in book.read(n) for n in book.namelist() if n.startswith("xl/worksheets/sheet"))
    page.get_by_role("link", name="Look at it with pictures").click()
    expect(inside.locator("audio").first).to_be_visible(timeout=30_000)
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)
    page.reload()  # made once, it stays made; and it is not sent again unasked
    expect(page.get_by_role("link", name="HTML, to send")).to_be_visible()
    expect(inside.get_by_role("heading", level=1)).to_be_visible()
    expect(inside.locator("audio")).to_have_count(0)


def shown_at(report: str) -> dict[str, tuple[int, int]]:
    """Of each reading with a block of its own, how many pictures and sounds stand there."""
    blocks = re.split(r"<article ", report)[1:]
    return {
        re.search(r'id="([^"]+)"', block)[1]: (block.count("<img "), block.count("<audio "))
        for block in (b.split("</article>")[0] for b in blocks)
    }


def test_the_report_is_the_one_that_the_command_writes(served, open_page, demo):
    """The order, the pictures, the sound, the sums and the reconciliation of `earwitness survey`, from the ledger."""
    page = open_page()
    page.goto(served.site + "/reports")
    make(page)
    ours, theirs = (
        list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"))))
        for data in (take(page, "Repair list as CSV"), (demo / "repair-list.csv").read_bytes())
    )
    assert theirs[0]["act now"] == "yes"
    for column in ("reading", "act now", "signal word", "verdict"):
        assert [row[column] for row in ours] == [row[column] for row in theirs]
    told = shown_at((demo / "report.html").read_text("utf-8"))
    assert sum(pictures for pictures, _ in told.values()) > 25 and sum(sounds for _, sounds in told.values()) > 10
    here = shown_at(take(page, "HTML, to send").decode())
    readings = json.loads((demo / "findings.json").read_text("utf-8"))["readings"]
    repeats = {anchor(r) for r in readings if any(p["code"] == "duplicate-row" for p in r["problems"])}
    assert set(told) - set(here) <= repeats  # a row that repeats another is filed once
    assert here == {name: counts for name, counts in told.items() if name not in repeats}
    made = next(served.house.ledger.store.folder.with_suffix(".reports").glob("*/findings.json"))
    mine, their = (json.loads(path.read_text("utf-8")) for path in (made, demo / "findings.json"))
    assert mine["totals"].keys() == their["totals"].keys()
    for name, total in their["totals"].items():
        assert mine["totals"][name]["method"] == total["method"]
        for part in ("value", "low", "high", "mean"):  # flows are kept with four digits
            assert mine["totals"][name][part] == pytest.approx(total[part], rel=2e-3), (name, part)
    found, wanted = mine["reconciliation"], their["reconciliation"]
    assert found.keys() == wanted.keys() and found["adjusted"].keys() == wanted["adjusted"].keys()
    assert found["found"]["mean"] == pytest.approx(wanted["found"]["mean"], rel=2e-3)


def test_other_gases_go_into_the_sums_by_mean_and_draws(tmp_path):
    """Two leaks of carbon dioxide of measured flow, known within 10 %: their cost adds up by draws, with a price that
    both share. By hand: the mean is m·exp(s²/2), s² = (own² of each) + shared²; medians alone would be less."""
    folder = tmp_path / "survey"
    folder.mkdir()
    (folder / "survey.toml").write_text(
        '[survey]\ntitle = "Gas"\nsite = "Testing ground"\ndate = "2026-11-20"\ninspector = "T"\n'
        '[air]\nhours_per_year = 8000\n[[gas]]\nname = "carbon dioxide"\nprice = "0.5 EUR/kg"\n', "utf-8"
    )  # fmt: skip
    head = "reading,point,kind,medium,pressure,flow,confirmed,level_db,background_db\n"
    rows = "G-1,Flange 1,leak,carbon dioxide,10 bar(g),2 kg/h,soap,60,40\nG-2,Flange 2,leak,carbon dioxide,10 bar(g),"
    (folder / "readings.csv").write_text(head + rows + "6 kg/h,soap,62,40\n", "utf-8")
    result = judge_survey(read_survey(folder), exhibits=False)
    ledger = open_ledger(tmp_path / "gas.ledger")
    survey_id = file_survey(ledger, result).survey_id
    with ledger.reading() as connection:
        (site,) = sites.sites(connection)
        about = desk_reports.of_survey(connection, site, survey_id)
    cost = desk_reports.in_words(ledger, site, about).findings["totals"]["cost_per_year"]
    ledger.close()
    own, price = math.log(1.1) / 1.959964, PRICE_SIGMA
    median = [kg * 8000 * 0.5 for kg in (2, 6)]
    mean = sum(median) * math.exp((own**2 + price**2) / 2)
    assert cost["mean"] == pytest.approx(mean, rel=0.005)
    assert cost["mean"] > sum(median)
    ratio = cost["high"] / cost["low"]
    joint = math.sqrt(price**2 + own**2 * sum(m * m for m in median) / sum(median) ** 2)
    assert math.log(ratio) == pytest.approx(2 * 1.96 * joint, rel=0.05)
    assert cost["mean"] == pytest.approx(result.findings["totals"]["cost_per_year"]["mean"], rel=1e-3)


def test_a_period_is_reported_and_a_foreign_survey_is_not(served, open_page):
    page = open_page()
    page.goto(served.site + "/reports")
    page.get_by_label("From").fill("2026-11-01")
    page.get_by_label("to", exact=True).fill("2026-11-30")
    page.get_by_role("button", name="Look at the period").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("from 2026-11-01 to 2026-11-30")
    make(page)
    assert b"<audio " in take(page, "HTML, to send")
    api = served.site.replace("/site/", "/api/site/")
    assert page.request.get(f"{api}/reports/period/2026-11-02/2026-11-30/whole.pdf").status == 409  # not made
    assert page.request.get(f"{api}/reports?survey=00000000-0000-0000-0000-000000000000").status == 404
    assert page.request.get(f"{api}/reports?from=2026-12-01&to=2026-11-01").status == 422


def test_a_period_that_cannot_be_leads_back_to_the_choice(served, open_page):
    page = open_page(complain=False)
    page.goto(f"{served.site}/reports?from=2026-12-01&to=2026-01-01")
    expect(page.locator(".refused")).to_contain_text("The period ends before it begins")
    assert "404" not in page.title()
    page.get_by_role("link", name="To the page with the form").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("The report on Autumn round")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_reports_have_contrast(served, open_page, scheme):
    page = open_page(color_scheme=scheme)
    page.goto(served.site + "/reports")
    assert not faults_for_assistive_technology(page)
