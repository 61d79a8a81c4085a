"""A quantity as text, read into SI: pressures absolute, temperatures in kelvin."""

from __future__ import annotations

import re
from dataclasses import dataclass

from earwitness.sentence import Sentence, say
from earwitness.units.flow import flow, no_unit, parted, unknown_unit, volume_rate
from earwitness.units.number import UnitError, plain, shown, split
from earwitness.units.table import ATMOSPHERE, DIMENSIONS, REFERENCES, TEMPERATURES, factor, squeezed

_MARK = re.compile(r"^(?P<unit>.+?)[(\[]?(?P<mark>gauge|ga|g|absolute|abs|a|vacuum|vac|ü)[)\]]?$", re.IGNORECASE)
_POSITIVE = {"length", "speed", "frequency", "volume", "mass", "power", "energy", "voltage", "duration", "hours",
             "fraction", "percent"}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Quantity:
    """A quantity as it was given, in SI."""

    value: float
    unit: str  # the SI unit, "Pa absolute"
    given: str
    notes: tuple[Sentence, ...] = ()


def quantity(
    text: str,
    dimension: str,
    *,
    where: str,
    unit: str | None = None,
    ambient_abs: float = ATMOSPHERE,
    decimal: str | None = None,
) -> float:
    """The SI value of `text`, a quantity of `dimension`; see `read`, which keeps the notes too.

    Examples
    --------
    >>> quantity("7 bar(g)", "pressure", where="--pressure")
    801325.0
    >>> quantity("25 cm", "length", where="distance")
    0.25
    >>> round(quantity("6.2 kW/(m3/min)", "specific power", where="[air] specific_power"))
    372000
    """
    return read(text, dimension, where=where, unit=unit, ambient_abs=ambient_abs, decimal=decimal).value


def read(
    text: str,
    dimension: str,
    *,
    where: str,
    unit: str | None = None,
    ambient_abs: float = ATMOSPHERE,
    decimal: str | None = None,
) -> Quantity:
    """The quantity that `text` gives.

    Parameters
    ----------
    text : a number and its unit
    dimension : a key of `DIMENSIONS`; "pressure" reads a pressure without (g) or (a) as gauge and notes it,
        "vacuum pressure" refuses it, "absolute pressure" reads it as absolute
    where : the place, as the message names it
    unit : the unit that the column or key carries; one in the text goes before it
    ambient_abs : what a gauge pressure is added to [Pa absolute]
    decimal : "." or "," where the sheet has shown which it uses

    Raises
    ------
    UnitError : no number, no unit, or a unit of something else; its sentence says what would do
    """
    si = DIMENSIONS[dimension].si
    if dimension in ("flow", "volume flow"):
        found = flow(text, where=where, unit=unit, decimal=decimal)
        if found.unit != "m3/s":
            raise unknown_unit(text, "mass a time", "volume flow", where)
        return Quantity(_tidy(found.free_air), si, found.given, found.notes)
    value, own = split(text, where=where, decimal=decimal)
    written = own or plain(unit or "")
    given = text.strip() if own or not unit else f"{text.strip()} {unit}"
    if not written:
        if dimension == "fraction" and 0 <= value <= 1:
            return Quantity(value, si, given)
        raise no_unit(text, dimension, where)
    if dimension.endswith("pressure"):
        return _pressure(value, written, dimension, given, where, ambient_abs)
    worth = _worth(dimension, written, value)
    if worth is None:
        raise unknown_unit(text, written, dimension, where)
    if (worth < 0 and dimension in _POSITIVE) or (worth <= 0 and dimension == "temperature"):
        least = "absolute zero" if dimension == "temperature" else "zero"
        raise UnitError(
            say("negative", "{where}: '{given}' is below {least}.", where=where, given=shown(given), least=least)
        )
    return Quantity(_tidy(worth), si, given)


def _tidy(value: float) -> float:
    """Without the last digit, which is the machine's rounding: 7.94 mm are 0.00794 m, not 0.007940000000000001."""
    return float(f"{value:.15g}")


def _worth(dimension: str, unit: str, value: float) -> float | None:
    """`value` of `unit` in SI, None where the unit is not one of the dimension's."""
    if dimension == "temperature":
        offset, scale = _temperature(unit)
        return (value + offset) * scale if scale else None
    if dimension == "specific power":
        worth = specific_power_unit(unit)
    elif dimension == "carbon":
        worth = _carbon_unit(unit)
    else:
        worth = factor(dimension, unit)
    return None if worth is None else value * worth


