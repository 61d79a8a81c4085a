"""One survey: what could not be read and how it is mended, and what each reading was judged to be."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sqlalchemy import Connection, and_, select

from earwitness.ledger import Ledger, schema, surveys
from earwitness.ledger.surveys import FiledSurvey
from earwitness.report import blocks, wording
from earwitness.report.counts import Counts
from earwitness.server import Ask, House, Page, Refusal, Went, jobs
from earwitness.server.page import Progress
from earwitness.server.refusal import not_found
from earwitness.work.answers import LocalRate, at_this_site, local_rates
from earwitness.work.correct import Sheets, correct, sheets_of
from earwitness.workbench.survey_order import orders

page = Page("survey", title="Survey", under="surveys")
CORRECT = "correct-survey"
SHOWN = 100  # lines of a page
MOST_TROUBLES = 200
MOST_READ = 16  # surveys whose sheets are remembered
FILE_COLUMNS = ("recording", "background_recording")


@dataclass(frozen=True)
class Trouble:
    """Something that could not be read or used; `given` is what stands in the cell, None where no cell can mend it."""

    row: int | None
    column: str | None
    text: str
    given: str | None
    choices: Sequence[str]

    @property
    def field(self) -> str:
        return f"{self.row}:{self.column}"


@dataclass(frozen=True)
class Line:
    """A reading in the survey's list."""

    id: uuid.UUID
    reading: str
    rank: str
    word: str
    where: str
    what: str
    wastes: str
    saves: str
    status: str
    urgent: bool


@dataclass(frozen=True)
class SurveyShown:
    id: uuid.UUID
    title: str
    day: date
    inspector: str
    heading: str
    troubles: Sequence[Trouble]
    mendable: int
    lines: Sequence[Line]
    counts: Counts
    first: int
    last: int
    before: int
    job: jobs.JobState | None
    may_correct: bool
    sheet_lost: bool  # it was filed and is not in the folder of recordings


@dataclass(frozen=True)
class Corrections:
    """Cells by "row:column"; a cell that is left as it is is no correction."""

    cells: Mapping[str, str] = field(default_factory=dict)
    before: Mapping[str, str] = field(default_factory=dict)


def survey_here(ask: Ask) -> FiledSurvey:
    of = ask.id(what="survey")
    with ask.ledger.reading() as connection:
        try:
            found = surveys.survey(connection, of)
        except ValueError:
            raise not_found("survey") from None
    if found.site_id != ask.site.id:
        raise not_found("survey")
    return found


@page.view("/site/{site}/survey/{id}")
def show(ask: Ask) -> SurveyShown:
    """What was judged, in the order of the repair list, and what could not be read."""
    filed = survey_here(ask)
    first = int(ask.number("from", 0, 0, 1e9))
    order = orders.of(ask.ledger, filed)
    with ask.ledger.reading() as connection:
        lines = _lines(connection, filed.site_id, order.ids[first : first + SHOWN])
    try:
        troubles, lost = _troubles(ask.ledger, filed), False
    except FileNotFoundError:
        troubles, lost = [_trouble(x, Sheets(None, None, {}, ())) for x in filed.problems[:MOST_TROUBLES]], True
    return SurveyShown(
        filed.id, filed.title, filed.day, filed.inspector, order.counts.words(len(filed.problems)), troubles,
        sum(t.given is not None for t in troubles), lines, order.counts, first,
        min(first + SHOWN, order.counts.readings), max(0, first - SHOWN),
        jobs.asked_for(ask.ledger, ask.query.get("job")), ask.may("inspect"), lost,
    )  # fmt: skip


def _lines(connection: Connection, site_id: uuid.UUID, ids: Sequence[uuid.UUID]) -> list[Line]:
    r, a = schema.reading.c, schema.assessment.c
    both = schema.reading.outerjoin(schema.assessment, and_(a.reading_id == r.id, a.current))
    asked = select(r.id, r.name, r.status, a.result).select_from(both).where(r.id.in_(ids))
    found = {row.id: row for row in connection.execute(asked)}
    rates = local_rates(connection, site_id)
    return [_line(found[i], rates) for i in ids if i in found]


def _line(r: Any, rates: Mapping[str, LocalRate]) -> Line:
    result: Mapping[str, Any] = at_this_site(rates, r.result) if r.result else {"reading": r.name, "status": r.status}
    row = blocks.list_row(result)
    verdict = result.get("verdict")
    status = "judged" if verdict and verdict != "inconclusive" else "undecided" if verdict else r.status
    what = row.what if verdict in wording.FAULTS else wording.headline(result).rstrip(".")
    urgent = bool(result.get("urgent"))
    return Line(r.id, r.name, row.rank, row.word, row.where, what, row.wastes, row.saves, status, urgent)


def _troubles(ledger: Ledger, filed: FiledSurvey) -> Sequence[Trouble]:
    """What the survey's problems are and how each is mended; a sheet is read once while it stays as it is."""
    if not filed.problems:
        return ()
    key = (str(ledger.store.folder), filed.id, filed.inputs_sha256, len(filed.problems))
    if key not in _read:
        sheets = sheets_of(ledger, filed.id)
        _read[key] = tuple(_trouble(problem, sheets) for problem in filed.problems[:MOST_TROUBLES])
        while len(_read) > MOST_READ:
            _read.pop(next(iter(_read)), None)
    return _read[key]


_read: dict[tuple[str, uuid.UUID, str, int], Sequence[Trouble]] = {}


def _trouble(problem: Mapping[str, Any], sheets: Sheets) -> Trouble:
    row, column = problem.get("row"), problem.get("column")
    mendable = row is not None and column in sheets.columns
    given = sheets.text(row, column) if mendable else None
    choices = sheets.free_recordings if column in FILE_COLUMNS and given is not None else ()
    text = str(problem.get("text", "")).removeprefix(f"row {row}, {column}: ")
    return Trouble(row, column, text[:1].upper() + text[1:], given, choices)


@page.deed("/site/{site}/survey/{id}/correct", role="inspect")
def correct_cells(ask: Ask, given: Corrections) -> Went:
    """Write these cells into the sheet and judge the survey again in the background."""
    filed = survey_here(ask)
    changed = {name: text for name, text in given.cells.items() if given.before.get(name) != text}
    if not changed:
        raise Refusal(422, "nothing-corrected", "No cell was changed; edit the cell beside the problem.")
    for name in changed:
        row, colon, column = name.partition(":")
        if not colon or not row.isdigit() or not column.isidentifier():
            raise Refusal(422, "cell-unknown", "There is no cell “{cell}”; write it as row:column.", cell=name[:40])
    asked = {"survey": str(filed.id), "cells": changed, "site": ask.site.tag}
    with ask.ledger.writing() as connection:
        job = jobs.enqueue(connection, CORRECT, ask.who.name, asked, ask.site.id)
    return Went(f"{ask.site.path}/survey/{filed.id}?job={job}", str(job))


@page.job(CORRECT)
def correct_survey(house: House, asked: Mapping[str, Any], progress: Progress) -> Mapping[str, Any]:
    cells = {
        (int(row), column): text for name, text in asked["cells"].items() for row, _, column in [name.partition(":")]
    }
    filed = correct(house.ledger, uuid.UUID(asked["survey"]), cells, jobs=house.judging_processes, progress=progress)
    address = asked.get("address") or f"/site/{asked['site']}/survey/{filed.survey_id}"
    return {**filed.as_json(), "address": address}
