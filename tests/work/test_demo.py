"""The main job on the invented site: planted faults found, planted problems listed, every word by the rule."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from earwitness.simulate.site import rows


@pytest.fixture(scope="session")
def findings(demo: Path) -> dict:
    return json.loads((demo / "findings.json").read_text("utf-8"))


@pytest.fixture(scope="session")
def readings(findings: dict) -> dict:
    return {r["reading"]: r for r in findings["readings"]}


@pytest.mark.parametrize("row", [r for r in rows() if r.truth], ids=lambda r: r.name)
def test_what_was_planted_is_what_was_found(row, readings):
    assert readings[row.name]["verdict"] == row.truth


def test_every_planted_problem_is_listed(findings, readings):
    told = {(p["row"], p["column"]) for p in findings["problems"]}
    by_name = {r["reading"]: r["row"] for r in findings["readings"]}
    assert (by_name["A-012"], "pressure") in told  # a unit that is none
    assert (by_name["A-013"], "recording") in told  # a file that is missing
    assert any(p["row"] == by_name["A-002"] + 26 or "A-002" in p["text"] for p in findings["problems"])  # a row twice
    assert [p["code"] for p in readings["A-011"]["fitness"]["problems"]] == ["clipped"]
    assert readings["B-006"]["status"] == "not-running" and "verdict" not in readings["B-006"]


def test_the_row_that_repeats_another_counts_once(findings):
    twice = [r for r in findings["readings"] if r["point"] == "Line 1 capper"]
    assert [r["counts_in_totals"]["yes"] for r in twice] == [True, False]


def test_blowing_on_purpose_is_asked_about_and_not_counted(readings):
    knife = readings["A-004"]
    assert knife["rank"] is None if "rank" in knife else True
    assert knife["counts_in_totals"] == {"yes": False, "why": "blows on purpose"}
    assert knife["next_step"]["code"] == "next-deliberate"


def test_the_opened_seam_has_its_two_places(readings):
    places = readings["S-001"]["places"]
    assert [p["at_s"] for p in places] == pytest.approx([3.6, 8.3], abs=0.4)
    assert [p["at_m"] for p in places] == pytest.approx([1.8, 4.15], abs=0.2)  # evenly walked: 6 m in 12 s


@pytest.mark.parametrize(
    ("reading", "word"),
    [
        ("A-001", "CAUTION"),  # compressed air
        ("A-008", "DANGER"),  # LPG indoors, over 25 % of the limit
        ("A-009", "WARNING"),  # nitrogen indoors without room data
        ("E-001", "WARNING"),  # corona
        ("E-002", "DANGER"),  # tracking at 6 kV
        ("E-003", "NOTICE"),  # hum
        ("E-004", "DANGER"),  # arcing
        ("E-005", "NOTICE"),  # the standing electrical caution
        ("B-002", "CAUTION"),  # damage
        ("B-004", "NOTICE"),  # friction
    ],
)
def test_signal_words_follow_the_table(reading, word, readings):
    assert readings[reading]["signal_word"] == word


def test_urgent_stands_before_and_outside_the_list(findings, readings):
    assert set(findings["urgent"]) == {"A-008", "A-009", "E-002", "E-004"}
    assert all("rank" not in readings[name] for name in findings["urgent"])
    ranks = sorted(r["rank"] for r in findings["readings"] if "rank" in r)
    assert ranks == list(range(1, len(ranks) + 1))


def test_the_same_list_in_every_form(demo, findings):
    with (demo / "repair-list.csv").open(encoding="utf-8-sig", newline="") as stream:
        listed = list(csv.DictReader(stream))
    named = [next(v for k, v in row.items() if k.lower() == "reading") for row in listed]
    ranked = sorted((r for r in findings["readings"] if "rank" in r), key=lambda r: r["rank"])
    assert named == [*findings["urgent"], *(r["reading"] for r in ranked)]
    html = (demo / "report.html").read_text("utf-8")
    assert all(name in html for name in named)


def test_probabilities_are_the_softmax_of_prior_and_weights(readings):
    """A reader can add the evidence up by hand."""
    import math

    from earwitness.hearing.evidence import fitted

    for reading in readings.values():
        if reading.get("detector", {}).get("name") != "leak" or not reading["evidence"]:
            continue
        prior, _ = fitted("leak")
        scores = {v: math.log(p) for v, p in prior.items()}
        for e in reading["evidence"]:
            scores[e["for"]] += e["weight"]
        total = sum(math.exp(s) for s in scores.values())
        for verdict, p in reading.get("probabilities", {}).items():  # none where somebody saw the leak
            assert p == pytest.approx(math.exp(scores[verdict]) / total, abs=2e-3)


def test_the_sum_is_less_than_the_compressors_make(findings):
    supply = 0.62 * (11.5 + 7.2) / 60
    assert findings["totals"]["volume_flow"]["high"] < supply
    assert findings["totals"]["saving_per_year"]["mean"] < findings["totals"]["cost_per_year"]["mean"]


def test_the_same_seed_gives_the_same_bytes(demo, tmp_path):
    from earwitness.work.demo import demo_survey
    from earwitness.work.survey import run_survey

    folder = demo_survey(tmp_path, jobs=1)
    for path in sorted((demo / "survey").rglob("*")):
        if path.is_file():
            assert path.read_bytes() == (folder / path.relative_to(demo / "survey")).read_bytes(), path.name
    run_survey(folder, tmp_path, reports="none", jobs=2)
    first, second = (json.loads((d / "findings.json").read_text("utf-8")) for d in (demo, tmp_path))
    first["made"].pop("at"), second["made"].pop("at")
    assert first == second
