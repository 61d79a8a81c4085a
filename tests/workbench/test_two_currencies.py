"""What is told in two currencies is never added to one sum, on whichever page or paper."""

from __future__ import annotations

import csv
import io
import re
from datetime import UTC, datetime

import pytest
from playwright.sync_api import expect
from sqlalchemy import text

from earwitness.ledger import findings, open_ledger, sites
from earwitness.ledger.currencies import fill_in
from earwitness.work.findings import step_finding
from earwitness.work.programme import currencies_of, programme

from .conftest import DESK, faults_for_assistive_technology, overflows, serving
from .two_currencies import file_two_currencies


@pytest.fixture
def mixed(tmp_path):
    ledger = open_ledger(tmp_path / "site.ledger")
    file_two_currencies(ledger, tmp_path / "survey")
    ledger.close()
    with serving(tmp_path / "site.ledger") as here:
        yield here


def said(page, selector: str = "main") -> str:
    return page.locator(selector).inner_text().replace("\u00a0", " ")


def amounts(words: str) -> dict[str, float]:
    """The first amount of each currency in a sentence."""
    found = re.findall(r"(\d[\d ]*(?:\.\d+)?) (EUR|USD)", words)
    return {currency: float(number.replace(" ", "")) for number, currency in reversed(found)}


def in_the_ledger(here) -> dict[str, float]:
    """What mending would save a year, by currency, straight from the table."""
    with here.house.ledger.reading() as c:
        rows = c.execute(text("SELECT currency, sum(saving_per_year) FROM finding GROUP BY currency")).all()
    return dict(tuple(row) for row in rows)


def test_money_keeps_them_apart(mixed, open_page, size):
    page = open_page(size)
    page.goto(mixed.site + "/money")
    words = said(page)
    heading = said(page, "h1")
    assert "EUR" in heading and "USD" not in heading  # the air leaks, at the price of the energy
    assert re.search(r"other gases cost about [\d ]+ USD a year \([\d ]+–[\d ]+\) beside that", words)
    for currency, sum_ in in_the_ledger(mixed).items():
        there = page.locator("section", has=page.get_by_role("heading", name="Saved so far"))
        expect(there.get_by_role("heading", name=f"In {currency}")).to_be_visible()
        told = there.inner_text().replace("\u00a0", " ")
        row = next(m for m in re.findall(rf"about ([\d ]+) {currency} a year", told) if m.strip() != "0")
        assert float(row.replace(" ", "")) == pytest.approx(sum_, rel=0.06)
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)


def test_findings_and_plan_tell_each_in_its_own(mixed, open_page):
    page = open_page(DESK)
    page.goto(mixed.site + "/findings")
    rows = page.locator("tbody tr").all_inner_texts()
    assert sorted(sum(("USD" in r, 10 * ("EUR" in r))) for r in rows) == [1, 1, 10, 10]
    assert "at no rate of exchange" in said(page)
    page.goto(mixed.site + "/plan")
    assert set(amounts(said(page, "h1"))) == {"EUR", "USD"}
    assert "Told in USD, where the plan is in EUR: 2 of 4 repairs. No sum is made across" in said(page)
    moved = page.locator("li", has_text="Line 3").locator("form")
    moved.get_by_label(re.compile("Week for")).select_option("8")
    moved.get_by_role("button").click()
    status = page.get_by_role("status").filter(has_text="moved by hand")
    expect(status).to_contain_text("USD")
    assert "EUR" not in status.inner_text()


def test_report_and_its_sheet_tell_both_sums(mixed, open_page):
    page = open_page(DESK)
    page.goto(mixed.site + "/reports")
    report = page.frame_locator("iframe.preview").locator("body")
    expect(report).to_contain_text("EUR")
    words = report.inner_text().replace("\u00a0", " ")
    (wastes,) = re.findall(r"It wastes ([^.]*\))", words)
    assert set(amounts(wastes)) == {"EUR", "USD"}
    address = page.get_by_role("link", name="Repair list as CSV").get_attribute("href")
    lines = list(csv.DictReader(io.StringIO(page.request.get(mixed.address + address).body().decode("utf-8-sig"))))
    assert sorted(line["currency"] for line in lines) == ["EUR", "EUR", "USD", "USD"]
    assert sorted(line["repair cost, currency"] for line in lines) == ["", "", "EUR", "USD"]


def test_what_is_verified_is_summed_in_its_own_currency(mixed):
    ledger = mixed.house.ledger
    with ledger.reading() as c:
        site = sites.site_of(c, None)
        (dear,) = [x.finding for x in findings.ranked(c, site.id) if x.point == "Line 3"]
    step_finding(ledger, dear.id, "repaired", who="T", why="", at=datetime(2026, 11, 25, tzinfo=UTC))
    with ledger.reading() as c:
        view = programme(c, site, at=datetime(2026, 11, 30, tzinfo=UTC))
        assert currencies_of(c, site.id) == ["EUR", "USD"]
    told = view.as_json()
    assert told["savings"]["currency"] == "EUR" and told["savings"]["promised"] == 0
    (dollars,) = told["savings_in_other_currencies"]
    assert dollars["currency"] == "USD" and dollars["promised"] == pytest.approx(dear.figures.saving_per_year, rel=1e-3)


def test_an_older_ledger_learns_its_currencies(mixed):
    """As an earlier version left it: no row says in which currency it is."""
    ledger = mixed.house.ledger
    with ledger.writing() as c:
        before = c.execute(text("SELECT id, currency FROM finding_step ORDER BY id")).all()
        c.execute(text("UPDATE finding SET currency = NULL"))
        c.execute(text("UPDATE finding_step SET currency = NULL"))
        fill_in(c)
        assert c.execute(text("SELECT id, currency FROM finding_step ORDER BY id")).all() == before
        assert {row.currency for row in c.execute(text("SELECT currency FROM finding"))} == {"EUR", "USD"}
