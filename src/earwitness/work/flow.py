"""Gas through a hole: flow, cost, hazards, cautions, for the command line and the notebook."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from earwitness import units
from earwitness.errors import InputError, as_asked
from earwitness.gas.gas_table import Gas
from earwitness.gas.gases import find_gas, reference_density
from earwitness.gas.heat import gross_heat
from earwitness.gas.opening import Flow, flow_through_opening
from earwitness.interval import Uncertain
from earwitness.plant.assessment import Quantity, Warned
from earwitness.plant.reading import Reading
from earwitness.plant.survey import AirSystem, Energy, Price, Survey
from earwitness.sentence import Sentence, say
from earwitness.work.economy import economy_of
from earwitness.work.size import REFERENCE, Sized, yearly
from earwitness.work.warn import hazards_of, standing_cautions

STANDARD_PRESSURE = 101_325.0
UNPRICED = ("no-hours", "no-gas-price")  # said of a survey, where the answer stands in survey.toml


@dataclass(frozen=True)
class FlowAnswer:
    """What `earwitness flow` says; quantities as the contract names them."""

    flow: Flow
    quantities: Mapping[str, Quantity]
    hazards: tuple[Warned, ...]
    cautions: tuple[Sentence, ...]
    notes: tuple[Sentence, ...]

    def as_json(self) -> dict[str, Any]:
        f = self.flow
        return {
            **{name: q.as_json() for name, q in self.quantities.items()},
            "gas": f.gas,
            "regime": f.regime,
            "coefficient": round(float(f.coefficient), 4),
            "hazards": [h.as_json() for h in self.hazards],
            "cautions": [c.as_json() for c in self.cautions],
            "notes": [n.as_json() for n in self.notes],
        }


def flow_through_hole(
    *,
    gas: str,
    pressure: str,
    hole: str,
    downstream: str | None = None,
    temperature: str | None = None,
    edge: str = "sharp",
    coefficient: float | None = None,
    specific_power: str | None = None,
    price: str | None = None,
    hours: float | None = None,
    place: str | None = None,
    room: str | None = None,
    ventilation: str | None = None,
) -> FlowAnswer:
    """Flow of a gas through a hole; quantities are texts with units, as on the field sheet.

    Examples
    --------
    >>> answer = flow_through_hole(gas="air", pressure="7 bar(g)", hole="1 mm")
    >>> answer.flow.regime, round(answer.quantities["volume_flow"].interval.value * 60_000)
    ('choked', 63)
    """
    found = find_gas(gas)
    dimension = "vacuum pressure" if found.inwards else "pressure"
    read = units.read(pressure, dimension, where="pressure")
    kelvin = None if temperature is None else units.quantity(temperature, "temperature", where="temperature")
    if kelvin is None and found.name != "steam":
        kelvin = 293.15
    outside = STANDARD_PRESSURE if downstream is None else units.quantity(downstream, "pressure", where="downstream")
    if edge not in ("sharp", "rounded", "unknown"):
        raise InputError("edge", edge, "sharp, rounded or unknown")
    flow = flow_through_opening(
        found,
        read.value,
        diameter=units.quantity(hole, "length", where="hole"),
        downstream_abs=outside,
        temperature=kelvin,
        edge=edge,  # type: ignore[arg-type]
        coefficient=coefficient,
    )
    reading = Reading(
        "flow",
        1,
        "leak",
        medium=gas,
        pressure_abs=read.value,
        temperature_k=kelvin,
        place=place,
        hours_per_year=hours,
        room_m3=None if room is None else units.quantity(room, "volume", where="room"),
        ventilation_m3_s=None
        if ventilation is None
        else units.quantity(ventilation, "volume flow", where="ventilation"),
    )
    survey = _circumstances(gas, specific_power, price)
    amounts, said = _priced(flow, found, reading, survey, specific_power) if flow.uncertain is not None else ({}, ())
    sized = Sized(flow.uncertain, "opening", str(flow.regime), found, amounts)
    notes = (*read.notes, *flow.notes, *said)
    hazards = hazards_of(reading, "leak", sized, survey, None)
    return FlowAnswer(flow, _quantities(flow, sized, survey), hazards, standing_cautions(reading, "leak"), notes)


def _priced(
    flow: Flow, gas: Gas, reading: Reading, survey: Survey, specific_power: str | None
) -> tuple[dict[str, Uncertain], tuple[Sentence, ...]]:
    """What it is as a volume and costs a year, and what a cost still needs where a part of it was given."""
    assert flow.uncertain is not None
    volume = {"volume_flow": flow.uncertain * (1 / reference_density(gas))}
    if not (specific_power or survey.energy.price or survey.gas_prices or reading.hours_per_year):
        return volume, ()
    with as_asked(stated_j_m3=("specific-power", specific_power)):
        more, said = yearly(flow.uncertain, gas, reading, survey, economy_of(survey))
    if "cost_per_year" not in more:
        said = (*(n for n in said if n.code not in UNPRICED), _cost_needs(gas, reading, survey))
    return volume | more, said


def _cost_needs(gas: Gas, reading: Reading, survey: Survey) -> Sentence:
    """What a cost still needs, where a part of it was given."""
    if gas.inwards:
        return say("vacuum-has-no-cost", "What air drawn in costs is not worked out: it hangs on the pump.")
    missing = [] if reading.hours_per_year else ["the hours under pressure a year (--hours 6000)"]
    if gas.name != "air":
        if not survey.gas_prices:
            missing.append('the price of the gas (--price "1.30 EUR/kg")')
    else:
        if survey.air.specific_power_j_m3 is None:
            missing.append('the specific power of the compressors (--specific-power "6.3 kW/(m3/min)")')
        if survey.energy.price is None:
            missing.append('the price of energy (--price "0.20 EUR/kWh")')
    return say("cost-needs", "No cost is given: it also needs {missing}.", missing=" and ".join(missing))


def _circumstances(gas: str, specific_power: str | None, price: str | None) -> Survey:
    """A survey that holds only what a flow needs to be priced."""
    survey = Survey(Path(), "flow", "", "", "")
    if specific_power is not None:
        power = units.quantity(specific_power, "specific power", where="specific-power")
        survey = replace(survey, air=AirSystem(specific_power_j_m3=power))
    if price is not None:
        read = units.price(price, where="price", heat=gross_heat(gas) is not None)
        priced = Price(read.value, read.currency, read.per, read.given)
        if read.per == "kWh":
            survey = replace(survey, energy=Energy(priced))
        else:
            survey = replace(survey, gas_prices={gas: priced})
    return survey


def _quantities(flow: Flow, sized: Sized, survey: Survey) -> dict[str, Quantity]:
    if flow.uncertain is None:
        zero = Uncertain(0.0).interval()
        return {
            "mass_flow": Quantity(zero, "kg/s", "opening"),
            "volume_flow": Quantity(zero, "m3/s", "opening", REFERENCE),
        }
    prices = [survey.energy.price, *survey.gas_prices.values()]
    currency = next((p.currency for p in prices if p is not None), "")
    units_of = {"volume_flow": "m3/s", "energy_per_year": "kWh", "carbon_per_year": "kg"}
    out = {"mass_flow": Quantity(flow.uncertain.interval(), "kg/s", "opening")}
    for name, amount in sized.amounts.items():
        reference = REFERENCE if name == "volume_flow" else None
        out[name] = Quantity(amount.interval(), units_of.get(name, currency), "opening", reference)
    return out
