"""What if the pressure were lowered, a zone shut, the controls changed: the site's own plant, before and after."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from earwitness import units
from earwitness.energy.what_if import WhatIf, control_change, pressure_reduction, zone_shut
from earwitness.errors import EarwitnessError
from earwitness.intake import site_of
from earwitness.plant.assessment import rounded
from earwitness.plant.survey import Survey
from earwitness.sentence import Sentence
from earwitness.work.economy import HOURS_PER_YEAR, economy_of
from earwitness.work.reconcile import system_leakage

HOURS_A_DAY = 24
J_PER_KWH = 3.6e6


@dataclass(frozen=True)
class Answer:
    name: str
    found: WhatIf
    price_kwh: float | None
    currency: str
    notes: tuple[Sentence, ...]

    @property
    def saved_kwh(self) -> float:
        return self.found.saved_j / J_PER_KWH

    def as_json(self) -> dict[str, Any]:
        money = None if self.price_kwh is None else rounded(self.saved_kwh * self.price_kwh, 3)
        return {
            "what_if": self.name,
            "power_before": {"value": rounded(self.found.before_w, 4), "unit": "W"},
            "power_after": {"value": rounded(self.found.after_w, 4), "unit": "W"},
            "energy_per_year": {"value": rounded(self.saved_kwh, 3), "unit": "kWh"},
            "saving_per_year": None if money is None else {"value": money, "unit": self.currency},
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
    asked: list[tuple[str, WhatIf]] = []
    if pressure is not None:
        if survey.air.pressure_abs is None:
            raise EarwitnessError("the present pressure is not stated; add pressure to [air] in survey.toml")
        after = units.quantity(pressure, "pressure", where="pressure")
        leaks = _leakage(leakage, survey.air, plant.capacity_m3_s)
        asked.append(
            (f"pressure {pressure}", pressure_reduction(plant, demand, leaks, survey.air.pressure_abs, after, hours))
        )
    if control is not None:
        asked.append((f"control {control}", control_change(plant, plant.with_control(control), demand, hours)))
    if shut_hours is not None:
        if zone_leakage is None:
            raise EarwitnessError("state --zone-leakage: what the zone leaks, as a flow with its unit")
        leaks = units.quantity(zone_leakage, "volume flow", where="zone-leakage")
        shut = [hour < shut_hours for hour in range(HOURS_A_DAY)]
        found = zone_shut(plant, [demand] * HOURS_A_DAY, leaks, shut, hours)
        asked.append((f"zone shut {shut_hours:g} h a day", found))
    if not asked:
        raise EarwitnessError("nothing is asked; state --pressure, --control or --shut-hours")
    price = economy.price
    return [
        Answer(name, w, price.value if price else None, price.currency if price else "", (*economy.notes, *w.notes))
        for name, w in asked
    ]


def _leakage(stated: str | None, air: Any, capacity_m3_s: float) -> float:
    if stated is not None:
        return units.quantity(stated, "volume flow", where="leakage")
    measured, _ = system_leakage(air, capacity_m3_s)
    if measured is None:
        raise EarwitnessError("what leaks is not known; state --leakage, or [air.leak_test] in survey.toml")
    return measured.flow.median
