"""What the fitters of a site found corrects what the next survey says, and says on how many answers it rests."""

from __future__ import annotations

import json
import uuid
from datetime import UTC, datetime
from pathlib import Path

from earwitness.ledger import findings, open_ledger
from earwitness.report.blocks import block
from earwitness.report.format import percent
from earwitness.work.answers import answer
from earwitness.work.desk_findings import story_of
from earwitness.work.survey_into_ledger import survey_into_ledger


def test_answers_move_the_probability_of_the_next_survey(demo: Path, tmp_path: Path):
    where = tmp_path / "plant.db"
    survey_into_ledger(demo / "survey", tmp_path / "first", where, reports="none")
    before = json.loads((tmp_path / "first" / "findings.json").read_text("utf-8"))["readings"][0]
    assert before["probability_basis"] == "simulated sound"
    ledger = open_ledger(where)
    for name in ("A-001", "A-002", "A-003"):
        answer(ledger, None, name, who="fitter", at=datetime(2026, 11, 22, tzinfo=UTC), found=False)
    ledger.close()
    survey_into_ledger(demo / "survey", tmp_path / "second", where, reports="none")
    after = json.loads((tmp_path / "second" / "findings.json").read_text("utf-8"))["readings"][0]
    assert "3 answers" in after["probability_basis"] and after["probability"] < before["probability"]
    assert before["finding"] == after["finding"]
    assert percent(before["probability"]) != percent(after["probability"])
    now = datetime(2026, 11, 23, tzinfo=UTC)
    ledger = open_ledger(where)
    with ledger.reading() as connection:  # the finding's page tells what the report does
        told = story_of(connection, findings.finding(connection, uuid.UUID(after["finding"])), now).what
    ledger.close()
    assert percent(after["probability"]) in told and percent(before["probability"]) not in told
    basis = block(after, None).probabilities
    assert "by the sound alone" in basis and f"{percent(after['probability'])} from simulated sound, corrected" in basis
