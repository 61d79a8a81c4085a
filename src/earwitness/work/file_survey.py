"""File a judged survey in the ledger: its files, points, readings, assessments, and what they do to the findings.

The files go into the store first; then one transaction names them all. Filing the same folder again changes nothing;
filing it with a corrected sheet changes what was corrected and keeps what stood before.
"""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import UTC, date, datetime, time
from pathlib import PurePosixPath
from typing import Any

from sqlalchemy import Connection, select

from earwitness.errors import EarwitnessError
from earwitness.intake.files import Files
from earwitness.intake.text import decoded
from earwitness.ledger import Ledger, points, readings, schema, sites, surveys
from earwitness.ledger.column_types import as_stored
from earwitness.ledger.readings import WITHDRAWN, FiledReading
from earwitness.ledger.rows import change, line_up, put
from earwitness.ledger.store import Kept
from earwitness.plant.assessment import Assessment
from earwitness.plant.reading import Reading
from earwitness.plant.site import identity, name_key, zone_of
from earwitness.plant.survey import Survey
from earwitness.sentence import Sentence, say
from earwitness.work.findings import Event, decide
from earwitness.work.ledger_match import Match, match_points
from earwitness.work.output import OUTPUTS
from earwitness.work.survey import SurveyResult
from earwitness.work.verify import conditions_of

SHEETS = frozenset({".toml", ".csv", ".xlsx", ".xlsm", ".xls", ".ods", ".tsv", ".txt"})
NOT_CELLS = frozenset({"row", "notes", "problems", "conditions"})


@dataclass(frozen=True)
class Filed:
    """What filing did."""

    survey_id: uuid.UUID
    site: str
    new: int = 0
    changed: int = 0
    same: int = 0
    withdrawn: int = 0
    judged_anew: int = 0  # assessments of readings that did not change
    points_made: int = 0
    doubts: tuple[Sentence, ...] = ()
    events: tuple[Event, ...] = ()

    def count(self, state: str) -> int:
        return sum(e.state == state for e in self.events)

    @property
    def sentence(self) -> Sentence:
        return say(
            "survey-filed",
            "Filed at {site}. Readings: {new} new, {changed} corrected, {same} unchanged; points: {points} made, "
            "{doubts} in doubt; findings: {opened} opened, {verified} verified, {reopened} reopened.",
            site=self.site,
            new=self.new,
            changed=self.changed + self.withdrawn,
            same=self.same,
            points=self.points_made,
            doubts=len(self.doubts),
            opened=self.count("open"),
            verified=self.count("verified"),
            reopened=self.count("reopened"),
        )

    def as_json(self) -> dict[str, Any]:
        return {
            "site": self.site,
            "survey": str(self.survey_id),
            "readings": {"new": self.new, "changed": self.changed, "same": self.same, "withdrawn": self.withdrawn},
            "points_made": self.points_made,
            "doubts": [s.as_json() for s in self.doubts],
            "findings": [e.as_json() for e in self.events],
            "summary": self.sentence.as_json(),
        }


def file_survey(
    ledger: Ledger, result: SurveyResult, *, now: datetime | None = None, only_judgements: bool = False
) -> Filed:
    """File a survey and everything in its folder; all of it or nothing. With `only_judgements` the survey is filed
    already, its readings stay as they are and only what they were judged to be now is kept."""
    fit_to_file(result.survey)
    moment = now or datetime.now(UTC)
    with ledger.store.storing():
        kept = {path: ledger.store.keep(result.survey.folder / path) for path in _paths(result.survey)}
        with ledger.writing(storing=True) as connection:
            filing = _Filing(connection, result, kept, moment)
            return filing.judge_anew() if only_judgements else filing.file()


def fit_to_file(survey: Survey) -> None:
    needed = (("site", survey.site), ("date", survey.date), ("inspector", survey.inspector), ("title", survey.title))
    missing = [name for name, text in needed if not text]
    if missing:
        raise EarwitnessError(f"a survey is filed by its {', '.join(missing)}; state it in [survey] of survey.toml")
    try:
        date.fromisoformat(survey.date)
    except ValueError:
        raise EarwitnessError(f"the survey's date '{survey.date}' is no day; write it as 2026-11-20") from None


def _paths(survey: Survey) -> list[str]:
    """The files of the folder that make the survey: its sheets, recordings and photos, whether a row names them or not;
    not what was written out of it."""
    files = Files.below_folder(survey.folder, "recordings")
    named = {path for r in survey.readings for path in (r.recording, r.background_recording, r.photo)}
    out = []
    for path in files.paths:
        below = path.casefold().startswith(("recordings/", "photos/"))
        sheet = "/" not in path and PurePosixPath(path).suffix.casefold() in SHEETS and path not in OUTPUTS
        if below or sheet or path in named:
            out.append(path)
    return out


