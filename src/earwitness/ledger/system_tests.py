"""System tests of a site, and the checks of its instruments on a fixed source."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Mapping
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, Row, select

from earwitness.ledger import schema
from earwitness.ledger.rows import put
from earwitness.plant.site import SensitivityCheck, identity


@dataclass(frozen=True)
class FiledTest:
    """What the whole air system leaked on a day: flow of free air [m3/s] and its ln standard deviation."""

    id: uuid.UUID
    site_id: uuid.UUID
    day: date
    kind: str
    given: Mapping[str, Any]
    flow_m3_s: float
    sigma_ln: float


def keep_system_test(connection: Connection, test: FiledTest) -> None:
    put(connection, schema.system_test, [asdict(test) | {"given": dict(test.given)}])


def system_tests(connection: Connection, site_id: uuid.UUID) -> list[FiledTest]:
    """In order of time."""
    t = schema.system_test.c
    rows = connection.execute(select(schema.system_test).where(t.site_id == site_id).order_by(t.day, t.kind, t.id))
    return [FiledTest(**{n: row._mapping[n] for n in FiledTest.__dataclass_fields__}) for row in rows]


def keep_check(connection: Connection, instrument_id: uuid.UUID, check: SensitivityCheck) -> None:
    """The same check twice is one."""
    known = identity("check", str(instrument_id), check.day.isoformat(), f"{check.level_db:g}")
    put(connection, schema.sensitivity_check, [asdict(check) | {"id": known, "instrument_id": instrument_id}])


def checks(connection: Connection, instrument_ids: Collection[uuid.UUID]) -> dict[uuid.UUID, list[SensitivityCheck]]:
    """By instrument, in order of time."""
    k = schema.sensitivity_check.c
    out: dict[uuid.UUID, list[SensitivityCheck]] = {i: [] for i in instrument_ids}
    asked = select(schema.sensitivity_check).where(k.instrument_id.in_(sorted(instrument_ids)))
    for row in connection.execute(asked.order_by(k.day, k.id)):
        out[row.instrument_id].append(SensitivityCheck(row.day, row.level_db, row.expected_db, row.tolerance_db))
    return out


def instruments(connection: Connection, site_id: uuid.UUID) -> list[Row[Any]]:
    """Rows of id, receiver, serial, sensor."""
    i = schema.instrument.c
    asked = select(i.id, i.receiver, i.serial, i.sensor).where(i.site_id == site_id)
    return list(connection.execute(asked.order_by(i.receiver, i.serial, i.sensor, i.id)))


def instruments_of(connection: Connection, survey_ids: Collection[uuid.UUID]) -> dict[uuid.UUID, uuid.UUID]:
    """The instrument of each survey that states one."""
    s = schema.survey.c
    asked = select(s.id, s.instrument_id).where(s.id.in_(sorted(survey_ids)), s.instrument_id.is_not(None))
    return {row.id: row.instrument_id for row in connection.execute(asked)}
