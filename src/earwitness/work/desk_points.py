"""Points as the desk shows them: the site as a tree, each point with its state, and plan drawings with pins."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlalchemy import Connection, func, select

from earwitness.errors import InputError
from earwitness.ledger import points, schema
from earwitness.ledger.database import Ledger
from earwitness.ledger.rows import change, put
from earwitness.plant.finding import STANDING
from earwitness.plant.site import Point

STATES = {  # word of the state: what it says
    "danger": "something to act on now",
    "worse": "over an alarm level, or risen for good",
    "to mend": "a finding stands there",
    "to verify": "repaired, not yet verified",
    "quiet": "nothing known to be wrong",
    "not heard": "no reading yet",
}
ACT_NOW_CLASS = 100


@dataclass(frozen=True)
class Branch:
    """An area of the site, or what belongs to none."""

    area_id: uuid.UUID | None
    name: str
    points: int


@dataclass(frozen=True)
class PointRow:
    """A leaf of the tree."""

    id: uuid.UUID
    name: str
    tag: str
    plant_tag: str | None
    kind: str
    spot: str
    state: str
    last_at: datetime | None
    plan_x: float | None
    plan_y: float | None


@dataclass(frozen=True)
class DrawingRow:
    id: uuid.UUID
    name: str
    area_id: uuid.UUID | None
    area: str | None


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
    """Points of an area by name (None: of no area; with `words` those of the whole site that hold them)."""
    p = schema.point.c
    if words:
        found = points.points(connection, site_id, words=words, limit=limit, offset=offset)
    else:
        asked = select(p.id).where(p.site_id == site_id, p.area_id == area_id).order_by(p.name, p.id)
        ids = list(connection.scalars(asked.limit(limit).offset(offset)))
        found = points.points_by_id(connection, ids)
    return _with_state(connection, sorted(found, key=lambda x: (x.name, x.id)), worse)


def on_drawing(
    connection: Connection, site_id: uuid.UUID, area_id: uuid.UUID | None, worse: Collection[uuid.UUID], limit: int
) -> list[PointRow]:
    """The points that have a pin."""
    p = schema.point.c
    asked = select(p.id).where(p.site_id == site_id, p.plan_x.is_not(None))
    if area_id is not None:
        asked = asked.where(p.area_id == area_id)
    found = points.points_by_id(connection, list(connection.scalars(asked.limit(limit))))
    return _with_state(connection, sorted(found, key=lambda x: (x.name, x.id)), worse)


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
    return [
        PointRow(
            x.id, x.name, x.tag, x.plant_tag, x.kind, ", ".join(s for s in (x.component, x.location) if s),
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


# --- drawings -------------------------------------------------------------------------------------------------------


def drawings(connection: Connection, site_id: uuid.UUID) -> list[DrawingRow]:
    d, a = schema.plan_drawing.c, schema.area.c
    joined = schema.plan_drawing.outerjoin(schema.area, a.id == d.area_id)
    asked = select(d.id, d.name, d.area_id, a.name.label("area")).select_from(joined).where(d.site_id == site_id)
    return [DrawingRow(*row) for row in connection.execute(asked.order_by(d.name, d.id))]


def image_of(connection: Connection, drawing_id: uuid.UUID) -> str:
    """The hash under which the store has the drawing's image."""
    d = schema.plan_drawing.c
    return str(connection.scalar(select(d.image_sha256).where(d.id == drawing_id)))


def keep_drawing(ledger: Ledger, site_id: uuid.UUID, name: str, area_id: uuid.UUID | None, image: Path) -> uuid.UUID:
    """Keep an image as a drawing of an area, or of the whole site."""
    made = uuid.uuid4()
    with ledger.store.storing():
        kept = ledger.store.keep(image)
        with ledger.writing(storing=True) as connection:
            put(connection, schema.recording, [{"sha256": kept.sha256, "size": kept.size, "name": kept.name}])
            row = {"id": made, "site_id": site_id, "area_id": area_id, "name": name, "image_sha256": kept.sha256}
            put(connection, schema.plan_drawing, [row | {"width_m": None, "height_m": None}])
    return made


def place(ledger: Ledger, point_id: uuid.UUID, x: float | None, y: float | None) -> None:
    """Put a point's pin at these fractions of the drawing's width and height; None takes it away."""
    for name, value in (("x", x), ("y", y)):
        if value is not None and not 0 <= value <= 1:
            raise InputError(name, value, "a fraction of the drawing from 0 to 1")
    if (x is None) != (y is None):
        raise InputError("x", x, "both fractions, or none to take the pin away")
    with ledger.writing() as connection:
        change(connection, schema.point, point_id, plan_x=x, plan_y=y)
