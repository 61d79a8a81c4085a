"""A survey is dropped, judged in the background, and mended cell by cell."""

from __future__ import annotations

import re
import shutil
import time
from datetime import timedelta
from pathlib import Path

from playwright.sync_api import expect

from earwitness.server.entrance import JUDGE
from earwitness.server.jobs import state_of

from .conftest import faults_for_assistive_technology, overflows

JUDGING_MS = 120_000


def test_a_survey_folder_is_dropped_judged_and_shown(served_empty, open_page, size, demo: Path):
    page = open_page(size)
    page.goto(served_empty.address)
    expect(page.get_by_role("heading", level=1)).to_have_text("Nothing is filed in this ledger yet")
    page.locator("[data-folder]").set_input_files(demo / "survey")
    page.wait_for_url(re.compile(r"/site/[\w-]+/survey/"), timeout=JUDGING_MS)
    heading = page.get_by_role("heading", level=1).inner_text()
    assert re.match(r"\d+\sreadings: \d+ judged, \d+ to act on \(\d at once\), \d+\sproblems", heading), heading
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)


def judge_again(page) -> None:
    """Back on the page that has no job to wait for, be it the first after the click or the one after that."""
    page.locator("html").evaluate("html => { html.dataset.before = '' }")
    page.get_by_role("button", name="Correct the cells and judge again").click()
    done = page.locator("html:not([data-before]):not(:has([data-job])) footer")
    expect(done).to_be_attached(timeout=JUDGING_MS)


def test_a_cell_is_corrected_where_it_stands_and_judged_again(served, open_page, size):
    page = open_page(size)
    page.goto(served.site + "/surveys")
    page.get_by_role("link", name="Autumn round").click()
    cell = page.get_by_label(re.compile(r"^pressure of row"))
    assert cell.input_value() == "7 bananas"
    before = page.locator(".troubles tbody tr").count()
    cell.fill("7 bar(g)")
    judge_again(page)
    expect(page.get_by_label(re.compile(r"^pressure of row"))).to_have_count(0)
    assert page.locator(".troubles tbody tr").count() == before - 1


def test_a_sheet_alone_is_asked_for_what_the_survey_is(served_empty, open_page):
    page = open_page()
    page.goto(served_empty.address)
    sheet = b"point,kind,level_db,background_db,medium,pressure\nPress 4,leak,61,40,air,7 bar(g)\n"
    page.locator("[data-files]").set_input_files({"name": "readings.csv", "mimeType": "text/csv", "buffer": sheet})
    form = page.locator("[data-heading]")
    for label, text in (("Title", 'Round "4"'), ("Site", "Testing ground"), ("Day", "2026-11-20"), ("Inspector", "T")):
        form.get_by_label(label).fill(text)
    form.get_by_role("button", name="Go on").click()
    page.wait_for_url(re.compile("/survey/"), timeout=60_000)
    expect(page.get_by_text('Round "4", 20 November 2026')).to_be_visible()


def test_a_recording_is_assigned_to_the_row_that_misses_one(served_empty, open_page, demo: Path, tmp_path: Path):
    folder = tmp_path / "round"
    (folder / "recordings").mkdir(parents=True)
    shutil.copy(demo / "survey" / "survey.toml", folder)
    shutil.copy(demo / "survey" / "recordings" / "A-001.wav", folder / "recordings" / "loose.wav")
    sheet = "reading,point,kind,recording\nA-1,Press 4,leak,lost-0815.wav\n"
    (folder / "readings.csv").write_text(sheet, "utf-8")
    page = open_page()
    page.goto(served_empty.address)
    page.locator("[data-folder]").set_input_files(folder)
    page.wait_for_url(re.compile("/survey/"), timeout=60_000)
    page.get_by_label("Recording for row 2").select_option("loose.wav")
    judge_again(page)
    expect(page.get_by_label("Recording for row 2")).to_have_count(0)
    page.locator("a[href*='/reading/']").first.click()
    expect(page.get_by_role("button", name="Play")).to_be_visible()


