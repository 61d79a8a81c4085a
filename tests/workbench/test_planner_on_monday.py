"""Plan and Money as a planner finds them on a Monday: with nothing, one repair, or hundreds at two sites."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import expect

from earwitness.ledger import Ledger, open_ledger
from earwitness.plant.tag import tag_of

from .conftest import Served, faults_for_assistive_technology, overflows, serving
from .planner_ledgers import BARE, file_leaks

SIZES = ({"width": 1400, "height": 900}, {"width": 390, "height": 844})
MANY = 180, 120


def _many(ledger: Ledger, where: Path) -> None:
    file_leaks(ledger, where / "one", MANY[0])
    file_leaks(
        ledger, where / "other", MANY[1], site="Tanager bottling, south plant", zone="Asia/Tokyo", price="0.12 USD/kWh"
    )


LEDGERS: dict[str, Callable[[Ledger, Path], None]] = {
    "nothing to mend": lambda ledger, where: file_leaks(ledger, where, 0),
    "one without money": lambda ledger, where: file_leaks(ledger, where, 1, toml=BARE),
    "one": lambda ledger, where: file_leaks(ledger, where, 1),
    "many": _many,
}


@pytest.fixture(params=LEDGERS)
def planner(request, tmp_path):
    ledger = open_ledger(tmp_path / "site.ledger")
    LEDGERS[request.param](ledger, tmp_path / "surveys")
    ledger.close()
    with serving(tmp_path / "site.ledger") as here:
        yield request.param, here


def sites_of(here: Served) -> list[str]:
    return [f"{here.address}/site/{tag_of(s.id)}" for s in here.house.sites(here.house.at_this_machine("planner"))]


def test_plan_and_money_can_be_read(planner, open_page):
    name, here = planner
    for site in sites_of(here):
        for size in SIZES:
            page = open_page(size)
            for at in ("plan", "money"):
                came = page.goto(f"{site}/{at}")
                assert came is not None and len(came.body()) < 1_000_000
                text = page.locator("main").inner_text()
                assert not re.search(r"None|\bnan\b|\binf\b|\d[eE][+-]\d|\{\}|--[a-z]", text), (name, at)
                assert not re.search(r"\d{5,}", text), (name, at)  # thousands stand apart
                assert not overflows(page), (name, at, size)
                assert not faults_for_assistive_technology(page)


def test_each_plan_counts_its_own_repairs_in_its_own_money(planner, open_page):
    name, here = planner
    page = open_page()
    said = []
    for site in sites_of(here):
        page.goto(site + "/plan")
        said.append(page.get_by_role("heading", level=1).inner_text().replace("\u00a0", " "))
        page.goto(site + "/money")
        said.append(page.get_by_role("heading", level=1).inner_text().replace("\u00a0", " "))
    if name == "many":
        assert f"of {MANY[0]} repairs" in said[0] and f"of {MANY[1]} repairs" in said[2]
        assert re.search(r"EUR \(\d.*\) by then", said[0]) and "EUR a year" in said[1]
        assert re.search(r"USD \(\d.*\) by then", said[2]) and "USD a year" in said[3]
    elif name == "one":
        assert "1 of 1 repair in 8 weeks; they avoid" in said[0] and "EUR" in said[1]
    elif name == "one without money":
        assert said == [
            "1 of 1 repair in 8 weeks",
            "The open leaks have no cost yet: a price or the compressors are not stated",
        ]
    else:
        assert said == ["Nothing is waiting to be mended", "No leak is open: nothing is being lost that is known"]


def test_of_many_repairs_the_first_week_is_open_and_a_moved_one_is_shown(planner, open_page):
    name, here = planner
    if name != "many":
        assert len(sites_of(here)) == 1
        return
    page = open_page()
    page.goto(sites_of(here)[1] + "/plan")
    assert page.locator(".week[open]").count() == 1
    expect(page.locator(".week", has=page.locator("#w1")).locator("li").first).to_be_visible()
    line = page.locator(".week[open] li").first
    moved = line.get_attribute("id")
    line.get_by_role("combobox").select_option("8")
    line.get_by_role("button").click()
    expect(page.locator(".moves")).to_contain_text("1 moved by hand")
    expect(page.locator(f"#{moved}")).to_be_visible()
    crafts = page.locator("fieldset label b").all_inner_texts()
    assert len(crafts) == len({c.casefold() for c in crafts}) == 5  # "fitter" and "Fitter" are one craft


def test_an_empty_ledger_leads_to_the_first_survey(served_empty, open_page):
    page = open_page()
    page.goto(served_empty.address)
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    assert page.locator("nav a").count() == 0  # no page of a site that is not there
