"""What a measured volume of gas means: reference conditions, and flows that were read on a bag or a meter."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from earwitness.errors import InputError
from earwitness.gas.gas_table import Gas
from earwitness.gas.gases import STANDARD_PRESSURE, find_gas, reference_density
from earwitness.interval import Z_95, Uncertain
from earwitness.sentence import Sentence, say


@dataclass(frozen=True)
class ReferenceCondition:
    """The state at which a volume is counted: temperature [K], pressure_abs [Pa absolute], and who counts so."""

    name: str
    temperature: float
    pressure_abs: float
    used_for: str
    source: str
    air_density: float | None = None  # kg/m3, where the standard states it (moist air)


REFERENCES: Mapping[str, ReferenceCondition] = {
    c.name: c
    for c in (
        ReferenceCondition("0 degC", 273.15, 101_325.0, "Nm3, Nl: normal volume, dry", "DIN 1343; ISO 10780"),
        ReferenceCondition("15 degC", 288.15, 101_325.0, "Sm3 of natural gas, dry", "ISO 13443"),
        ReferenceCondition("20 degC", 293.15, 101_325.0, "this program's own, dry", "NIST's normal temperature"),
        ReferenceCondition("anr", 293.15, 100_000.0, "pneumatics, 65 % humidity", "ISO 8778", 1.185),
        ReferenceCondition("iso 1217", 293.15, 100_000.0, "free air delivered by compressors, dry", "ISO 1217"),
        ReferenceCondition("60 degF", 288.7056, 101_325.0, "scf of gas in North America", "AGA practice (P)"),
        ReferenceCondition("68 degF", 293.15, 99_974.0, "scfm of compressors, 14.5 psia", "CAGI practice (P)"),
        ReferenceCondition("70 degF", 294.2611, 101_352.9, "free air in orifice tables, 14.7 psia", "US practice (P)"),
    )
}

# What people mean: the first is taken, the others are why it must be asked.
MEANINGS: Mapping[str, tuple[str, ...]] = {
    "nm3": ("0 degC",),
    "nl": ("0 degC", "anr"),
    "sm3": ("15 degC", "20 degC", "60 degF"),
    "sl": ("20 degC", "15 degC", "0 degC"),
    "scf": ("60 degF", "68 degF", "70 degF"),
    "scfm": ("68 degF", "60 degF", "70 degF"),
    "slpm": ("0 degC", "20 degC", "70 degF"),
    "fad": ("iso 1217",),
    "free air": ("iso 1217", "70 degF", "anr"),
    "anr": ("anr",),
}

# Half width of the 95 % interval (P): the maker's statement is better.
METERS: Mapping[str, float] = {"mass-flow": 0.03, "rotameter": 0.06, "turbine": 0.04, "bag": 0.15, "unknown": 0.15}


@dataclass(frozen=True)
class MeasuredGas:
    """A measured flow: mass_flow [kg/s], volume_flow [m3/s at 20 °C and 101.325 kPa]."""

    mass_flow: Uncertain
    volume_flow: Uncertain
    reference: ReferenceCondition
    notes: tuple[Sentence, ...]


def find_reference(name: str) -> ReferenceCondition:
    """The reference condition that a unit or name stands for; a bare "m3" is refused.

    Parameters
    ----------
    name : str
        "Nm3", "Sm3", "scfm", "free air", "ANR", "0 degC", "60 degF" and so on.

    References
    ----------
    DIN 1343, ISO 13443, ISO 8778, ISO 1217; North American ones as practice.

    Examples
    --------
    >>> find_reference("Nm3").temperature
    273.15
    """
    plain = re.sub(r"\s+", " ", name.strip().lower().replace("³", "3").replace("°", " deg").replace("deg ", "deg"))
    plain = re.sub(r"/(h|hr|min|s)$", "", plain.strip())
    by_name = {key.lower(): condition for key, condition in REFERENCES.items()}
    if plain in by_name:
        return by_name[plain]
    if plain in MEANINGS:
        return REFERENCES[MEANINGS[plain][0]]
    raise InputError(
        "reference",
        repr(name),
        "a volume with its reference: " + ", ".join(sorted({*MEANINGS, *by_name})) + "; a bare m3 or l says too little",
    )


def reference_gas_density(reference: ReferenceCondition, gas: Gas | str = "air") -> float:
    """Density of a gas at a reference condition [kg/m3].

    Parameters
    ----------
    reference : ReferenceCondition
    gas : Gas or str

    References
    ----------
    ISO 8778 states 1.185 kg/m3 for air at ANR; otherwise the real gas, dry.
    """
    found = find_gas(gas) if isinstance(gas, str) else gas
    if reference.air_density is not None and found.name in ("air", "vacuum"):
        return reference.air_density
    return reference_density(found, reference.pressure_abs, reference.temperature)


def convert_volume_flow(
    value: float, source: ReferenceCondition | str, target: ReferenceCondition | str, gas: Gas | str = "air"
) -> float:
    """The same mass flow as a volume flow at another reference condition [m3/s, or the unit it came in].

    Parameters
    ----------
    value : float, volume flow at `source` [m3/s]
    source, target : ReferenceCondition or str
    gas : Gas or str

    Examples
    --------
    >>> round(convert_volume_flow(1.0, "0 degC", "20 degC"), 3)
    1.073
    """
    one = find_reference(source) if isinstance(source, str) else source
    other = find_reference(target) if isinstance(target, str) else target
    return value * reference_gas_density(one, gas) / reference_gas_density(other, gas)


def measured_flow(
    value: float,
    reference: ReferenceCondition | str,
    *,
    gas: Gas | str = "air",
    meter: str = "unknown",
    half_width: float | None = None,
) -> MeasuredGas:
    """A volume flow that was read on a bag or a meter, with the meter's uncertainty.

    Parameters
    ----------
    value : float, above 0 [m3/s at `reference`]
    reference : ReferenceCondition or str
    gas : Gas or str
    meter : "mass-flow", "rotameter", "turbine", "bag" or "unknown"
    half_width : float or None, of the 95 % interval, instead of the customary one of the meter [1]

    References
    ----------
    JCGM 100:2008, 4.3.4 (a maker's limits as an interval of stated coverage).

    Examples
    --------
    >>> round(measured_flow(1e-3, "Nm3", meter="bag").mass_flow.median, 6)
    0.001293
    """
    if not value > 0 and not math.isnan(value):
        raise InputError("value", f"{value:g} m3/s", "above 0 m3/s")
    if meter not in METERS:
        raise InputError("meter", repr(meter), ", ".join(METERS))
    condition = find_reference(reference) if isinstance(reference, str) else reference
    found = find_gas(gas) if isinstance(gas, str) else gas
    width = METERS[meter] if half_width is None else half_width
    mass = Uncertain(value * reference_gas_density(condition, found), math.log1p(width) / Z_95)
    notes: list[Sentence] = []
    if half_width is None:
        notes.append(_customary(meter, width))
    if isinstance(reference, str):
        others = MEANINGS.get(reference.strip().lower().replace("³", "3"), ())[1:]
        if others:
            notes.append(_meant(reference, condition, others))
    return MeasuredGas(mass, mass * (1 / reference_density(found)), condition, tuple(notes))


def rotameter_flow(reading: float, density: float, calibrated_density: float) -> float:
    """Volume flow at the meter's own pressure and temperature from a float meter made for another density [m3/s].

    Parameters
    ----------
    reading : float, on the scale, as volume flow at the meter's own state [m3/s]
    density : float, of the gas in the meter [kg/m3]
    calibrated_density : float, of the gas that the scale is made for, at its state [kg/m3]

    References
    ----------
    VDI/VDE 3513-1: a float meter's flow goes with 1/√density, the float being far denser than the gas.

    Examples
    --------
    >>> round(rotameter_flow(1.0, 4 * 1.2, 1.2), 3)
    0.5
    """
    return reading * math.sqrt(calibrated_density / density)


def ambient_reference(temperature: float, pressure_abs: float = STANDARD_PRESSURE) -> ReferenceCondition:
    """The condition of a volume caught where it leaks, a bag's: the surroundings'.

    Parameters
    ----------
    temperature : float, of the surroundings [K]
    pressure_abs : float, of the surroundings [Pa absolute]
    """
    if not (temperature > 0 and pressure_abs > 0):
        raise InputError("surroundings", f"{temperature:g} K, {pressure_abs:g} Pa", "both above 0")
    return ReferenceCondition("ambient", temperature, pressure_abs, "volume as caught", "the surroundings")


def _customary(meter: str, width: float) -> Sentence:
    return say(
        "customary-meter-uncertainty",
        "The meter's uncertainty was taken as the customary ±{percent:.0f} % for a {meter} one; its maker's is better.",
        percent=100 * width,
        meter=meter,
    )


def _meant(unit: str, condition: ReferenceCondition, others: tuple[str, ...]) -> Sentence:
    return say(
        "reference-condition-assumed",
        "{unit} was read as a volume at {name} ({kpa:.2f} kPa); some mean {others}.",
        unit=unit,
        name=condition.name,
        kpa=condition.pressure_abs / 1000,
        others=" or ".join(others),
    )
