"""A reading is heard, seen, judged under other conditions, and decided by the inspector."""

from __future__ import annotations

import re

import numpy as np
import pytest
from playwright.sync_api import Page, expect

from earwitness.audio import write_wav

from .conftest import DESK, faults_for_assistive_technology, overflows, wait_until


def loudness(page: Page) -> float:
    return float(page.locator("[data-meter]").evaluate("meter => meter.value"))


def test_the_sound_plays_and_runs_through_the_picture(served, open_page, size):
    page = open_page(size)
    page.goto(served.id_of("A-002"))
    expect(page.get_by_role("heading", level=1)).to_contain_text("Air leak, very likely")
    canvas = page.locator("[data-player] canvas")
    expect(canvas).to_have_attribute("data-shown", "0.00-8.00")
    assert loudness(page) == -80
    page.get_by_role("button", name="Play").click()
    wait_until(page, "document.querySelector('[data-meter]').value > -60")  # samples really flow
    wait_until(page, "Number(document.querySelector('canvas').getAttribute('aria-valuenow')) > 0.3")
    page.get_by_role("button", name="Stop").click()
    expect(page.get_by_role("button", name="Play")).to_be_visible()
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)


def test_silence_is_silent(served, open_page):
    """The meter follows the samples, not the clock."""
    with served.house.ledger.reading() as connection:
        from earwitness.ledger import readings, sites

        (site,) = sites.sites(connection)
        (found,) = [r for r in readings.readings_named(connection, site.id, "A-002")]
    path = served.house.ledger.store.path(found.recording_sha256)
    path.chmod(0o644)
    write_wav(path, np.zeros(8 * 48_000, np.float32), 48_000)
    page = open_page(DESK)
    page.goto(served.id_of("A-002"))
    page.get_by_role("button", name="Play").click()
    wait_until(page, "Number(document.querySelector('canvas').getAttribute('aria-valuenow')) > 0.3")
    assert loudness(page) == -80


def test_a_selection_is_looped_and_slowed_by_keyboard_alone(served, open_page):
    page = open_page(DESK)
    page.goto(served.id_of("B-002"))
    canvas = page.locator("[data-player] canvas")
    expect(canvas).to_have_attribute("data-shown", re.compile(r"0.00-"))
    canvas.focus()
    for _ in range(10):
        page.keyboard.press("Shift+ArrowRight")
    page.get_by_role("button", name="Loop").press("Enter")
    page.locator("[data-speed]").select_option("0.5")
    page.get_by_role("button", name="Play").press("Enter")
    wait_until(page, "document.querySelector('[data-meter]').value > -75")
    length = float(canvas.get_attribute("aria-valuemax"))
    page.wait_for_timeout(1500)
    assert 0 <= float(canvas.get_attribute("aria-valuenow")) <= 0.25 * length
    page.get_by_role("button", name="Stop").press("Enter")
    page.locator("[data-closer]").press("Enter")
    expect(canvas).not_to_have_attribute("data-shown", f"0.00-{length:.2f}")


def test_a_changed_condition_is_judged_again_at_once_and_changes_nothing_by_itself(served, open_page, size):
    page = open_page(size)
    page.goto(served.id_of("A-002"))
    before = page.get_by_role("heading", level=1).inner_text()
    page.get_by_label("level [dB]", exact=True).fill("37")
    page.get_by_label("level [dB]", exact=True).press("Tab")
    tried = page.locator(".tried")
    expect(tried).to_contain_text("Now: ", timeout=60_000)
    assert "Air leak, very likely (more than 99" not in tried.locator("b").first.inner_text()
    page.reload()
    assert page.get_by_role("heading", level=1).inner_text() == before


def test_kept_conditions_are_filed_with_what_stood_before(served, open_page):
    page = open_page(DESK)
    page.goto(served.id_of("A-001"))
    page.get_by_label("cause").select_option("deliberate")
    page.get_by_role("button", name="Keep these conditions").click()
    page.wait_for_url(re.compile(r"/reading/[\w-]+$"), timeout=120_000)
    expect(page.get_by_label("cause")).to_have_value("deliberate")
    page.get_by_text("What stood before").click()
    expect(page.get_by_text("Row corrected; revision 1 stood before.")).to_be_visible()


def test_a_condition_that_cannot_be_is_said(served, open_page):
    page = open_page(DESK)
    page.goto(served.id_of("A-002"))
    page.get_by_label("pressure", exact=True).fill("7 bananas")
    page.get_by_label("pressure", exact=True).press("Tab")
    expect(page.locator(".tried .refused")).to_contain_text("bananas", timeout=60_000)


