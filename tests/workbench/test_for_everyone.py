"""The planner's pages by keyboard alone, at twice the size, on paper, in the dark, without motion."""

from __future__ import annotations

import re
import sqlite3
import uuid

import pytest
from playwright.sync_api import Page, expect

from earwitness.ledger import findings, points, sites

from .conftest import faults_for_assistive_technology, overflows, wait_until

PAGES = ("today", "findings", "finding", "points", "point", "money", "plan", "settings")
ZOOMED = ({"width": 640, "height": 512}, {"width": 320, "height": 256})  # 1280 by 1024 at 200 %, and at 400 %


@pytest.fixture
def address_of(served):
    with served.house.ledger.reading() as connection:
        (site,) = sites.sites(connection)
        first = next(x for x in findings.ranked(connection, site.id) if x.tag)
        point = points.point_by_tag(connection, site.id, first.tag or "")
    assert point is not None
    ids = {"finding": first.finding.id, "point": point.id}

    def address(name: str) -> str:
        return f"{served.site}/{name}/{ids[name]}" if name in ids else f"{served.site}/{name}"

    return address


def tab_to(page: Page, predicate: str, most: int = 200) -> None:
    """Press Tab until the focus is where the predicate (of the element `e`) says, and seen there."""
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.evaluate(f"(() => {{ const e = document.activeElement; return !!({predicate}); }})()"):
            assert page.evaluate("getComputedStyle(document.activeElement).outlineStyle") != "none"
            return
    raise AssertionError(f"Tab never came to: {predicate}")


def replace_text(page: Page, text: str) -> None:
    page.keyboard.press("Control+A")
    page.keyboard.type(text)


def test_a_plan_is_made_moved_and_scheduled_by_keyboard(address_of, open_page):
    page = open_page()
    page.goto(address_of("plan"))
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")  # to the content
    tab_to(page, "e.name === 'weeks'")
    replace_text(page, "5")
    tab_to(page, "e.name === 'hours.fitter'")
    replace_text(page, "12")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("in 5")
    expect(page.locator("[name='hours.fitter']")).to_have_value("12")
    tab_to(page, "e.name === 'week'")
    page.keyboard.press("End")  # not in these weeks
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator(".moves")).to_contain_text("1 moved by hand")
    tab_to(page, "e.textContent === 'Schedule them'")
    page.keyboard.press("Enter")
    expect(page.locator("#said")).to_contain_text("scheduled")


def test_what_if_is_asked_by_keyboard_and_the_answer_has_the_focus(address_of, open_page):
    page = open_page()
    page.goto(address_of("money"))
    tab_to(page, "e.name === 'pressure'")
    page.keyboard.type("6 bar(g)")
    page.keyboard.press("Enter")
    expect(page.locator(".answer")).to_have_count(1)
    expect(page.locator("#answers")).to_be_focused()
    expect(page.locator("[name='pressure']")).to_have_value("6 bar(g)")


def test_a_default_is_changed_by_keyboard(address_of, open_page):
    page = open_page()
    page.goto(address_of("settings"))
    tab_to(page, "e.name === 'value' && e.form.elements.key.value === 'price'")
    replace_text(page, "0.31 EUR/kWh")
    page.keyboard.press("Tab")
    page.keyboard.type("bill of October")
    page.keyboard.press("Enter")
    expect(page.locator("#energy-price")).to_contain_text("Now: changed here")


def test_the_keyboard_goes_on_where_the_deed_was_done(address_of, open_page, size):
    page = open_page(size)
    page.goto(address_of("plan"))
    later = page.get_by_role("button", name="Move").nth(3)
    name = later.get_attribute("aria-label")
    page.locator(".move select").nth(3).select_option("0")
    later.press("Enter")
    expect(page.locator(".moves")).to_contain_text("1 moved by hand")
    expect(page.locator("#said")).to_contain_text("Moved")
    assert page.evaluate("document.activeElement.ariaLabel") == name
    wait_until(page, "(r => r.top >= 0 && r.bottom <= innerHeight)(document.activeElement.getBoundingClientRect())")
    page.keyboard.press("Escape")
    expect(page.locator("#said")).to_be_empty()
    page.goto(address_of("finding"))
    page.get_by_role("button", name="Repaired").press("Enter")
    expect(page.locator("#history")).to_be_focused()  # the button is gone with the step