@dataclass(frozen=True)
class _Filing:
    """One survey on its way into the ledger."""

    connection: Connection
    result: SurveyResult
    kept: Mapping[str, Kept]
    now: datetime

    @property
    def survey(self) -> Survey:
        return self.result.survey

    def file(self) -> Filed:
        c, s = self.connection, self.survey
        line_up(c, identity("site", name_key(s.site)))
        site = sites.keep_site(c, s.site.strip(), s.conditions.timezone)
        surveys.keep_recordings(c, self.kept.values())
        survey_id = self._survey(site.id)
        stale = {r.name: r for r in readings.readings_of_survey(c, survey_id)}
        filed = [a for a in self.result.assessments if a.reading.repeats is None]
        self._refuse_another(stale, filed)
        matches, made = self._points(site.id, [a.reading for a in filed])
        rows = {a.reading.reading: self._row(site.id, survey_id, a.reading, matches[a.reading.reading]) for a in filed}
        new, changed = self._readings(rows, stale)
        gone = [r for name, r in stale.items() if name not in rows and r.status != WITHDRAWN]
        for reading in gone:
            readings.revise(c, reading, {"status": WITHDRAWN}, self.now)
            readings.withdraw_judgement(c, reading.id)
        judged = self._assessments(site.id, rows, filed)
        events = self._decide(survey_id, judged)
        return Filed(
            survey_id, site.name, len(new), len(changed), len(rows) - len(new) - len(changed), len(gone),
            judged_anew=sum(a.reading.reading not in new | changed for a in judged),
            points_made=made,
            doubts=tuple(m.doubt for m in matches.values() if m.doubt is not None),
            events=tuple(events),
        )  # fmt: skip

    def judge_anew(self) -> Filed:
        """New judgements of the readings that are filed, from the same files."""
        c, s = self.connection, self.survey
        site = sites.site_of(c, s.site)
        line_up(c, site.id)
        survey_id = survey_identity(site.id, s)
        rows = {r.name: asdict(r) for r in readings.readings_of_survey(c, survey_id) if r.status != WITHDRAWN}
        filed = [a for a in self.result.assessments if a.reading.reading in rows]
        judged = self._assessments(site.id, rows, filed)
        events = self._decide(survey_id, judged)
        return Filed(survey_id, site.name, same=len(filed), judged_anew=len(judged), events=tuple(events))

    def _survey(self, site_id: uuid.UUID) -> uuid.UUID:
        """The survey's row and files; where it was filed before, what the folder now says."""
        c, s = self.connection, self.survey
        day = date.fromisoformat(s.date)
        known = survey_identity(site_id, s)
        i = s.instrument
        says = {
            "instrument_id": sites.keep_instrument(c, site_id, i.receiver, i.serial, i.sensor),
            "settings_toml": self._toml(),
            "inputs_sha256": s.inputs_sha256,
            "problems": as_stored(self.result.findings["problems"]),
        }
        own = {"id": known, "site_id": site_id, "title": s.title, "day": day, "inspector": s.inspector}
        row = c.execute(select(schema.survey).where(schema.survey.c.id == known)).first()
        if row is None:
            put(c, schema.survey, [own | {"filed_at": self.now} | says])
        elif any(row._mapping[name] != value for name, value in says.items()):
            change(c, schema.survey, known, **says)
        files = []
        for path, kept in self.kept.items():
            modified = datetime.fromtimestamp((s.folder / path).stat().st_mtime, UTC)
            file = surveys.FiledFile(path, kept.sha256, modified)
            files.append((identity("file", str(known), path, kept.sha256), file))
        surveys.keep_survey_files(c, known, files, self.now)
        return known

    def _toml(self) -> str:
        path = next((p for p in self.kept if p.casefold() == "survey.toml"), None)
        return decoded((self.survey.folder / path).read_bytes())[0] if path else ""

    def _refuse_another(self, stale: Mapping[str, FiledReading], filed: Sequence[Assessment]) -> None:
        if stale and filed and not any(a.reading.reading in stale for a in filed):
            raise EarwitnessError(
                f"another survey '{self.survey.title}' of {self.survey.date} by {self.survey.inspector} is filed "
                "already and shares no reading with this one; give this one a title of its own in survey.toml"
            )

    def _points(self, site_id: uuid.UUID, rows: Sequence[Reading]) -> tuple[dict[str, Match], int]:
        c = self.connection
        areas = sites.keep_areas(c, site_id, [r.area.strip() for r in rows if r.area])
        matches, made, tagged = match_points(c, site_id, rows, areas)
        points.keep_points(c, made)
        for point in tagged:
            points.change_point(c, point.id, plant_tag=point.plant_tag)
        return matches, len(made)

    def _row(self, site_id: uuid.UUID, survey_id: uuid.UUID, r: Reading, match: Match) -> dict[str, Any]:
        def sha(path: str | None) -> str | None:
            kept = self.kept.get(path) if path else None
            return kept.sha256 if kept else None

        return {
            "id": identity("reading", str(survey_id), r.reading),
            "site_id": site_id,
            "survey_id": survey_id,
            "point_id": match.point.id if match.point else None,
            "name": r.reading,
            "row": r.row,
            "kind": r.kind,
            "status": r.status,
            "taken_at": taken_at(r, self.survey),
            "level_db": r.level_db,
            "background_db": r.background_db,
            "comparable": as_stored(conditions_of(r, self.survey)),
            "cells": cells_of(r),
            "recording_sha256": sha(r.recording),
            "background_sha256": sha(r.background_recording),
            "photo_sha256": sha(r.photo),
        }

    def _readings(
        self, rows: Mapping[str, dict[str, Any]], stale: Mapping[str, FiledReading]
    ) -> tuple[set[str], set[str]]:
        """Names of the readings that are new, and of those that were corrected."""
        changed = set()
        for name, row in rows.items():
            before = stale.get(name)
            if before is None:
                continue
            if any(getattr(before, column) != value for column, value in row.items() if column != "row"):
                readings.revise(self.connection, before, row, self.now)
                changed.add(name)
            elif before.row != row["row"]:
                readings.move_row(self.connection, before.id, row["row"])
        new = {name for name in rows if name not in stale}
        readings.keep_readings(self.connection, [{**rows[name], "revision": 1} for name in rows if name in new])
        return new, changed

    def _assessments(
        self, site_id: uuid.UUID, rows: Mapping[str, dict[str, Any]], filed: Sequence[Assessment]
    ) -> list[Assessment]:
        """Keep the judgements that are not the present ones already; which these are."""
        made = self.result.findings["made"]
        settings = {"seed": made["seed"], **made["settings"]}
        present = readings.current_judgements(self.connection, {row["id"] for row in rows.values()})
        context = [self._toml(), *(k.sha256 for p, k in sorted(self.kept.items()) if p.startswith("calibration."))]
        if self.survey.from_site:
            context += [repr(sorted(self.survey.from_site.items())), repr(self.survey.known_leaks)]
        out, kept = [], []
        for a in filed:
            row = rows[a.reading.reading]
            inputs = _hash(_inputs(row), *context)
            result = as_stored(a.as_json())
            now = present.get(row["id"])
            same = (made["version"], settings, inputs, _lasting(result))
            if now is not None and same == (now.version, now.settings, now.inputs_sha256, _lasting(now.result)):
                continue
            out.append(a)
            kept.append(
                {
                    "id": identity("assessment", str(row["id"]), _hash(*same)),
                    "site_id": site_id,
                    "reading_id": row["id"],
                    "made_at": self.now,
                    "version": made["version"],
                    "settings": settings,
                    "inputs_sha256": inputs,
                    **_headline(a),
                    "result": result,
                }
            )
        readings.keep_judgements(self.connection, kept)
        return out

    def _decide(self, survey_id: uuid.UUID, judged: Sequence[Assessment]) -> list[Event]:
        """What the new judgements do to the findings, in the order in which the readings were taken."""
        by_name = {a.reading.reading: a for a in judged}
        rows = [r for r in readings.readings_of_survey(self.connection, survey_id) if r.name in by_name]
        rows.sort(key=lambda r: (r.taken_at, by_name[r.name].reading.verifies is not None, r.row))
        return [e for r in rows for e in decide(self.connection, r, by_name[r.name], self.survey.inspector)]