def test_the_inspectors_verdict_stands_beside_the_tools(served, open_page, size):
    page = open_page(size)
    page.goto(served.id_of("A-002"))
    heading = page.get_by_role("heading", level=1).inner_text()
    section = page.locator(".opinion")
    section.get_by_label("Verdict").select_option("no-leak-heard")
    section.get_by_label("Why").fill("it was the neighbour's blow-off")
    section.get_by_role("button", name="Decide").click()
    expect(section).to_contain_text("no leak heard, says")
    expect(section).to_contain_text("People and tool agree on 0 of 1")
    section.get_by_role("button", name="Take back the verdict of").click()
    expect(section).not_to_contain_text("People and tool agree")
    expect(section.locator("s")).to_contain_text("no leak heard, said")
    assert page.get_by_role("heading", level=1).inner_text() == heading


def test_the_pictures_that_show_the_reason_come_with_their_tables(served, open_page):
    page = open_page(DESK)
    page.goto(served.id_of("A-002"))
    picture = page.get_by_role("img", name=re.compile("Spectrogram"))
    expect(picture).to_be_visible(timeout=60_000)
    assert picture.evaluate("image => image.decode().then(() => image.naturalWidth)") > 100
    page.locator(".why-pictures summary", has_text="As a table").first.click()
    table = page.get_by_role("region", name="Level over time, its values, as a table")
    expect(table).to_be_visible()
    assert table.locator("tbody tr").count() >= 20


def test_a_chart_says_what_is_pointed_at_and_shows_a_stretch_closer(served, open_page):
    """The outer race of B-002 is struck near 88 Hz: the curve's peak there is found by hand and by keys."""
    page = open_page(DESK)
    page.goto(served.id_of("B-002"))
    chart = page.get_by_role("img", name=re.compile("envelope spectrum"))
    expect(chart).to_be_visible(timeout=60_000)
    figure = page.locator("figure[data-trend]", has=chart)
    said = figure.locator("[data-readout]")
    expect(figure.get_by_role("button", name="Whole")).to_be_visible()
    reach = float(chart.get_attribute("data-to"))
    figure.get_by_role("button", name="Whole").scroll_into_view_if_needed()
    box = chart.bounding_box()

    def across(hz: float) -> float:
        left, right = (float(chart.get_attribute(f"data-{side}")) for side in ("left", "right"))
        return box["x"] + (left + hz / reach * (right - left)) / 900 * box["width"]

    page.mouse.move(across(88), box["y"] + box["height"] / 2)
    expect(said).to_contain_text(re.compile(r"^8[78][.0-9]* Hz: strength [\d.]+, significant above [\d.]+$"))
    page.mouse.move(across(80), box["y"] + 50)
    page.mouse.down()
    page.mouse.move(across(90), box["y"] + 60)
    page.mouse.move(across(96), box["y"] + 60)
    page.mouse.up()
    shown = [float(n) for n in re.findall(r"[\d.]+", chart.get_attribute("data-shown"))]
    assert shown == pytest.approx([80, 96], abs=1.5)
    assert "90" in figure.locator("[data-ticks] text").all_text_contents()  # the scale goes with it
    chart.focus()
    page.keyboard.press("0")
    assert chart.get_attribute("data-shown").startswith("0 Hz")
    page.keyboard.press("Home")
    first = said.inner_text()
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    assert said.inner_text() != first
    figure.get_by_role("button", name="Closer").press("Enter")
    page.keyboard.press("Tab")
    assert not chart.get_attribute("data-shown").endswith(f"to {reach:.4g} Hz")
    assert not faults_for_assistive_technology(page)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_light_and_dark_have_contrast(served, open_page, scheme):
    page = open_page(DESK, color_scheme=scheme, reduced_motion="reduce")
    for address in (served.id_of("A-008"), served.site + "/today", served.site + "/surveys"):
        page.goto(address)
        assert not faults_for_assistive_technology(page)


def test_at_twice_the_size_nothing_is_cut(served, open_page):
    page = open_page({"width": 640, "height": 800}, device_scale_factor=2)  # 1280 px wide at 200 %
    for address in (served.id_of("A-002"), served.site + "/today", served.site + "/surveys"):
        page.goto(address)
        assert not overflows(page)


def test_paper_has_neither_buttons_nor_bars(served, open_page):
    page = open_page(DESK)
    page.goto(served.id_of("A-002"))
    page.emulate_media(media="print")
    expect(page.get_by_role("navigation", name="Pages")).to_be_hidden()
    expect(page.locator("[data-play]")).to_be_hidden()
    expect(page.get_by_role("heading", level=1)).to_be_visible()


@pytest.mark.parametrize("name", ["A-002", "B-001", "E-001"])
def test_each_measure_stands_on_one_line(served, open_page, name):
    page = open_page()
    page.goto(served.id_of(name))
    section = page.locator("section", has=page.get_by_role("heading", name="Why the tool says so"))
    for folded in section.locator("summary").all():
        folded.click()
    lines = [line.split("(criterion")[0].split(":")[0] for line in section.locator(".evidence li").all_inner_texts()]
    assert len(lines) > 3 and len(set(lines)) == len(lines)
    assert not re.search(r"\d\.\d{4,}", section.inner_text())
