"""What `report.write` puts into a folder: which files, whole, the same each time, in time."""

from __future__ import annotations

import copy
import time

import pytest

from earwitness.errors import InputError
from earwitness.report import write
from tests.report import site

BOTH_SHEETS = {"repair-list.csv", "repair-list.xlsx"}


@pytest.mark.parametrize(
    ("which", "names"),
    [
        ("none", BOTH_SHEETS),
        ("html", BOTH_SHEETS | {"report.html"}),
        ("pdf", BOTH_SHEETS | {"report.pdf"}),
        ("all", BOTH_SHEETS | {"report.html", "report.pdf"}),
    ],
)
def test_the_files_asked_for_and_no_other(tmp_path, which, names):
    made = write(site.findings(), {}, tmp_path / "out", which)
    assert {p.name for p in made} == names == {p.name for p in (tmp_path / "out").iterdir()}


def test_an_unknown_choice_is_refused_before_anything_is_written(tmp_path):
    with pytest.raises(InputError, match="html"):
        write(site.findings(), {}, tmp_path / "out", "word")
    assert not (tmp_path / "out").exists()


def test_the_same_findings_give_the_same_bytes(tmp_path):
    exhibits = site.exhibits(tmp_path)
    first = {p.name: p.read_bytes() for p in write(site.findings(), exhibits, tmp_path / "a", "all")}
    second = {p.name: p.read_bytes() for p in write(site.findings(), exhibits, tmp_path / "b", "all")}
    assert first == second


def test_the_findings_are_left_as_they_were(tmp_path):
    findings = site.findings()
    before = copy.deepcopy(findings)
    write(findings, site.exhibits(tmp_path), tmp_path, "html")
    assert findings == before


def test_a_survey_of_nothing_is_still_a_report(tmp_path):
    write({"schema": "earwitness.survey/1"}, {}, tmp_path, "all")
    assert "Nothing wrong was heard where it could be judged" in (tmp_path / "report.html").read_text("utf-8")
    assert (tmp_path / "report.pdf").read_bytes().startswith(b"%PDF")


OPTIONAL = [
    *("medium", "evidence", "quantities", "hazards", "conditions", "repair", "point", "verdict", "notes", "cautions"),
    *("next_step", "fitness", "probabilities", "extra", "status"),
]


@pytest.mark.parametrize("name", OPTIONAL)
def test_any_optional_part_may_be_missing(tmp_path, name):
    findings = site.findings()
    for reading in findings["readings"]:
        reading.pop(name, None)
    write(findings, {}, tmp_path, "all")


def test_thirty_findings_with_pictures_are_set_in_time(tmp_path):
    """The bar is 10 s of one core for HTML and PDF of 30 findings."""
    findings, shown = site.findings(), site.exhibits(tmp_path)
    leak = next(r for r in findings["readings"] if r["reading"] == "R-002")
    exhibits = {}
    for number in range(30):
        name = f"N-{number:03d}"
        findings["readings"].append({**copy.deepcopy(leak), "reading": name, "rank": 100 + number})
        exhibits[name] = shown["R-002"]
    start = time.process_time()
    write(findings, exhibits, tmp_path, "all")
    assert time.process_time() - start < 10