def survey_identity(site_id: uuid.UUID, survey: Survey) -> uuid.UUID:
    """Of a survey by its title, day and inspector."""
    return identity("survey", str(site_id), name_key(survey.title), survey.date, name_key(survey.inspector))


def taken_at(reading: Reading, survey: Survey) -> datetime:
    """When it was taken; the start of the survey's day where the row does not say. Without a zone: UTC."""
    when = reading.taken_at or datetime.combine(date.fromisoformat(survey.date), time())
    return (when if when.tzinfo else when.replace(tzinfo=zone_of(survey.conditions.timezone))).astimezone(UTC)


def cells_of(reading: Reading) -> dict[str, Any]:
    """What the row says, as it was read: SI values, and each quantity as it was given. Empty cells are left out."""
    bare = replace(reading, notes=(), problems=(), conditions={})
    cells = {name: value for name, value in asdict(bare).items() if name not in NOT_CELLS}
    cells["conditions"] = {name: given.as_json() for name, given in reading.conditions.items()}
    out: dict[str, Any] = as_stored(json.loads(json.dumps(_without_empty(cells), default=datetime.isoformat)))
    return out


def _without_empty(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: kept for k, v in value.items() if (kept := _without_empty(v)) not in (None, {}, (), [])}
    return value


def _inputs(row: Mapping[str, Any]) -> dict[str, Any]:
    return {k: row[k] for k in ("cells", "recording_sha256", "background_sha256", "photo_sha256")}


def _lasting(result: Mapping[str, Any]) -> dict[str, Any]:
    """Of a result what does not depend on the other rows' places and ranks."""
    return {k: v for k, v in result.items() if k not in ("rank", "row")}


def _headline(a: Assessment) -> dict[str, Any]:
    money = {
        name: a.quantities[name].interval.mean for name in ("cost_per_year", "saving_per_year") if name in a.quantities
    }
    return {
        "verdict": a.verdict,
        "probability": a.probability,
        "signal_word": a.signal_word,
        "urgent": a.urgent,
        "cost_per_year": money.get("cost_per_year"),
        "saving_per_year": money.get("saving_per_year"),
    }


def _hash(*parts: Any) -> str:
    text = json.dumps(parts, ensure_ascii=False, sort_keys=True)
    return hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()
