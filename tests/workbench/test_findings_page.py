"""A finding is found by rank, answered on a phone, stepped to repaired, shown verified, and printed as a card."""

from __future__ import annotations

import json
import re
from contextlib import nullcontext
from datetime import UTC, datetime

import pytest
import typst
from playwright.sync_api import expect

from earwitness.ledger import findings, schema, sites
from earwitness.ledger.rows import change
from earwitness.plant.finding import Step
from earwitness.work import desk_card
from earwitness.work.desk_card import card_pdf
from earwitness.work.desk_findings import story_of

from .conftest import faults_for_assistive_technology, overflows


def listed(served, urgent: bool = False):
    with served.house.ledger.reading() as connection:
        (site,) = sites.sites(connection)
        every = findings.ranked(connection, site.id)
    return next(x for x in every if x.finding.figures.urgent == urgent and x.tag)


def test_the_list_leads_to_a_finding(served, open_page, size):
    page = open_page(size)
    page.goto(served.site + "/findings")
    expect(page.get_by_role("heading", level=1)).to_contain_text("to mend")
    assert page.get_by_role("heading", level=2).first.inner_text() == "Act now"
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)
    page.locator("table").last.get_by_role("link").first.click()
    page.wait_for_url(re.compile("/finding/"))
    expect(page.get_by_role("heading", level=1)).to_contain_text("Open for")
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)


def test_no_filter_hides_a_danger(served, open_page):
    page = open_page()
    page.goto(served.site + "/findings?show=closed")
    expect(page.locator(".urgent tbody tr").first).to_be_visible()


def test_a_fitter_answers_and_the_repair_waits_for_a_reading(served, open_page, size):
    of = listed(served).finding
    page = open_page(size)
    page.goto(f"{served.site}/finding/{of.id}")
    for name in ("Found", "Not found", "It was something else"):
        box = page.get_by_role("button", name=name, exact=True).bounding_box()
        assert box is not None and box["height"] >= 60 and box["width"] >= 100
    page.get_by_label("What it was").fill("worn seal")
    page.get_by_label("Found, and fixed on the spot").check()
    page.get_by_label("Level before, dB").fill("60")
    page.get_by_label("Level after, dB").fill("36")
    page.get_by_role("button", name="Found", exact=True).click()
    expect(page.get_by_role("heading", name="What fitters answered")).to_be_visible()
    expect(page.get_by_text("worn seal; fixed on the spot; 60 dB before, 36 dB after")).to_be_visible()
    expect(page.get_by_role("heading", level=1)).to_contain_text("not yet verified")
    expect(page.locator(".step-repaired")).to_have_count(1)
    with served.house.ledger.reading() as connection:
        assert findings.finding(connection, of.id).state == "repaired"


def test_a_wrong_level_is_told_by_the_label_of_its_field(served, open_page):
    page = open_page(complain=False)
    page.goto(f"{served.site}/finding/{listed(served).finding.id}")
    page.get_by_label("Level before, dB").fill("sixty")
    page.get_by_role("button", name="Found", exact=True).click()
    expect(page.locator(".wrong")).to_have_text("“Level before, dB” cannot be 'sixty'; a number would do.")
    page.get_by_label("Why, or what was done").fill("")
    page.get_by_role("button", name="Dismiss").click()
    expect(page.locator(".wrong").last).to_contain_text("“Why, or what was done” cannot be empty")


@pytest.mark.parametrize("scripts", [True, False])
def test_enter_in_a_field_answers_nothing_and_takes_no_step(served, open_page, scripts):
    of = listed(served).finding
    page = open_page(java_script_enabled=scripts)
    page.goto(f"{served.site}/finding/{of.id}")
    page.get_by_label("What it was").press_sequentially("a valve that hisses\n")
    page.get_by_label("Level after, dB").press_sequentially("40\n")
    page.get_by_label("Why, or what was done").press_sequentially("new gasket\n")
    page.wait_for_timeout(300)
    expect(page.get_by_label("What it was")).to_have_value("a valve that hisses")
    with served.house.ledger.reading() as connection:
        assert findings.finding(connection, of.id).state == "open"
        assert not story_of(connection, of, datetime.now(UTC)).answers


def test_who_comes_second_is_told_where_it_stands_meanwhile(served, open_page):
    of = listed(served).finding
    first, second = open_page(), open_page(complain=False)
    for page in (first, second):
        page.goto(f"{served.site}/finding/{of.id}")
    first.get_by_role("button", name="Repaired").click()
    expect(first.locator("#said")).to_contain_text("Repaired; a later reading verifies it.")
    second.get_by_label("Why, or what was done").fill("a drain, it is meant to blow")
    second.get_by_role("button", name="Dismiss").click()
    expect(second.locator(".wrong")).to_contain_text("Meanwhile this is repaired (")
    expect(second.get_by_label("Why, or what was done")).to_have_value("a drain, it is meant to blow")
    with served.house.ledger.reading() as connection:
        assert findings.finding(connection, of.id).state == "repaired"