def dropped_by_the_system(page, paths: list[Path]) -> None:
    """A drop as the system's own file manager makes it: the browser itself is told of paths, folders among them."""
    place = page.locator("[data-drop]")
    place.scroll_into_view_if_needed()
    box = place.bounding_box()
    devtools = page.context.new_cdp_session(page)
    data = {"items": [], "files": [str(p) for p in paths], "dragOperationsMask": 1}
    for kind in ("dragEnter", "dragOver", "drop"):
        at = {"x": box["x"] + box["width"] / 2, "y": box["y"] + box["height"] / 2}
        devtools.send("Input.dispatchDragEvent", {"type": kind, **at, "data": data})


def small_survey(folder: Path, demo: Path) -> Path:
    (folder / "recordings" / "line 1").mkdir(parents=True)
    shutil.copy(demo / "survey" / "survey.toml", folder)
    shutil.copy(demo / "survey" / "recordings" / "A-001.wav", folder / "recordings" / "line 1" / "a.wav")
    shutil.copy(demo / "survey" / "recordings" / "A-002.wav", folder / "recordings" / "b.wav")
    (folder / ".hidden").write_text("stays at home", "utf-8")
    rows = "reading,point,kind,recording\nA-1,Press 4,leak,line 1/a.wav\nA-2,Press 5,leak,b.wav\n"
    (folder / "readings.csv").write_text(rows, "utf-8")
    return folder


def judged_two(page) -> None:
    page.wait_for_url(re.compile("/survey/"), timeout=JUDGING_MS)
    expect(page.get_by_role("heading", level=1)).to_contain_text(re.compile(r"2.readings: \d judged"))
    expect(page.get_by_text(re.compile("no file|lost"))).to_have_count(0)
    page.locator("a[href*='/reading/']").first.click()
    expect(page.get_by_role("button", name="Play")).to_be_visible()


def test_a_folder_is_dropped_with_what_lies_deeper(served_empty, open_page, demo: Path, tmp_path: Path):
    page = open_page()
    page.goto(served_empty.address)
    dropped_by_the_system(page, [small_survey(tmp_path / "round", demo)])
    judged_two(page)
    assert not list(served_empty.house.uploads.folder.rglob(".hidden"))


def test_a_zip_is_dropped(served_empty, open_page, demo: Path, tmp_path: Path):
    packed = shutil.make_archive(str(tmp_path / "packed"), "zip", small_survey(tmp_path / "round", demo))
    page = open_page()
    page.goto(served_empty.address)
    dropped_by_the_system(page, [Path(packed)])
    judged_two(page)


def test_a_zip_with_an_empty_recording_and_a_manual_is_judged_and_what_is_left_out_stays_to_be_read(
    served_empty, open_page, demo: Path, tmp_path: Path
):
    folder = small_survey(tmp_path / "round", demo)
    (folder / "manual.pdf").write_bytes(b"%PDF-1.7 ...")
    (folder / "recordings" / "b.wav").write_bytes(b"")
    packed = shutil.make_archive(str(tmp_path / "packed"), "zip", folder)
    page = open_page()
    page.goto(served_empty.address)
    dropped_by_the_system(page, [Path(packed)])
    way = page.get_by_role("link", name="Go to the survey")
    expect(way).to_be_visible(timeout=JUDGING_MS)
    expect(page.get_by_text("“manual.pdf” is no recording")).to_be_visible()
    way.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(re.compile(r"2.readings: \d judged.*1.problem"))
    expect(page.get_by_text("is empty (0 bytes)").first).to_be_visible()


