"""A report from what is filed: of one survey, or of a period with the last word on each point."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
from sqlalchemy import Connection, select

from earwitness import __version__
from earwitness.intake.settings import read_settings
from earwitness.intake.toml_lines import read_parts
from earwitness.interval import Sampler, summary
from earwitness.ledger import Ledger, readings, schema
from earwitness.ledger.readings import WITHDRAWN
from earwitness.plant.assessment import Quantity
from earwitness.plant.site import Site
from earwitness.plant.survey import Survey
from earwitness.report.exhibit import Exhibit
from earwitness.sentence import say
from earwitness.work.desk_money import sums_of
from earwitness.work.desk_settings import SEED
from earwitness.work.economy import economy_of
from earwitness.work.fill import AIR_NAMES
from earwitness.work.rank import merit_of_result
from earwitness.work.size import REFERENCE
from earwitness.work.survey import SCHEMA
from earwitness.work.system_history import flow_of

MOST_SURVEYS = 200
NAMES = {"flow": ("volume_flow", "m3/s"), "energy": ("energy_per_year", "kWh"), "carbon": ("carbon_per_year", "kg")}


@dataclass(frozen=True)
class Content:
    """What `report.write` takes: findings in the contract's shape, and what is shown beside a reading."""

    findings: Mapping[str, Any]
    exhibits: Mapping[str, Exhibit]


def of_survey(ledger: Ledger, site: Site, survey_id: uuid.UUID) -> Content | None:
    """None where the site has no such survey."""
    with ledger.reading() as connection:
        s = schema.survey
        row = connection.execute(select(s).where(s.c.id == survey_id, s.c.site_id == site.id)).first()
        return None if row is None else _content(connection, ledger, [row], str(row.title))


def of_period(ledger: Ledger, site: Site, first: date, last: date) -> Content | None:
    """Of each point the latest reading of the period; None where no survey falls into it."""
    s = schema.survey
    with ledger.reading() as connection:
        asked = select(s).where(s.c.site_id == site.id, s.c.day.between(first, last)).order_by(s.c.day.desc(), s.c.id)
        rows = connection.execute(asked.limit(MOST_SURVEYS)).all()
        title = f"{first.isoformat()} to {last.isoformat()}"
        return _content(connection, ledger, rows, title) if rows else None


def _content(connection: Connection, ledger: Ledger, rows: Sequence[Any], title: str) -> Content:
    several, seen = len(rows) > 1, set[tuple[Any, str]]()
    results: list[dict[str, Any]] = []
    exhibits: dict[str, Exhibit] = {}
    for row in rows:
        filed = [r for r in readings.readings_of_survey(connection, row.id) if r.status != WITHDRAWN]
        judged = readings.current_judgements(connection, [r.id for r in filed])
        for r in filed:
            if r.id not in judged or (several and r.point_id is not None and (r.point_id, r.kind) in seen):
                continue
            name = f"{row.day.isoformat()} {r.name}" if several else r.name
            results.append({**judged[r.id].result, "reading": name})
            if r.photo_sha256:
                exhibits[name] = Exhibit(photo=Path(ledger.store.path(r.photo_sha256)))
        seen |= {(r.point_id, r.kind) for r in filed}
    order = sorted(results, key=lambda r: merit_of_result(r).key)
    urgent = [str(r["reading"]) for r in order if r.get("urgent")]
    if several:
        place = {r["reading"]: n for n, r in enumerate((r for r in order if r.get("rank")), 1)}
        results = [{**r, "rank": place.get(r["reading"])} for r in results]
    settings = read_settings(read_parts("survey.toml", rows[0].settings_toml), title)
    survey = Survey(Path(), title, settings.site, settings.date, settings.inspector, energy=settings.energy,
                    air=settings.air)  # fmt: skip
    totals = _totals(results, survey)
    i, c = settings.instrument, settings.conditions
    days = sorted({row.day.isoformat() for row in rows})
    return Content(
        {
            "schema": SCHEMA,
            "made": {
                "version": __version__, "at": max(row.filed_at for row in rows).strftime("%Y-%m-%dT%H:%M:%SZ"),
                "seed": SEED, "inputs_sha256": rows[0].inputs_sha256 if not several else "", "settings": {},
            },
            "survey": {
                "title": title, "site": settings.site, "date": days[0] if not several else f"{days[0]} to {days[-1]}",
                "inspector": ", ".join(dict.fromkeys(str(row.inspector) for row in rows)),
                "qualification": settings.qualification,
                "instrument": {n: getattr(i, n) for n in i.__dataclass_fields__},
                "conditions": {n: getattr(c, n) for n in ("mains_hz", "temperature_k", "humidity",
                                                           "ambient_pressure_abs")},
            },
            "urgent": urgent,
            "readings": results,
            "problems": [p for row in rows for p in row.problems],
            "notes": [_NOTE.as_json()],
            "totals": totals,
        },
        exhibits,
    )  # fmt: skip


_NOTE = say(
    "report-from-ledger",
    "Made from the judgements as they are filed; sums are made anew from them, other gases go in by their medians. "
    "Pictures and sound stand at each reading in the workbench.",
)


def _totals(results: Sequence[Mapping[str, Any]], survey: Survey) -> dict[str, Any]:
    """The sums of what counts; of volumes, compressed air alone."""
    counting = [r for r in results if (r.get("counts_in_totals") or {}).get("yes")]
    air = [r for r in counting if str(r.get("medium") or "air").casefold().strip() in AIR_NAMES]
    flows = {str(r["reading"]): f for r in air if (f := flow_of(r)) is not None and f.median > 0}
    economy = economy_of(survey)
    sums: dict[str, Any] = {}
    if flows:
        sampler = Sampler(SEED, 4000)
        drawn = np.sum([f.draws(sampler, name) for name, f in sorted(flows.items())], axis=0)
        if economy.supply_m3_s is not None:
            drawn = np.minimum(drawn, economy.supply_m3_s)
        sums, _ = sums_of(drawn, economy, sampler)
    currency = economy.price.currency if economy.price else ""
    others = [r.get("quantities") or {} for r in counting if r not in air]
    for name in ("cost", "saving"):
        rest = sum(float((q.get(f"{name}_per_year") or {}).get("value") or 0.0) for q in others)
        if name in sums:
            sums[name] = sums[name] + rest
    out = {}
    for name, draws in sums.items():
        key, unit = NAMES.get(name, (f"{name}_per_year", currency))
        reference = REFERENCE if key == "volume_flow" else None
        out[key] = Quantity(summary(draws), unit, "sum of readings", reference).as_json()
    return out
