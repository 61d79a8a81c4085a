"""A default is changed with a reason, and what rests on it changes."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from .conftest import faults_for_assistive_technology, overflows


def cost(page, served) -> float:
    told = page.request.get(served.site.replace("/site/", "/api/site/") + "/money").json()
    return float(told["money"]["cost"]["value"])


def test_a_changed_price_changes_the_money(served, open_page, size):
    page = open_page(size)
    before = cost(page, served)
    page.goto(served.site + "/settings")
    page.get_by_label("Price of electricity", exact=True).fill("0.38 EUR/kWh")
    page.get_by_label("Why, or from where, for Price of electricity").fill("bill of October")
    page.get_by_role("button", name="Change Price of electricity").click()
    line = page.locator("#energy-price")
    expect(line).to_contain_text("0.38 EUR/kWh")
    expect(line).to_contain_text("Now: changed here")
    assert cost(page, served) == pytest.approx(2 * before, rel=0.01)  # from 0.19 EUR
    page.get_by_text("What was changed").click()
    expect(page.get_by_text("bill of October")).to_be_visible()
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)


def test_a_value_that_cannot_be_is_refused_and_nothing_changes(served, open_page):
    page = open_page()
    before = cost(page, served)
    api = served.site.replace("/site/", "/api/site/") + "/settings/default"
    for value, why in (("dear", "guessed"), ("0.5 EUR/kWh", " ")):
        body = {"table": "energy", "key": "price", "value": value, "why": why}
        answer = page.request.post(api, data=body)
        assert answer.status == 422
        assert answer.json()["error"]["text"]
    assert cost(page, served) == before


def test_leak_check_and_user_are_kept(served, open_page):
    page = open_page()
    page.goto(served.site + "/settings")
    leak = page.locator("form[action$='/settings/leak']")
    leak.get_by_label("Day").fill("2026-11-20")
    leak.get_by_label("Level, dB").fill("52")
    leak.get_by_label("Pressure").fill("6 bar(g)")
    leak.get_by_label("Distance, m").fill("0.5")
    leak.get_by_label("Flow").fill("60 l/min")
    leak.get_by_role("button").click()
    with page.expect_download() as coming:
        page.get_by_role("link", name="Calibration sheet as CSV").click()
    assert "60 l/min" in coming.value.path().read_text("utf-8-sig")
    page.get_by_label("Day of the check").fill("2026-11-20")
    page.get_by_label("Level shown, dB").fill("47")
    page.get_by_label("Level when new, dB").fill("52")
    page.get_by_role("button", name="Keep the check").click()
    expect(page.get_by_text(re.compile("47.0 dB, 52.0 dB when new: not passed"))).to_be_visible()
    page.get_by_label("Name").fill("Demo planner")
    page.get_by_label("Password").fill("a sentence would do")
    page.get_by_label("Role here").select_option("plan")
    page.get_by_role("button", name="Let in").click()
    expect(page.get_by_text("Demo planner")).to_be_visible()
    page.get_by_role("button", name="Remove Demo planner").click()
    expect(page.get_by_text("There is no user yet.")).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_settings_have_contrast(served, open_page, scheme):
    page = open_page(color_scheme=scheme)
    page.goto(served.site + "/settings")
    assert not faults_for_assistive_technology(page)
