"""What fitters found, and who was told of a danger."""

from __future__ import annotations

import uuid
from collections.abc import Collection
from dataclasses import asdict, dataclass
from datetime import datetime

from sqlalchemy import Connection, case, func, select

from earwitness.ledger import schema
from earwitness.ledger.rows import put


@dataclass(frozen=True)
class Answer:
    """`verdict` and `probability` are what the tool had said when the fitter went."""

    id: uuid.UUID
    site_id: uuid.UUID
    finding_id: uuid.UUID
    at: datetime
    who: str
    found: bool
    verdict: str
    what_it_was: str | None = None
    fixed_on_spot: bool = False
    level_before_db: float | None = None
    level_after_db: float | None = None
    probability: float | None = None
    taken_back_at: datetime | None = None
    taken_back_by: str | None = None


@dataclass(frozen=True)
class Tally:
    """Answers on one verdict: how many found it, how many did not, and the mean of the probabilities then given."""

    verdict: str
    found: int
    not_found: int
    mean_probability: float


@dataclass(frozen=True)
class Told:
    id: uuid.UUID
    site_id: uuid.UUID
    reading_id: uuid.UUID
    at: datetime
    who: str
    by: str
    text: str
    taken_back_at: datetime | None = None
    taken_back_by: str | None = None


def keep_answer(connection: Connection, answer: Answer) -> None:
    put(connection, schema.answer, [asdict(answer)])


def answers(connection: Connection, site_id: uuid.UUID, finding_id: uuid.UUID | None = None) -> list[Answer]:
    """A site's answers, or those on one finding, in order of time; those taken back too."""
    a = schema.answer.c
    asked = select(schema.answer).where(a.site_id == site_id)
    if finding_id is not None:
        asked = asked.where(a.finding_id == finding_id)
    return [
        Answer(**{name: row._mapping[name] for name in Answer.__dataclass_fields__})
        for row in connection.execute(asked.order_by(a.at, a.id))
    ]


def tallies(connection: Connection, site_id: uuid.UUID) -> dict[str, Tally]:
    """By verdict, over the answers that stand on what the tool gave a probability."""
    a = schema.answer.c
    found = func.sum(case((a.found, 1), else_=0))
    asked = select(a.verdict, found, func.count(), func.avg(a.probability))
    asked = asked.where(a.site_id == site_id, a.probability.is_not(None), a.taken_back_at.is_(None))
    rows = connection.execute(asked.group_by(a.verdict).order_by(a.verdict))
    return {verdict: Tally(verdict, int(yes), int(n - yes), mean) for verdict, yes, n, mean in rows}


def said(connection: Connection, site_id: uuid.UUID) -> str:
    """Another text whenever somebody answered, was told or took one of these back."""
    kept = [
        connection.execute(
            select(func.count(), func.max(t.c.at), func.count(t.c.taken_back_at)).where(t.c.site_id == site_id)
        ).one()
        for t in (schema.answer, schema.told)
    ]
    return repr([str(value) for row in kept for value in row])


def keep_told(connection: Connection, told: Told) -> None:
    put(connection, schema.told, [asdict(told)])


def told(connection: Connection, reading_ids: Collection[uuid.UUID]) -> list[Told]:
    """Who was told of these readings, in order of time; what was taken back too."""
    t = schema.told.c
    asked = select(schema.told).where(t.reading_id.in_(sorted(reading_ids))).order_by(t.at, t.id)
    return [Told(**{n: row._mapping[n] for n in Told.__dataclass_fields__}) for row in connection.execute(asked)]
