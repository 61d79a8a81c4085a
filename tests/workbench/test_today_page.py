"""Today shows dangers first, with what comes first, and keeps who was told."""

from __future__ import annotations

import re

from playwright.sync_api import expect

from .conftest import faults_for_assistive_technology, overflows, wait_until


def test_dangers_stand_first_with_first_actions(served, open_page, size):
    page = open_page(size)
    page.goto(served.address)
    expect(page).to_have_url(re.compile("/today$"))
    expect(page.get_by_role("heading", level=1)).to_contain_text("to act on now")
    assert page.get_by_role("heading", level=2).first.inner_text() == "Act now"
    first = page.locator(".act").first
    expect(first.locator(".panel")).to_have_text("DANGER")
    expect(first.locator("ol li").first).to_be_visible()
    expect(page.get_by_text("Could not be judged, and what would settle it")).to_be_visible()
    expect(page.get_by_text("being worked out")).to_have_count(0, timeout=30_000)
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)


def test_who_was_told_is_kept(served, open_page):
    page = open_page()
    page.goto(served.site + "/today")
    danger = page.locator(".act", has_text="Arcing").first
    expect(danger).to_contain_text("Nobody is noted as told.")
    danger.get_by_label("Who was told").fill("night shift electrician")
    danger.get_by_role("button", name="Note it").click()
    expect(page.locator(".act", has_text="Arcing").first).to_contain_text("Told: night shift electrician")


def test_the_whole_path_is_walked_by_keyboard(served, open_page):
    page = open_page()
    page.goto(served.site + "/today")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "To the content"
    page.keyboard.press("Enter")
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.textContent") == "Hear and see why":
            break
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/reading/"))
    for _ in range(60):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.hasAttribute('data-play')"):
            break
    page.keyboard.press("Enter")
    wait_until(page, "document.querySelector('[data-meter]').value > -75")
