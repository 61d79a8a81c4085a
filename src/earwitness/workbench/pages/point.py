"""Is this point getting worse? Its level over time, with up to five others beside it."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from earwitness.ledger import findings, points
from earwitness.plant.site import Point
from earwitness.programme.trend import Forecast
from earwitness.report.format import counted
from earwitness.server import Ask, Page
from earwitness.server.refusal import not_found
from earwitness.work.desk_findings import fault
from earwitness.work.desk_points import PointRow, row_of
from earwitness.work.drawings import DrawingRow, shown_on
from earwitness.work.trends import PointTrend, trend_of
from earwitness.workbench.pages.points import worse_points
from earwitness.workbench.trend_chart import trend_chart

page = Page("point", title="Point", under="points")
MOST_COMPARED = 6
MOST_NAMED = 20


@dataclass(frozen=True)
class VisitRow:
    """One visit of the table behind the chart."""

    point: str
    at: datetime
    level_db: float
    repeats: int
    verdict: str | None
    state: str


@dataclass(frozen=True)
class LeftOut:
    at: datetime
    level_db: float | None
    why: str


@dataclass(frozen=True)
class FindingAt:
    id: uuid.UUID
    what: str
    state: str
    since: datetime


@dataclass(frozen=True)
class PointShown:
    """A point over time. `trends` are as `earwitness trend --json` gives them, this point's first."""

    heading: str
    point: PointRow
    how_to_listen: str | None
    dangers: str | None
    trends: Sequence[Mapping[str, Any]]
    compared: Sequence[PointRow]
    could_compare: Sequence[PointRow]
    said: Sequence[str]
    visits: Sequence[VisitRow]
    left_out: Sequence[LeftOut]
    findings: Sequence[FindingAt]
    drawings: Sequence[DrawingRow]
    chart: str


def point_here(connection: Connection, site_id: uuid.UUID, of: uuid.UUID) -> Point:
    found = points.points_by_id(connection, [of])
    if not found or found[0].site_id != site_id:
        raise not_found("point")
    return found[0]


@page.view("/site/{site}/point/{id}")
def show(ask: Ask) -> PointShown:
    """Its level over time, what is normal there, and when an alarm is to be expected; `with` adds points (tags)."""
    worse = worse_points(ask)
    words = ask.query.get("words", "").strip()[:80]
    with ask.ledger.reading() as connection:
        point = point_here(connection, ask.site.id, ask.id(what="point"))
        others: list[Point] = []
        for tag in ask.query.get("with", "").split(",")[: MOST_COMPARED - 1]:
            other = points.point_by_tag(connection, ask.site.id, tag) if tag.strip() else None
            if other is not None and other.id not in {point.id, *(o.id for o in others)}:
                others.append(other)
        trends = [trend_of(connection, p) for p in (point, *others)]
        rows = [row_of(connection, p, worse) for p in (point, *others)]
        here = findings.findings_at(connection, point.id)[:MOST_NAMED]
        named = points.points(connection, ask.site.id, words=words, kind=point.kind, limit=MOST_NAMED) if words else []
        could = [row_of(connection, p, worse) for p in named if p.id not in {r.id for r in rows}]
        on = shown_on(connection, ask.site.id, point.id)
    visits = [VisitRow(t.point.name, v.at, v.level_db, len(v.levels_db), v.verdict, v.state) for t in trends
              for v in t.visits]  # fmt: skip
    return PointShown(
        heading=f"{point.name}: {_heading(trends[0])}",
        point=rows[0],
        how_to_listen=point.how_to_listen,
        dangers=point.dangers,
        trends=[t.as_json() for t in trends],
        compared=rows[1:],
        could_compare=could,
        said=_said(trends[0]),
        visits=visits,
        left_out=[LeftOut(x.taken_at, x.level_db, why.text) for x, why in trends[0].left_out],
        findings=[FindingAt(f.id, fault(f.verdict), f.state, f.opened_at) for f in here],
        drawings=on,
        chart=str(trend_chart(trends, f"Level over time: {point.name}, {_heading(trends[0])}")),
    )


def _heading(t: PointTrend) -> str:
    if not t.visits:
        return "no level to follow yet"
    level = f"{t.visits[-1].level_db:.0f} dB"
    if t.state == "act":
        return f"over its own act level, {level}"
    if t.state == "watch":
        soon = f"; act level {_within(t.to_act)}" if t.to_act and t.to_act.earliest_days is not None else ""
        return f"over its own watch level, {level}{soon}"
    if t.to_act and t.to_act.likely_days is not None:
        return f"rising; act level {_within(t.to_act)}"
    if t.change is not None:
        return f"risen for good, {level}"
    if t.baseline is None:
        return f"{level}; what is normal there is not known yet"
    return f"steady at {level}" if len(t.visits) > 1 else f"{level} at the only visit"


def _within(f: Forecast) -> str:
    early = (f.earliest_days or 0) / 7
    if f.latest_days is None:
        return f"in {counted(max(1, round(early)), 'week')} at the earliest"
    return f"in {early:.0f} to {max(1, f.latest_days / 7):.0f} weeks"


def _said(t: PointTrend) -> list[str]:
    """What the chart rests on, in sentences, each once."""
    sentences = [
        t.baseline_basis, t.alarms.basis if t.alarms else None, t.change.sentence if t.change else None,
        t.to_watch.sentence if t.to_watch else None, t.to_act.sentence if t.to_act else None, t.false_alarm,
        t.like.basis if t.like else None, *t.notes,
    ]  # fmt: skip
    return list(dict.fromkeys(s.text for s in sentences if s is not None))
