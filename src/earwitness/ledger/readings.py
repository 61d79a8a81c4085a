"""Readings as they were filed, their earlier revisions, and what each was judged to be."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, and_, select, update

from earwitness.errors import InputError
from earwitness.ledger import schema
from earwitness.ledger.rows import change, put
from earwitness.plant.site import identity

BATCH = 500
WITHDRAWN = "withdrawn"  # status of a reading whose row was taken out of the corrected sheet


@dataclass(frozen=True)
class FiledReading:
    id: uuid.UUID
    site_id: uuid.UUID
    survey_id: uuid.UUID
    point_id: uuid.UUID | None
    name: str
    row: int
    kind: str
    status: str
    taken_at: datetime
    revision: int
    level_db: float | None
    background_db: float | None
    comparable: Mapping[str, Any]
    cells: Mapping[str, Any]
    recording_sha256: str | None
    background_sha256: str | None
    photo_sha256: str | None


@dataclass(frozen=True)
class Listen:
    """One reading of a point as a trend needs it, with what it is now judged to be."""

    id: uuid.UUID
    survey_id: uuid.UUID
    name: str
    taken_at: datetime
    status: str
    level_db: float | None
    background_db: float | None
    comparable: Mapping[str, Any]
    recording_sha256: str | None
    verdict: str | None
    probability: float | None
    signal_word: str | None


@dataclass(frozen=True)
class Judged:
    """An assessment as it was filed."""

    id: uuid.UUID
    reading_id: uuid.UUID
    made_at: datetime
    version: str
    settings: Mapping[str, Any]
    inputs_sha256: str
    current: bool
    verdict: str | None
    probability: float | None
    result: Mapping[str, Any]


@dataclass(frozen=True)
class Revision:
    revision: int
    replaced_at: datetime
    cells: Mapping[str, Any]


FIELDS = tuple(FiledReading.__dataclass_fields__)


def reading(connection: Connection, reading_id: uuid.UUID) -> FiledReading:
    row = connection.execute(select(schema.reading).where(schema.reading.c.id == reading_id)).first()
    if row is None:
        raise InputError("reading", reading_id, "the identity of a reading in this ledger")
    return _reading(row)


def readings_of_survey(connection: Connection, survey_id: uuid.UUID) -> list[FiledReading]:
    r = schema.reading.c
    rows = connection.execute(select(schema.reading).where(r.survey_id == survey_id).order_by(r.row, r.id))
    return [_reading(row) for row in rows]


def sounds_of_survey(connection: Connection, survey_id: uuid.UUID) -> set[str]:
    """The hashes of the recordings that its readings have."""
    r = schema.reading.c
    asked = select(r.recording_sha256, r.background_sha256).where(r.survey_id == survey_id).distinct()
    return {sha for row in connection.execute(asked) for sha in row if sha}


def readings_named(connection: Connection, site_id: uuid.UUID, name: str) -> list[FiledReading]:
    """Those of that name, of whatever survey, the latest first."""
    r = schema.reading.c
    asked = select(schema.reading).where(r.site_id == site_id, r.name == name)
    return [_reading(row) for row in connection.execute(asked.order_by(r.taken_at.desc(), r.row.desc()))]


def listens(
    connection: Connection, point_id: uuid.UUID, *, since: datetime | None = None, limit: int = 1000
) -> list[Listen]:
    """The latest readings of a point in order of time; rows that were withdrawn are not among them."""
    r, a = schema.reading.c, schema.assessment.c
    asked = (
        select(
            *(r.id, r.survey_id, r.name, r.taken_at, r.status, r.level_db, r.background_db, r.comparable),
            *(r.recording_sha256, a.verdict, a.probability, a.signal_word),
        )
        .select_from(schema.reading.outerjoin(schema.assessment, and_(a.reading_id == r.id, a.current)))
        .where(r.point_id == point_id, r.status != WITHDRAWN)
    )
    if since is not None:
        asked = asked.where(r.taken_at >= since)
    rows = connection.execute(asked.order_by(r.taken_at.desc(), r.row.desc()).limit(limit)).all()
    return [Listen(*row) for row in reversed(rows)]


def keep_readings(connection: Connection, rows: Sequence[Mapping[str, Any]]) -> None:
    put(connection, schema.reading, rows)


def revise(connection: Connection, before: FiledReading, values: Mapping[str, Any], now: datetime) -> None:
    """A corrected row: the earlier cells are kept, the revision counts on."""
    earlier = {
        "id": identity("revision", str(before.id), str(before.revision)),
        "reading_id": before.id,
        "revision": before.revision,
        "replaced_at": now,
        "cells": before.cells,
    }
    put(connection, schema.reading_revision, [earlier])
    change(connection, schema.reading, before.id, **values, revision=before.revision + 1)


def move_row(connection: Connection, reading_id: uuid.UUID, row: int) -> None:
    """The same row at another place of the sheet is no correction."""
    change(connection, schema.reading, reading_id, row=row)


def revisions(connection: Connection, reading_id: uuid.UUID) -> list[Revision]:
    """The reading's earlier cells, the first first."""
    v = schema.reading_revision.c
    asked = select(v.revision, v.replaced_at, v.cells).where(v.reading_id == reading_id).order_by(v.revision)
    return [Revision(*row) for row in connection.execute(asked)]


# --- assessments ----------------------------------------------------------------------------------------------------


def judgements(connection: Connection, reading_id: uuid.UUID) -> list[Judged]:
    """Everything the reading was ever judged to be, the present one first."""
    a = schema.assessment.c
    asked = select(schema.assessment).where(a.reading_id == reading_id)
    return [_judged(r) for r in connection.execute(asked.order_by(a.current.desc(), a.made_at.desc(), a.id))]


def current_judgements(connection: Connection, reading_ids: Collection[uuid.UUID]) -> dict[uuid.UUID, Judged]:
    a = schema.assessment.c
    ids, found = sorted(reading_ids), dict[uuid.UUID, Judged]()
    for first in range(0, len(ids), BATCH):
        asked = select(schema.assessment).where(a.reading_id.in_(ids[first : first + BATCH]), a.current)
        found |= {r.reading_id: _judged(r) for r in connection.execute(asked)}
    return found


def keep_judgements(connection: Connection, rows: Sequence[Mapping[str, Any]]) -> None:
    """These are the present judgements of their readings; earlier ones stay, as earlier ones."""
    a = schema.assessment.c
    ids = [row["reading_id"] for row in rows]
    for first in range(0, len(ids), BATCH):
        batch = ids[first : first + BATCH]
        connection.execute(update(schema.assessment).where(a.reading_id.in_(batch), a.current).values(current=False))
    put(connection, schema.assessment, [{**row, "current": False} for row in rows])
    made = [row["id"] for row in rows]
    for first in range(0, len(made), BATCH):
        connection.execute(update(schema.assessment).where(a.id.in_(made[first : first + BATCH])).values(current=True))


def withdraw_judgement(connection: Connection, reading_id: uuid.UUID) -> None:
    a = schema.assessment.c
    connection.execute(update(schema.assessment).where(a.reading_id == reading_id, a.current).values(current=False))


def _reading(row: Row[Any]) -> FiledReading:
    return FiledReading(**{name: row._mapping[name] for name in FIELDS})


def _judged(r: Row[Any]) -> Judged:
    return Judged(
        r.id, r.reading_id, r.made_at, r.version, r.settings, r.inputs_sha256, r.current, r.verdict, r.probability,
        r.result,
    )  # fmt: skip
