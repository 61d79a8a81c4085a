"""Each role sees and does what it may and no more, where one must sign in."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import pytest
from playwright.sync_api import Page, expect

from earwitness.ledger import findings, points, sites
from earwitness.server.users import add_user

from .conftest import Served, serving

ROLES = ("look", "inspect", "plan", "administer")
WORDS = "a sentence would do"


@pytest.fixture
def signed(filed: Path, tmp_path: Path) -> Iterator[Served]:
    """The workbench with an account for each role, called by its role."""
    shutil.copy(filed, tmp_path / "site.ledger")
    shutil.copytree(filed.with_suffix(".recordings"), tmp_path / "site.recordings")
    with serving(tmp_path / "site.ledger", accounts=True) as here:
        with here.house.ledger.reading() as connection:
            (site,) = sites.sites(connection)
        for role in ROLES:
            add_user(here.house.ledger, role, WORDS, {site.id: role})
        from earwitness.plant.tag import tag_of

        yield Served(here.address, f"{here.address}/site/{tag_of(site.id)}", here.house)


def as_role(page: Page, served: Served, role: str) -> Page:
    page.goto(f"{served.address}/sign-in")
    page.get_by_label("Name").fill(role)
    page.get_by_label("Password").fill(WORDS)
    page.get_by_role("button", name="Sign in").click()
    expect(page.locator(".you")).to_contain_text(role)
    return page


def some(served: Served) -> tuple[str, str]:
    with served.house.ledger.reading() as connection:
        (site,) = sites.sites(connection)
        finding = next(x for x in findings.ranked(connection, site.id) if not x.finding.figures.urgent)
        return str(finding.finding.id), str(points.points(connection, site.id, limit=1)[0].id)


@pytest.mark.parametrize("role", ROLES)
def test_each_role_does_what_it_may_and_no_more(signed, open_page, role):
    finding, point = some(signed)
    page = as_role(open_page(complain=False), signed, role)
    api = signed.site.replace("/site/", "/api/site/")
    nowhere = uuid4()
    views = {
        "today": "look", "findings": "look", f"finding/{finding}": "look", "points": "look", f"point/{point}": "look",
        "money": "look", "plan": "plan", "plan/cards.pdf": "plan", "plan/work-orders.csv": "plan",
        "settings": "administer",
    }  # fmt: skip
    deeds = {
        "money/what-if": ({"pressure": "6 bar(g)"}, "look"),
        "today/tell": ({"finding": finding, "who": ""}, "inspect"),
        f"finding/{finding}/answer": ({"answer": "other"}, "inspect"),
        f"finding/{finding}/step": ({"state": "scheduled"}, "plan"),
        "plan/offer": ({"first": "?", "weeks": 1}, "plan"),
        "plan/move": ({"finding": "?"}, "plan"),
        f"drawing/{nowhere}/place": ({"point": point}, "plan"),
        "settings/default": ({"table": "?", "key": "", "value": "", "why": ""}, "administer"),
        "settings/user": ({"name": "x", "password": "short", "role": "administer"}, "administer"),
    }
    for path, needed in views.items():
        allowed = ROLES.index(role) >= ROLES.index(needed)
        assert page.request.get(f"{api}/{path}").status == (200 if allowed else 403), path
    for path, (body, needed) in deeds.items():
        allowed = ROLES.index(role) >= ROLES.index(needed)
        answer = page.request.post(f"{api}/{path}", data=body)  # what is allowed is refused for what is given alone
        assert (answer.status == 403) != allowed, (path, answer.status, answer.text())
    page.goto(signed.site + "/today")
    line = page.locator("nav a").all_inner_texts()
    assert ("Plan" in line, "Settings" in line) == (role in ("plan", "administer"), role == "administer")


@pytest.mark.parametrize("role", ["inspect", "plan"])
def test_a_danger_is_not_dismissed_by_a_letter_nor_by_an_inspector(signed, open_page, role):
    with signed.house.ledger.reading() as connection:
        (site,) = sites.sites(connection)
        of = next(x.finding.id for x in findings.ranked(connection, site.id) if x.finding.figures.urgent)
    page = as_role(open_page(complain=False), signed, role)
    page.goto(f"{signed.site}/finding/{of}")
    assert page.get_by_role("button", name="Dismiss").count() == (role == "plan")
    api = signed.site.replace("/site/", "/api/site/") + f"/finding/{of}/step"
    measured = {"state": "dismissed", "why": "no gas measured, 0 % LEL"}
    if role == "inspect":
        refused = page.request.post(api, data=measured)
        assert refused.status == 403 and "“plan”" in refused.json()["error"]["text"]
        return
    refused = page.request.post(api, data={"state": "dismissed", "why": "n"})
    assert refused.status == 422 and "three words" in refused.json()["error"]["text"]
    assert page.request.post(api, data=measured).ok


def test_who_may_only_look_is_offered_no_deed(signed, open_page):
    finding, _ = some(signed)
    page = as_role(open_page(), signed, "look")
    for name in ("today", "findings", f"finding/{finding}", "points"):
        page.goto(f"{signed.site}/{name}")
        assert page.locator("main form[method=post]").count() == 0, name
        assert page.get_by_role("button", name="Keep this drawing").count() == 0


def test_who_may_not_plan_is_told_so_in_a_sentence(signed, open_page):
    page = as_role(open_page(complain=False), signed, "inspect")
    page.goto(signed.site + "/plan")
    expect(page.get_by_text("This needs the role “plan”")).to_be_visible()
