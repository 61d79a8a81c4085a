"""What if the pressure were lowered, a zone shut, the controls changed: the site's own plant, before and after."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from earwitness import units
from earwitness.energy.plant import Plant
from earwitness.energy.what_if import WhatIf, control_change, pressure_reduction, zone_shut
from earwitness.errors import EarwitnessError, InputError, as_asked
from earwitness.intake import site_of
from earwitness.interval import Interval, Uncertain
from earwitness.plant.assessment import Quantity, rounded
from earwitness.plant.survey import Survey
from earwitness.sentence import Sentence
from earwitness.units import show
from earwitness.work.economy import HOURS_PER_YEAR, economy_of
from earwitness.work.reconcile import system_leakage

HOURS_A_DAY = 24
J_PER_KWH = 3.6e6


@dataclass(frozen=True)
class Answer:
    """`factor` is what the saving is known to: 1, with the spread of the leakage and of the specific power."""

    name: str
    found: WhatIf
    factor: Uncertain
    money_per_kwh: Uncertain | None
    currency: str
    notes: tuple[Sentence, ...]

    @property
    def price_kwh(self) -> float | None:
        return None if self.money_per_kwh is None else self.money_per_kwh.median

    @property
    def saved_kwh(self) -> float:
        return self.found.saved_j / J_PER_KWH

    @property
    def saved(self) -> Interval:
        """In a year [kWh]; negative where it costs more."""
        return self.factor.interval().scaled(self.saved_kwh)

    @property
    def saved_money(self) -> Interval | None:
        if self.money_per_kwh is None:
            return None
        return (self.factor * self.money_per_kwh).interval().scaled(self.saved_kwh)

    def as_json(self) -> dict[str, Any]:
        money = self.saved_money
        return {
            "what_if": self.name,
            "power_before": {"value": rounded(self.found.before_w, 4), "unit": "W"},
            "power_after": {"value": rounded(self.found.after_w, 4), "unit": "W"},
            "energy_per_year": Quantity(self.saved, "kWh", "part-load curve").as_json(),
            "saving_per_year": None if money is None else Quantity(money, self.currency, "part-load curve").as_json(),
            "notes": [n.as_json() for n in self.notes],
        }


def what_if(
    folder: Path,
    *,
    pressure: str | None = None,
    control: str | None = None,
    shut_hours: float | None = None,
    zone_leakage: str | None = None,
    leakage: str | None = None,
) -> list[Answer]:
    """One answer for each thing that is asked, each against the plant as survey.toml in `folder` has it."""
    return answers(
        site_of(folder),
        pressure=pressure,
        control=control,
        shut_hours=shut_hours,
        zone_leakage=zone_leakage,
        leakage=leakage,
    )


def answers(
    survey: Survey,
    *,
    pressure: str | None = None,
    control: str | None = None,
    shut_hours: float | None = None,
    zone_leakage: str | None = None,
    leakage: str | None = None,
) -> list[Answer]:
    """The same against the plant as these settings have it."""
    economy = economy_of(survey)
    if economy.plant is None or economy.demand_m3_s is None:
        raise EarwitnessError("no compressor with capacity and power is stated; add [[compressor]] to survey.toml")
    plant, demand = economy.plant, economy.demand_m3_s
    hours = economy.hours_per_year or HOURS_PER_YEAR
    exactly = Uncertain(1.0)
    asked: list[tuple[str, WhatIf, Uncertain]] = []
    if pressure is not None:
        asked.append((f"pressure {pressure}", *_at_pressure(survey, plant, demand, hours, pressure, leakage)))
    if control is not None:
        found = control_change(plant, plant.with_control(control), demand, hours)
        asked.append((f"control {control}", found, exactly))
    if shut_hours is not None:
        if zone_leakage is None:
            raise EarwitnessError("state --zone-leakage: what the zone leaks, as a flow with its unit")
        zone = units.quantity(zone_leakage, "volume flow", where="zone-leakage")
        _below_demand("zone-leakage", zone, zone_leakage, demand)
        shut = [hour < shut_hours for hour in range(HOURS_A_DAY)]
        found = zone_shut(plant, [demand] * HOURS_A_DAY, zone, shut, hours)
        asked.append((f"zone shut {shut_hours:g} h a day", found, exactly))
    if not asked:
        raise EarwitnessError("nothing is asked; state --pressure, --control or --shut-hours")
    price, currency = economy.money_per_kwh, economy.price.currency if economy.price else ""
    power = exactly
    if economy.specific_power is not None:
        power = economy.specific_power.value / economy.specific_power.value.median
    return [Answer(name, w, power * known, price, currency, (*economy.notes, *w.notes)) for name, w, known in asked]


def _at_pressure(
    survey: Survey, plant: Plant, demand: float, hours: float, pressure: str, leakage: str | None
) -> tuple[WhatIf, Uncertain]:
    """What another pressure does, and what the spread of the leakage makes of the saving: its slope at the median."""
    before = survey.air.pressure_abs
    if before is None:
        raise EarwitnessError("the present pressure is not stated; add pressure to [air] in survey.toml")
    after = units.quantity(pressure, "pressure", where="pressure")
    leaks = _leakage(leakage, survey.air, plant.capacity_m3_s)
    _below_demand("leakage", leaks.median, leakage or "what the system test measured", demand)

    def at(side: float) -> WhatIf:
        leaking = min(demand, leaks.median * math.exp(side * leaks.sigma))
        with as_asked(after_abs=("pressure", pressure)):
            return pressure_reduction(plant, demand, leaking, before, after, hours)

    less, more = abs(at(-1).saved_j), abs(at(1).saved_j)
    return at(0), Uncertain(1.0, abs(math.log(more / less)) / 2 if less and more else 0.0)


def _below_demand(name: str, leaks: float, given: str, demand: float) -> None:
    if leaks > demand:
        raise InputError(name, given, f"not above the mean demand, {show(demand, 'm3/min')}")


def _leakage(stated: str | None, air: Any, capacity_m3_s: float) -> Uncertain:
    if stated is not None:
        return Uncertain(units.quantity(stated, "volume flow", where="leakage"))
    measured, _ = system_leakage(air, capacity_m3_s)
    if measured is None:
        raise EarwitnessError("what leaks is not known; state --leakage, or [air.leak_test] in survey.toml")
    return measured.flow
