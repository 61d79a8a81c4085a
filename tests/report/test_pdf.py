"""The PDF: everything that the HTML says, as text, tagged for screen readers, and nothing read as code."""

from __future__ import annotations

import json
import re
from dataclasses import fields, is_dataclass

import pytest
import typst

from earwitness.report import pdf as pdf_room
from earwitness.report.build import build
from earwitness.report.model import Image, Sound
from tests.report import site


def texts_of(thing) -> set[str]:
    """Every text of the model."""
    if isinstance(thing, str):
        return {thing} if thing else set()
    if isinstance(thing, Image | Sound):
        return set()
    if is_dataclass(thing):
        return set().union(*(texts_of(getattr(thing, f.name)) for f in fields(thing)))
    if isinstance(thing, tuple):
        return set().union(*(texts_of(item) for item in thing), set())
    return set()


@pytest.fixture(scope="module")
def report(tmp_path_factory):
    return build(site.findings(), site.exhibits(tmp_path_factory.mktemp("photos")))


def test_it_is_a_tagged_pdf_with_a_language(report):
    """PDF/UA-1 (ISO 14289-1) is asked of the compiler, which refuses a picture without words."""
    data = pdf_room.pdf(report)
    assert data.startswith(b"%PDF-1.7")
    assert b"/MarkInfo" in data and b"/Lang" in data and b"/StructTreeRoot" in data
    assert b"pdfuaid" in data


def test_everything_in_the_model_reaches_the_page(report, tmp_path, monkeypatch):
    """No PDF reader is at hand, so the check asks the set document itself for every text that it holds."""
    folder = tmp_path / "set"
    folder.mkdir()
    monkeypatch.setattr(pdf_room.tempfile, "TemporaryDirectory", lambda **_: Kept(folder))
    pdf_room.pdf(report)
    source = (folder / "report.typ").read_text("utf-8")
    (folder / "report.typ").write_text(
        source.replace('#let r = json("report.json")', '#let r = json("report.json")\n' + WATCH)
    )
    found = json.loads(typst.query(str(folder / "report.typ"), "<said>", field="value", ignore_system_fonts=True))
    said = squeezed(" ".join(str(f) for f in found))
    headings = json.loads(typst.query(str(folder / "report.typ"), "heading", ignore_system_fonts=True))
    assert len(headings) > 20
    unsaid = {"en"} | {f"r-{r['reading']}" for r in site.findings()["readings"]}
    missing = [t for t in texts_of(report) - unsaid if squeezed(t) not in said]
    assert not missing, missing


def squeezed(text: str) -> str:
    return re.sub(r"[\s\u00a0\u200b]+", "", text)


class Kept:
    """A folder that stays, where a temporary one would go."""

    def __init__(self, folder) -> None:
        self.folder = folder

    def __enter__(self) -> str:
        return str(self.folder)

    def __exit__(self, *_) -> None:
        return None


WATCH = "#show text: it => it + [#metadata(it.text) <said>]"


def test_what_is_written_into_the_sheet_is_not_read_as_code(tmp_path):
    findings = site.findings()
    smuggled = '#panic("run") $ #image("/etc/passwd") = Head <r-R-002> @ref // `raw` \\'
    for reading in findings["readings"]:
        reading["point"] = smuggled
        reading["note"] = smuggled
        reading["extra"] = {smuggled: smuggled}
    findings["survey"]["title"] = smuggled
    assert pdf_room.pdf(build(findings, {})).startswith(b"%PDF")


def test_a_script_that_the_fonts_lack_asks_the_machine_for_one():
    assert not pdf_room._needs_other_fonts("Größe, łożysko, подшипник, διαρροή, 5 µm × 3 – ≥")
    assert pdf_room._needs_other_fonts("空気漏れ")
