"""A paper round typed in: a grid of the field sheet that saves itself row by row, then judged like any other survey."""

from __future__ import annotations

import csv
import io
import json
import re
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import delete, insert, select, update

from earwitness.intake import reading_of
from earwitness.intake.choices import CHOICES
from earwitness.intake.columns import COLUMNS
from earwitness.ledger import schema
from earwitness.server import Ask, Page, Refusal, Went, jobs
from earwitness.server.entrance import JUDGE
from earwitness.server.refusal import not_found
from earwitness.server.tables import sheet, sheet_row
from earwitness.work.desk_settings import site_with
from earwitness.work.stand_in import without_site_parts
from earwitness.workbench.conditions import NAMES

page = Page("sheet", title="Sheet", under="surveys")
FIRST_COLUMNS = (
    "area",
    "point",
    "kind",
    "level_db",
    "background_db",
    "distance_m",
    "medium",
    "pressure",
    "location",
    "note",
)
MOST_ROWS = 5000
NOT_TYPED = ("recording", "background_recording", "photo", "reading")


@dataclass(frozen=True)
class ColumnShown:
    column: str
    name: str
    choices: Sequence[str]


@dataclass(frozen=True)
class SheetShown:
    id: uuid.UUID
    title: str
    day: str
    inspector: str
    columns: Sequence[ColumnShown]
    others: Sequence[ColumnShown]
    rows: Sequence[Mapping[str, str]]


@dataclass(frozen=True)
class Begun:
    title: str
    day: date
    inspector: str


@dataclass(frozen=True)
class RowTyped:
    row: int
    cells: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class RowKept:
    """A row that lies in the ledger's database now, and what could not be read in it."""

    row: int
    problems: Mapping[str, str]


@page.deed("/site/{site}/sheet", role="inspect")
def begin(ask: Ask, given: Begun) -> Went:
    """Begin a paper round."""
    if not given.title.strip() or not given.inspector.strip():
        raise Refusal(422, "field-missing", "A title and the inspector's name are needed.")
    made = uuid.uuid4()
    with ask.ledger.writing() as connection:
        connection.execute(
            insert(sheet).values(
                id=made, site_id=ask.site.id, who=ask.who.name, begun_at=datetime.now(UTC), title=given.title.strip(),
                day=given.day.isoformat(), inspector=given.inspector.strip(),
            )
        )  # fmt: skip
    return Went(f"{ask.site.path}/sheet/{made}", str(made))


@page.view("/site/{site}/sheet/{id}", role="inspect")
def show(ask: Ask) -> SheetShown:
    """The rows that were typed so far."""
    of, rows = _sheet_here(ask)
    used = {column for cells in rows for column, text in cells.items() if text}
    names = [c.name for c in COLUMNS if c.name not in NOT_TYPED]
    columns = [*FIRST_COLUMNS, *(n for n in names if n in used and n not in FIRST_COLUMNS)]
    others = [_column(n) for n in names if n not in columns]
    return SheetShown(of.id, of.title, of.day, of.inspector, [_column(n) for n in columns], others, rows)


def _column(name: str) -> ColumnShown:
    return ColumnShown(name, NAMES.get(name, name.replace("_", " ")), CHOICES.get(name, ()))


def _sheet_here(ask: Ask) -> tuple[Any, list[Mapping[str, str]]]:
    of = ask.id(what="sheet")
    with ask.ledger.reading() as connection:
        found = connection.execute(select(sheet).where(sheet.c.id == of, sheet.c.site_id == ask.site.id)).first()
        if found is None:
            raise not_found("sheet")
        asked = select(sheet_row.c.row, sheet_row.c.cells).where(sheet_row.c.sheet_id == of).order_by(sheet_row.c.row)
        typed = {row: cells for row, cells in connection.execute(asked)}
    return found, [typed.get(n, {}) for n in range(max(typed, default=-1) + 1)]


@page.deed("/site/{site}/sheet/{id}/row", role="inspect")
def keep_row(ask: Ask, given: RowTyped) -> RowKept:
    """Keep one row as it stands, and say what of it cannot be read."""
    found, _ = _sheet_here(ask)
    if not 0 <= given.row < MOST_ROWS:
        raise Refusal(422, "row-wrong", "A sheet has up to {most} rows; begin another.", most=MOST_ROWS)
    known = {c.name for c in COLUMNS}
    cells = {k: v[:500] for k, v in given.cells.items() if k in known and v.strip()}
    with ask.ledger.writing() as connection:
        here = (sheet_row.c.sheet_id == found.id) & (sheet_row.c.row == given.row)
        connection.execute(delete(sheet_row).where(here))
        connection.execute(insert(sheet_row).values(sheet_id=found.id, row=given.row, cells=cells))
    problems = reading_of(cells).problems if len(cells) > 2 else ()
    return RowKept(given.row, {p.column: p.sentence.text.removeprefix(f"{p.column}: ")
                               for p in problems if p.column in cells})  # fmt: skip


@page.deed("/site/{site}/sheet/{id}/judge", role="inspect")
def judge(ask: Ask) -> Went:
    """The round is typed: file and judge it in the background."""
    found, rows = _sheet_here(ask)
    if found.job_id is not None and jobs.state_of(ask.ledger, found.job_id).state != "failed":
        return Went(f"{ask.site.path}/surveys?job={found.job_id}", str(found.job_id))
    if not any(cells.get("kind") or cells.get("point") for cells in rows):
        raise Refusal(422, "sheet-without-rows", "Nothing is typed yet; a row needs a point and a kind.")
    up = ask.house.uploads.begin(ask.who.name)
    ask.house.uploads.put_text(up.id, "survey.toml", _settings(ask, found))
    ask.house.uploads.put_text(up.id, "readings.csv", _as_csv(rows))
    job = ask.house.uploads.close(up.id, ask.who.name, JUDGE, [str(ask.site.id)])
    with ask.ledger.writing() as connection:
        connection.execute(update(sheet).where(sheet.c.id == found.id).values(job_id=job))
    return Went(f"{ask.site.path}/surveys?job={job}", str(job))


def _as_csv(rows: Sequence[Mapping[str, str]]) -> str:
    columns = [c.name for c in COLUMNS if any(cells.get(c.name) for cells in rows)]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([[cells.get(column, "") for column in columns] for cells in rows])
    return out.getvalue()


def _settings(ask: Ask, found: Any) -> str:
    """The settings of the site's last survey, less what the site itself says now, under this round's own heading."""
    s = schema.survey.c
    with ask.ledger.reading() as connection:
        asked = select(s.settings_toml).where(s.site_id == ask.site.id).order_by(s.day.desc()).limit(1)
        last = connection.execute(asked).scalar() or ""
        last = without_site_parts(last, site_with(connection, ask.site.id))
    rest = re.sub(r"(?ms)^\s*\[survey\]\s*$.*?(?=^\s*\[|\Z)", "", last)
    own = {"title": found.title, "site": ask.site.name, "date": found.day, "inspector": found.inspector}
    lines = [f"{name} = {json.dumps(text, ensure_ascii=False)}" for name, text in own.items()]
    return "\n".join(["[survey]", *lines, "", rest])
