"""A day is the day at the site, wherever the site lies."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest
from playwright.sync_api import expect
from sqlalchemy import select, update

from earwitness.ledger import findings, schema
from earwitness.plant.finding import Step

LATE = datetime(2026, 11, 19, 22, 30, tzinfo=UTC)  # already 20 November at Quillmark, and still 19 in Chicago


@pytest.fixture(params=[("Asia/Tokyo", "20"), ("America/Chicago", "19"), (None, "19")], ids=["east", "west", "nowhere"])
def site_and_day(request, served):
    """The demo's site moved to another zone, everything heard and found late on 19 November UTC."""
    zone, day = request.param
    with served.house.ledger.writing() as connection:
        connection.execute(update(schema.site).values(timezone=zone))
        connection.execute(update(schema.reading).values(taken_at=LATE))
        connection.execute(update(schema.finding).values(opened_at=LATE))
        connection.execute(update(schema.finding_step).values(at=LATE))
    return served, f"{day} November 2026".replace(" ", "\u00a0")


def test_days_of_findings_and_points_are_those_at_the_site(site_and_day, open_page):
    served, day = site_and_day
    page = open_page()

    def only_that_day(of: str) -> None:
        found = set(re.findall(r"\d+\u00a0November\u00a02026", page.locator("main").text_content() or ""))
        assert found == {day}, (of, found)

    page.goto(served.site + "/findings")
    expect(page.locator("tbody td").filter(has_text="open, first heard").first).to_contain_text(day)
    only_that_day("findings")
    page.goto(served.site + "/points")
    page.locator(".branch summary").first.click()
    expect(page.locator(".leaves li").first).to_contain_text(day)
    page.locator(".leaves li").filter(has_text="to mend").get_by_role("link").first.click()
    expect(page.get_by_role("heading", name="Findings here")).to_be_visible()
    only_that_day("point")
    page.locator("h2:has-text('Findings here') + ul a").first.click()
    expect(page.locator(".history li").first).to_contain_text(day)
    assert day in page.locator(".history li").first.inner_text()


def test_a_finding_that_is_closed_says_the_day_at_the_site(site_and_day, open_page):
    served, day = site_and_day
    with served.house.ledger.writing() as connection:
        of = connection.scalar(select(schema.finding.c.id).where(schema.finding.c.standing))
        findings.take_step(connection, of, Step("repaired", LATE, "A. Fitter", "new hose"))
    page = open_page()
    page.goto(f"{served.site}/finding/{of}")
    expect(page.get_by_role("heading", level=1)).to_contain_text(f"Repaired on {day}")


def test_a_repair_is_due_until_the_end_of_the_day_at_the_site(served, open_page):
    with served.house.ledger.writing() as connection:
        connection.execute(update(schema.site).values(timezone="Asia/Tokyo"))
        of = connection.scalar(select(schema.finding.c.id).where(schema.finding.c.state == "open"))
    page = open_page()
    page.goto(f"{served.site}/finding/{of}")
    page.get_by_label("To be done by").fill("2099-03-31")
    page.get_by_role("button", name="Schedule").click()
    expect(page.locator(".step-scheduled")).to_contain_text("To be done by 31\u00a0March\u00a02099")
    with served.house.ledger.reading() as connection:
        due = findings.history(connection, of)[-1].data["due"]
    assert datetime.fromisoformat(due) == datetime(2099, 3, 31, 14, 59, tzinfo=UTC)
