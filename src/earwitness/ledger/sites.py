"""Sites, their areas and instruments."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, select

from earwitness.errors import EarwitnessError
from earwitness.ledger import schema
from earwitness.ledger.rows import put
from earwitness.plant.site import Area, Site, identity, name_key


def sites(connection: Connection) -> list[Site]:
    rows = connection.execute(select(schema.site).order_by(schema.site.c.name))
    return [Site(r.id, r.name, r.timezone, r.settings) for r in rows]


def site_of(connection: Connection, name: str | None) -> Site:
    """The site of that name, or the only one; where neither is clear, an error that lists them."""
    known = sites(connection)
    found = [s for s in known if name is None or name_key(s.name) == name_key(name)]
    if len(found) == 1:
        return found[0]
    names = ", ".join(s.name for s in known[:10]) or "none"
    if not known:
        raise EarwitnessError("the ledger holds no site yet; `earwitness survey FOLDER --ledger FILE` files the first")
    if name is None:
        raise EarwitnessError(f"the ledger holds {len(known)} sites ({names}); name one with --site")
    raise EarwitnessError(f"the ledger holds no site {name}; it holds: {names}")


def keep_site(
    connection: Connection, name: str, timezone: str | None = None, settings: Mapping[str, Any] | None = None
) -> Site:
    """The site of that name, made where it is not there."""
    known = identity("site", name_key(name))
    put(connection, schema.site, [{"id": known, "name": name, "timezone": timezone, "settings": dict(settings or {})}])
    row = connection.execute(select(schema.site).where(schema.site.c.id == known)).one()
    return Site(row.id, row.name, row.timezone, row.settings)


def areas(connection: Connection, site_id: uuid.UUID) -> list[Area]:
    rows = connection.execute(select(schema.area).where(schema.area.c.site_id == site_id).order_by(schema.area.c.name))
    return [Area(r.id, r.site_id, r.name) for r in rows]


def keep_areas(connection: Connection, site_id: uuid.UUID, names: list[str]) -> dict[str, uuid.UUID]:
    """Identities of these areas by their compared names, made where they are not there."""
    wanted = {name_key(n): n for n in reversed(names)}
    ids = {key: identity("area", str(site_id), key) for key in wanted}
    put(connection, schema.area, [{"id": ids[k], "site_id": site_id, "name": n} for k, n in sorted(wanted.items())])
    return ids


def keep_asset(connection: Connection, site_id: uuid.UUID, area_id: uuid.UUID | None, name: str) -> uuid.UUID:
    known = identity("asset", str(site_id), str(area_id or ""), name_key(name))
    put(connection, schema.asset, [{"id": known, "site_id": site_id, "area_id": area_id, "name": name}])
    return known


def keep_instrument(
    connection: Connection, site_id: uuid.UUID, receiver: str | None, serial: str | None, sensor: str | None
) -> uuid.UUID | None:
    """The instrument that these words tell apart; none where nothing is said of it."""
    if not (receiver or serial or sensor):
        return None
    known = identity("instrument", str(site_id), *(name_key(w or "") for w in (receiver, serial, sensor)))
    row = {"id": known, "site_id": site_id, "receiver": receiver, "serial": serial, "sensor": sensor}
    put(connection, schema.instrument, [row])
    return known
