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
    assert page.evaluate("document.activeElement.getAttribute('aria-label')") == "point, row 2"  # past what is there
    page.get_by_label("pressure, row 2").focus()
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


AREAS = ("Filling hall", "Boiler house", "Packing")


def paper_round() -> list[dict[str, str]]:
    """Thirty lines as an inspector writes them: by area, mostly leaks of air at the pressure of the net."""
    rows = []
    for number in range(30):
        rows.append(
            {
                "area": AREAS[number // 10],
                "point": f"Line {number // 5 + 1} valve {number % 5 + 1}",
                "kind": "leak",
                "level_db": str(41 + 7 * number % 23),
                "background_db": str(33 + number // 10),
                "distance_m": "0.5 m",
                "medium": "air",
                "pressure": "7 bar(g)" if number < 20 else "6 bar(g)",
            }
        )
    return rows


def keys_in_a_plain_grid(rows: list[dict[str, str]]) -> int:
    """What the same costs in a spreadsheet at its best: a cell like the one above is filled down by one stroke, and
    each cell takes one more to go on."""
    above: dict[str, str] = {}
    count = 0
    for row in rows:
        count += sum(1 if above.get(name) == text else len(text) for name, text in row.items()) + len(row)
        above = row
    return count


def test_thirty_rows_cost_no_more_keys_than_in_a_spreadsheet(served, open_page):
    page, rows = open_page(), paper_round()
    begin(page, served)
    keys, strokes = page.keyboard, 0
    names = list(rows[0])
    for number, row in enumerate(rows):
        above = rows[number - 1] if number else {}
        carried = number > 0 and above["area"] == row["area"]  # Enter has passed over the area then
        if number and not carried:
            keys.press("Shift+Tab")
            strokes += 1
        for name in names[1:] if carried else names:
            if number and name in ("area", "kind", "medium") and above[name] == row[name]:
                pass  # a new row begins with it
            elif above.get(name) == row[name]:
                keys.press("Control+d")
                strokes += 1
            else:
                keys.type(row[name])
                strokes += len(row[name])
            if name != names[-1]:
                keys.press("Tab")
                strokes += 1
        if number < len(rows) - 1:
            keys.press("Enter")
            strokes += 1
    plain = keys_in_a_plain_grid(rows)
    print(f"{strokes} strokes for 30 rows; {plain} in a plain grid")
    assert strokes < 0.9 * plain
    expect(page.locator("[data-state]")).to_contain_text("is saved", timeout=30_000)
    for _ in range(60):  # what was typed last may still be on its way
        kept = page.request.get(page.url.replace("/site/", "/api/site/")).json()["rows"]
        if len(kept) == len(rows):
            break
        page.wait_for_timeout(500)
    assert [{name: text for name, text in row.items() if text} for row in kept] == rows


def test_a_block_is_pasted_and_typing_replaces_what_stands(served, open_page):
    page = open_page()
    begin(page, served)
    page.get_by_label("point, row 1").focus()
    page.evaluate(
        """() => {
            const carried = new DataTransfer();
            carried.setData("text/plain", "Press 1\\tleak\\t61\\nPress 2\\tleak\\t55\\n");
            document.activeElement.dispatchEvent(
                new ClipboardEvent("paste", { clipboardData: carried, bubbles: true, cancelable: true }));
        }"""
    )
    expect(page.get_by_label("point, row 2")).to_have_value("Press 2")
    expect(page.get_by_label("level [dB], row 2")).to_have_value("55")
    page.get_by_label("level [dB], row 1").focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.type("57")
    expect(page.get_by_label("level [dB], row 2")).to_have_value("57")
    expect(page.locator("[data-state]")).to_contain_text("is saved")
    page.reload()
    expect(page.get_by_label("kind, row 2")).to_have_value("leak")
