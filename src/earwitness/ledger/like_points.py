"""Points like another: the same kind at the same site, and of machines the same bearing."""

from __future__ import annotations

import json

from sqlalchemy import Connection, Text, cast, select

from earwitness.ledger import schema
from earwitness.ledger.readings import WITHDRAWN, Listen
from earwitness.plant.site import Point

MOST = 100


def like_levels(connection: Connection, point: Point) -> list[Listen]:
    """The latest reading with a level of each like point."""
    p, r, a = schema.point.c, schema.reading.c, schema.assessment.c
    asked = select(p.id).where(p.site_id == point.site_id, p.kind == point.kind, p.id != point.id)
    if point.machine.bearing:
        named = json.dumps(point.machine.bearing, ensure_ascii=False)
        asked = asked.where(cast(schema.point.c.machine, Text).contains(f'"bearing": {named}', autoescape=True))
    elif point.medium:
        asked = asked.where(p.medium == point.medium)
    out = []
    for identity in connection.scalars(asked.order_by(p.key).limit(MOST)).all():
        row = connection.execute(
            select(
                *(r.id, r.survey_id, r.name, r.taken_at, r.status, r.level_db, r.background_db, r.comparable),
                *(r.recording_sha256, a.verdict, a.probability, a.signal_word),
            )
            .select_from(schema.reading.outerjoin(schema.assessment, (a.reading_id == r.id) & a.current))
            .where(r.point_id == identity, r.status != WITHDRAWN, r.level_db.is_not(None))
            .order_by(r.taken_at.desc(), r.row.desc())
            .limit(1)
        ).first()
        if row is not None:
            out.append(Listen(*tuple(row)))
    return out