def test_what_was_not_found_and_is_ticked_as_fixed_is_refused_in_the_words_of_the_page(served, open_page):
    page = open_page(complain=False)
    page.goto(f"{served.site}/finding/{listed(served).finding.id}")
    page.get_by_label("Found, and fixed on the spot").check()
    page.get_by_role("button", name="Not found").click()
    expect(page.locator(".wrong")).to_have_text(
        "What was not found cannot be fixed: take the tick away, or answer “Found”."
    )
    expect(page.get_by_label("Found, and fixed on the spot")).to_be_focused()


def test_without_scripts_too_it_is_told_by_the_label(served, open_page):
    page = open_page(complain=False, java_script_enabled=False)
    page.goto(f"{served.site}/finding/{listed(served).finding.id}")
    page.get_by_label("Level before, dB").fill("sixty")
    page.get_by_role("button", name="Found", exact=True).click()
    expect(page.locator(".refused")).to_have_text("“Level before, dB” cannot be 'sixty'; a number would do.")
    page.goto(f"{served.site}/plan")
    page.get_by_label("Hours a week: fitter").fill("many")
    page.get_by_role("button", name="Plan", exact=True).click()
    expect(page.locator(".refused")).to_have_text("“Hours a week: fitter” cannot be 'many'; a number would do.")


def test_something_else_needs_what_it_was(served, open_page):
    of = listed(served).finding
    page = open_page()
    answer = {"answer": "other"}
    page.goto(f"{served.site}/finding/{of.id}")
    api = f"{served.site.replace('/site', '/api/site')}/finding/{of.id}"
    refused = page.request.post(f"{api}/answer", data=answer)
    assert refused.status == 422
    assert refused.json()["error"]["code"] == "what-needed"
    taken = page.request.post(f"{api}/answer", data=answer | {"what": "a drain that blows"})
    assert taken.ok
    (kept,) = page.request.get(api).json()["story"]["answers"]
    assert kept["found"] is False
    assert kept["what_it_was"] == "a drain that blows"


def test_steps_by_hand_and_a_verification_are_shown(served, open_page):
    of = listed(served).finding
    page = open_page()
    page.goto(f"{served.site}/finding/{of.id}")
    page.get_by_label("Why, or what was done").fill("new gasket")
    page.get_by_role("button", name="Repaired").click()
    expect(page.get_by_text("new gasket")).to_be_visible()
    expect(page.get_by_text("Not yet verified.")).to_be_visible()
    with served.house.ledger.writing() as connection:
        why = "No longer heard, and the level fell from 60 to 36 dB."
        findings.take_step(connection, of.id, Step("verified", datetime.now(UTC), "reading A-9", why, of.opened_by))
    page.reload()
    expect(page.get_by_text("Verified:")).to_be_visible()
    opened = page.locator(".step-open .small").inner_text()
    assert "20\N{NO-BREAK SPACE}November\N{NO-BREAK SPACE}2026, Demo" in opened, "no hour where the sheet states none"
    assert page.locator(".history li b").all_inner_texts() == ["Open", "Repaired", "Verified"]


def test_a_dismissal_needs_a_reason(served, open_page):
    of = listed(served).finding
    page = open_page()
    api = f"{served.site.replace('/site', '/api/site')}/finding/{of.id}"
    assert page.request.post(f"{api}/step", data={"state": "dismissed"}).status == 422
    assert page.request.post(f"{api}/step", data={"state": "dismissed", "why": "steam is let off there"}).ok


def test_who_was_told_of_a_danger_is_kept_there(served, open_page):
    of = listed(served, urgent=True).finding
    page = open_page()
    page.goto(f"{served.site}/finding/{of.id}")
    expect(page.locator(".panel").first).to_have_text("DANGER")
    page.get_by_label("Who was told").fill("safety officer")
    page.get_by_role("button", name="Note it").click()
    expect(page.get_by_text("Told: safety officer")).to_be_visible()


def test_what_was_told_or_answered_by_mistake_is_taken_back(served, open_page, size):
    of = listed(served, urgent=True).finding
    page = open_page(size)
    page.goto(f"{served.site}/finding/{of.id}")
    page.get_by_label("Who was told").fill("safety officer")
    page.get_by_role("button", name="Note it").click()
    expect(page.get_by_text("Told: safety officer")).to_be_visible()
    page.get_by_role("button", name="Take back that safety officer was told").click()
    expect(page.get_by_text("Nobody is noted as told.")).to_be_visible()
    expect(page.locator("s")).to_contain_text("Told: safety officer")
    page.get_by_label("Found, and fixed on the spot").check()
    page.get_by_role("button", name="Found", exact=True).click()
    expect(page.locator(".step-repaired")).to_have_count(1)
    page.get_by_role("button", name="Take back the answer of").click()
    expect(page.get_by_text("it counts no more.").last).to_be_visible()
    expect(page.locator(".step-reopened")).to_have_count(1)
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)


