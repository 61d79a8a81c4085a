"""Surveys: what came in, and the place to drop the next one."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import func, select

from earwitness.ledger import schema, sites, surveys
from earwitness.ledger.readings import WITHDRAWN
from earwitness.plant.site import identity, name_key
from earwitness.plant.tag import tag_of
from earwitness.server import Ask, House, Page, Refusal, jobs
from earwitness.server.entrance import JUDGE
from earwitness.server.not_judged import NotJudged, not_judged
from earwitness.server.page import Progress
from earwitness.server.tables import job as job_table
from earwitness.server.tables import sheet
from earwitness.work.file_survey import file_survey
from earwitness.work.stand_in import read_at_site
from earwitness.work.survey import judge_survey
from earwitness.workbench.pages.survey import CORRECT

page = Page("surveys", title="Surveys", order=20)
SHOWN = 100


@dataclass(frozen=True)
class SurveyLine:
    id: uuid.UUID
    title: str
    day: date
    inspector: str
    readings: int
    problems: int


@dataclass(frozen=True)
class SheetLine:
    """A paper round that is being typed in."""

    id: uuid.UUID
    title: str
    day: str


@dataclass(frozen=True)
class Surveys:
    """The surveys of a site, the latest first."""

    count: int
    surveys: Sequence[SurveyLine]
    may_drop: bool
    job: jobs.JobState | None
    not_judged: Sequence[NotJudged]
    sheets: Sequence[SheetLine]
    today: date


@page.view("/site/{site}/surveys")
def show(ask: Ask) -> Surveys:
    """What came in, the latest first."""
    r = schema.reading.c
    with ask.ledger.reading() as connection:
        filed = surveys.surveys(connection, ask.site.id, limit=SHOWN)
        count = connection.execute(
            select(func.count()).select_from(schema.survey).where(schema.survey.c.site_id == ask.site.id)
        ).scalar_one()
        counts: dict[uuid.UUID, int] = dict(
            connection.execute(
                select(r.survey_id, func.count())
                .where(r.survey_id.in_([s.id for s in filed]), r.status != WITHDRAWN)
                .group_by(r.survey_id)
            ).all()
        )
        begun = select(sheet.c.id, sheet.c.title, sheet.c.day).outerjoin(job_table, job_table.c.id == sheet.c.job_id)
        begun = begun.where(sheet.c.site_id == ask.site.id, sheet.c.job_id.is_(None) | (job_table.c.state == "failed"))
        sheets = [SheetLine(*row) for row in connection.execute(begun.order_by(sheet.c.begun_at.desc()).limit(20))]
    lines = [SurveyLine(s.id, s.title, s.day, s.inspector, counts.get(s.id, 0), len(s.problems)) for s in filed]
    job = jobs.asked_for(ask.ledger, ask.query.get("job"))
    waiting = not_judged(ask, (JUDGE, CORRECT)) if ask.may("inspect") else []
    return Surveys(count, lines, ask.may("inspect"), job, waiting, sheets, datetime.now(UTC).date())


@page.job(JUDGE)
def judge(house: House, asked: Mapping[str, Any], progress: Progress) -> Mapping[str, Any]:
    """Read, judge and file what was brought up; where it was filed before a killed server could say so, the same."""
    house.uploads.discard_filed()
    upload = uuid.UUID(asked["upload"])
    survey = read_at_site(house.ledger, house.uploads.survey_folder(upload))
    site_id = identity("site", name_key(survey.site))
    may = asked["may"]
    if "all" not in may and str(site_id) not in may:
        text = "survey.toml names the site “{site}”, where you do not inspect; ask whoever administers it."
        raise Refusal(403, "site-not-yours", text, site=survey.site)
    result = judge_survey(survey, jobs=house.judging_processes, exhibits=False, progress=progress)
    filed = file_survey(house.ledger, result)
    with house.ledger.reading() as connection:
        site = sites.site_of(connection, filed.site)
    return {**filed.as_json(), "address": f"/site/{tag_of(site.id)}/survey/{filed.survey_id}"}
