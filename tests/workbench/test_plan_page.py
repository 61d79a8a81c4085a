"""Repairs are planned, moved by hand, and taken away as papers."""

from __future__ import annotations

import csv
import io
import re
import threading
from datetime import date
from uuid import UUID

import icalendar
import pytest
from playwright.sync_api import expect

from earwitness.ledger import findings, sites
from earwitness.work import work_orders
from earwitness.work.desk_settings import keep
from earwitness.work.plan import plan

from .conftest import faults_for_assistive_technology, overflows

FIRST = "2099-01-05"  # a Monday that is still to come


def planned(page, served, **hours: str) -> None:
    if "/plan" not in page.url:
        page.goto(served.site + "/plan")
    page.get_by_label("First day").fill(FIRST)
    page.get_by_label("Weeks", exact=True).fill("6")
    for craft, text in hours.items():
        page.get_by_label(f"Hours a week: {craft}", exact=True).fill(text)
    page.get_by_label("Shutdown weeks").fill("3")
    page.get_by_role("button", name="Plan", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("in 6")


def test_a_repair_is_moved_and_the_page_says_what_it_costs(served, open_page, size):
    page = open_page(size)
    planned(page, served)
    week = page.locator(".week", has=page.locator("#w1"))
    line = week.locator("li").filter(has_text="avoids about").first
    name = line.locator("a").inner_text()
    line.get_by_role("combobox").select_option("5")
    line.get_by_role("button").click()
    expect(page.locator(".moves")).to_contain_text(re.compile(r"1 moved by hand: this costs about \d+\s*EUR \(\d"))
    assert name in page.locator(".week", has=page.locator("#w5")).inner_text()
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)


def test_work_orders_come_in_the_plants_own_columns(served, open_page):
    page = open_page()
    planned(page, served)
    page.get_by_text("The columns that your own system wants").click()
    page.get_by_label("One line a column").fill('Kurztext = what\nOrt = where\nWerk = "=0100"\nStart = start')
    page.get_by_role("button", name="Keep these columns").click()
    expect(page.get_by_role("status").filter(has_text="The columns are kept.")).to_be_attached()
    with page.expect_download() as coming:
        page.get_by_role("link", name="Work orders as CSV").click()
    text = coming.value.path().read_text("utf-8-sig")
    head, *rows = list(csv.reader(io.StringIO(text)))
    assert head == ["Kurztext", "Ort", "Werk", "Start"]
    assert rows and all(r[2] == "'=0100" for r in rows)  # no formula
    assert rows[0][3] == FIRST


def test_cards_and_calendar_are_taken_away(served, open_page):
    page = open_page()
    planned(page, served)
    with page.expect_download() as coming:
        page.get_by_role("link", name="Cards as PDF").click()
    assert coming.value.path().read_bytes().startswith(b"%PDF-")
    with page.expect_download() as coming:
        page.get_by_role("link", name="Calendar file").click()
    data = coming.value.path().read_bytes()
    lines = data.split(b"\r\n")
    assert lines[0] == b"BEGIN:VCALENDAR" and lines[-2:] == [b"END:VCALENDAR", b""]
    assert all(len(line) <= 75 for line in lines)  # RFC 5545, section 3.1
    placed = page.locator(".week:not(:has(#left-h)) li").count()
    assert data.count(b"BEGIN:VEVENT") == placed > 0
    events = icalendar.Calendar.from_ical(data).walk("VEVENT")
    assert len(events) == placed and not any(e.errors for e in events)
    assert min(e["DTSTART"].dt for e in events) == date.fromisoformat(FIRST)
    assert {e["DTSTART"].dt.weekday() for e in events} == {0} and {e.duration.days for e in events} == {5}


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_plan_has_contrast(served, open_page, scheme):
    page = open_page(color_scheme=scheme, reduced_motion="reduce")
    page.goto(served.site + "/plan")
    assert not faults_for_assistive_technology(page)


