"""The tree opens branch by branch, a plan takes pins by hand, by key and by click, a point is followed over time, and a
scanned tag leads to what is to be answered."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID

import pytest
from playwright.sync_api import expect
from sqlalchemy import insert, select

from earwitness.ledger import findings, points, schema, sites
from earwitness.plant.site import identity
from earwitness.work.drawings import drawings, keep_drawing, pins_of, place

from .conftest import faults_for_assistive_technology, overflows, wait_until


@pytest.fixture
def plan_image(tmp_path: Path) -> Path:
    """A drawing of a hall, as PNG."""
    import matplotlib.image
    import numpy as np

    picture = np.ones((300, 500, 3))
    picture[20:280:65, 20:480] = picture[20:280, 20:480:115] = 0.4
    path = tmp_path / "hall plan.png"
    matplotlib.image.imsave(path, picture)
    return path


def some_point(served, kind: str = "leak"):
    with served.house.ledger.reading() as connection:
        (site,) = sites.sites(connection)
        return points.points(connection, site.id, kind=kind, limit=1)[0]


def with_history(served, levels: list[float], kind: str = "bearing") -> UUID:
    """Give a point monthly visits at these levels, and nothing else."""
    of = some_point(served, kind)
    start = datetime(2026, 1, 5, 8, tzinfo=UTC)
    with served.house.ledger.writing() as connection:
        s, r, a = schema.survey, schema.reading, schema.assessment
        like_survey = dict(connection.execute(select(s).limit(1)).mappings().one())
        like = dict(connection.execute(select(r).where(r.c.point_id == of.id).limit(1)).mappings().one())
        judged = dict(connection.execute(select(a).where(a.c.reading_id == like["id"])).mappings().one())
        connection.execute(r.update().where(r.c.point_id == of.id).values(point_id=None))
        for number, level in enumerate(levels):
            at = start + timedelta(days=30 * number)
            survey, reading = identity("test survey", str(number)), identity("test reading", str(number))
            about = {"id": survey, "day": at.date(), "title": f"Round {number}", "instrument_id": None}
            connection.execute(insert(s).values(like_survey | about))
            row = {"id": reading, "survey_id": survey, "point_id": of.id, "name": f"R-{number}", "taken_at": at}
            row |= {"level_db": level, "status": "read", "comparable": {"sensor": "contact"}}
            connection.execute(insert(r).values(like | row))
            own = {"id": identity("test judged", str(number)), "reading_id": reading, "verdict": "no-fault-heard"}
            connection.execute(insert(a).values(judged | own | {"current": True}))
    return of.id


def test_the_tree_loads_a_branch_when_it_is_opened(served, open_page, size):
    page = open_page(size)
    page.goto(served.site + "/points")
    expect(page.get_by_role("heading", level=1)).to_contain_text("points in")
    assert page.locator(".branch .leaves").count() == 0
    page.locator(".branch summary").first.focus()
    page.keyboard.press("Enter")
    leaf = page.locator(".branch .leaves li").first
    expect(leaf.locator(".state")).to_be_visible()
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)
    leaf.get_by_role("link").click()
    page.wait_for_url(re.compile("/point/"))
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)


def test_points_are_found_by_words(served, open_page):
    of = some_point(served)
    page = open_page()
    page.goto(served.site + "/points")
    page.get_by_label("Find by name, spot or tag").fill(of.tag)
    page.get_by_role("button", name="Find").click()
    expect(page.locator(".leaves").first.get_by_role("link", name=of.name, exact=True)).to_be_visible()


def pin_of(served, point_id):
    """Where the only drawing shows the point."""
    with served.house.ledger.reading() as connection:
        (site,) = sites.sites(connection)
        (drawing,) = drawings(connection, site.id)
        return pins_of(connection, site.id, drawing, 100)[point_id]


def test_a_pin_is_placed_by_key_by_click_and_by_drag(served, open_page, size, plan_image):
    page = open_page(size)
    page.goto(served.site + "/points")
    page.get_by_label("Picture of the plan").set_input_files(plan_image)
    page.get_by_label("Called").fill("Hall")
    page.get_by_role("button", name="Keep this drawing").click()
    page.wait_for_url(re.compile("/drawing/"))
    wait_until(page, "document.querySelector('[data-plan] img').naturalWidth === 500")
    page.get_by_role("button", name="Place it").focus()
    page.keyboard.press("Enter")
    pin = page.locator(".pin")
    expect(pin).to_be_focused()
    expect(page.locator("#said")).to_contain_text("50.0 % from the left")
    point = UUID(pin.get_attribute("data-point") or "")
    page.keyboard.press("Shift+ArrowLeft")
    page.keyboard.press("ArrowUp")
    expect(page.locator("#said")).to_contain_text("45.0 % from the left, 49.5 % from the top")
    assert pin_of(served, point) == pytest.approx((0.45, 0.495))

    page.evaluate("document.querySelector('[data-plan]').scrollIntoView({behavior: 'instant'})")
    page.wait_for_timeout(800)
    image = page.locator("[data-plan] img").bounding_box()
    assert image is not None
    page.mouse.click(image["x"] + 0.8 * image["width"], image["y"] + 0.25 * image["height"])
    expect(page.locator("#said")).to_contain_text(re.compile(r"(79|80)\.\d % from the left"))
    assert pin_of(served, point) == pytest.approx((0.8, 0.25), abs=0.01)

    page.wait_for_timeout(300)
    box = pin.locator("svg").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()
    page.mouse.move(image["x"] + 0.3 * image["width"], image["y"] + 0.6 * image["height"], steps=5)
    page.mouse.up()
    expect(page.locator("#said")).to_contain_text(re.compile(r"(29|30)\.\d % from the left"))
    assert pin_of(served, point) == pytest.approx((0.3, 0.6), abs=0.01)
    page.reload()
    assert page.locator(".pin span").inner_text() in ("danger", "worse", "to mend", "to verify", "quiet", "not heard")
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)


def test_a_drawing_must_be_a_picture(served, open_page, tmp_path):
    page = open_page()
    page.goto(served.site + "/points")
    api = served.address + "/api"
    up = page.request.post(f"{api}/upload", data={}).json()["id"]
    page.request.put(f"{api}/upload/{up}/file?path=survey.toml", data="[survey]\n")
    given = {"upload": up, "path": "survey.toml", "name": "no plan"}
    refused = page.request.post(f"{served.site.replace('/site', '/api/site')}/drawing", data=given)
    assert refused.status == 415


def test_a_rising_level_is_said_drawn_and_tabled(served, open_page, size):
    of = with_history(served, [30, 30, 31, 30, 30, 32, 33, 34, 35, 36])
    page = open_page(size)
    page.goto(f"{served.site}/point/{of}")
    expect(page.get_by_role("heading", level=1)).to_contain_text(re.compile("watch level|rising|act level"))
    expect(page.locator(".trend .mark")).to_have_count(10)
    expect(page.locator(".trend .limit-act")).to_have_count(1)
    expect(page.locator(".trend .fan")).to_have_count(1)
    assert page.locator(".wide").first.evaluate("e => e.scrollLeft + e.clientWidth >= e.scrollWidth - 2"), "the latest"
    page.locator(".trend").focus()
    page.keyboard.press("ArrowLeft")
    expect(page.locator("[data-readout]")).to_contain_text("36.0 dB")
    page.get_by_text("As a table").click()
    expect(page.locator("table tbody tr")).to_have_count(10)
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)


def test_points_are_compared_in_one_chart(served, open_page):
    of = with_history(served, [30, 30, 31, 30])
    with served.house.ledger.reading() as connection:
        heard = select(schema.reading.c.point_id).where(schema.reading.c.level_db.is_not(None))
        ids = [i for i in connection.scalars(heard.distinct()) if i is not None and i != of]
        others = points.points_by_id(connection, ids)[:7]
    page = open_page()
    page.goto(f"{served.site}/point/{of}?with={','.join(o.tag for o in others)}")
    expect(page.get_by_text("Levels of 6 points")).to_be_visible()
    assert page.locator(".trend .line").count() == 6
    assert not faults_for_assistive_technology(page)


def test_a_scanned_tag_leads_to_the_answer(served, open_page, size):
    with served.house.ledger.reading() as connection:
        (site,) = sites.sites(connection)
        of = next(x for x in findings.ranked(connection, site.id) if x.tag)
    page = open_page(size)
    page.goto(f"{served.address}/tag/{of.tag}")
    expect(page.get_by_role("heading", level=1)).to_contain_text(of.point or "")
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)
    page.get_by_role("button", name="Not found").click()
    page.wait_for_url(re.compile("/finding/"))
    expect(page.get_by_role("heading", name="What fitters answered")).to_be_visible()


def test_a_tag_that_hangs_nowhere_is_said(served, open_page):
    page = open_page()
    page.goto(served.site + "/points")
    assert page.request.get(f"{served.address}/api/tag/K7M4-R9TC").status == 404


def two_drawings(served, image: Path):
    """A drawing of the whole site and one of an area, with a point of that area."""
    with served.house.ledger.reading() as connection:
        (site,) = sites.sites(connection)
        of = next(p for p in points.points(connection, site.id, limit=100) if p.area_id is not None)
    whole = keep_drawing(served.house.ledger, site.id, "Works", None, image)
    own = keep_drawing(served.house.ledger, site.id, "Hall", of.area_id, image)
    with served.house.ledger.reading() as connection:
        found = {d.id: d for d in drawings(connection, site.id)}
    return site.id, of, found[whole], found[own]


def places(served, site_id, *shown) -> list[dict]:
    with served.house.ledger.reading() as connection:
        return [pins_of(connection, site_id, drawing, 100) for drawing in shown]


def test_each_drawing_has_its_own_pin_of_a_point(served, open_page, plan_image):
    site_id, of, whole, own = two_drawings(served, plan_image)
    page = open_page()
    api = served.site.replace("/site/", "/api/site/")
    for drawing, x, y in ((whole, 0.25, 0.75), (own, 0.5, 0.125)):
        assert page.request.post(f"{api}/drawing/{drawing.id}/place", data={"point": str(of.id), "x": x, "y": y}).ok
    assert places(served, site_id, whole, own) == [{of.id: (0.25, 0.75)}, {of.id: (0.5, 0.125)}]
    for drawing, x in ((whole, "0.25"), (own, "0.5")):
        page.goto(f"{served.site}/drawing/{drawing.id}")
        expect(page.locator(".pin")).to_have_count(1)
        assert page.locator(".pin").get_attribute("data-x") == x
        assert page.locator(f"[data-unplaced] option[value='{of.id}']").count() == 0
    page.goto(f"{served.site}/point/{of.id}")
    expect(page.get_by_role("link", name="on Works")).to_be_visible()
    page.get_by_role("link", name="on Hall").click()
    page.wait_for_url("**/drawing/*")  # its script listens once the page has loaded
    page.locator(".pin").focus()
    page.keyboard.press("Delete")
    expect(page.locator("#said")).to_contain_text("taken away")
    assert places(served, site_id, whole, own) == [{of.id: (0.25, 0.75)}, {}]  # the other stays


def test_a_place_from_the_points_sheet_is_shown_on_its_areas_drawing_until_a_pin_is_placed(served, plan_image):
    site_id, of, whole, own = two_drawings(served, plan_image)
    with served.house.ledger.writing() as connection:
        points.change_point(connection, of.id, plan_x=0.3, plan_y=0.6)
    assert places(served, site_id, whole, own) == [{}, {of.id: (0.3, 0.6)}]
    place(served.house.ledger, site_id, whole, of.id, 0.9, 0.1)
    assert places(served, site_id, whole, own) == [{of.id: (0.9, 0.1)}, {of.id: (0.3, 0.6)}]
    place(served.house.ledger, site_id, own, of.id, 0.4, 0.4)
    with served.house.ledger.reading() as connection:
        now = points.point(connection, of.id)
    assert (now.plan_x, now.plan_y) == (0.4, 0.4)  # which the walk and the points' sheet follow
    assert places(served, site_id, whole, own) == [{of.id: (0.9, 0.1)}, {of.id: (0.4, 0.4)}]
    place(served.house.ledger, site_id, own, of.id, None, None)
    place(served.house.ledger, site_id, whole, of.id, None, None)
    assert places(served, site_id, whole, own) == [{}, {}]


def test_the_tree_has_the_assets_that_the_ledger_knows(served, open_page):
    with served.house.ledger.writing() as connection:
        (site,) = sites.sites(connection)
        inside_of = {a: points.points(connection, site.id, area_id=a.id) for a in sites.areas(connection, site.id)}
        area, inside = max(inside_of.items(), key=lambda pair: len(pair[1]))
        asset = sites.keep_asset(connection, site.id, area.id, "Packing line 1")
        for one in inside[1:]:
            points.change_point(connection, one.id, asset_id=asset)
    page = open_page()
    page.goto(served.site + "/points")
    page.locator(".branch summary").filter(has_text=area.name).click()
    branch = page.locator(".branch").filter(has_text=area.name)
    expect(branch.get_by_role("heading", name="Packing line 1")).to_be_visible()
    assert branch.locator(".of-asset li").count() == len(inside) - 1
    assert branch.locator(".leaves:not(.of-asset) li").count() == 1
    assert not faults_for_assistive_technology(page)


def test_without_scripts_a_branch_is_a_page_of_its_own(served, open_page):
    page = open_page(java_script_enabled=False)
    page.goto(f"{served.site}/points")
    page.locator("summary", has_text="Mill floor").click()
    page.get_by_role("link", name="The points of Mill floor").click()
    expect(page.get_by_role("heading", name="Mill floor, 8")).to_be_visible()
    expect(page.locator(".leaves li")).to_have_count(8)
    page.locator(".leaves a").first.click()
    page.wait_for_url(re.compile("/point/"))


def test_a_wrong_tag_is_said_with_a_way_on(served, open_page, size):
    page = open_page(size, complain=False)
    page.goto(f"{served.address}/tag/K7M4-R9TC")
    expect(page.locator(".refused")).to_contain_text("No point here has the tag “K7M4-R9TC”.")
    way = page.get_by_role("link", name="Points of")
    box = way.bounding_box()
    assert box is not None
    assert size["width"] > 700 or box["height"] >= 40
    way.click()
    expect(page.get_by_label("Find by name, spot or tag")).to_be_visible()
