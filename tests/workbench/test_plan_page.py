"""Repairs are planned, moved by hand, and taken away as papers."""

from __future__ import annotations

import csv
import io
import re

import pytest
from playwright.sync_api import expect

from .conftest import faults_for_assistive_technology, overflows


def planned(page, served, hours: str = "fitter=16, electrician=8, millwright=8") -> None:
    page.goto(served.site + "/plan")
    page.get_by_label("First day").fill("2026-11-30")
    page.get_by_label("Weeks", exact=True).fill("6")
    page.get_by_label("Hours a week of each craft").fill(hours)
    page.get_by_label("Shutdown weeks").fill("3")
    page.get_by_role("button", name="Plan", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("in 6")


def test_a_repair_is_moved_and_the_page_says_what_it_costs(served, open_page, size):
    page = open_page(size)
    planned(page, served)
    week = page.locator(".week", has=page.locator("#w1"))
    line = week.locator("li").first
    name = line.locator("a").inner_text()
    line.get_by_role("combobox").select_option("5")
    line.get_by_role("button").click()
    expect(page.locator(".moves")).to_contain_text(re.compile(r"1 moved by hand: this costs \d+ EUR"))
    assert name in page.locator(".week", has=page.locator("#w5")).inner_text()
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)


def test_work_orders_come_in_the_plants_own_columns(served, open_page):
    page = open_page()
    planned(page, served)
    page.get_by_text("The columns that your own system wants").click()
    page.get_by_label("One line a column").fill('Kurztext = what\nOrt = where\nWerk = "=0100"\nStart = start')
    page.get_by_role("button", name="Keep these columns").click()
    with page.expect_download() as coming:
        page.get_by_role("link", name="Work orders as CSV").click()
    text = coming.value.path().read_text("utf-8-sig")
    head, *rows = list(csv.reader(io.StringIO(text)))
    assert head == ["Kurztext", "Ort", "Werk", "Start"]
    assert rows and all(r[2] == "'=0100" for r in rows)  # no formula
    assert rows[0][3] == "2026-11-30"


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
    placed = page.locator(".weeks section:not(:has(#left-h)) li").count()
    assert data.count(b"BEGIN:VEVENT") == placed > 0
    assert b"DTSTART;VALUE=DATE:20261130" in data


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_plan_has_contrast(served, open_page, scheme):
    page = open_page(color_scheme=scheme, reduced_motion="reduce")
    page.goto(served.site + "/plan")
    assert not faults_for_assistive_technology(page)