def test_each_craft_that_is_needed_has_hours_and_their_source(served, open_page):
    page = open_page()
    page.goto(served.site + "/plan")
    told = page.request.get(served.site.replace("/site/", "/api/site/") + "/plan").json()
    needed = {
        j["work"].rpartition(" ")[0].rpartition(" ")[0] for w in told["weeks"] for _, js in w["bundles"] for j in js
    }
    crafts = {c["craft"]: c for c in told["crafts"]}
    assert needed <= set(crafts) and {"millwright", "fitter"} <= set(crafts)
    assert all(c["hours"] == 16 and "16 h a week are assumed" in c["whence"] for c in crafts.values())
    assert "--" not in page.locator("main").inner_text()  # no command line's language
    planned(page, served, millwright="4")
    expect(page.get_by_label("Hours a week: millwright")).to_have_value("4")
    expect(page.locator("label", has=page.get_by_label("Hours a week: millwright"))).to_contain_text("Set here")


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("budget", "5000 USD", "an amount in EUR"),
        ("budget", "much", "not an amount with its currency"),
        ("weeks", "99", "1 to 52"),
        ("weeks", "many", "a whole number"),
        ("shutdowns", "3, 12", "weeks 1 to 8"),
        ("hours.fitter", "plenty", "a number"),
        ("hours.fitter", "2000", "from 0 to 1000"),
    ],
)
def test_what_cannot_be_planned_stays_as_it_was_typed(served, open_page, name, text, said):
    page = open_page(complain=False)
    page.goto(served.site + "/plan")
    field = page.locator(f"[name='{name}']")
    page.get_by_label("Shutdown weeks, if any").fill("2")
    field.fill(text)
    page.get_by_role("button", name="Plan", exact=True).click()
    expect(page.locator(".wrong")).to_contain_text(said)
    expect(field).to_be_focused()
    expect(field).to_have_value(text)
    expect(field).to_have_attribute("aria-invalid", "true")
    if name != "shutdowns":
        expect(page.get_by_label("Shutdown weeks, if any")).to_have_value("2")
    assert not faults_for_assistive_technology(page)
    field.fill({"budget": "5000", "weeks": "6"}.get(name, "4"))
    page.get_by_role("button", name="Plan", exact=True).click()
    expect(page.locator(".wrong")).to_have_count(0)
    page.wait_for_load_state()
    expect(page.locator("[aria-invalid]")).to_have_count(0)


def test_columns_that_cannot_be_stay_in_the_form(served, open_page):
    page = open_page(complain=False)
    page.goto(served.site + "/plan")
    page.get_by_text("The columns that your own system wants").click()
    field = page.get_by_label("One line a column")
    field.fill("Kurztext = what\nOrt = nowhere")
    page.get_by_role("button", name="Keep these columns").click()
    expect(page.locator(".wrong")).to_contain_text("Ort = nowhere")
    expect(field).to_have_value("Kurztext = what\nOrt = nowhere")
    expect(field).to_be_focused()


def test_a_scheduled_repair_is_due_at_the_end_of_its_week(served, open_page):
    page = open_page()
    planned(page, served)
    told = page.request.get(served.site.replace("/site/", "/api/site/") + "/plan").json()
    week, job = next((w["week"], js[0]) for w in told["weeks"] for _, js in w["bundles"])
    assert week == 1
    page.get_by_role("button", name="Schedule them").click()
    expect(page.locator("#said")).to_contain_text("scheduled, each by the end of its week")
    with served.house.ledger.reading() as connection:
        last = findings.history(connection, UUID(job["finding_id"]))[-1]
    assert last.state == "scheduled"
    assert last.data["due"].startswith("2099-01-11T23:59:00+01:00")  # the Sunday after it, where the site is


def test_a_plan_that_became_another_one_meanwhile_is_not_scheduled(served, open_page):
    page, elsewhere = open_page(complain=False), open_page()
    for one in (page, elsewhere):
        planned(one, served)
    elsewhere.locator(".move select").first.select_option("0")
    elsewhere.locator(".move button").first.click()
    expect(elsewhere.locator("#said")).to_contain_text("Moved")
    page.get_by_role("button", name="Schedule them").click()
    expect(page.locator(".wrong, .refused").last).to_contain_text("Meanwhile the plan is another one.")
    with served.house.ledger.reading() as connection:
        (site,) = sites.sites(connection)
        assert "scheduled" not in {x.finding.state for x in findings.ranked(connection, site.id)}
    page.reload()
    page.get_by_role("button", name="Schedule them").click()
    expect(page.locator("#said")).to_contain_text("scheduled, each by the end of its week")


