"""The command line on a ledger, from a survey folder to tags and back: the demo's own folder, with real detectors."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from earwitness.ledger import open_ledger, points, sites, surveys
from earwitness.plant.tag import read_tag
from earwitness.report.build import build
from earwitness.report.format import SPACE
from earwitness.work.tags import qr_svg, tags_of
from earwitness.workbench.survey_order import orders


def run(*arguments: str, cwd: Path) -> subprocess.CompletedProcess[str]:
    done = subprocess.run(
        [sys.executable, "-m", "earwitness", *arguments], cwd=cwd, capture_output=True, text=True, timeout=300
    )
    assert done.returncode == 0, done.stderr
    return done


@pytest.fixture(scope="module")
def filed(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("filed")
    told = run("survey", str(demo / "survey"), "--out", "out", "--reports", "none", "--ledger", "plant.db", cwd=folder)
    (folder / "told.txt").write_text(told.stderr, "utf-8")
    assert "Ledger: Filed at" in told.stderr and told.stderr.strip().splitlines()[-1].endswith("problems.")
    return folder


def test_the_findings_file_says_what_filing_did(filed):
    found = json.loads((filed / "out" / "findings.json").read_text("utf-8"))
    listed = json.loads(run("findings", "list", "--ledger", "plant.db", "--json", cwd=filed).stdout)
    opened = {e["finding"] for e in found["ledger"]["findings"] if e["state"] == "open"}
    assert opened and opened == {f["id"] for f in listed["findings"]}
    assert opened <= {r["finding"] for r in found["readings"] if r.get("finding")}
    assert found["ledger"]["readings"]["new"] == len(found["readings"]) - 1, "a row that repeats another is filed once"


def test_command_page_and_report_count_alike(filed):
    """Of 28 rows one repeats another in every cell, one names no file, one machine stood still: counted by hand."""
    counted = "27 readings: 25 judged, 17 to act on (4 at once)"
    assert f"{counted}, 3 problems." in (filed / "told.txt").read_text("utf-8")
    ledger = open_ledger(filed / "plant.db")
    with ledger.reading() as c:
        (survey,) = surveys.surveys(c, sites.site_of(c, None).id)
    page = orders.of(ledger, survey).counts.words(len(survey.problems))
    ledger.close()
    assert page.replace(SPACE, " ") == f"{counted}, 3 problems"
    report = build(json.loads((filed / "out" / "findings.json").read_text("utf-8")), {})
    assert "26 were listened to, in 26 readings" in report.summary[0].replace(SPACE, " ")
    assert report.made.replace(SPACE, " ").endswith("; 27 readings.") and len(report.undecided) == 1


def test_what_is_urgent_stands_first_and_the_rest_in_the_order_of_the_report(filed):
    found = json.loads((filed / "out" / "findings.json").read_text("utf-8"))
    listed = json.loads(run("findings", "list", "--ledger", "plant.db", "--json", cwd=filed).stdout)["findings"]
    by_finding = {r["finding"]: r for r in found["readings"] if r.get("finding")}
    names = [by_finding[f["id"]]["reading"] for f in listed]
    ranked = sorted((r for r in found["readings"] if r.get("rank")), key=lambda r: r["rank"])
    assert names == [*found["urgent"], *(r["reading"] for r in ranked if r["reading"] in names)]


def test_a_finding_step_by_step(filed):
    listed = json.loads(run("findings", "list", "--ledger", "plant.db", "--json", cwd=filed).stdout)["findings"]
    last = listed[-1]["id"]
    said = run(
        "findings", "step", last[:8], "scheduled", "--ledger", "plant.db", "--who", "P", "--why", "week 7", cwd=filed
    )
    assert said.stdout.strip() == f"{last[:8]}: open → scheduled"
    steps = run("findings", "history", last, "--ledger", "plant.db", cwd=filed).stdout.splitlines()
    assert len(steps) == 2 and "P: week 7" in steps[1]
    assert steps[0].startswith("2026-11-20        open"), "the day at the site, and no hour where the sheet states none"


def test_tags_are_printed_and_can_be_read_back(filed):
    for name in ("tags.pdf", "tags.html"):
        run("tags", "--ledger", "plant.db", "--out", name, cwd=filed)
    assert (filed / "tags.pdf").read_bytes().startswith(b"%PDF")
    page = (filed / "tags.html").read_text("utf-8")
    ledger = open_ledger(filed / "plant.db")
    with ledger.reading() as c:
        site = sites.site_of(c, None)
        listed = points.points(c, site.id)
    tags = tags_of(ledger, link="https://plant.example/t/")
    ledger.close()
    assert {t.code for t in tags} == {p.tag for p in listed}
    assert page.count("<li>") == len(listed) and all(p.tag in page for p in listed)
    assert all(read_tag(t.code) == t.code and t.holds == f"https://plant.example/t/{t.code}" for t in tags)


def test_the_code_holds_the_tag_and_a_quiet_zone():
    """By the standard's own arithmetic: version 1 has 21 modules and the quiet zone 4 on each side (ISO/IEC 18004)."""
    import segno

    code = segno.make_qr("K7M4-R9TC", error="q")
    assert code.version == 1 and code.symbol_size(border=4) == (29, 29) and code.error in ("Q", "H")
    svg = qr_svg("K7M4-R9TC")
    assert 'width="29"' in svg and 'height="29"' in svg
    assert np.array([list(r) for r in code.matrix]).shape == (21, 21)


def test_a_finding_is_reached_by_the_plants_own_tag_and_listed_with_it(filed):
    """The list prints the number that stands on the plant's plate and the signal word; the number will do to go on."""
    lines = run("findings", "list", "--ledger", "plant.db", cwd=filed).stdout.splitlines()
    line = next(x for x in lines if "T-101" in x)
    assert any(word in line for word in ("DANGER", "WARNING", "CAUTION", "NOTICE"))
    assert "open" in run("findings", "history", "T-101", "--ledger", "plant.db", cwd=filed).stdout
    step = run("findings", "step", "T-101", "repaired", "--who", "F", "--ledger", "plant.db", cwd=filed)
    assert step.stdout == f"{line.split()[0]}: open → repaired\n"


def test_what_was_said_by_mistake_is_taken_back(filed, tmp_path):
    shutil.copy(filed / "plant.db", tmp_path / "plant.db")
    ledger = ("--ledger", "plant.db")
    run("answer", "T-105", "--found", "--fixed", "--who", "F", *ledger, cwd=tmp_path)
    said = run("answer", "T-105", "--take-back", "--who", "F", *ledger, cwd=tmp_path).stdout
    assert said == "The answer of F is taken back and counts no more. The finding is on the list again.\n"
    assert "reopened" in run("findings", "history", "T-105", *ledger, cwd=tmp_path).stdout.splitlines()[-1]
    before = run("told", "T-105", *ledger, cwd=tmp_path).stdout
    assert "night shift" in run("told", "T-105", "--who", "night shift", "--by", "F", *ledger, cwd=tmp_path).stdout
    assert run("told", "T-105", "--take-back", "--by", "F", *ledger, cwd=tmp_path).stdout == before
