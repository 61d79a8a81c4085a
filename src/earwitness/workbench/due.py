"""What is due at a site: repairs whose week has passed, and readings that could not be judged."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection, func, select

from earwitness.ledger import findings, schema

MOST = 500  # scheduled findings that are looked at


@dataclass(frozen=True)
class Overdue:
    """A repair that was planned for a week that is over."""

    finding_id: uuid.UUID
    where: str
    due: datetime
    days: int
    word_order: int


def overdue(connection: Connection, site_id: uuid.UUID, now: datetime) -> list[Overdue]:
    """The longest first. A repair is due at the end of the week that its plan gave it; its planning says which."""
    listed = {x.finding.id: x for x in findings.ranked(connection, site_id, states=("scheduled",), limit=MOST)}
    s = schema.finding_step.c
    planned = select(s.finding_id, s.at, s.data).where(s.finding_id.in_(listed), s.state == "scheduled")
    due: dict[uuid.UUID, datetime] = {}
    for row in connection.execute(planned.order_by(s.number)):  # the latest planning counts
        due[row.finding_id] = _due(row)
    late = {i: at for i, at in due.items() if at < now}
    out = [
        Overdue(i, listed[i].where, at, (now - at).days, listed[i].finding.figures.word_order)
        for i, at in late.items()
    ]  # fmt: skip
    return sorted(out, key=lambda o: (o.word_order, o.due))


def _due(row: Any) -> datetime:
    if "due" in row.data:
        return datetime.fromisoformat(row.data["due"])
    return row.at + timedelta(weeks=float(row.data.get("week") or 1))


def undecided(connection: Connection, survey_id: uuid.UUID, most: int) -> tuple[Sequence[Any], int]:
    """Readings of a survey that were read and not decided: the first of them, and how many there are."""
    r, a = schema.reading.c, schema.assessment.c
    joined = schema.reading.join(schema.assessment, (a.reading_id == r.id) & a.current)
    there = (r.survey_id == survey_id, r.status == "read", a.verdict == "inconclusive")
    count = connection.execute(select(func.count()).select_from(joined).where(*there)).scalar_one()
    asked = select(r.id, r.name, a.result).select_from(joined).where(*there).order_by(r.row).limit(most)
    return connection.execute(asked).all(), count