def test_progress_is_seen_at_each_step_and_heard_at_each_tenth(served, open_page):
    page, asked = open_page(), iter(range(1, 101))
    job = {"id": str(uuid.uuid4()), "kind": "judge", "state": "running", "of": 100, "came": {}, "error": None}
    page.route("**/api/upload", lambda route: route.fulfill(json={"id": "u", "files": [], "job": None}))
    page.route("**/api/upload/u/judge", lambda route: route.fulfill(json={"id": "u", "files": [], "job": job["id"]}))
    there = {"id": "u", "files": [{"path": "survey.toml", "sha256": "", "size": 1}], "job": None, "not_taken": []}
    page.route(re.compile("/api/upload/u(/file.*)?$"), lambda route: route.fulfill(json=there))
    page.route("**/api/job/*", lambda route: route.fulfill(json=job | {"done": 3 * next(asked)}))
    page.goto(f"{served.site}/surveys")
    page.evaluate("""() => {
      window.heard = []; window.seen = [];
      const note = (at, all) => new MutationObserver(() => all.push(at.textContent)).observe(at, {childList: true});
      note(document.getElementById("heard"), heard); note(document.querySelector("[data-drop] [data-state]"), seen);
    }""")
    page.locator("[data-files]").set_input_files([{"name": "survey.toml", "mimeType": "text/plain", "buffer": b"x"}])
    wait_until(page, "seen.includes('24 of 100 recordings judged; this page may be closed.')", 30)
    heard = [s.split(" ")[0] for s in page.evaluate("heard") if "recordings judged" in s]
    assert heard == ["12", "21"]  # of 3, 6, 9, 12 … 24
    for spot in page.locator("[data-drop] [data-state]").all():
        assert spot.evaluate("e => e.closest('[aria-live]')") is None


@pytest.mark.parametrize("name", PAGES)
def test_nothing_is_cut_off_at_twice_the_size(address_of, open_page, name):
    for size in ZOOMED:
        page = open_page(size)
        page.goto(address_of(name))
        expect(page.get_by_role("heading", level=1)).to_be_visible()
        assert not overflows(page), size


@pytest.mark.parametrize("name", PAGES)
def test_paper_holds_what_is_read_and_nothing_that_is_operated(address_of, open_page, name):
    page = open_page()
    page.goto(address_of(name))
    page.emulate_media(media="print")
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    for operated in ("button", "input", "select", "textarea", "nav", "footer", "[data-player]"):
        shown = [e for e in page.locator(operated).all() if e.is_visible()]
        assert not shown, (operated, shown[0].evaluate("e => e.outerHTML"))
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert page.pdf().startswith(b"%PDF")


def test_a_folded_week_is_unfolded_on_paper(address_of, open_page):
    page = open_page()
    page.goto(address_of("plan"))
    page.locator(".week summary").first.click()
    line = page.locator(".week li").first
    expect(line).to_be_hidden()
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    expect(line).to_be_visible()
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    expect(line).to_be_hidden()


@pytest.mark.parametrize("name", PAGES)
def test_the_dark_is_dark_and_still_has_contrast(address_of, open_page, name):
    page = open_page(color_scheme="dark")
    page.goto(address_of(name))
    paper, ink = (
        sum(int(c) for c in re.findall(r"\d+", page.evaluate(f"getComputedStyle(document.body).{part}"))[:3])
        for part in ("backgroundColor", "color")
    )
    assert paper < 150 < 600 < ink  # sums of three channels of 255
    assert not faults_for_assistive_technology(page)  # contrast among them


