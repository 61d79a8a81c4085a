"""The HTML report: complete, self-contained, in order for a screen reader, and deaf to what is smuggled into it."""

from __future__ import annotations

import copy
import re
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from earwitness.report.build import build
from earwitness.report.html import html
from tests.report import site

VOID = {"meta", "link", "br", "img", "path", "circle", "input", "hr"}


class Page(HTMLParser):
    """Tags with attributes, the text, and whether every tag is closed."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict]] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.feed(source)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open and self.open.pop() == tag, f"</{tag}> closes nothing"

    def handle_data(self, data):
        if not self.open or self.open[-1] != "style":
            self.words.append(data)

    @property
    def text(self) -> str:
        return re.sub(r"\s+", " ", " ".join(self.words).replace("\u00a0", " "))

    def all(self, name: str) -> list[dict]:
        return [attrs for tag, attrs in self.tags if tag == name]


@pytest.fixture(scope="module")
def source(tmp_path_factory):
    return html(build(site.findings(), site.exhibits(tmp_path_factory.mktemp("photos"))))


@pytest.fixture(scope="module")
def page(source):
    return Page(source)


def test_every_tag_is_closed_and_identifiers_are_unique(page):
    assert page.open == []
    ids = [attrs["id"] for _, attrs in page.tags if "id" in attrs]
    assert len(ids) == len(set(ids))


def test_language_title_and_viewport_are_there(page):
    assert page.all("html")[0]["lang"] == "en"
    assert any(m.get("name") == "viewport" for m in page.all("meta"))
    assert "Autumn round by ear" in page.text


def test_headings_go_down_one_step_at_a_time(page):
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


def test_nothing_is_fetched_and_nothing_runs(page, source):
    for _, attrs in page.tags:
        for name in ("src", "href"):
            assert attrs.get(name, "#").startswith(("#", "data:"))
        assert not any(name.startswith("on") for name in attrs)
    assert page.all("script") == []
    outside = re.sub(r'"data:[^"]+"', '""', source).replace("http://www.w3.org/2000/svg", "")
    assert "http://" not in outside and "https://" not in outside and "@import" not in outside and "url(" not in outside
    policy = next(m["content"] for m in page.all("meta") if m.get("http-equiv") == "Content-Security-Policy")
    assert policy.startswith("default-src 'none'")


def test_every_link_inside_leads_somewhere(page):
    ids = {attrs["id"] for _, attrs in page.tags if "id" in attrs}
    targets = {a["href"][1:] for a in page.all("a")}
    assert targets and targets <= ids


def test_every_picture_and_sound_is_named(page):
    images = page.all("img")
    assert len(images) == 7
    assert all(len(i["alt"]) > 10 for i in images)
    assert all(a["aria-label"] and "controls" in a for a in page.all("audio"))
    assert len(page.all("audio")) == 3


def test_every_reading_and_every_problem_is_there(page):
    for reading in site.findings()["readings"]:
        assert f"reading {reading['reading']}" in page.text
    for problem in site.findings()["problems"]:
        assert problem["text"] in page.text
        if problem["row"] is not None:
            assert f"row {problem['row']}" in page.text


def test_every_sentence_of_a_listed_reading_is_there(page):
    for reading in site.findings()["readings"]:
        if reading.get("rank") is None and reading["reading"] not in site.findings()["urgent"]:
            continue
        for hazard in reading.get("hazards", []):
            assert hazard["text"] in page.text and hazard["signal_word"] in page.text
            assert all(action["text"] in page.text for action in hazard["first_actions"])
        assert all(caution["text"] in page.text for caution in reading["cautions"])
        assert reading["next_step"]["text"] in page.text
        assert all(note["text"] in page.text for note in reading["notes"])


def test_urgent_stands_before_and_outside_the_list(page, source):
    assert source.index('id="urgent"') < source.index('id="summary"') < source.index('id="list"')
    table = source[source.index('<table class="list"') : source.index("</table>", source.index('<table class="list"'))]
    assert "R-007" not in table and "r-R-007" not in table and "r-R-009" not in table
    assert "Reported to shift lead" in page.text
    assert "It is not stated whether anyone has been told." in page.text


def test_what_a_record_lacks_is_said(page):
    for label in ("Qualification", "Last sensitivity check", "What the displayed dB refers to"):
        assert f"{label} not stated" in page.text


def test_what_would_have_been_heard_is_said(page):
    assert "A leak of about 12 l/min (3–50) would have been heard at 0.5 m over this background." in page.text
    assert "How small a thing would have been heard is not known." in page.text


SMUGGLED = '<script>alert(1)</script><img src=x onerror="alert(2)">"\'>{{7*7}}'


def test_what_is_written_into_the_sheet_stays_text(tmp_path):
    """Every text of the findings is replaced by an attack; the page must show it and run nothing."""

    def poison(value):
        if isinstance(value, dict):
            return {k if k in KEYS else f"{SMUGGLED}{k}": poison(v) for k, v in value.items()}
        if isinstance(value, list):
            return [poison(v) for v in value]
        return SMUGGLED + value if isinstance(value, str) and value not in KEPT else value

    findings = copy.deepcopy(site.findings())
    for reading in findings["readings"]:
        for key in ("point", "area", "tag", "note", "component", "location", "medium"):
            if key in reading:
                reading[key] = SMUGGLED + str(reading[key])
        for key in ("extra", "repair", "conditions", "cautions", "notes", "evidence", "hazards", "next_step", "places"):
            if key in reading:
                reading[key] = poison(reading[key])
        reading["reading"] = SMUGGLED + reading["reading"]
    findings["urgent"] = [SMUGGLED + name for name in findings["urgent"]]
    findings["survey"] = poison(findings["survey"])
    findings["problems"] = poison(findings["problems"])
    source = html(build(findings, {}))
    page = Page(source)
    assert page.open == []
    assert page.all("script") == [] and page.all("img") == []
    assert not any(name.startswith("on") for _, attrs in page.tags for name in attrs)
    assert page.text.count("<script>alert(1)</script>") > 100
    assert "49" not in page.text[: page.text.index("Act now")]


KEPT = {"DANGER", "WARNING", "CAUTION", "NOTICE"}
KEYS = {
    "code", "args", "text", "signal_word", "basis", "first_actions", "name", "value", "unit", "criterion",
    "for", "weight", "given", "from", "at_s", "at_m", "level_db", "row", "column", "file", "title", "site", "date",
    "inspector",
    "instrument", "receiver", "serial", "centre_khz", "reported_to", "reported_at", "hours", "craft", "isolation",
    "parts", "shutdown",
}  # fmt: skip
