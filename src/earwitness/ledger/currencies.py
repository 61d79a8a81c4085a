"""In which currency the money of a finding and of its steps is, for rows that an earlier version wrote without it."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection, select, update

from earwitness.ledger.column_types import Json

ROWS = 500
_finding = sa.table("finding", sa.column("id", sa.Uuid), sa.column("opened_by", sa.Uuid), sa.column("currency"),
                    sa.column("cost_per_year"), sa.column("saving_per_year"))  # fmt: skip
_step = sa.table("finding_step", sa.column("id", sa.Uuid), sa.column("finding_id", sa.Uuid), sa.column("currency"),
                 sa.column("reading_id", sa.Uuid), sa.column("saving_per_year"))  # fmt: skip
_judged = sa.table("assessment", sa.column("reading_id", sa.Uuid), sa.column("current", sa.Boolean),
                   sa.column("result", Json))  # fmt: skip


def fill_in(connection: Connection) -> None:
    """From the judgement of the reading that decided a step, else of the one that opened its finding."""
    f, s = _finding.c, _step.c
    with_money = sa.or_(f.cost_per_year.is_not(None), f.saving_per_year.is_not(None))
    opened = {r.id: r.opened_by for r in connection.execute(select(f.id, f.opened_by).where(with_money))}
    asked = select(s.id, s.finding_id, s.reading_id).where(s.saving_per_year.is_not(None), s.currency.is_(None))
    steps = connection.execute(asked).all()
    told = _told(connection, {*opened.values(), *(r.reading_id for r in steps if r.reading_id)})
    own = {i: told[by] for i, by in opened.items() if by in told}
    _write(connection, _finding, own)
    by_reading = {r.id: told.get(r.reading_id) or own.get(r.finding_id) for r in steps}
    _write(connection, _step, {i: c for i, c in by_reading.items() if c})


def _told(connection: Connection, reading_ids: set[uuid.UUID]) -> dict[uuid.UUID, str]:
    ids, a, out = sorted(reading_ids), _judged.c, dict[uuid.UUID, str]()
    for first in range(0, len(ids), ROWS):
        asked = select(a.reading_id, a.result).where(a.reading_id.in_(ids[first : first + ROWS]), a.current)
        out |= {r.reading_id: c for r in connection.execute(asked) if (c := currency_in(r.result))}
    return out


def currency_in(result: Mapping[str, Any]) -> str:
    """The currency of one element of `readings` of findings.json; empty where it has no money."""
    quantities = result.get("quantities") or {}
    stated = quantities.get("cost_per_year") or quantities.get("saving_per_year") or {}
    return str(stated.get("unit") or "").split(",")[0].split(" ")[0]


def _write(connection: Connection, table: Any, currencies: Mapping[uuid.UUID, str]) -> None:
    for currency in sorted(set(currencies.values())):
        ids = sorted(i for i, c in currencies.items() if c == currency)
        for first in range(0, len(ids), ROWS):
            here = table.c.id.in_(ids[first : first + ROWS]) & table.c.currency.is_(None)
            connection.execute(update(table).where(here).values(currency=currency))
