"""Every greasing of a point: grams, and the level before, during and after."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime

from sqlalchemy import Connection, select

from earwitness.ledger import schema
from earwitness.ledger.rows import put


@dataclass(frozen=True)
class Greasing:
    id: uuid.UUID
    site_id: uuid.UUID
    point_id: uuid.UUID
    at: datetime
    who: str
    grams: float
    level_before_db: float | None = None
    levels_db: Sequence[float] = ()
    level_after_db: float | None = None
    stopped_because: str | None = None


def keep_greasing(connection: Connection, done: Greasing) -> None:
    put(connection, schema.greasing, [asdict(done) | {"levels_db": list(done.levels_db)}])


def greasings(connection: Connection, point_id: uuid.UUID) -> list[Greasing]:
    """In order of time."""
    g = schema.greasing.c
    rows = connection.execute(select(schema.greasing).where(g.point_id == point_id).order_by(g.at, g.id))
    return [Greasing(**{n: row._mapping[n] for n in Greasing.__dataclass_fields__}) for row in rows]
