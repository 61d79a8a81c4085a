"""What the leaks of a survey come to together: sums of draws that keep what they share, and what is counted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.energy.money import net_present_value
from earwitness.energy.saving import repair_saving
from earwitness.interval import Sampler, Uncertain, summary
from earwitness.plant.assessment import Assessment, Quantity
from earwitness.plant.survey import Energy, Survey
from earwitness.sentence import Sentence, say
from earwitness.work.economy import HOURS_PER_YEAR, Economy
from earwitness.work.reconcile import as_json, reconciled
from earwitness.work.size import REFERENCE

COUNT = 4000  # joint draws
MONEY = ("cost_per_year", "saving_per_year")
UNITS = {"volume_flow": "m3/s", "energy_per_year": "kWh", "carbon_per_year": "kg", "carbon_marginal_per_year": "kg"}
CARBON_AVERAGE = say(
    "carbon-average",
    "Carbon is counted with the grid's average factor. A saving turns down the plants that follow the load, whose "
    "marginal factor can differ up to threefold.",
)


@dataclass(frozen=True)
class Totals:
    """Sums over the readings that count; of volumes, compressed air alone. Money in the currency of the energy, or
    where nothing is in that one, of the first reading that has any; what is in another one stands under names of its
    own (`cost_per_year_USD`), never added to it. `reconciliation` is that of the air, and
    `given_back` the part of what its leaks waste together that comes back when all are closed; None where not known."""

    quantities: dict[str, Quantity]
    reconciliation: dict[str, Any] | None
    notes: tuple[Sentence, ...]
    given_back: float | None = None


def totals(assessments: Sequence[Assessment], survey: Survey, economy: Economy, seed: int) -> Totals:
    """Sums of joint draws: what readings share does not average out, and air is held against the whole system."""
    having = sorted((a for a in assessments if a.counts and a.amounts), key=lambda a: a.reading.reading)
    air = [a for a in having if a.of_air]
    sampler = Sampler(seed, COUNT)
    found, measured, notes = reconciled(air, survey.air, economy, seed, COUNT)
    if found is not None:
        flows = found.draws
    else:
        flows = np.array([a.amounts["volume_flow"].draws(sampler, a.reading.reading) for a in air])
    sums, said = _of_air(air, flows, economy, sampler) if air else ({}, ())
    given_back = (
        float(sums["saving_per_year"].mean() / sums["cost_per_year"].mean()) if "saving_per_year" in sums else None
    )
    currency = _main_currency(having, air if "cost_per_year" in sums else ())
    units_of = dict(UNITS)
    for a in having:
        for name in () if a.of_air else (*MONEY, "carbon_per_year"):
            if name in a.amounts:
                own = name if name not in MONEY or a.currency == currency else f"{name}_{a.currency}"
                units_of |= {own: a.currency} if own != name else {}
                sums[own] = sums.get(own, 0.0) + a.amounts[name].draws(sampler, a.reading.reading)
    if survey.energy.horizon_years and "saving_per_year" in sums:
        mine = [a for a in having if a.currency == currency]
        sums["present_value"] = _present_value(mine, survey.energy, sums["saving_per_year"])
    method = "reconciled" if found is not None else "sum of readings"
    quantities = {
        name: Quantity(
            summary(draws), units_of.get(name, currency), method, REFERENCE if name == "volume_flow" else None
        )
        for name, draws in sums.items()
    }
    block = as_json(found, measured, air) if found is not None else None
    return Totals(quantities, block, (*notes, *said), given_back)


def shared_out(assessments: Sequence[Assessment], given_back: float | None) -> list[Assessment]:
    """Each air leak with its share of what all give back together: at today's load one leak alone may be given back
    whole, and a dozen by a quarter, so that what each would save alone adds up to more than ever comes back."""
    return [_with_share(a, given_back) if a.of_air and given_back is not None else a for a in assessments]


def _with_share(assessment: Assessment, given_back: float) -> Assessment:
    cost, wasted = assessment.amounts.get("cost_per_year"), assessment.quantities.get("cost_per_year")
    if cost is None or wasted is None:
        return assessment
    saving = cost * given_back
    amounts = {**assessment.amounts, "saving_per_year": saving}
    quantities = {**assessment.quantities, "saving_per_year": replace(wasted, interval=saving.interval())}
    if "payback" in amounts and assessment.reading.repair.cost:
        amounts["payback"] = Uncertain(assessment.reading.repair.cost) / saving
        quantities["payback"] = replace(quantities["payback"], interval=amounts["payback"].interval())
    return replace(assessment, amounts=amounts, quantities=quantities)


def _main_currency(having: Sequence[Assessment], air: Sequence[Assessment]) -> str:
    return next((a.currency for a in (*air, *having) if a.currency and "cost_per_year" in a.amounts), "")


def _present_value(having: Sequence[Assessment], energy: Energy, saving: NDArray[np.float64]) -> NDArray[np.float64]:
    """What all these repairs are worth today over the stated horizon, less what they cost as far as that is noted."""
    cost = sum(a.reading.repair.cost or 0.0 for a in having if a.reading.repair.cost_currency in (None, a.currency))
    assert energy.horizon_years is not None
    return net_present_value(cost, saving, energy.discount_rate, energy.horizon_years, energy.reopen_rate)


Sums = dict[str, Any]  # quantity: its draws


def _of_air(
    air: Sequence[Assessment], flows: NDArray[np.float64], economy: Economy, sampler: Sampler
) -> tuple[Sums, tuple[Sentence, ...]]:
    """Energy, money and carbon of the air leaks from joint draws of their flows [m3/s], (leaks, draws)."""
    sums: Sums = {"volume_flow": flows.sum(axis=0)}
    hours = np.array([a.reading.hours_per_year or economy.hours_per_year or np.nan for a in air])
    timed = np.isfinite(hours)
    if economy.specific_power is None or not timed.any():
        return sums, ()
    power = economy.specific_power.value.draws(sampler, "specific power")
    energy = (flows[timed] * hours[timed, None]).sum(axis=0) * power / 1000.0
    sums["energy_per_year"] = energy
    notes: tuple[Sentence, ...] = ()
    if economy.carbon_per_kwh is not None:
        sums["carbon_per_year"] = energy * economy.carbon_per_kwh.draws(sampler, "carbon")
        notes = () if economy.carbon_marginal_kg_per_kwh is not None else (CARBON_AVERAGE,)
    if economy.carbon_marginal_kg_per_kwh is not None:
        sums["carbon_marginal_per_year"] = energy * economy.carbon_marginal_kg_per_kwh
    if economy.money_per_kwh is None:
        return sums, notes
    cost = energy * economy.money_per_kwh.draws(sampler, "price")
    sums["cost_per_year"] = cost
    if economy.plant is None or not economy.profile_m3_s or economy.tariff is None:
        return sums, notes
    saving = repair_saving(economy.plant, economy.profile_m3_s, sums["volume_flow"], HOURS_PER_YEAR)
    assert saving is not None
    sums["saving_per_year"] = economy.worth(saving, cost)
    return sums, (*notes, *saving.notes)


def counted(assessments: Sequence[Assessment]) -> list[Assessment]:
    """The assessments, each with whether its amounts go into the totals."""
    out: list[Assessment] = []
    for assessment in assessments:
        yes, why = _why(assessment, out)
        out.append(replace(assessment, counts=yes, counts_why=why) if assessment.verdict or yes else assessment)
    return out


def _why(assessment: Assessment, earlier: Sequence[Assessment]) -> tuple[bool, str]:
    r = assessment.reading
    if not assessment.amounts:
        return False, "no amount is known"
    if r.repeats is not None:
        return False, "the row repeats another"
    if r.verifies:
        return False, "a verification after a repair"
    if r.cause == "deliberate":
        return False, "blows on purpose"
    if r.confirmed == "not-found":
        return False, "looked for and not found"
    if r.repair.fixed_now:
        return False, "mended on the spot"
    same = [e for e in earlier if e.counts and r.point and (e.reading.point, e.reading.kind) == (r.point, r.kind)]
    if same and (same[0].reading.component, same[0].reading.location) == (r.component, r.location):
        return False, f"a repeat of {same[0].reading.reading}"
    return True, "a leak that was heard and is open"
