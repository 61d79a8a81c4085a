"""How much escapes and what it costs. The best road available wins, and the result names it: measured, opening and
pressure, the site's own calibration, level alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from earwitness.errors import EarwitnessError, InputError
from earwitness.gas.calibration import Calibration, calibrated_flow
from earwitness.gas.from_level import LevelFlow, flow_from_level, known_level_reference, smallest_heard
from earwitness.gas.gas_table import Gas
from earwitness.gas.gases import find_gas, reference_density
from earwitness.gas.heat import gross_heat
from earwitness.gas.opening import flow_through_opening
from earwitness.gas.reference import ReferenceCondition, measured_flow
from earwitness.interval import Uncertain, within_factor
from earwitness.plant.assessment import Quantity
from earwitness.plant.reading import MeasuredFlow, Reading
from earwitness.plant.survey import Price, Survey
from earwitness.sentence import Sentence, say
from earwitness.work.economy import PRICE_SIGMA, Economy

REFERENCE = "20 degC, 101.325 kPa"
DEFAULT_HUMIDITY = 0.5
METER_FACTOR = 1.1  # a mass flow that was read is known within 10 % (common practice)
BAND_HZ = 4_000.0  # what a receiver's band is wide where nothing else is known (common practice)


@dataclass(frozen=True)
class Sized:
    """Flows and yearly sums of one reading; empty where nothing can be said, with the reason in `notes`."""

    mass_flow: Uncertain | None = None
    method: str = ""
    regime: str | None = None
    gas: Gas | None = None
    amounts: Mapping[str, Uncertain] = field(default_factory=dict)  # by quantity, what the totals draw from
    quantities: Mapping[str, Quantity] = field(default_factory=dict)
    notes: tuple[Sentence, ...] = ()
    currency: str = ""  # of the money among the amounts


def gas_of(reading: Reading, survey: Survey) -> tuple[Gas | None, tuple[Sentence, ...]]:
    """The medium by its plain name; where none is noted steam at a steam trap, else air, and said; None where it is not
    known."""
    if reading.medium is None and reading.kind == "trap":
        return find_gas("steam"), (say("medium-read-as-steam", "No medium is noted, so it is read as steam."),)
    if reading.medium is None:
        text = "No medium is noted, so it is read as compressed air."
        return find_gas("air"), (say("medium-read-as-air", text),)
    try:
        return find_gas(reading.medium, composition_of(reading.medium, survey)), ()
    except InputError as error:
        return None, (say("medium-not-known", "{error} Until then treat it as flammable.", error=str(error)),)


def composition_of(medium: str, survey: Survey) -> Mapping[str, float] | None:
    """What the survey says a gas is made of; None where it does not."""
    name = medium.casefold().strip()
    return next((parts for gas, parts in survey.gas_compositions.items() if gas.casefold().strip() == name), None)


def size(
    reading: Reading,
    survey: Survey,
    economy: Economy,
    level_db: float | None,
    calibration: Calibration | None = None,
) -> Sized:
    """Flow, energy, money and carbon of a leak that was heard. `level_db` has the gain setting taken off."""
    gas, notes = gas_of(reading, survey)
    if gas is None:
        return Sized(notes=notes)
    try:
        flow, method, regime, said = _flow(reading, survey, gas, level_db, calibration)
    except EarwitnessError as error:
        return Sized(gas=gas, notes=(*notes, say("flow-not-computed", "No flow: {error}.", error=str(error))))
    notes = (*notes, *said)
    if flow is None:
        return Sized(gas=gas, notes=notes)
    amounts, said = yearly(flow, gas, reading, survey, economy)
    amounts = {"volume_flow": flow * (1 / reference_density(gas)), **amounts}
    currency = currency_of(gas, survey, economy)
    if reading.repair.cost and reading.repair.cost_currency in (None, currency) and "saving_per_year" in amounts:
        amounts["payback"] = Uncertain(reading.repair.cost) / amounts["saving_per_year"]
    return Sized(
        flow, method, regime, gas, amounts, _quantities(flow, gas, amounts, method, currency), (*notes, *said),
        currency,
    )  # fmt: skip


def would_have_been_heard(reading: Reading, survey: Survey, background_db: float | None) -> tuple[Sentence, ...]:
    """Where nothing was heard: the smallest leak that would have been, or what is missing to say it."""
    gas, _ = gas_of(reading, survey)
    pressure = reading.pressure_abs
    if gas is None or background_db is None or reading.distance_m is None or pressure is None:
        text = "Background level, distance and pressure are needed to say which leak would have been heard."
        return (say("smallest-not-known", text),)
    try:
        heard = smallest_heard(
            gas,
            background_db,
            reading.distance_m,
            pressure,
            reference_known=known_level_reference(survey.instrument.level_ref),
            attachment_known=reading.attachment is not None,
            on_axis=not _swept(reading),
            **_air(reading, survey),
        )
    except EarwitnessError as error:
        return (say("smallest-not-computed", "Which leak would have been heard: {error}.", error=str(error)),)
    return heard.notes


Flow = tuple[Uncertain | None, str, str | None, tuple[Sentence, ...]]


def _flow(reading: Reading, survey: Survey, gas: Gas, level_db: float | None, calibration: Calibration | None) -> Flow:
    pressure = reading.pressure_abs
    if reading.flow is not None:
        return measured_mass_flow(reading.flow, gas), "measured", None, ()
    if reading.opening_m is not None and pressure is not None:
        opening = flow_through_opening(
            gas,
            pressure,
            diameter=reading.opening_m,
            downstream_abs=reading.pressure_downstream_abs or _ambient(survey),
            temperature=reading.temperature_k or (None if gas.name == "steam" else 293.15),
            edge="unknown",
        )
        return opening.uncertain, "opening", str(opening.regime), opening.notes
    if level_db is None:
        return None, "", None, (say("no-way-to-a-flow", "No flow, opening or level was noted, so none is given."),)
    if pressure is None:
        return None, "", None, (say("no-pressure", "No pressure is noted, so the level gives no flow."),)
    if calibration is not None and gas.name == "air" and reading.distance_m is not None:
        site = calibrated_flow(calibration, level_db, pressure, reading.distance_m)
        return site.uncertain(), "calibration", None, site.notes
    found_level = _from_level(reading, survey, gas, level_db, pressure)
    return found_level.mass_flow, "level", None, found_level.notes


def measured_mass_flow(flow: MeasuredFlow, gas: Gas) -> Uncertain:
    """A flow that was read, as mass [kg/s], with the meter's customary uncertainty."""
    if flow.unit == "kg/s":
        return within_factor(flow.value, METER_FACTOR)
    temperature = flow.reference_temperature_k or 293.15
    pressure = flow.reference_pressure_abs or 101_325.0
    name = flow.reference_name or "as given"
    condition = ReferenceCondition(name, temperature, pressure, used_for="this reading", source=flow.given)
    return measured_flow(flow.value, condition, gas=gas).mass_flow


