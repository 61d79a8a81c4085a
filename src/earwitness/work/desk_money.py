"""What the open leaks cost now, by the site's present settings: energy, money, carbon, and the part-load curve."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from sqlalchemy import Connection, select

from earwitness.energy.plant import Plant, plant_power
from earwitness.energy.saving import repair_saving
from earwitness.interval import Interval, Sampler, Uncertain, summary
from earwitness.ledger import schema
from earwitness.ledger.currencies import currency_in
from earwitness.plant.finding import STANDING
from earwitness.plant.site import Site
from earwitness.sentence import Sentence
from earwitness.work.desk_settings import SEED, survey_of
from earwitness.work.economy import HOURS_PER_YEAR, PRICE_SIGMA, Economy, economy_of
from earwitness.work.fill import AIR_NAMES
from earwitness.work.system_history import flow_of

STEPS = 20  # points of the part-load curve


@dataclass(frozen=True)
class CurvePoint:
    """Plant power at a demand: flow [m3/s], power [W], and the share of the full power [1]."""

    flow_m3_s: float
    power_w: float
    share: float


@dataclass(frozen=True)
class LeakMoney:
    """Sums over the open leaks; intervals hold 95 %. Money in `currency` a year, energy in kWh a year, flow in m3/s."""

    leaks: int
    unsized: int
    currency: str
    flow: Interval | None
    energy: Interval | None
    cost: Interval | None
    saving: Interval | None
    carbon: Interval | None
    others: Mapping[str, Interval]  # what gases other than air cost, as their readings were judged, by currency
    curve: Sequence[CurvePoint]
    before: CurvePoint | None
    after: CurvePoint | None
    notes: Sequence[Sentence]


def leak_money(connection: Connection, site: Site) -> LeakMoney:
    """The open leaks against the site's settings as they stand, draw by draw: what they share stays shared."""
    economy = economy_of(survey_of(connection, site))
    flows, unsized, others = _open_leaks(connection, site.id)
    notes: list[Sentence] = list(economy.notes)
    sums: dict[str, Any] = {}
    if flows:
        sampler = Sampler(SEED, 4000)
        drawn = np.sum([f.draws(sampler, str(name)) for name, f in sorted(flows.items())], axis=0)
        if economy.supply_m3_s is not None:
            drawn = np.minimum(drawn, economy.supply_m3_s)
        sums, said = sums_of(drawn, economy, sampler)
        notes += said
    told = {name: summary(draws) for name, draws in sums.items()}
    flow = told.get("flow")
    curve, before, after = _curve(economy, flow.value if flow else 0.0)
    currency = economy.price.currency if economy.price else ""
    return LeakMoney(
        len(flows) + unsized, unsized, currency, flow, told.get("energy"), told.get("cost"), told.get("saving"),
        told.get("carbon"), _summed(others), curve, before, after, tuple({n.code: n for n in notes}.values()),
    )  # fmt: skip


def sums_of(drawn: Any, economy: Economy, sampler: Sampler) -> tuple[dict[str, Any], tuple[Sentence, ...]]:
    sums: dict[str, Any] = {"flow": drawn}
    if economy.specific_power is None or economy.hours_per_year is None:
        return sums, ()
    power = economy.specific_power.value.draws(sampler, "specific power")
    energy = drawn * economy.hours_per_year * power / 1000.0
    sums["energy"] = energy
    if economy.carbon_per_kwh is not None:
        sums["carbon"] = energy * economy.carbon_per_kwh.draws(sampler, "carbon")
    if economy.money_per_kwh is None:
        return sums, ()
    sums["cost"] = energy * economy.money_per_kwh.draws(sampler, "price")
    if economy.plant is None or not economy.profile_m3_s:
        return sums, ()
    saving = repair_saving(economy.plant, economy.profile_m3_s, drawn, HOURS_PER_YEAR)
    if saving is None:
        return sums, ()
    sums["saving"] = economy.worth(saving, sums["cost"])
    return sums, saving.notes


Costs = dict[str, dict[uuid.UUID, Uncertain]]  # by currency


def _open_leaks(connection: Connection, site_id: uuid.UUID) -> tuple[dict[uuid.UUID, Uncertain], int, Costs]:
    """Flow of each open leak of air; how many have none; what each leak of another gas costs a year."""
    f, a = schema.finding.c, schema.assessment.c
    asked = (
        select(f.id, a.result)
        .select_from(schema.finding.outerjoin(schema.assessment, (a.reading_id == f.opened_by) & a.current))
        .where(f.site_id == site_id, f.kind == "leak", f.state.in_(sorted(STANDING)))
    )
    flows: dict[uuid.UUID, Uncertain] = {}
    unsized, others = 0, Costs()
    for row in connection.execute(asked):
        result: Mapping[str, Any] = row.result or {}
        medium = result.get("medium")
        if medium is not None and str(medium).casefold().strip() not in AIR_NAMES:
            if (cost := _cost_of(result)) is not None:
                others.setdefault(currency_in(result), {})[row.id] = cost
            continue
        flow = flow_of(result)
        if flow is None or flow.median <= 0:
            unsized += 1
        else:
            flows[row.id] = flow
    return flows, unsized, others


def _cost_of(result: Mapping[str, Any]) -> Uncertain | None:
    """What the loss of a gas costs a year, as it was filed, with the spread of its flow and its price."""
    quantity, spread = (result.get("quantities") or {}).get("cost_per_year"), result.get("spread") or {}
    if not quantity:
        return None
    shared = {**(spread.get("shared") or {}), f"price_{result.get('medium')}": PRICE_SIGMA}
    return Uncertain(float(quantity["value"]), float(spread.get("own", 0.0)), shared)


def _summed(costs: Costs) -> dict[str, Interval]:
    """Of each currency the sum, draw by draw."""
    out = {}
    for currency, each in sorted(costs.items()):
        sampler = Sampler(SEED, 4000)
        out[currency] = summary(np.sum([c.draws(sampler, str(n)) for n, c in sorted(each.items())], axis=0))
    return out


def _curve(economy: Economy, leakage: float) -> tuple[list[CurvePoint], CurvePoint | None, CurvePoint | None]:
    plant, demand = economy.plant, economy.demand_m3_s
    if plant is None:
        return [], None, None
    flows = np.linspace(0.0, plant.capacity_m3_s, STEPS + 1)
    curve = [_at(plant, float(q)) for q in flows]
    if demand is None:
        return curve, None, None
    return curve, _at(plant, min(demand, plant.capacity_m3_s)), _at(plant, max(0.0, demand - leakage))


def _at(plant: Plant, flow: float) -> CurvePoint:
    full = sum(m.full_power_w for m in plant.machines)
    power = float(np.asarray(plant_power(plant, flow)))
    return CurvePoint(flow, power, power / full if full else 0.0)
