"""A paper round is typed in by keyboard alone, saves itself, and is judged like any other survey."""

from __future__ import annotations

import re

from playwright.sync_api import expect

from .conftest import faults_for_assistive_technology, overflows


def begin(page, served):
    page.goto(served.site + "/surveys")
    page.get_by_text("Type a paper round in").click()
    form = page.locator("details", has_text="Type a paper round in")
    form.get_by_label("Title").fill("Winter round on paper")
    form.get_by_label("Inspector").fill("Test inspector")
    form.get_by_role("button", name="Begin").click()
    page.wait_for_url(re.compile("/sheet/"))


def test_typed_with_the_keyboard_kept_and_judged(served, open_page, size):
    page = open_page(size)
    begin(page, served)
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == "area, row 1"
    keys = page.keyboard
    for text in ("Filling hall", "Line 9 service unit"):
        keys.type(text)
        keys.press("Tab")
    keys.type("leak")  # a list of choices is typed into as well
    for text in ("58", "40", "0.5 m", "air", "7 bananas"):
        keys.press("Tab")
        keys.type(text)
    expect(page.locator("[data-state]")).to_contain_text("bananas")
    page.get_by_label("pressure, row 1").fill("7 bar(g)")
    keys.press("Enter")  # a new row, with area, kind and medium of the one above
    expect(page.get_by_label("area, row 2")).to_have_value("Filling hall")
    expect(page.get_by_label("kind, row 2")).to_have_value("leak")
    keys.press("Control+d")
    expect(page.get_by_label("pressure, row 2")).to_have_value("7 bar(g)")
    page.get_by_label("point, row 2").fill("Line 9 capper")
    page.get_by_label("level [dB], row 2").focus()
    keys.press("Control+'")
    expect(page.get_by_label("level [dB], row 2")).to_have_value("58")
    expect(page.locator("[data-state]")).to_contain_text("is saved")
    page.reload()  # what was saved is there
    expect(page.get_by_label("point, row 2")).to_have_value("Line 9 capper")
    assert not faults_for_assistive_technology(page)
    assert not overflows(page)
    page.get_by_role("button", name="File this round").click()
    page.wait_for_url(re.compile(r"/survey/[\w-]+$"), timeout=60_000)
    expect(page.get_by_role("heading", level=1)).to_contain_text(re.compile(r"2.readings"))
    expect(page.get_by_text("Line 9 capper")).to_be_visible()