def test_what_a_year_costs_can_be_said_where_no_reading_does(served, open_page):
    page = open_page()
    planned(page, served)
    field = page.get_by_label("A year of one costs: bearing")
    before = page.get_by_role("heading", level=1).inner_text()
    expect(page.get_by_text("Without an amount of money of its own")).to_be_visible()
    field.fill("9000 EUR")
    page.get_by_role("button", name="Plan", exact=True).click()
    expect(page.get_by_role("heading", level=1)).not_to_have_text(before)
    expect(field).to_have_value("9000 EUR")
    bearing = page.locator(".week li").filter(has_text="Bearing").first
    times_probability = re.compile(r"avoids (about )?[89]\s\d{3}\sEUR( \(0–9\s000\))? a year")
    expect(bearing).to_contain_text(times_probability)


def test_a_plan_that_has_begun_and_a_budget_that_no_longer_fits_are_said(served, open_page):
    with served.house.ledger.reading() as connection:
        (site,) = sites.sites(connection)
    kept = {"first": "2026-01-05", "weeks": 4, "hours": {"fitter": 8}, "budget": "500 USD"}
    keep(served.house.ledger, site.id, "plan", kept)
    page = open_page()
    page.goto(served.site + "/plan")
    expect(page.locator(".refused").first).to_contain_text("began on 5\u00a0January\u00a02026: 4 weeks of it are over")
    expect(page.locator(".refused").nth(1)).to_contain_text("told in EUR")
    expect(page.get_by_label("Budget for parts and help")).to_have_value("500 USD")
    page.get_by_label("Budget for parts and help").fill("500 EUR")
    planned(page, served)
    expect(page.locator(".refused")).to_have_count(0)


def test_a_plan_that_takes_long_says_so_and_then_stands_there(served, open_page, size, monkeypatch):
    """Nobody waits before an empty page, and the other pages answer in the meantime."""
    go_on = threading.Event()

    def slow(*given, **named):
        named["told"].repairs = 4711
        assert go_on.wait(60)
        return plan(*given, **named)

    monkeypatch.setattr("earwitness.work.plan_maker.plan", slow)
    page = open_page(size)
    page.goto(served.site + "/plan")
    expect(page.get_by_role("heading", level=1)).to_have_text("The plan is being made")
    expect(page.locator("progress")).to_be_visible()
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)
    other = open_page(size)
    other.goto(served.site + "/findings")
    expect(other.get_by_role("heading", level=1)).to_contain_text("to mend")
    page.reload()
    expect(page.locator(".sub")).to_contain_text("4711")
    go_on.set()
    expect(page.get_by_role("heading", level=1)).to_contain_text("in 8", timeout=20_000)
    expect(page.locator(".week").first).to_be_visible()


def test_what_a_plan_fails_for_is_said_and_it_can_be_asked_for_again(served, open_page, monkeypatch):
    def broken(*given, **named):
        raise ZeroDivisionError

    with monkeypatch.context() as patched:
        patched.setattr("earwitness.work.plan_maker.plan", broken)
        page = open_page(complain=False)
        page.goto(served.site + "/plan")
        expect(page.locator(".refused")).to_contain_text("The plan could not be made")
    page.reload()
    expect(page.get_by_role("heading", level=1)).to_contain_text("in 8")


def test_a_repair_carries_its_signal_word_onto_the_page_and_the_card(served, open_page, monkeypatch):
    """Whoever mends it has nothing but the card: word, reason and first actions stand on it."""
    cards, told = {}, work_orders.before_work

    def noted(heard):
        return cards.setdefault(heard["verdict"], told(heard))

    monkeypatch.setattr("earwitness.work.work_orders.before_work", noted)
    page = open_page()
    page.goto(served.site + "/plan")
    line = page.locator(".week li", has_text="Corona discharge")
    expect(line.locator(".word")).to_have_text("WARNING")
    assert page.request.get(served.site + "/plan/cards.pdf").body().startswith(b"%PDF")
    corona = cards["corona"]
    assert corona["word"] == "WARNING" and "flash over" in corona["danger"]
    assert any("authorised electrical person" in action for action in corona["first"])
