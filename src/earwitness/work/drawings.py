"""Plan drawings and their pins: each drawing that shows a point has a pin of its own for it.

A point's plan_x and plan_y, which its sheet states, are its place on its area's drawing. They are shown there until the
first pin is placed by hand, and follow the pin of that drawing from then on.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import ColumnElement, Connection, and_, delete, false, or_, select

from earwitness.errors import InputError
from earwitness.ledger import schema
from earwitness.ledger.database import Ledger
from earwitness.ledger.rows import change, put
from earwitness.plant.site import identity


@dataclass(frozen=True)
class DrawingRow:
    id: uuid.UUID
    name: str
    area_id: uuid.UUID | None
    area: str | None


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


def pins_of(
    connection: Connection, site_id: uuid.UUID, drawing: DrawingRow, limit: int
) -> dict[uuid.UUID, tuple[float, float]]:
    """Where the drawing shows which points."""
    p, n = schema.point.c, schema.pin.c
    placed = select(n.point_id, n.x, n.y).where(n.plan_drawing_id == drawing.id).limit(limit)
    found = {row.point_id: (row.x, row.y) for row in connection.execute(placed)}
    home = _at_home(connection, site_id, drawing)
    stated = select(p.id, p.plan_x, p.plan_y).where(
        p.site_id == site_id, p.plan_x.is_not(None), p.plan_y.is_not(None), home, p.id.not_in(select(n.point_id))
    )
    more = max(0, limit - len(found))
    return found | {row.id: (row.plan_x, row.plan_y) for row in connection.execute(stated.limit(more))}


def _at_home(connection: Connection, site_id: uuid.UUID, drawing: DrawingRow) -> ColumnElement[bool]:
    """Of points: whose area's drawing this is; the whole site's is that of every area without one."""
    p = schema.point.c
    if drawing.area_id is not None:
        return p.area_id == drawing.area_id
    drawn = {d.area_id for d in drawings(connection, site_id) if d.area_id is not None}
    return or_(p.area_id.is_(None), p.area_id.not_in(drawn)) if drawn else ~false()


def place(
    ledger: Ledger, site_id: uuid.UUID, drawing: DrawingRow, point_id: uuid.UUID, x: float | None, y: float | None
) -> None:
    """Put a point's pin at these fractions of the drawing's width and height; None takes it away."""
    for name, value in (("x", x), ("y", y)):
        if value is not None and not 0 <= value <= 1:
            raise InputError(name, value, "a fraction of the drawing from 0 to 1")
    if (x is None) != (y is None):
        raise InputError("x", x, "both fractions, or none to take the pin away")
    n, p = schema.pin.c, schema.point.c
    with ledger.writing() as connection:
        _keep_stated(connection, site_id, point_id)
        connection.execute(delete(schema.pin).where(n.plan_drawing_id == drawing.id, n.point_id == point_id))
        if x is not None and y is not None:
            _put(connection, drawing.id, point_id, x, y)
        mine = select(p.id).where(and_(p.id == point_id, _at_home(connection, site_id, drawing)))
        if connection.scalar(mine) is not None:
            change(connection, schema.point, point_id, plan_x=x, plan_y=y)


def _keep_stated(connection: Connection, site_id: uuid.UUID, point_id: uuid.UUID) -> None:
    """Before the first pin by hand: the place that the point's sheet stated becomes a pin where it was shown."""
    n, p = schema.pin.c, schema.point.c
    row = connection.execute(select(p.plan_x, p.plan_y).where(p.id == point_id)).one()
    if row.plan_x is None or row.plan_y is None or connection.scalar(select(n.id).where(n.point_id == point_id)):
        return
    for drawing in drawings(connection, site_id):
        shown = select(p.id).where(and_(p.id == point_id, _at_home(connection, site_id, drawing)))
        if connection.scalar(shown) is not None:
            _put(connection, drawing.id, point_id, row.plan_x, row.plan_y)


def _put(connection: Connection, drawing_id: uuid.UUID, point_id: uuid.UUID, x: float, y: float) -> None:
    made = identity("pin", str(drawing_id), str(point_id))
    put(connection, schema.pin, [{"id": made, "plan_drawing_id": drawing_id, "point_id": point_id, "x": x, "y": y}])


def shown_on(connection: Connection, site_id: uuid.UUID, point_id: uuid.UUID) -> Sequence[DrawingRow]:
    """The drawings that show a point."""
    p, n = schema.point.c, schema.pin.c
    every = drawings(connection, site_id)
    placed = set(connection.scalars(select(n.plan_drawing_id).where(n.point_id == point_id)))
    if placed:
        return [d for d in every if d.id in placed]
    stated = select(p.id).where(p.id == point_id, p.plan_x.is_not(None), p.plan_y.is_not(None))
    if connection.scalar(stated) is None:
        return []
    return [d for d in every if connection.scalar(stated.where(_at_home(connection, site_id, d))) is not None]
