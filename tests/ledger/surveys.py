"""Survey folders for the ledger's tests, judged by the test itself: what the detectors say is not tested here."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from earwitness.intake import read_survey
from earwitness.interval import Interval
from earwitness.ledger import Ledger
from earwitness.ledger.schema import metadata
from earwitness.plant.assessment import Assessment, Quantity
from earwitness.work.assess import _finding_id
from earwitness.work.fill import filled
from earwitness.work.survey import SurveyResult

Row = Mapping[str, str]


def row(reading: str, heard: str, **cells: str) -> dict[str, str]:
    """A leak heard, or not, at half a metre, 7 bar(g); `heard` is the verdict that the test gives."""
    usual = {
        "reading": reading, "heard": heard, "kind": "leak", "point": f"Line {reading[-1]} capper", "area": "Hall 1",
        "pressure": "7 bar(g)", "level_db": "58" if heard == "leak" else "36", "background_db": "35", "saving": "100",
        "distance_m": "0.5", "sensor": "airborne", "attachment": "none", "recording": f"{reading}.wav",
    }  # fmt: skip
    return {k: v for k, v in (usual | cells).items() if v != ""}


def folder(path: Path, rows: Sequence[Row], *, title: str = "Round", day: str = "2026-01-10", site: str = "Oat works",
           inspector: str = "A. Name") -> Path:  # fmt: skip
    """Write the folder; a recording's bytes are its name, the day and the reading."""
    (path / "recordings").mkdir(parents=True, exist_ok=True)
    toml = f'[survey]\ntitle = "{title}"\nsite = "{site}"\ndate = "{day}"\ninspector = "{inspector}"\n'
    (path / "survey.toml").write_text(toml, "utf-8")
    columns = list(dict.fromkeys(c for r in rows for c in r))
    with (path / "readings.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, restval="")
        writer.writeheader()
        writer.writerows(rows)
    for r in rows:
        if "recording" in r:
            (path / "recordings" / r["recording"]).write_bytes(f"{site} {day} {inspector} {r['reading']}".encode())
    return path


def judged(path: Path, *, version: str = "1", urgent: bool = False, verdicts: Mapping[str, str] = {}) -> SurveyResult:
    """The folder as read, each reading with the verdict that its row's own column `heard` gives."""
    survey = read_survey(path)
    survey = replace(survey, readings=tuple(filled(r, survey) for r in survey.readings))
    assessments = []
    for r in survey.readings:
        verdict = verdicts.get(r.reading) or r.extra.get("heard") or None
        fault = verdict is not None and not verdict.startswith("no-") and verdict != "inconclusive"
        saving = float(r.extra.get("saving") or 0)
        interval = Interval(saving, saving / 2, saving * 2, saving, 0.95)
        assessments.append(
            Assessment(
                r,
                verdict=verdict,
                probability=0.97 if verdict else None,
                finding=_finding_id(r, survey) if fault else None,
                quantities={"saving_per_year": Quantity(interval, "EUR", "level")} if fault and saving else {},
            )
        )
    made = {"version": version, "seed": 0, "settings": {}}
    findings = {"made": made, "problems": [p.as_json() for p in survey.problems], "survey": {"title": survey.title}}
    return SurveyResult(survey, tuple(assessments), findings, {})


def everything(ledger: Ledger) -> dict[str, list[dict[str, Any]]]:
    """Every row of every table."""
    with ledger.reading() as c:
        return {
            t.name: [dict(r._mapping) for r in c.execute(t.select().order_by(*t.primary_key.columns))]
            for t in metadata.sorted_tables
        }