def _from_level(reading: Reading, survey: Survey, gas: Gas, level_db: float, pressure: float) -> LevelFlow:
    background = reading.background_db
    if background is not None:
        background -= reading.gain_db or 0.0
    return flow_from_level(
        gas,
        level_db,
        pressure,
        reference_known=known_level_reference(survey.instrument.level_ref),
        attachment_known=reading.attachment is not None,
        on_axis=not _swept(reading),
        distance=reading.distance_m,
        background_db=background,
        temperature=reading.temperature_k or (None if gas.name == "steam" else 293.15),
        **_air(reading, survey),
    )


def _swept(reading: Reading) -> bool:
    """A level read while the probe moved along was not aimed; one at a point was turned to its loudest (practice)."""
    return bool(reading.sweep_marks) or reading.sweep_length_m is not None


def _air(reading: Reading, survey: Survey) -> dict[str, float]:
    c = survey.conditions
    return {
        "downstream_abs": reading.pressure_downstream_abs or _ambient(survey),
        "centre_hz": reading.centre_hz or 40_000.0,
        "bandwidth_hz": BAND_HZ,
        "air_temperature": c.temperature_k or 293.15,
        "humidity": DEFAULT_HUMIDITY if c.humidity is None else c.humidity,
        "ambient_abs": _ambient(survey),
    }


def _ambient(survey: Survey) -> float:
    return survey.conditions.ambient_pressure_abs or 101_325.0


