"""Points as the desk shows them: the site as a tree of areas, assets and points, each point with its state."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from sqlalchemy import Connection, func, select

from earwitness.ledger import points, schema
from earwitness.plant.finding import ACT_NOW_CLASS, STANDING
from earwitness.plant.site import Point
from earwitness.work.drawings import DrawingRow, pins_of

STATES = {  # word of the state: what it says
    "danger": "something to act on now",
    "worse": "over an alarm level, or risen for good",
    "to mend": "a finding stands there",
    "to verify": "repaired, not yet verified",
    "quiet": "nothing known to be wrong",
    "not heard": "no reading yet",
}


@dataclass(frozen=True)
class Branch:
    """An area of the site, or what belongs to none."""

    area_id: uuid.UUID | None
    name: str
    points: int


@dataclass(frozen=True)
class PointRow:
    """A leaf of the tree. `asset` is empty where the ledger knows none; `plan_x`, `plan_y` are of a drawing's pin."""

    id: uuid.UUID
    name: str
    tag: str
    plant_tag: str | None
    kind: str
    asset: str
    spot: str
    state: str
    last_at: datetime | None
    plan_x: float | None
    plan_y: float | None


def branches(connection: Connection, site_id: uuid.UUID) -> list[Branch]:
    p, a = schema.point.c, schema.area.c
    names = {r.id: r.name for r in connection.execute(select(a.id, a.name).where(a.site_id == site_id))}
    within = (
        select(p.area_id, func.count())
        .where(p.area_id.in_(select(a.id).where(a.site_id == site_id)))
        .group_by(p.area_id)
    )  # the index alone answers
    found = [Branch(i, names[i], n) for i, n in connection.execute(within)]
    bare = connection.scalar(select(func.count()).where(p.area_id.is_(None), p.site_id == site_id))
    if bare:
        found.append(Branch(None, "no area stated", bare))
    return sorted(found, key=lambda b: (b.area_id is None, b.name))


def leaves(
    connection: Connection, site_id: uuid.UUID, area_id: uuid.UUID | None, worse: Collection[uuid.UUID],
    *, words: str = "", limit: int = 100, offset: int = 0,
) -> list[PointRow]:  # fmt: skip
    """Points of an area by asset and name (None: of no area; with `words` those of the whole site that hold them)."""
    p, a = schema.point.c, schema.asset.c
    if words:
        found = points.points(connection, site_id, words=words, limit=limit, offset=offset)
    else:
        joined = schema.point.outerjoin(schema.asset, a.id == p.asset_id)
        asked = select(p.id).select_from(joined).where(p.site_id == site_id, p.area_id == area_id)
        asked = asked.order_by(func.coalesce(a.name, ""), p.name, p.id)
        ids = list(connection.scalars(asked.limit(limit).offset(offset)))
        found = points.points_by_id(connection, ids)
    return sorted(_with_state(connection, found, worse), key=lambda r: (r.asset, r.name, r.id))


def on_drawing(
    connection: Connection, site_id: uuid.UUID, drawing: DrawingRow, worse: Collection[uuid.UUID], limit: int
) -> list[PointRow]:
    """The points that the drawing shows, each at its pin there."""
    pins = pins_of(connection, site_id, drawing, limit)
    rows = _with_state(connection, points.points_by_id(connection, list(pins)), worse)
    placed = [replace(r, plan_x=pins[r.id][0], plan_y=pins[r.id][1]) for r in rows]
    return sorted(placed, key=lambda r: (r.name, r.id))


def row_of(connection: Connection, point: Point, worse: Collection[uuid.UUID]) -> PointRow:
    return _with_state(connection, [point], worse)[0]


def _with_state(connection: Connection, found: Sequence[Point], worse: Collection[uuid.UUID]) -> list[PointRow]:
    ids = [x.id for x in found]
    f, r = schema.finding.c, schema.reading.c
    open_at: dict[uuid.UUID, str] = {}
    last: dict[uuid.UUID, datetime] = {}
    for first in range(0, len(ids), 500):
        some = ids[first : first + 500]
        asked = select(f.point_id, f.state, f.rank_class).where(f.point_id.in_(some))
        for point_id, state, rank in connection.execute(asked):
            word = _word(state, rank)
            if word and _order(word) < _order(open_at.get(point_id, "quiet")):
                open_at[point_id] = word
        heard = select(r.point_id, func.max(r.taken_at)).where(r.point_id.in_(some)).group_by(r.point_id)
        last |= {i: at for i, at in connection.execute(heard)}
    k = schema.asset.c
    wanted = sorted({x.asset_id for x in found if x.asset_id})
    assets = {i: name for i, name in connection.execute(select(k.id, k.name).where(k.id.in_(wanted)))} if wanted else {}
    return [
        PointRow(
            x.id, x.name, x.tag, x.plant_tag, x.kind, assets.get(x.asset_id, "") if x.asset_id else "",
            ", ".join(s for s in (x.component, x.location) if s),
            _state(x.id, open_at, last, worse), last.get(x.id), x.plan_x, x.plan_y,
        )
        for x in found
    ]  # fmt: skip


def _word(state: str, rank: int) -> str:
    if state in STANDING:
        return "danger" if rank < ACT_NOW_CLASS else "to mend"
    return "to verify" if state == "repaired" else ""


def _order(word: str) -> int:
    return list(STATES).index(word)


def _state(
    point: uuid.UUID, open_at: Mapping[uuid.UUID, str], last: Mapping[uuid.UUID, datetime], worse: Collection[uuid.UUID]
) -> str:
    said = [open_at.get(point, "quiet")] + (["worse"] if point in worse else [])
    if said == ["quiet"] and point not in last:
        return "not heard"
    return min(said, key=_order)
