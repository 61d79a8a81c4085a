"""A default is changed with a reason, and what rests on it changes."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from earwitness.ledger import findings, readings, sites
from earwitness.work.tags import qr_svg

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
    expect(page.get_by_text("Demo planner", exact=True)).to_be_visible()
    page.get_by_role("button", name="Remove Demo planner").click()
    expect(page.get_by_text("There is no user yet.")).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_settings_have_contrast(served, open_page, scheme):
    page = open_page(color_scheme=scheme)
    page.goto(served.site + "/settings")
    assert not faults_for_assistive_technology(page)


@pytest.mark.parametrize(
    ("subject", "name", "text", "said"),
    [
        ("#energy-price", "value", "dear", "dear"),
        ("#air-average_load", "value", "700", "700"),
        ("#alarms-watch_over_db", "value", "lots", "a number above 0 and below 100"),
        ("#workbench-address", "value", "my laptop", "https://ears.example.plant:8765 would do"),
        ("#energy-price", "why", "   ", "Why, or from where?"),
    ],
)
def test_what_cannot_be_changed_stays_as_it_was_typed(served, open_page, subject, name, text, said):
    page = open_page(complain=False)
    page.goto(served.site + "/settings")
    line = page.locator(subject)
    line.locator("[name=why]").fill("the bill of October")
    field = line.locator(f"[name={name}]")
    field.fill(text)
    line.get_by_role("button").click()
    expect(line.locator(".wrong")).to_contain_text(said)
    expect(field).to_have_value(text)
    expect(field).to_be_focused()
    if name != "why":
        expect(line.locator("[name=why]")).to_have_value("the bill of October")
    assert page.locator(".wrong").count() == 1
    assert not faults_for_assistive_technology(page)


def test_a_wrong_leak_check_or_user_stays_as_it_was_typed(served, open_page):
    page = open_page(complain=False)
    page.goto(served.site + "/settings")
    leak = {"day": "2026-11-20", "level_db": "52", "pressure": "6 bar(g)", "distance_m": "0.5", "flow": "60 l/min"}
    for form, fill, wrong, said in (
        ("leak", leak | {"pressure": "6 apples"}, "pressure", "apples"),
        ("leak", leak | {"level_db": "loud"}, "level_db", "a number"),
        ("leak", leak | {"day": "2131-11-20"}, "day", "still to come"),
        ("check", {"day": "2131-11-20", "level_db": "47", "expected_db": "50"}, "day", "still to come"),
        ("check", {"day": "2026-11-20", "level_db": "47", "expected_db": "as new"}, "expected_db", "a number"),
    ):  # fmt: skip
        there = page.locator(f"form[action$='/settings/{form}']")
        for name, text in fill.items():
            there.locator(f"[name={name}]").fill(text)
        there.get_by_role("button").click()
        expect(there.locator(".wrong")).to_contain_text(said)
        expect(there.locator(f"[name={wrong}]")).to_be_focused()
        assert {n: there.locator(f"[name={n}]").input_value() for n in fill} == fill


def test_what_was_typed_is_still_there_when_the_server_does_not_answer(served, open_page):
    page = open_page(complain=False)
    page.goto(served.site + "/settings")
    line = page.locator("#energy-price")
    line.locator("[name=value]").fill("0.42 EUR/kWh")
    line.locator("[name=why]").fill("bill")
    page.context.set_offline(True)
    line.get_by_role("button").click()
    expect(line.locator(".wrong")).to_contain_text("nothing was saved")
    expect(line.locator("[name=value]")).to_have_value("0.42 EUR/kWh")
    page.context.set_offline(False)
    line.get_by_role("button").click()
    expect(line).to_contain_text("Now: changed here")


def test_the_codes_of_tags_lead_to_the_address_that_is_set(served, open_page):
    page = open_page()
    with served.house.ledger.reading() as connection:
        (site,) = sites.sites(connection)
        of = next(x for x in findings.ranked(connection, site.id) if x.tag)
    address = f"{served.site}/finding/{of.finding.id}"
    bare = page.request.get(address + "/qr").body()
    assert bare == qr_svg(of.tag).encode()  # opened as localhost, which is the phone itself to a phone
    page.goto(served.site + "/settings")
    line = page.locator("#workbench-address")
    expect(line).to_contain_text("the codes hold the tag alone")
    line.locator("[name=value]").fill("https://ears.example:8765/")
    line.locator("[name=why]").fill("name in the plant's network")
    line.get_by_role("button").click()
    expect(line).to_contain_text("Now: changed here")
    assert page.request.get(address + "/qr").body() == qr_svg(f"https://ears.example:8765/tag/{of.tag}").encode()
    assert (
        page.request.get(address + "/qr?from=https://foreign.example").body()
        == page.request.get(address + "/qr").body()
    )
    assert page.request.get(address + "/card").body().startswith(b"%PDF")


def test_a_changed_setting_reaches_the_judging_of_the_next_survey(served, open_page, tmp_path):
    page = open_page()
    page.goto(served.site + "/settings")
    line = page.locator("#air-hours_per_year")
    line.locator("[name=value]").fill("4321")
    line.locator("[name=why]").fill("hour meters")
    line.get_by_role("button").click()
    expect(line).to_contain_text("Now: changed here")
    api = served.address + "/api"
    up = page.request.post(f"{api}/upload", data={}).json()["id"]
    toml = '[survey]\ntitle = "Next"\nsite = "Quillmark oat works"\ndate = "2026-11-24"\ninspector = "A. Name"\n'
    sheet = "reading,point,kind,pressure,opening_mm,confirmed\nN-1,Line 9 press,leak,6 bar(g),1,soap\n"
    page.request.put(f"{api}/upload/{up}/file?path=survey.toml", data=toml)
    page.request.put(f"{api}/upload/{up}/file?path=readings.csv", data=sheet)
    assert page.request.post(f"{api}/upload/{up}/judge", data={}).ok
    filed = None
    for _ in range(600):
        with served.house.ledger.reading() as connection:
            (site,) = sites.sites(connection)
            if filed := readings.readings_named(connection, site.id, "N-1"):
                break
        page.wait_for_timeout(100)
    assert filed
    told = page.request.get(f"{served.site.replace('/site/', '/api/site/')}/reading/{filed[0].id}").json()
    hours = next(c for c in told["conditions"] if c["column"] == "hours_per_year")
    assert (hours["given"], hours["otherwise"]) == ("", "4321 h")
    with served.house.ledger.reading() as connection:
        judged = readings.current_judgements(connection, [filed[0].id])[filed[0].id]
    assert judged.result["conditions"]["hours_per_year"]["from"] == "site settings"
