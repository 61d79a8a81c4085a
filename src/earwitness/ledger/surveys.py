"""Surveys as they were filed, and the files that they came from."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, Row, select, update

from earwitness.errors import InputError
from earwitness.ledger import schema
from earwitness.ledger.rows import put
from earwitness.ledger.store import Kept


@dataclass(frozen=True)
class FiledSurvey:
    id: uuid.UUID
    site_id: uuid.UUID
    title: str
    day: date
    inspector: str
    inputs_sha256: str
    filed_at: datetime
    problems: list[Any]


@dataclass(frozen=True)
class FiledFile:
    """One file of a survey folder: its path there, and the hash under which the store keeps it."""

    path: str
    sha256: str
    modified_at: datetime | None


def surveys(connection: Connection, site_id: uuid.UUID, *, limit: int = 100, offset: int = 0) -> list[FiledSurvey]:
    """A page of a site's surveys, the latest first."""
    s = schema.survey.c
    asked = select(schema.survey).where(s.site_id == site_id).order_by(s.day.desc(), s.title, s.id)
    return [_survey(r) for r in connection.execute(asked.limit(limit).offset(offset))]


def survey(connection: Connection, survey_id: uuid.UUID) -> FiledSurvey:
    row = connection.execute(select(schema.survey).where(schema.survey.c.id == survey_id)).first()
    if row is None:
        raise InputError("survey", survey_id, "the identity of a survey in this ledger")
    return _survey(row)


def survey_files(connection: Connection, survey_id: uuid.UUID) -> list[FiledFile]:
    """The files as they now stand: those of the last time the folder was filed."""
    f = schema.survey_file.c
    rows = connection.execute(select(f.path, f.sha256, f.modified_at).where(f.survey_id == survey_id, f.current))
    return sorted((FiledFile(*row) for row in rows), key=lambda file: file.path)


def keep_recordings(connection: Connection, kept: Iterable[Kept]) -> None:
    """Rows that name files which are in the store already."""
    rows = {k.sha256: {"sha256": k.sha256, "size": k.size, "name": k.name} for k in kept}
    put(connection, schema.recording, [rows[key] for key in sorted(rows)])


def keep_survey_files(
    connection: Connection, survey_id: uuid.UUID, files: Sequence[tuple[uuid.UUID, FiledFile]], now: datetime
) -> bool:
    """These are the survey's files from now on; earlier ones stay, as earlier ones. Whether anything changed."""
    f = schema.survey_file.c
    known = {r.id: r for r in connection.execute(select(schema.survey_file).where(f.survey_id == survey_id))}
    wanted = dict(files)
    stale = [i for i, row in known.items() if row.current != (i in wanted)]
    for identity in stale:
        values: dict[str, Any] = {"current": identity in wanted}
        if identity in wanted:
            values["modified_at"] = wanted[identity].modified_at
        connection.execute(update(schema.survey_file).where(f.id == identity).values(**values))
    new = [
        {"id": i, "survey_id": survey_id, "path": w.path, "sha256": w.sha256, "modified_at": w.modified_at}
        | {"filed_at": now, "current": True}
        for i, w in wanted.items()
        if i not in known
    ]
    put(connection, schema.survey_file, new)
    return bool(stale or new)


def _survey(r: Row[Any]) -> FiledSurvey:
    return FiledSurvey(r.id, r.site_id, r.title, r.day, r.inspector, r.inputs_sha256, r.filed_at, r.problems)
