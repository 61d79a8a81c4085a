"""What air and energy cost at this site, worked out once for a survey."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from earwitness.energy.compressor import SpecificPower, specific_power
from earwitness.energy.part_load import curve_from_points
from earwitness.energy.plant import Machine, Plant, make_machine
from earwitness.energy.saving import NO_CAPACITY, NO_CONTROL, NO_LOAD, Saving, repair_saving
from earwitness.energy.tariff import Band, Tariff, demand_cost, mean_price
from earwitness.errors import InputError
from earwitness.interval import Uncertain
from earwitness.plant.survey import AirSystem, Compressor, Energy, Price, Survey
from earwitness.sentence import Sentence, say

HOURS_PER_YEAR = 8760.0
PRICE_SIGMA = 0.05 / 1.96  # a stated price holds within 5 % over the year (common practice)
CARBON_SIGMA = 0.20 / 1.96  # the grid's factor within 20 % (common practice); average and marginal differ by more


@dataclass(frozen=True)
class Economy:
    """specific_power: work for a cubic metre of free air, or None; plant and demand: what the controls give back is
    computed from them; price and carbon of a kWh."""

    specific_power: SpecificPower | None
    plant: Plant | None
    capacity_m3_s: float | None  # of all compressors; None where none is stated
    profile_m3_s: tuple[float, ...]  # demand over the day, leaks included; empty where no capacity is known
    price: Price | None
    tariff: Tariff | None
    carbon_kg_per_kwh: float | None
    carbon_marginal_kg_per_kwh: float | None
    hours_per_year: float | None
    notes: tuple[Sentence, ...] = ()

    @property
    def demand_m3_s(self) -> float | None:
        """Mean demand, leaks included; None where the load is not known."""
        return math.fsum(self.profile_m3_s) / len(self.profile_m3_s) if self.profile_m3_s else None

    @property
    def supply_m3_s(self) -> float | None:
        """What no sum of leaks can exceed: the mean demand, or the capacity where the load is not known."""
        return self.demand_m3_s or self.capacity_m3_s

    @property
    def money_per_kwh(self) -> Uncertain | None:
        """Mean price of a kWh that is drawn evenly over the day, as a leak draws it."""
        return None if self.tariff is None else Uncertain(mean_price(self.tariff), 0.0, {"price": PRICE_SIGMA})

    @property
    def carbon_per_kwh(self) -> Uncertain | None:
        factor = self.carbon_kg_per_kwh
        return None if factor is None else Uncertain(factor, 0.0, {"grid_carbon": CARBON_SIGMA})

    def given_back(self, flow_m3_s: float) -> float | None:
        """What part of the waste of so much leakage the controls give back when it stops; None where not known."""
        if self.plant is None or not self.profile_m3_s or flow_m3_s <= 0:
            return None
        saving = repair_saving(self.plant, self.profile_m3_s, flow_m3_s, HOURS_PER_YEAR)
        return None if saving is None else float(saving.fraction)

    def worth(self, saving: Saving, wasted_money: NDArray[np.float64]) -> NDArray[np.float64]:
        """What comes back of the money wasted, at the hours' own prices, with what the month's peak no longer costs."""
        assert self.tariff is not None
        less_w = np.maximum(saving.before_profile_w - saving.after_profile_w, 0.0)
        dearer = mean_price(self.tariff, less_w) / mean_price(self.tariff) if less_w.any() else 1.0
        peak_w = max(0.0, float(saving.before_profile_w.max() - saving.after_profile_w.max()))
        return wasted_money * saving.fraction * dearer + demand_cost(peak_w, self.tariff.demand_kw_month)


def economy_of(survey: Survey) -> Economy:
    air = survey.air
    notes: list[Sentence] = []
    machines, missing = _machines(air)
    notes += missing
    plant = Plant(machines) if machines else None
    power = _specific_power(air)
    if power is not None and not any(c.capacity_m3_s for c in air.compressors):
        notes.append(NO_CAPACITY)
    if power is None:
        text = "Nothing is known of the compressors, so compressed air has no cost here; state [air] specific_power."
        notes.append(say("no-specific-power", text))
    else:
        notes += power.notes
    if survey.energy.price is None:
        text = "No energy price is given, so nothing has a cost here; state [energy] price in survey.toml."
        notes.append(say("no-energy-price", text))
    capacity = math.fsum(c.capacity_m3_s or 0.0 for c in air.compressors) or None
    profile: tuple[float, ...] = ()
    if capacity is not None:
        loads = air.load_profile or (() if air.average_load is None else (air.average_load,))
        profile = tuple(load * capacity for load in loads)
        if not loads and plant is not None:
            notes.append(NO_LOAD)
    energy = survey.energy
    return Economy(
        power,
        plant,
        capacity,
        profile,
        energy.price,
        _tariff(energy),
        energy.carbon_kg_per_kwh,
        energy.carbon_marginal_kg_per_kwh,
        air.hours_per_year,
        tuple(notes),
    )


def _tariff(energy: Energy) -> Tariff | None:
    if energy.price is None:
        return None
    bands = tuple(Band(b.from_hour, b.to_hour, b.price.value) for b in energy.bands)
    return Tariff(energy.price.value, energy.price.currency, bands, energy.demand_charge or 0.0)


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
        control = c.control or air.control
        if control is None and not c.part_load:
            return (), [NO_CONTROL]
        try:
            full_power_w = power.value.median * c.capacity_m3_s
            machines.append(_machine(c, full_power_w, control))
        except InputError as error:
            notes.append(say("control-not-known", "Compressor {name}: {error}.", name=c.name, error=str(error)))
    return tuple(machines), notes


def _machine(c: Compressor, full_power_w: float, control: str | None) -> Machine:
    """By its own curve where one is stated, else by the customary one of its control."""
    capacity = c.capacity_m3_s or 0.0
    if c.part_load:
        load, power = zip(*c.part_load, strict=True)
        return Machine(c.name, capacity, full_power_w, curve_from_points(load, power), control == "variable-speed")
    return make_machine(c.name, capacity, full_power_w, str(control), c.storage_m3)


def _specific_power(air: AirSystem) -> SpecificPower | None:
    """Of the plant: as stated, else the mean of the machines' own, else their rating plates, else the legal minimum."""
    if air.specific_power_j_m3 is not None:
        return specific_power(stated_j_m3=air.specific_power_j_m3)
    sized = [c for c in air.compressors if c.capacity_m3_s]
    total = math.fsum(c.capacity_m3_s or 0.0 for c in sized)
    stated = [(c.capacity_m3_s or 0.0, c.specific_power_j_m3) for c in sized]
    if stated and all(each is not None for _, each in stated):
        return specific_power(stated_j_m3=math.fsum(q * (each or 0.0) for q, each in stated) / total)
    if sized and all(c.rated_power_w for c in sized):
        return specific_power(rated_power_w=math.fsum(c.rated_power_w or 0.0 for c in sized), capacity_m3_s=total)
    alone = next((c.specific_power_j_m3 for c in air.compressors if c.specific_power_j_m3 is not None), None)
    if alone is not None:
        return specific_power(stated_j_m3=alone)
    return specific_power(capacity_m3_s=total, outlet_abs=air.pressure_abs) if total else None
