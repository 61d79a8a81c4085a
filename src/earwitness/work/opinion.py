"""The inspector's own verdict, kept beside the tool's: neither changes the other, agreement is counted."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from sqlalchemy import Connection, and_, func, insert, select

from earwitness.errors import InputError
from earwitness.ledger import schema

VERDICTS = {  # as the contract has them, the inconclusive aside
    "leak": ("leak", "no-leak-heard"),
    "seal": ("passage", "no-passage-heard"),
    "bearing": (
        *("outer-race", "inner-race", "rolling-element", "cage", "irregular", "friction"),
        "no-fault-heard",
    ),
    "gear": ("tooth", "wear", "no-fault-heard"),
    "electrical": ("corona", "tracking", "arcing", "mains-hum", "no-discharge-heard"),
    "valve": ("passing", "no-passage-heard"),
    "trap": ("working", "blowing", "blocked"),
}


@dataclass(frozen=True)
class Opinion:
    """What a person heard, and why they say so."""

    at: datetime
    who: str
    verdict: str
    why: str
    id: uuid.UUID = field(default_factory=uuid.uuid4)
    taken_back_at: datetime | None = None
    taken_back_by: str | None = None


@dataclass(frozen=True)
class Agreement:
    """Of the readings that somebody judged for themselves: how many agree with the tool's present verdict."""

    agree: int
    judged: int


def verdicts_of(kind: str) -> tuple[str, ...]:
    """What may be said of a reading of this kind."""
    own = VERDICTS.get(kind) or tuple(dict.fromkeys(v for verdicts in VERDICTS.values() for v in verdicts))
    return (*own, "inconclusive")


def decide(connection: Connection, reading_id: uuid.UUID, kind: str, site_id: uuid.UUID, opinion: Opinion) -> None:
    """Keep one more opinion; earlier ones stay."""
    if opinion.verdict not in verdicts_of(kind):
        raise InputError("verdict", opinion.verdict, "one of " + ", ".join(verdicts_of(kind)))
    if not opinion.why.strip():
        raise InputError("why", "empty", "a reason, in a few words")
    connection.execute(
        insert(schema.opinion).values(
            id=opinion.id, site_id=site_id, reading_id=reading_id, at=opinion.at, who=opinion.who,
            verdict=opinion.verdict, why=opinion.why.strip(),
        )
    )  # fmt: skip


def opinions(connection: Connection, reading_id: uuid.UUID) -> Sequence[Opinion]:
    """The latest first; those taken back too."""
    o = schema.opinion.c
    asked = (
        select(o.at, o.who, o.verdict, o.why, o.id, o.taken_back_at, o.taken_back_by)
        .where(o.reading_id == reading_id)
        .order_by(o.at.desc(), o.id)
    )
    return [Opinion(*row) for row in connection.execute(asked)]


def agreement(connection: Connection, site_id: uuid.UUID) -> Agreement:
    """At one site, by each reading's latest opinion that stands."""
    o, a = schema.opinion.c, schema.assessment.c
    standing = select(o.reading_id, func.max(o.at).label("at")).where(o.site_id == site_id, o.taken_back_at.is_(None))
    latest = standing.group_by(o.reading_id).subquery()
    asked = (
        select(o.reading_id, o.verdict, a.verdict.label("tool"))
        .join(latest, and_(latest.c.reading_id == o.reading_id, latest.c.at == o.at))
        .join(schema.assessment, and_(a.reading_id == o.reading_id, a.current))
        .where(o.taken_back_at.is_(None))
    )
    rows = {r.reading_id: r.verdict == r.tool for r in connection.execute(asked)}
    return Agreement(sum(rows.values()), len(rows))
