"""Rows in, the same on both databases."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Table, text, update
from sqlalchemy.dialects import postgresql, sqlite


def put(connection: Connection, table: Table, rows: Sequence[Mapping[str, Any]]) -> None:
    """Insert; a row that is there already (the same identity) stays as it is."""
    if not rows:
        return
    dialect = postgresql if connection.dialect.name == "postgresql" else sqlite
    key = list(table.primary_key.columns)
    connection.execute(dialect.insert(table).on_conflict_do_nothing(index_elements=key), list(rows))


def change(connection: Connection, table: Table, identity: uuid.UUID, **values: Any) -> None:
    connection.execute(update(table).where(table.c.id == identity).values(**values))


def line_up(connection: Connection, identity: uuid.UUID) -> None:
    """Writers of one site wait for each other until the transaction ends; SQLite has one writer anyway."""
    if connection.dialect.name == "postgresql":
        key = int.from_bytes(identity.bytes[:8], "big", signed=True)
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": key})


def take_back(connection: Connection, table: Table, identity: uuid.UUID, *, at: datetime, by: str) -> bool:
    """Mark a person's word as a mistake; False if it was taken back already."""
    standing = update(table).where(table.c.id == identity, table.c.taken_back_at.is_(None))
    return connection.execute(standing.values(taken_back_at=at, taken_back_by=by)).rowcount == 1