@pytest.mark.parametrize("name", PAGES)
def test_nothing_moves_by_itself_where_motion_is_not_wanted(address_of, open_page, name):
    moving = """() => [...document.querySelectorAll('*')].filter((e) => {
      const s = getComputedStyle(e);
      return s.scrollBehavior === 'smooth' || s.animationName !== 'none' || parseFloat(s.transitionDuration) > 0;
    }).map((e) => e.tagName)"""
    page = open_page(reduced_motion="reduce")
    page.goto(address_of(name))
    assert page.evaluate(moving) == []
    page.emulate_media(reduced_motion="no-preference")
    assert page.evaluate(moving) == ["HTML"]  # it does scroll smoothly where that is welcome


NAMES = {
    "Line 1 capper": "Verschlussmaschinenzufuehrungsbandantriebsstationsgehaeuseabdeckung",
    "Quillmark oat works": "Quillmark-Haferverarbeitungsbetriebsgesellschaft_und_Schwesterwerke_Nord-Ost",
    "T-102": "W" * 40,
    "Demo inspector": "Maximiliane-Antoinette von und zu Hohenstein-Untertuerkheim-Obereszlingen",
}


def test_what_people_name_may_be_long(served, open_page, size):
    with sqlite3.connect(served.house.ledger.store.folder.with_suffix(".ledger")) as base:
        tables = [name for (name,) in base.execute("select name from sqlite_master where type = 'table'")]
        for table in tables:
            for _, column, kind, *_ in base.execute(f"pragma table_info({table})").fetchall():
                if kind.upper().startswith(("VARCHAR", "TEXT", "JSON")):
                    for short, long in NAMES.items():
                        asked = f"update {table} set {column} = replace({column}, ?, ?) where typeof({column}) = 'text'"
                        base.execute(asked, (short, long))
    with served.house.ledger.reading() as connection:
        (site,) = sites.sites(connection)
        every = findings.ranked(connection, site.id)
        of = next(x for x in every if (x.point or "").startswith("Verschluss"))
    page = open_page(size)
    finding = of.finding
    for name in ("today", "findings", "plan", "points?words=verschluss", "reports", "surveys",
                 f"finding/{finding.id}", f"point/{finding.point_id}", f"reading/{finding.opened_by}"):  # fmt: skip
        page.goto(f"{served.site}/{name}")
        expect(page.get_by_role("heading", level=1)).to_be_visible()
        assert not overflows(page), name


@pytest.mark.parametrize("name", ["today", "findings", "finding", "points?words=line", "surveys"])
def test_a_thumb_in_a_glove_hits_what_leads_on(address_of, open_page, name):
    page = open_page({"width": 390, "height": 844})
    page.goto(address_of(name))
    heights = page.evaluate("""() => [...document.querySelectorAll(
      '.house a, .you a, nav a, main :is(.things, .leaves, .history, .row, td, h3, .sub) a')]
      .filter(e => e.offsetParent).map(e => [e.textContent, e.getBoundingClientRect().height])""")
    assert len(heights) > 10
    assert [x for x in heights if x[1] < 40] == []


def test_on_a_phone_what_is_to_be_acted_on_at_once_says_so(served, open_page):
    page = open_page({"width": 390, "height": 844})
    page.goto(f"{served.site}/surveys")
    page.locator("table a").first.click()
    expect(page.get_by_role("cell", name="rank: now", exact=True).first).to_be_visible()


def test_a_week_on_paper_has_no_handle(address_of, open_page):
    page = open_page()
    page.goto(address_of("plan"))
    after = "getComputedStyle(document.querySelector('.week[open] > summary'), '::after').content"
    assert page.evaluate(after) != "none"
    page.emulate_media(media="print")
    assert page.evaluate(after) == "none"