def yearly(
    flow: Uncertain, gas: Gas, reading: Reading, survey: Survey, economy: Economy
) -> tuple[dict[str, Uncertain], tuple[Sentence, ...]]:
    """Energy, cost, saving and carbon of a year, as far as prices and hours are known."""
    hours = reading.hours_per_year or economy.hours_per_year
    if hours is None:
        return {}, (say("no-hours", "Hours under pressure a year are not known, so there is no yearly sum."),)
    if gas.name == "air":
        return _of_air(flow, gas, hours, economy)
    amounts: dict[str, Uncertain] = {}
    notes: list[Sentence] = []
    mass = flow * (hours * 3600.0)
    price = _price_of(gas, survey)
    each, said = _of_a_kg(price, gas)
    notes += said
    if each is not None:
        amounts["cost_per_year"] = mass * Uncertain(each, 0.0, {f"price_{gas.name}": PRICE_SIGMA})
        amounts["saving_per_year"] = amounts["cost_per_year"]
    if gas.gwp:
        amounts["carbon_per_year"] = mass * gas.gwp
        text = "One kg of {gas} counts as {gwp:g} kg of carbon dioxide ({source})."
        notes.append(say("gwp", text, gas=gas.name, gwp=gas.gwp, source=gas.gwp_source))
    return amounts, tuple(notes)


def _price_of(gas: Gas, survey: Survey) -> Price | None:
    for name, price in survey.gas_prices.items():
        try:
            if find_gas(name).name == gas.name and price.per in ("kg", "m3", "J"):
                return price
        except InputError:
            continue
    return None


def _of_a_kg(price: Price | None, gas: Gas) -> tuple[float | None, list[Sentence]]:
    """What a kg costs, and what is to be said of it; None where that is not known."""
    if price is None:
        text = "No price of {gas} is given, so its loss has no cost here; state it as a [[gas]]."
        return None, [say("no-gas-price", text, gas=gas.name)]
    if price.per != "J":
        return price.value / (1.0 if price.per == "kg" else reference_density(gas)), []
    heat = gross_heat(gas)
    if heat is None:
        text = "The price of {gas} is one of heat, and how much a kg holds is not known here; state it per kg or m3."
        return None, [say("gas-price-of-heat", text, gas=gas.name)]
    text = "A kg of {gas} is taken to hold {heat:.1f} MJ gross, which its price counts."
    return price.value * heat, [say("gross-heat", text, gas=gas.name, heat=heat / 1e6)]


def _of_air(
    flow: Uncertain, gas: Gas, hours: float, economy: Economy
) -> tuple[dict[str, Uncertain], tuple[Sentence, ...]]:
    if economy.specific_power is None:
        return {}, ()
    volume = flow * (1 / reference_density(gas))
    energy = volume * economy.specific_power.value * (hours / 1000.0)  # W·h of a m3/s·J/m3, in kWh
    amounts = {"energy_per_year": energy}
    fraction = economy.given_back(volume.median)
    if economy.money_per_kwh is not None:
        amounts["cost_per_year"] = energy * economy.money_per_kwh
        if fraction:
            amounts["saving_per_year"] = amounts["cost_per_year"] * fraction
    if economy.carbon_per_kwh is not None:
        amounts["carbon_per_year"] = energy * economy.carbon_per_kwh
    if economy.carbon_marginal_kg_per_kwh is not None:
        amounts["carbon_marginal_per_year"] = energy * economy.carbon_marginal_kg_per_kwh
    return amounts, ()


def _quantities(
    flow: Uncertain, gas: Gas, amounts: Mapping[str, Uncertain], method: str, currency: str
) -> dict[str, Quantity]:
    """What is told of the amounts; steam by its mass alone: at 20 degC it is no gas that has a volume."""
    units = {
        "volume_flow": "m3/s",
        "energy_per_year": "kWh",
        "cost_per_year": currency,
        "saving_per_year": currency,
        "carbon_per_year": "kg",
        "carbon_marginal_per_year": "kg",
        "payback": "a",
    }
    out = {"mass_flow": Quantity(flow.interval(), "kg/s", method)}
    for name, amount in amounts.items():
        if name == "volume_flow" and gas.name == "steam":
            continue
        reference = REFERENCE if name == "volume_flow" else None
        out[name] = Quantity(amount.interval(), units[name], method, reference)
    return out


def currency_of(gas: Gas, survey: Survey, economy: Economy) -> str:
    """In which currency the loss of this gas is told: that of its own price, for air that of the energy."""
    price = economy.price if gas.name == "air" else _price_of(gas, survey)
    return price.currency if price else ""
