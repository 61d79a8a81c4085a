"""The invented site's year: what was planted in it is what the ledger tells at its end."""

from __future__ import annotations

import json
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from earwitness.intake import read_survey
from earwitness.ledger import findings, open_ledger, sites
from earwitness.simulate.year import rounds, write_round
from earwitness.work.answers import answered_finding
from earwitness.work.demo_year import Year, demo_year
from earwitness.work.programme import programme
from earwitness.work.survey import judge_survey
from earwitness.work.trends import point_of, trend_of


@pytest.fixture(scope="module")
def year(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Year:
    last = judge_survey(read_survey(demo / "survey"), exhibits=False)
    return demo_year(tmp_path_factory.mktemp("year"), last, jobs=2)


@pytest.fixture(scope="module")
def ledger(year):
    opened = open_ledger(year.ledger)
    yield opened
    opened.close()


def states(ledger, text):
    with ledger.reading() as c:
        found = answered_finding(c, sites.site_of(c, None).id, text)
        return [s.state for s in findings.history(c, found.id)]


@pytest.mark.parametrize(("number", "row"), [(n, r) for n, x in enumerate(rounds()) for r in x.rows if r.truth],
                         ids=lambda x: getattr(x, "name", ""))  # fmt: skip
def test_what_was_planted_is_what_was_found(number, row, year, ledger):
    from sqlalchemy import select

    from earwitness.ledger import schema

    with ledger.reading() as c:
        r, a = schema.reading.c, schema.assessment.c
        joined = schema.reading.join(schema.assessment, (a.reading_id == r.id) & a.current)
        assert c.scalar(select(a.verdict).select_from(joined).where(r.name == row.name)) == row.truth


def test_the_lives_of_the_leaks(ledger):
    assert states(ledger, "F-003") == ["open", "repaired", "verified"]  # mended, and stays so
    assert states(ledger, "T-101") == ["open", "repaired", "verified", "reopened"]  # mended, and comes back
    assert states(ledger, "F-005")[:2] == ["open", "scheduled"]  # nobody gets to it
    assert states(ledger, "F-004")[0] == "open" and states(ledger, "F-004")[-1] == "open"  # the fitter did not find it


def test_the_bearing_that_wears_out(ledger):
    with ledger.reading() as c:
        found = trend_of(c, point_of(c, sites.site_of(c, None).id, "Exhauster 2, drive end"))
    assert [v.verdict for v in found.visits] == ["no-fault-heard", "friction", "outer-race"]
    assert [v.state for v in found.visits] == ["ok", "act", "act"] and f"{found.change.began:%Y-%m-%d}" == "2026-05-22"


def test_the_view_of_the_year(ledger):
    with ledger.reading() as c:
        view = programme(c, sites.site_of(c, None), at=datetime(2026, 11, 23, tzinfo=UTC))
    assert view.ever["verified"] == 2 and view.by_state["reopened"] == 2
    assert 0 < view.savings.verified < view.promised and view.savings.lost_again > 0
    assert [w.inspectors for w in view.walks] == [("Demo inspector", "Second inspector")]
    assert {a.verdict: (a.tally.found, a.tally.not_found) for a in view.answers} == {"leak": (3, 1), "friction": (1, 0)}
    assert len(view.system) == 3 and all(r.found for r in view.system)


def test_the_same_seed_gives_the_same_folders(year, tmp_path):
    for this, folder in zip(rounds(), year.rounds, strict=True):
        write_round(this, tmp_path / this.name)
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                assert path.read_bytes() == (tmp_path / this.name / path.relative_to(folder)).read_bytes(), path.name


@pytest.mark.parametrize(
    "arguments",
    [
        ["trend", "Exhauster 2, drive end"],
        ["round", "Mill floor"],
        ["grease", "T-303"],
        ["told", "T-105"],
        ["plan", "--hours", "fitter=16", "--budget", "5000 EUR", "--shutdown", "6", "--round-cost", "300 EUR"],
        ["programme", "--at", "2026-11-23"],
        ["system-test", "history"],
    ],
    ids=lambda a: a[0],
)
def test_each_command_in_words_and_as_json(arguments, year):
    base = [sys.executable, "-m", "earwitness", *arguments, "--ledger", str(year.ledger)]
    words = subprocess.run(base, capture_output=True, text=True)
    assert words.returncode == 0 and words.stdout.strip() and not words.stderr, words.stderr
    data = subprocess.run([*base, "--json"], capture_output=True, text=True)
    assert data.returncode == 0 and json.loads(data.stdout), data.stderr


def test_a_plan_marks_what_no_reading_says_in_money(year):
    """A passage has no loss of its own; it stands in the plan by what others cost, and that is said in its line."""
    command = [sys.executable, "-m", "earwitness", "plan", "--hours", "fitter=16", "--ledger", str(year.ledger)]
    lines = subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()
    assert all("counts as" in line for line in lines if " passage: " in line)
    assert any("counts as" not in line for line in lines if " leak: " in line)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["trend", "no such point"], "no point"),
        (["trend", "T-101", "--site", "Elsewhere"], "no site"),
        (["plan", "--hours", "fitter"], "NAME=VALUE"),
        (["plan", "--hours", "fitter=many"], "number"),
        (["plan", "--hours", "fitter=16", "--budget", "5000 USD"], "EUR"),
        (["plan", "--hours", "fitter=16", "--weeks", "4", "--shutdown", "6"], "weeks 1 to 4"),
        (["grease", "T-101"], "bearing"),
        (["answer", "T-101", "--who", "Fitter"], "--found"),
        (["told", "T-999"], "findings"),
        (["told", "T-101", "--who", "Chief", "--by", "Demo", "--at", "2131-01-01"], "still to come"),
        (["answer", "T-101", "--found", "--who", "Fitter", "--at", "2131-01-01"], "still to come"),
        (["grease", "T-303", "--grams", "3", "--who", "Fitter", "--at", "2131-01-01"], "still to come"),
        (["findings", "step", "T-101", "repaired", "--who", "F", "--at", "2131-01-01"], "still to come"),
        (["check", "--level-db", "51", "--expected-db", "52", "--day", "2131-01-01"], "still to come"),
        (["round", "Nowhere"], "no area"),
    ],
    ids=lambda a: " ".join(a) if isinstance(a, list) else a,
)
def test_what_cannot_be_is_one_plain_line(arguments, says, year):
    command = [sys.executable, "-m", "earwitness", *arguments, "--ledger", str(year.ledger)]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 2 and says in done.stderr, done.stderr
    assert len(done.stderr.strip().splitlines()) == 1 and "Traceback" not in done.stderr


def test_no_ledger_is_made_by_asking(tmp_path):
    command = [sys.executable, "-m", "earwitness", "programme", "--ledger", str(tmp_path / "none.db")]
    done = subprocess.run(command, capture_output=True, text=True)
    assert done.returncode == 2 and "no ledger" in done.stderr and not list(tmp_path.iterdir())
