"""What the reading that last heard a finding says of it: much may have changed since it was opened."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from sqlalchemy import Connection, select

from earwitness.ledger import schema
from earwitness.ledger.findings import Listed
from earwitness.plant.finding import STANDING

PAGE = 500


def needed(stated: Mapping[str, Any], heard: Mapping[str, Any]) -> dict[str, Any]:
    """What the repair takes: as `stated` when the finding was opened, and as the judgement `heard` says since."""
    return {**stated, **(heard.get("repair") or {})}


def as_last_heard(connection: Connection, listed: Sequence[Listed]) -> list[tuple[Listed, Mapping[str, Any]]]:
    """Each with its latest judgement, and with the repair that is needed now."""
    latest = latest_judgements(connection, {x.finding.id: x.finding.opened_by for x in listed})
    out = list[tuple[Listed, Mapping[str, Any]]]()
    for x in listed:
        heard = latest.get(x.finding.id, {})
        out.append((replace(x, finding=replace(x.finding, repair=needed(x.finding.repair, heard))), heard))
    return out


def latest_judgements(
    connection: Connection, opened_by: Mapping[uuid.UUID, uuid.UUID]
) -> dict[uuid.UUID, dict[str, Any]]:
    """Of each finding, given with the reading that opened it, the present judgement of the one that last heard it."""
    s, a = schema.finding_step.c, schema.assessment.c
    heard = dict(opened_by)
    ids = sorted(heard)
    for first in range(0, len(ids), PAGE):
        asked = select(s.finding_id, s.reading_id).where(
            s.finding_id.in_(ids[first : first + PAGE]), s.reading_id.is_not(None), s.state.in_(STANDING)
        )
        heard |= {r.finding_id: r.reading_id for r in connection.execute(asked.order_by(s.finding_id, s.number))}
    reading_ids, results = sorted(set(heard.values())), dict[uuid.UUID, dict[str, Any]]()
    for first in range(0, len(reading_ids), PAGE):
        judged = select(a.reading_id, a.result).where(a.reading_id.in_(reading_ids[first : first + PAGE]), a.current)
        results |= {r.reading_id: r.result for r in connection.execute(judged)}
    return {f: results[r] for f, r in heard.items() if r in results}