def _temperature(unit: str) -> tuple[float, float]:
    unit = squeezed(unit)
    folded = {name.casefold(): worth for name, worth in TEMPERATURES.items()}
    return TEMPERATURES.get(unit) or folded.get(unit.casefold(), (0.0, 0.0))


def _pressure(value: float, unit: str, dimension: str, given: str, where: str, ambient_abs: float) -> Quantity:
    worth, mark = factor("pressure", unit), None
    if worth is None and (match := _MARK.match(squeezed(unit))):
        worth, mark = factor("pressure", match["unit"]), match["mark"].casefold()[0]
    if worth is None:
        raise unknown_unit(given, unit, dimension, where)
    notes: tuple[Sentence, ...] = ()
    if mark is None and dimension == "vacuum pressure":
        raise UnitError(
            say("vacuum-needs-reference", "{where}: '{given}' of a vacuum could be gauge or absolute; "
                "write for example {examples}.",
                where=where, given=shown(given), examples=DIMENSIONS[dimension].examples)
        )  # fmt: skip
    if mark is None and dimension == "pressure":
        notes = (
            say("pressure-read-as-gauge", "{where}: '{given}' is read as gauge pressure.",
                where=where, given=shown(given)),
        )  # fmt: skip
    if mark == "a" or (mark is None and dimension == "absolute pressure"):
        pascal = value * worth
    elif mark == "v":
        pascal = ambient_abs - abs(value) * worth
    else:
        pascal = ambient_abs + value * worth
    if pascal < 0 or (pascal == 0 and dimension == "absolute pressure"):
        raise UnitError(
            say("below-vacuum", "{where}: '{given}' is below a perfect vacuum.", where=where, given=shown(given))
        )
    return Quantity(_tidy(pascal), "Pa absolute", given, notes)


def _unbracketed(unit: str) -> str:
    return unit[1:-1] if unit.startswith("(") and unit.endswith(")") else unit


def per_volume(unit: str) -> float | None:
    """What a unit of volume holds [m3 at 20 degC, 101.325 kPa], the reference that it names taken into account."""
    unit, reference = parted(unit)
    volume = factor("volume", unit)
    if volume and reference:
        free_temperature, free_pressure, _ = REFERENCES["free air"]
        volume *= free_temperature / reference.temperature_k * reference.pressure_abs / free_pressure
    return volume


def specific_power_unit(unit: str) -> float | None:
    """What a unit of work for free air is worth [J/m3]: power over flow, or energy over volume."""
    top, slash, bottom = re.sub(r"\bper\b", "/", unit).partition("/")
    if not slash:
        return None
    count, bottom = _counted(_unbracketed(bottom.strip()))
    power, rate = factor("power", top), volume_rate(_unbracketed(bottom))
    if power and rate:
        worth, reference = rate
        if reference:
            free_temperature, free_pressure, _ = REFERENCES["free air"]
            worth *= free_temperature / reference.temperature_k * reference.pressure_abs / free_pressure
        return power / (count * worth)
    energy, volume = factor("energy", top), per_volume(bottom)
    return energy / (count * volume) if energy and volume else None


def _counted(unit: str) -> tuple[float, str]:
    """The number that a denominator begins with ("100 cfm", "1000 ft3"), 1 where there is none."""
    match = re.match(r"^(\d{1,6})\s*(.+)$", unit)
    return (float(match[1]) or 1.0, match[2]) if match else (1.0, unit)


def _carbon_unit(unit: str) -> float | None:
    unit = re.sub(r"\s*CO2\s*-?(?:e|eq)?\.?", "", re.sub(r"\bper\b", "/", unit), flags=re.IGNORECASE)
    top, _, bottom = unit.partition("/")
    mass, energy = factor("mass", top), factor("energy", bottom)
    return mass / (energy / 3.6e6) if mass and energy else None


def fits(dimension: str, unit: str) -> bool:
    """Whether `unit` is one of the dimension's.

    Examples
    --------
    >>> fits("pressure", "bar(g)"), fits("length", "bar")
    (True, False)
    """
    try:
        if dimension == "flow":
            flow("1", where="", unit=unit)
        else:
            read("1", dimension, where="", unit=unit)
    except UnitError:
        return False
    return True
