"""What the leaks cost, and what if."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

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
    expect(answers.first).to_contain_text(re.compile(r"would save about [\d\u00a0]+ EUR a year"))
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
