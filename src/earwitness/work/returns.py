"""When to survey which area again: from how fast leaks appear there, what they cost and what a round costs."""

from __future__ import annotations

import math
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from sqlalchemy import Connection, func, select

from earwitness.ledger import points, schema, sites
from earwitness.plant.assessment import rounded
from earwitness.plant.site import Area, Point
from earwitness.programme.renewal import Rate, Return, arrival_rate, best_return
from earwitness.programme.round import short_walk
from earwitness.report.format import money
from earwitness.sentence import Sentence, say

YEAR = timedelta(days=365.25)
UNKNOWN = say("return-unknown", "Not known yet.")


@dataclass(frozen=True)
class AreaReturn:
    """`due` and its range count from the last round of the area; None where too little is known."""

    area: str
    rounds: int
    last: datetime | None
    appeared: int = 0
    rate: Rate | None = None
    cost_per_finding_year: float | None = None
    back: Return | None = None
    sentence: Sentence = UNKNOWN

    @property
    def due(self) -> datetime | None:
        return None if self.back is None or self.last is None else _after(self.last, self.back.years)

    def as_json(self) -> dict[str, Any]:
        out: dict[str, Any] = {"area": self.area, "rounds": self.rounds, "new_findings": self.appeared}
        if self.last is not None:
            out["last"] = self.last.date().isoformat()
        if self.rate is not None:
            r = self.rate
            out["rate"] = {"value": rounded(r.per_year), "low": rounded(r.low), "high": rounded(r.high), "unit": "1/a"}
        if self.due is not None and self.back is not None and self.last is not None:
            out["due"] = self.due.date().isoformat()
            latest = _after(self.last, self.back.latest)
            out["due_range"] = [
                d.date().isoformat() if d else None for d in (_after(self.last, self.back.earliest), latest)
            ]
        return out | {"said": self.sentence.as_json()}


def _after(last: datetime, years: float) -> datetime | None:
    return last + years * YEAR if math.isfinite(years) and years < 50 else None


def returns(connection: Connection, site_id: uuid.UUID, round_cost: float | None, currency: str) -> list[AreaReturn]:
    """Every area of the site that a round has been to; `round_cost` [currency] of one round of one area."""
    p, r = schema.point.c, schema.reading.c
    asked = (
        select(p.area_id, func.count(r.survey_id.distinct()), func.min(r.taken_at), func.max(r.taken_at))
        .select_from(schema.point.join(schema.reading, r.point_id == p.id))
        .where(p.site_id == site_id, p.area_id.is_not(None))
        .group_by(p.area_id)
    )
    rounds = {row[0]: tuple(row)[1:] for row in connection.execute(asked)}
    out = []
    for area in sites.areas(connection, site_id):
        if area.id in rounds:
            count, first, last = rounds[area.id]
            out.append(_area(connection, area, count, first, last, round_cost, currency))
    return sorted(out, key=lambda x: (x.due is None, x.due.isoformat() if x.due else "", x.area))


def _area(
    connection: Connection, area: Area, count: int, first: datetime, last: datetime, round_cost: float | None,
    currency: str,
) -> AreaReturn:  # fmt: skip
    years = (last - first) / YEAR
    if years * 365 < 7:
        text = "One round so far: a second one shows how fast findings appear."
        return AreaReturn(area.name, count, last, sentence=say("return-one-round", text))
    p, f = schema.point.c, schema.finding.c
    asked = (
        select(f.opened_at, func.coalesce(f.saving_per_year, f.cost_per_year))
        .select_from(schema.finding.join(schema.point, p.id == f.point_id))
        .where(p.area_id == area.id, f.state != "dismissed")
    )
    found = connection.execute(asked.add_columns(f.currency)).all()
    appeared = sum(opened > first + timedelta(days=7) for opened, _, _ in found)
    rate = arrival_rate(appeared, years)
    costs = [worth for _, worth, told_in in found if worth and (told_in or currency) == currency]
    known = AreaReturn(area.name, count, last, appeared, rate)
    if not costs or not round_cost:
        what = "the cost of a round (--round-cost)" if costs else "findings with money"
        text = "{n} new findings in {years:.1f} years; when to come back needs {what}."
        said = say("return-needs", text, n=appeared, years=years, what=what)
        return AreaReturn(area.name, count, last, appeared, rate, sentence=said)
    cost = sum(costs) / len(costs)
    back = best_return(rate, cost, round_cost)
    text = (
        "{n} new findings in {years:.1f} years at {cost} a year each: come back {earliest} to {latest} "
        "after the last round{best}."
    )
    said = say(
        "return-best", text, n=appeared, years=years, cost=money({currency: cost}), earliest=_span(back.earliest),
        latest=_span(back.latest), best=f", best {_span(back.years)}" if math.isfinite(back.years) else "",
    )  # fmt: skip
    return AreaReturn(area.name, known.rounds, last, appeared, rate, cost, back, said)


def _span(years: float) -> str:
    if not math.isfinite(years) or years > 10:
        return "over 10 years"
    return f"{years * 12:.0f} months" if years >= 0.25 else f"{years * 52.18:.0f} weeks"


# --- the walk -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Walk:
    """The points of a round in order, its length in metres where the drawing's size is known."""

    points: tuple[Point, ...]
    placed: int
    length_m: float | None
    notes: tuple[Sentence, ...] = ()

    def as_json(self) -> dict[str, Any]:
        return {
            "points": [{"id": str(p.id), "tag": p.tag, "name": p.name, "kind": p.kind} for p in self.points],
            "placed": self.placed,
            "length_m": None if self.length_m is None else rounded(self.length_m),
            "notes": [n.as_json() for n in self.notes],
        }


def walk(connection: Connection, site_id: uuid.UUID, area: Area | None = None) -> Walk:
    """A short walk past the points of an area (or of the site); those without a position come last, by name."""
    found: list[Point] = []
    area_id = area.id if area else None
    while page := points.points(connection, site_id, area_id=area_id, limit=500, offset=len(found)):
        found += page
    placed = [p for p in found if p.plan_x is not None and p.plan_y is not None]
    others = [p for p in found if p.plan_x is None or p.plan_y is None]
    width, height = _size(connection, site_id, area)
    notes = []
    if others:
        text = "{n} points have no position on a plan; they come last, by name."
        notes.append(say("walk-not-placed", text, n=len(others)))
    x = np.array([p.plan_x or 0.0 for p in placed]) * (width or 1.0)
    y = np.array([p.plan_y or 0.0 for p in placed]) * (height or 1.0)
    order = short_walk(x, y) if placed else []
    length = float(np.hypot(np.diff(x[order]), np.diff(y[order])).sum()) if width and height and placed else None
    return Walk((*(placed[i] for i in order), *others), len(placed), length, tuple(notes))


def _size(connection: Connection, site_id: uuid.UUID, area: Area | None) -> tuple[float | None, float | None]:
    d = schema.plan_drawing.c
    asked = select(d.width_m, d.height_m).where(d.site_id == site_id)
    asked = asked.where(d.area_id == area.id) if area else asked.where(d.area_id.is_(None))
    row: Sequence[Any] | None = connection.execute(asked.order_by(d.name).limit(1)).first()
    return (row[0], row[1]) if row is not None else (None, None)