def test_files_are_dropped_side_by_side(served_empty, open_page, demo: Path, tmp_path: Path):
    """What the page is given by a DataTransfer alone, several files at once and a folder among them."""
    folder = small_survey(tmp_path / "round", demo)
    page = open_page()
    page.goto(served_empty.address)
    dropped_by_the_system(page, [folder / "survey.toml", folder / "readings.csv", folder / "recordings"])
    judged_two(page)


def test_the_place_shows_that_it_takes_what_hangs_over_it(served, open_page, tmp_path: Path):
    (tmp_path / "a.txt").write_text("x", "utf-8")
    page = open_page()
    page.goto(served.site + "/surveys")
    place = page.locator("[data-drop]")
    before = place.evaluate("e => getComputedStyle(e).backgroundColor + getComputedStyle(e).outlineStyle")
    box = place.bounding_box()
    devtools = page.context.new_cdp_session(page)
    over = {
        "x": box["x"] + 30,
        "y": box["y"] + 30,
        "data": {"items": [], "files": [str(tmp_path / "a.txt")], "dragOperationsMask": 1},
    }
    devtools.send("Input.dispatchDragEvent", {"type": "dragEnter", **over})
    devtools.send("Input.dispatchDragEvent", {"type": "dragOver", **over})
    expect(place).to_have_class(re.compile("over"))
    assert place.evaluate("e => getComputedStyle(e).backgroundColor + getComputedStyle(e).outlineStyle") != before
    devtools.send("Input.dispatchDragEvent", {"type": "dragOver", **over, "x": 3, "y": 3})
    expect(place).not_to_have_class(re.compile("over"))


def test_a_page_follows_what_is_judged_anew(served, open_page):
    """The order is remembered, but not beyond a judgement: urgent first, then by rank, and the counts agree."""
    page = open_page()
    page.goto(served.site + "/surveys")
    page.get_by_role("link", name="Autumn round").click()
    address = page.url.replace("/site/", "/api/site/")
    told = page.request.get(address).json()
    ranks = [line["rank"] for line in told["lines"]]
    urgent = [line["urgent"] for line in told["lines"]]
    assert urgent == sorted(urgent, reverse=True) and any(urgent)
    listed = [int(rank) for rank, now in zip(ranks, urgent, strict=True) if rank.isdigit() and not now]
    assert listed == sorted(listed) == list(range(1, len(listed) + 1))
    assert told["counts"]["listed"] == len(listed) + sum(urgent)
    assert told["counts"]["judged"] == sum(line["status"] == "judged" for line in told["lines"])
    beyond = page.request.get(f"{address}?from=20").json()["lines"]
    assert [line["id"] for line in beyond] == [line["id"] for line in told["lines"][20:]]
    cell = page.get_by_label(re.compile(r"^pressure of row"))
    cell.fill("7 bar(g)")
    judge_again(page)
    after = page.request.get(address).json()
    assert after["lines"] != told["lines"]


def test_an_upload_that_failed_says_why_and_is_begun_again(served_empty, open_page, size, tmp_path: Path):
    """By keyboard alone: the reason stands there, what was mended on the server's side is judged without a new drop."""
    rows = "reading,point,kind,confirmed,opening_mm\nA-1,Press 4,leak,soap,1\n"
    toml = '[survey]\ntitle = "Round 7"\nsite = "Testing ground"\ndate = "2026-11-20"\ninspector = "T"\n'
    page = open_page(size)
    page.goto(served_empty.address)
    for name, text in (("survey.toml", toml.replace("2026-11-20", "Friday")), ("readings.csv", rows)):
        (tmp_path / "round").mkdir(exist_ok=True)
        (tmp_path / "round" / name).write_text(text, "utf-8")
    page.locator("[data-folder]").set_input_files(tmp_path / "round")
    failed = page.get_by_role("region", name="Brought, and not judged")
    expect(failed).to_contain_text("Round 7", timeout=JUDGING_MS)
    expect(failed).to_be_focused()
    expect(failed).to_contain_text("Friday")
    assert not overflows(page)
    assert not faults_for_assistive_technology(page)
    page.reload()
    expect(failed).to_contain_text("Friday")
    (up,) = (p for p in served_empty.house.uploads.folder.iterdir() if p.is_dir())
    (up / "survey" / "survey.toml").write_text(toml, "utf-8")
    failed.get_by_role("button", name="Judge again: Round 7").focus()
    page.keyboard.press("Enter")
    page.wait_for_url(re.compile("/survey/"), timeout=JUDGING_MS)
    expect(page.get_by_role("heading", level=1)).to_contain_text(re.compile("^1.reading:"))
    page.goto(served_empty.address)
    page.goto(page.url.replace("/today", "/surveys"))
    expect(failed).to_be_hidden()


