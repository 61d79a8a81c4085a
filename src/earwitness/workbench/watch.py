"""Which points have got worse, worked out once after each survey: a trend is quick, those of a whole round are not."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import delete, insert, select

from earwitness.ledger import points, readings
from earwitness.ledger.surveys import FiledSurvey
from earwitness.server import House, jobs
from earwitness.server.page import Progress
from earwitness.server.tables import watch
from earwitness.work.trends import PointTrend, trend_of

WATCH = "watch-survey"


@dataclass(frozen=True)
class Worse:
    """A point over an alarm level, or whose level has risen for good; and when the next level is to be expected."""

    point_id: uuid.UUID
    point: str
    state: str
    text: str


def worse_since(house: House, last: FiledSurvey | None) -> Sequence[Worse] | None:
    """What the last survey shows; None while that is being worked out."""
    if last is None:
        return []
    stamp = last.filed_at.isoformat()
    with house.ledger.reading() as connection:
        row = connection.execute(select(watch).where(watch.c.survey_id == last.id)).first()
    if row is not None and row.stamp == stamp:
        return [Worse(uuid.UUID(p["point_id"]), p["point"], p["state"], p["text"]) for p in row.points]
    with house.ledger.writing() as connection:
        if not jobs.is_waiting(connection, WATCH, {"survey": str(last.id), "stamp": stamp}):
            jobs.enqueue(connection, WATCH, "the workbench", {"survey": str(last.id), "stamp": stamp}, last.site_id)
    house.wake()
    return None


def work_out(house: House, asked: Mapping[str, Any], progress: Progress) -> Mapping[str, Any]:
    """The trends of every point of a survey; kept are those that somebody should see."""
    survey_id = uuid.UUID(asked["survey"])
    with house.ledger.reading() as connection:
        heard = {r.point_id for r in readings.readings_of_survey(connection, survey_id) if r.point_id}
        there = sorted(points.points_by_id(connection, heard), key=lambda p: (p.name, p.tag))
        found = []
        for number, point in enumerate(there, 1):
            if (one := _worse(trend_of(connection, point))) is not None:
                found.append(one)
            progress(number, len(there))
        site_id = there[0].site_id if there else None
    with house.ledger.writing() as connection:
        connection.execute(delete(watch).where(watch.c.survey_id == survey_id))
        rows = [{"point_id": str(w.point_id), "point": w.point, "state": w.state, "text": w.text} for w in found]
        connection.execute(
            insert(watch).values(
                survey_id=survey_id, site_id=site_id, made_at=datetime.now(UTC), stamp=asked["stamp"], points=rows
            )
        )
    return {"points": len(there), "worse": len(found)}


def _worse(trend: PointTrend) -> Worse | None:
    if trend.state not in ("watch", "act") and trend.change is None:
        return None
    said = []
    if trend.state in ("watch", "act") and trend.alarms is not None:
        level = trend.visits[-1].level_db
        limit = trend.alarms.act_db if trend.state == "act" else trend.alarms.watch_db
        said.append(f"{level:.0f} dB; its own {trend.state} level is {limit:.0f} dB.")
    if trend.change is not None:
        said.append(trend.change.sentence.text)
    if trend.state != "act" and trend.to_act is not None:
        said.append(trend.to_act.sentence.text)
    return Worse(trend.point.id, trend.point.name, trend.state or "changed", " ".join(said))
