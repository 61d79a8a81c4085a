"""Points: kept, found by name or tag, listed page by page."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Sequence
from dataclasses import asdict
from typing import Any

from sqlalchemy import Connection, Row, func, or_, select

from earwitness.errors import InputError
from earwitness.ledger import schema
from earwitness.ledger.rows import change, put
from earwitness.plant.reading import Machine
from earwitness.plant.site import Point, identity, name_key
from earwitness.plant.tag import read_tag, tag_of

BATCH = 500
PLAIN = (
    *("id", "site_id", "name", "kind", "tag", "area_id", "asset_id", "plant_tag", "component", "location", "medium"),
    *("pressure_abs", "baseline_db", "watch_db", "act_db", "how_to_listen", "dangers", "plan_x", "plan_y"),
)


def points(
    connection: Connection,
    site_id: uuid.UUID,
    *,
    area_id: uuid.UUID | None = None,
    kind: str | None = None,
    words: str = "",
    limit: int = 100,
    offset: int = 0,
) -> list[Point]:
    """A page of a site's points by name; `words` must all stand in the name, the location or the plant's tag."""
    p = schema.point.c
    asked = select(schema.point).where(*_asked(site_id, area_id, kind, words))
    rows = connection.execute(asked.order_by(p.name, p.id).limit(limit).offset(offset))
    return [_point(r) for r in rows]


def count_points(
    connection: Connection,
    site_id: uuid.UUID,
    *,
    area_id: uuid.UUID | None = None,
    kind: str | None = None,
    words: str = "",
) -> int:
    asked = select(func.count()).select_from(schema.point).where(*_asked(site_id, area_id, kind, words))
    return int(connection.scalar(asked) or 0)


def point(connection: Connection, point_id: uuid.UUID) -> Point:
    found = points_by_id(connection, [point_id])
    if not found:
        raise InputError("point", point_id, "the identity of a point in this ledger")
    return found[0]


def points_by_id(connection: Connection, ids: Collection[uuid.UUID]) -> list[Point]:
    return _where_in(connection, schema.point.c.id, list(ids))


def point_by_tag(connection: Connection, site_id: uuid.UUID, text: str) -> Point | None:
    """The point whose printed tag this is, or whose own number of the plant, if only one point has it."""
    p = schema.point.c
    try:
        found = connection.execute(select(schema.point).where(p.site_id == site_id, p.tag == read_tag(text))).first()
        if found is not None:
            return _point(found)
    except InputError:
        pass
    own = connection.execute(select(schema.point).where(p.site_id == site_id, p.plant_tag == text.strip())).fetchmany(2)
    return _point(own[0]) if len(own) == 1 else None


def points_named(connection: Connection, site_id: uuid.UUID, names: Collection[str]) -> list[Point]:
    """Those of any of these names, whatever their kind and area."""
    p = schema.point.c
    keys = sorted({name_key(n) for n in names})
    kinds = list(connection.scalars(select(p.kind).where(p.site_id == site_id).distinct()))
    return _where_in(connection, p.key, keys, p.site_id == site_id, p.kind.in_(kinds))


def points_tagged(connection: Connection, site_id: uuid.UUID, tags: Collection[str]) -> list[Point]:
    """Those with any of these printed tags or numbers of the plant."""
    p = schema.point.c
    written = {form for t in tags if t.strip() for form in (t.strip(), t.strip().upper(), t.strip().lower())}
    own = _where_in(connection, p.plant_tag, sorted(written), p.site_id == site_id)
    printed = sorted({read for t in tags if (read := _printed(t))})
    return own + _where_in(connection, p.tag, printed, p.site_id == site_id)


def point_names(connection: Connection, site_id: uuid.UUID, kind: str) -> list[tuple[uuid.UUID, str, uuid.UUID | None]]:
    """Identity, compared name and area of every point of a kind: to look for names that are nearly the same."""
    p = schema.point.c
    rows = connection.execute(select(p.id, p.key, p.area_id).where(p.site_id == site_id, p.kind == kind))
    return [(r.id, r.key, r.area_id) for r in rows]


def keep_points(connection: Connection, made: Sequence[Point]) -> list[Point]:
    """Insert points, each with a printed tag that no other point of its site has; as they then are."""
    taken: set[tuple[uuid.UUID, str]] = set()
    for site_id in {m.site_id for m in made}:
        p = schema.point.c
        tags = [m.tag for m in made if m.site_id == site_id]
        others = _where_in(connection, p.tag, tags, p.site_id == site_id)
        mine = {m.id for m in made}
        taken |= {(site_id, o.tag) for o in others if o.id not in mine}
    rows, kept = [], []
    for m in made:
        tag, number = m.tag, 1
        while (m.site_id, tag) in taken:  # among 100,000 points about one pair would have the same tag
            number += 1
            tag = tag_of(identity("tag", str(m.id), str(number)))
        taken.add((m.site_id, tag))
        rows.append({name: getattr(m, name) for name in PLAIN} | {"tag": tag, "key": name_key(m.name)})
        rows[-1]["machine"] = machine_cells(m.machine)
        kept.append(m if tag == m.tag else Point(**{**_fields(m), "tag": tag}))
    put(connection, schema.point, rows)
    return kept


def change_point(connection: Connection, point_id: uuid.UUID, **values: Any) -> None:
    """Set some of a point's fields (those of plant.site.Point)."""
    if isinstance(values.get("machine"), Machine):
        values["machine"] = machine_cells(values["machine"])
    if "name" in values:
        values["key"] = name_key(values["name"])
    change(connection, schema.point, point_id, **values)


def machine_cells(machine: Machine) -> dict[str, Any]:
    return {k: v for k, v in asdict(machine).items() if v is not None}


def _fields(p: Point) -> dict[str, Any]:
    return {name: getattr(p, name) for name in PLAIN} | {"machine": p.machine}


def _asked(site_id: uuid.UUID, area_id: uuid.UUID | None, kind: str | None, words: str) -> list[Any]:
    p = schema.point.c
    asked: list[Any] = [p.site_id == site_id]
    if area_id is not None:
        asked.append(p.area_id == area_id)
    if kind is not None:
        asked.append(p.kind == kind)
    for word in name_key(words).split():
        columns = (p.key, func.lower(func.coalesce(p.location, "")), func.lower(func.coalesce(p.plant_tag, "")))
        asked.append(or_(*(c.contains(word, autoescape=True) for c in (*columns, func.lower(p.tag)))))
    return asked


def _where_in(connection: Connection, column: Any, values: Sequence[Any], *also: Any) -> list[Point]:
    out = []
    for first in range(0, len(values), BATCH):
        asked = select(schema.point).where(column.in_(values[first : first + BATCH]), *also)
        out += [_point(r) for r in connection.execute(asked)]
    return out


def _printed(text: str) -> str | None:
    try:
        return read_tag(text)
    except InputError:
        return None


def _point(row: Row[Any]) -> Point:
    cells = row._mapping
    return Point(**{name: cells[name] for name in PLAIN}, machine=Machine(**cells["machine"]))