def test_an_upload_that_failed_is_thrown_away(served_empty, open_page, tmp_path: Path):
    page = open_page()
    page.goto(served_empty.address)
    page.locator("[data-files]").set_input_files(
        [
            {"name": "survey.toml", "mimeType": "text/plain", "buffer": b"[survey]\ntitle = 'Broken'\n"},
            {"name": "readings.csv", "mimeType": "text/csv", "buffer": b"point,kind\nPress 4,leak\n"},
        ]
    )
    failed = page.get_by_role("region", name="Brought, and not judged")
    expect(failed).to_contain_text("Broken", timeout=JUDGING_MS)
    page.get_by_text("Throw it away").click()
    page.get_by_role("button", name="Throw away for good: Broken").click()
    expect(failed).to_be_hidden()
    assert not [p for p in served_empty.house.uploads.folder.iterdir() if p.is_dir()]


def test_what_is_judged_before_the_page_is_there_is_gone_to_all_the_same(served, open_page):
    """One reading without a recording is judged quicker than a browser asks for the next page."""
    uploads, who = served.house.uploads, served.house.at_this_machine(None)
    site = served.house.sites(who)[0]
    up = uploads.begin(who.name)
    toml = f'[survey]\ntitle = "Quick"\nsite = "{site.name}"\ndate = "2026-11-22"\ninspector = "T"\n'
    uploads.put_text(up.id, "survey.toml", toml)
    uploads.put_text(up.id, "readings.csv", "reading,point,kind,confirmed,opening_mm\nQ-1,Press 9,leak,soap,1\n")
    job = uploads.close(up.id, who.name, JUDGE, [str(site.id)])
    served.house.wake()
    page = open_page()
    deadline = time.monotonic() + JUDGING_MS / 1000
    while not state_of(served.house.ledger, job).ended and time.monotonic() < deadline:
        time.sleep(0.1)
    page.goto(f"{served.site}/surveys?job={job}")
    page.wait_for_url(re.compile("/survey/"), timeout=JUDGING_MS)


def test_an_upload_that_was_cut_off_is_judged_as_far_as_it_came(served, open_page, monkeypatch):
    uploads, who = served.house.uploads, served.house.at_this_machine(None).name
    up = uploads.begin(who)
    toml = f'[survey]\ntitle = "Half"\nsite = "{served.house.sites(served.house.at_this_machine(None))[0].name}"\n'
    uploads.put_text(up.id, "survey.toml", toml + 'date = "2026-11-21"\ninspector = "T"\n')
    uploads.put_text(up.id, "readings.csv", "reading,point,kind,confirmed,opening_mm\nH-1,Press 9,leak,soap,1\n")
    page = open_page()
    page.goto(served.site + "/surveys")
    cut_off = page.get_by_role("region", name="Brought, and not judged")
    expect(cut_off).to_be_hidden()  # it may still be coming up
    monkeypatch.setattr("earwitness.server.not_judged.QUIET", timedelta(0))
    page.reload()
    expect(cut_off).to_contain_text("2 files came up and then nothing more")
    page.get_by_role("button", name="Judge again: Half").click()
    page.wait_for_url(re.compile("/survey/"), timeout=JUDGING_MS)