def test_what_a_sheet_notes_as_told_cannot_be_taken_back_there(served, open_page):
    with served.house.ledger.writing() as connection:
        (site,) = sites.sites(connection)
        of = next(x for x in findings.ranked(connection, site.id) if x.finding.figures.urgent).finding
        noted = {**of.repair, "reported_to": "shift lead", "reported_at": "2026-11-20T09:40:00+01:00"}
        change(connection, schema.finding, of.id, repair=noted)
    page = open_page()
    page.goto(f"{served.site}/finding/{of.id}")
    expect(page.get_by_text("Told: shift lead")).to_be_visible()
    expect(page.get_by_role("button", name="Take back")).to_have_count(0)


def test_the_card_is_a_pdf_that_leads_back_here(served, open_page):
    of = listed(served)
    page = open_page()
    page.goto(f"{served.site}/finding/{of.finding.id}")
    link = page.get_by_role("link", name="Print the card").get_attribute("href") or ""
    card = page.request.get(link if link.startswith("http") else served.address + link)
    assert card.headers["content-type"] == "application/pdf"
    assert card.body().startswith(b"%PDF")
    assert page.evaluate("document.querySelector('.tagged img').naturalWidth > 0")


@pytest.mark.parametrize("verdict", ["leak", "outer-race"])
def test_the_card_says_what_comes_before_any_hand_is_laid_on(served, verdict, tmp_path, monkeypatch):
    """The set document is asked for its words: the card is all that the fitter has at the machine."""
    with served.house.ledger.reading() as connection:
        (site,) = sites.sites(connection)
        every = [x.finding for x in findings.ranked(connection, site.id) if x.finding.verdict == verdict]
        story = story_of(connection, every[0], datetime.now(UTC))
    monkeypatch.setattr(desk_card.tempfile, "TemporaryDirectory", lambda **_: nullcontext(str(tmp_path)))
    card_pdf(story, site.name, "", None)
    source = (tmp_path / "card.typ").read_text("utf-8")
    watched = "#show text: it => it + [#metadata(it.text) <said>]\n" + source
    (tmp_path / "card.typ").write_text(watched, "utf-8")
    said = " ".join(json.loads(typst.query(str(tmp_path / "card.typ"), "<said>", field="value")))
    said = re.sub(r"\s+", " ", said)
    assert "This card is no permit" in said and "licensed for gas, pressure and electrical work" in said
    assert "Next" in said
    for own in {
        "leak": ("isolate, vent, prove zero pressure", "gas detector", "LPG burns"),
        "outer-race": ("Keep hands, cables, sleeves and hair away", "machine locked off"),
    }[verdict]:
        assert own in said


def test_the_cautions_are_unfolded_on_paper(served, open_page):
    of = listed(served, urgent=True).finding
    page = open_page()
    page.goto(f"{served.site}/finding/{of.id}")
    folded = page.locator("details", has_text="Before anyone acts on this")
    assert folded.get_attribute("open") is None
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert folded.get_attribute("open") is not None


def test_the_list_says_when_it_was_heard_and_not_that_it_was_scheduled_then(served, open_page):
    of, page = listed(served).finding, open_page()
    why = Step("scheduled", datetime.now(UTC), "planner", "with the next stop")
    with served.house.ledger.writing() as connection:
        findings.take_step(connection, of.id, why)
    page.goto(f"{served.site}/findings")
    row = page.get_by_role("row").filter(has=page.locator(f"a[href$='/finding/{of.id}']"))
    expect(row).to_contain_text("scheduled, first heard 20\N{NO-BREAK SPACE}November\N{NO-BREAK SPACE}2026")


def test_what_is_refused_is_a_sentence_in_the_words_of_the_page(served, open_page):
    page = open_page(complain=False)
    page.goto(f"{served.site}/finding/{listed(served, urgent=True).finding.id}")
    page.get_by_label("Who was told").fill("   ")
    page.get_by_role("button", name="Note it").click()
    expect(page.locator(".wrong")).to_have_text("Who was told? Write the name.")
    page.get_by_label("Why, or what was done").fill("no")
    page.get_by_role("button", name="Dismiss").click()
    expect(page.locator(".wrong").last).to_contain_text("This must be acted on at once")
