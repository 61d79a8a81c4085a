"""What air and energy cost at this site, worked out once for a survey."""

from __future__ import annotations

import math
from dataclasses import dataclass

from earwitness.energy.compressor import SpecificPower, specific_power
from earwitness.energy.plant import Machine, Plant, make_machine
from earwitness.energy.saving import NO_CAPACITY, repair_saving
from earwitness.errors import InputError
from earwitness.interval import Uncertain
from earwitness.plant.survey import AirSystem, Price, Survey
from earwitness.sentence import Sentence, say

HOURS_PER_YEAR = 8760.0
DEFAULT_CONTROL = "load-unload"
PRICE_SIGMA = 0.05 / 1.96  # a stated price holds within 5 % over the year (common practice)
CARBON_SIGMA = 0.20 / 1.96  # the grid's factor within 20 % (common practice); average and marginal differ by more


@dataclass(frozen=True)
class Economy:
    """specific_power: work for a cubic metre of free air, or None; plant and demand: what the controls give back is
    computed from them; price and carbon of a kWh."""

    specific_power: SpecificPower | None
    plant: Plant | None
    demand_m3_s: float | None
    price: Price | None
    carbon_kg_per_kwh: float | None
    hours_per_year: float | None
    notes: tuple[Sentence, ...] = ()

    @property
    def money_per_kwh(self) -> Uncertain | None:
        return None if self.price is None else Uncertain(self.price.value, 0.0, {"price": PRICE_SIGMA})

    @property
    def carbon_per_kwh(self) -> Uncertain | None:
        factor = self.carbon_kg_per_kwh
        return None if factor is None else Uncertain(factor, 0.0, {"grid_carbon": CARBON_SIGMA})

    def given_back(self, flow_m3_s: float) -> float | None:
        """What part of the waste of so much leakage the controls give back when it stops; None where not known."""
        if self.plant is None or self.demand_m3_s is None or flow_m3_s <= 0:
            return None
        saving = repair_saving(self.plant, self.demand_m3_s, flow_m3_s, HOURS_PER_YEAR)
        return None if saving is None else float(saving.fraction)


def economy_of(survey: Survey) -> Economy:
    air = survey.air
    notes: list[Sentence] = []
    machines, missing = _machines(air)
    notes += missing
    plant = Plant(machines) if machines else None
    power = _specific_power(air, plant)
    if plant is None and power is not None:
        notes.append(NO_CAPACITY)
    if power is None:
        text = "Nothing is known of the compressors, so compressed air has no cost here; state [air] specific_power."
        notes.append(say("no-specific-power", text))
    else:
        notes += power.notes
    if survey.energy.price is None:
        text = "No energy price is given, so nothing has a cost here; state [energy] price in survey.toml."
        notes.append(say("no-energy-price", text))
    demand = None
    if plant is not None:
        demand = (air.average_load if air.average_load is not None else 1.0) * plant.capacity_m3_s
        if air.average_load is None:
            text = "No average load is given, so the plant is taken as fully loaded; state [air] average_load."
            notes.append(say("no-average-load", text))
    return Economy(
        power, plant, demand, survey.energy.price, survey.energy.carbon_kg_per_kwh, air.hours_per_year, tuple(notes)
    )


def _machines(air: AirSystem) -> tuple[tuple[Machine, ...], list[Sentence]]:
    """Machines whose capacity and power are known, and what is to be said of the others."""
    machines, notes = [], []
    for c in air.compressors:
        power = specific_power(
            stated_j_m3=c.specific_power_j_m3 or air.specific_power_j_m3,
            rated_power_w=c.rated_power_w,
            capacity_m3_s=c.capacity_m3_s,
            outlet_abs=air.pressure_abs,
        )
        if c.capacity_m3_s is None or power is None:
            text = "Compressor {name} has no capacity or no power stated; it is left out of the part-load curve."
            notes.append(say("machine-left-out", text, name=c.name))
            continue
        try:
            full_power_w = power.value.median * c.capacity_m3_s
            control = c.control or air.control or DEFAULT_CONTROL
            machines.append(make_machine(c.name, c.capacity_m3_s, full_power_w, control, c.storage_m3))
        except InputError as error:
            notes.append(say("control-not-known", "Compressor {name}: {error}.", name=c.name, error=str(error)))
    return tuple(machines), notes


def _specific_power(air: AirSystem, plant: Plant | None) -> SpecificPower | None:
    if air.specific_power_j_m3 is not None:
        return specific_power(stated_j_m3=air.specific_power_j_m3)
    known = [c for c in air.compressors if c.specific_power_j_m3 is not None and c.capacity_m3_s]
    if known and len(known) == len(air.compressors):
        total = math.fsum(c.capacity_m3_s or 0.0 for c in known)
        mean = math.fsum((c.capacity_m3_s or 0.0) * (c.specific_power_j_m3 or 0.0) for c in known) / total
        return specific_power(stated_j_m3=mean)
    if plant is not None:
        power = plant.specific_power_j_m3 * plant.capacity_m3_s
        return specific_power(rated_power_w=power, capacity_m3_s=plant.capacity_m3_s)
    alone = [c for c in air.compressors if c.specific_power_j_m3 is not None]
    return specific_power(stated_j_m3=alone[0].specific_power_j_m3) if alone else None
