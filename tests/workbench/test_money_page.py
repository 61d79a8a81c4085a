"""What the leaks cost, and what if."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest
from playwright.sync_api import expect

from earwitness.ledger import findings, sites
from earwitness.work.findings import step_finding

from .conftest import faults_for_assistive_technology, overflows


def test_what_if_is_asked_and_answered(served, open_page, size):
    page = open_page(size)
    page.goto(served.site + "/money")
    expect(page.get_by_role("heading", level=1)).to_have_text(
        re.compile(r"The air leaks cost .*EUR.*year.*would come back")
    )
    page.get_by_label("Pressure lowered to").fill("6 bar(g)")
    page.get_by_label("Controls changed to").select_option("variable-speed")
    page.get_by_label("Net shut, hours a day").fill("8")
    page.get_by_role("button", name="Ask").click()
    answers = page.locator(".answer")
    expect(answers).to_have_count(3)
    expect(answers.first).to_contain_text(re.compile(r"would save about [\d\u00a0]+\sEUR a year"))
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("pressure", "six bananas", "bananas"),
        ("shut_hours", "all night", "all night"),
        ("shut_hours", "25", "0 to 24 hours a day"),
        ("leakage", "much", "much"),
    ],
)
def test_what_cannot_be_asked_stays_as_it_was_typed(served, open_page, name, text, said):
    page = open_page(complain=False)
    page.goto(served.site + "/money")
    page.get_by_label("Pressure lowered to").fill("6 bar(g)")
    page.get_by_label("Controls changed to").select_option("variable-speed")
    field = page.locator(f"[name='{name}']")
    field.fill(text)
    page.get_by_role("button", name="Ask").click()
    expect(page.locator(".wrong")).to_contain_text(said)
    expect(field).to_have_value(text)
    expect(field).to_be_focused()
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(page.get_by_label("Controls changed to")).to_have_value("variable-speed")
    assert not faults_for_assistive_technology(page)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_money_has_contrast(served, open_page, scheme):
    page = open_page(color_scheme=scheme, reduced_motion="reduce")
    page.goto(served.site + "/money")
    assert not faults_for_assistive_technology(page)


def test_page_and_api_are_one(served, open_page):
    page = open_page()
    page.goto(served.site + "/money")
    told = page.request.get(served.site.replace("/site/", "/api/site/") + "/money").json()
    assert page.get_by_role("heading", level=1).inner_text().split() == told["heading"].split()
    low, value, high = (told["money"]["cost"][k] for k in ("low", "value", "high"))
    assert 0 < low < value < high
    assert 0 < told["money"]["saving"]["value"] <= value
    points = [p["power_w"] for p in told["money"]["curve"]]
    assert points == sorted(points)


def test_the_savings_are_stepped_through_pointed_at_and_zoomed(served, open_page):
    """By keys and by mouse, as every line chart; what is said is what the table says."""
    ledger = served.house.ledger
    with ledger.reading() as connection:
        (site,) = sites.sites(connection)
        mended = [x.finding for x in findings.ranked(connection, site.id) if x.finding.figures.saving_per_year][:2]
    for day, one in zip((24, 27), mended, strict=True):
        step_finding(
            ledger, one.id, "dismissed", who="T", why="it is not ours", at=datetime(2026, 11, day, 12, tzinfo=UTC)
        )
    page = open_page()
    page.goto(served.site + "/money")
    section = page.locator("section", has=page.get_by_role("heading", name="Saved so far"))
    chart, readout = section.locator("svg[data-from]"), section.locator("[data-readout]")
    chart.focus()
    page.keyboard.press("End")
    expect(readout).to_contain_text(re.compile(r"^2026-11-27: verified 0 EUR, found, not yet verified [\d\u00a0]+ EUR"))
    told = section.locator("dd").all_inner_texts()
    spread = re.compile(r"about [\d\s]+EUR\sa\syear\s\([\d\s]+–[\d\s]+\)")
    assert [bool(spread.fullmatch(x)) for x in told] == [False, False, True, False]  # all is still to be had
    last = readout.inner_text()
    section.get_by_text("As a table").click()
    cells = section.locator("tbody tr").last.locator("td").all_inner_texts()
    assert cells[1].split() == re.search(r"verified ([\d\u00a0\s]+) EUR, lost", last)[1].split()
    chart.focus()
    page.keyboard.press("ArrowLeft")
    expect(readout).to_contain_text("2026-11-24")
    page.keyboard.press("+")
    expect(chart).to_have_attribute("data-shown", re.compile("^2026-11-2"))
    page.keyboard.press("0")
    box = chart.bounding_box()
    page.mouse.move(box["x"] + 0.07 * box["width"], box["y"] + 0.5 * box["height"])
    expect(readout).to_contain_text("2026-11-")
    assert readout.inner_text() != last
    assert not faults_for_assistive_technology(page)
