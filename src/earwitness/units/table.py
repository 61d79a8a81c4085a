"""The table of units: what each is worth in SI. Factors exact or as NIST SP 811 (2008) appendix B prints them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

ATMOSPHERE = 101_325.0  # standard atmosphere [Pa]
_PSI = 6894.757293168362
_FT3 = 0.028316846592
_LB = 0.45359237


@dataclass(frozen=True, slots=True)
class Dimension:
    """`units` maps the spellings of a unit (parted by spaces) to its worth in `si`."""

    si: str
    examples: str
    units: Mapping[str, float]

    @property
    def spelled(self) -> dict[str, float]:
        return {name: factor for names, factor in self.units.items() for name in names.split(" ")}


_PRESSURE = {
    "Pa": 1.0, "hPa": 100.0, "kPa": 1e3, "MPa Mpa MPA": 1e6, "mPa": 1e-3, "bar bars": 1e5, "mbar millibar": 100.0,
    "psi lb/in2 lbf/in2": _PSI, "atm": ATMOSPHERE, "at kgf/cm2 kg/cm2 kp/cm2": 98_066.5,
    "torr Torr": ATMOSPHERE / 760, "mmHg": 133.322387415, "inHg": 3386.389, "mmWC mmH2O mmWG mmWS": 9.80665,
    "cmWC cmH2O cmWG": 98.0665, "inWC inH2O inWG iwc": 249.08891,
}  # fmt: skip
_LENGTH = {
    "m metre metres meter meters": 1.0, "cm": 0.01, "mm": 1e-3, "um micron microns": 1e-6, "km": 1e3,
    'in inch inches "': 0.0254, "ft foot feet": 0.3048, "yd": 0.9144, "thou mil": 2.54e-5,
}  # fmt: skip
_VOLUME = {
    "m3 cbm": 1.0, "l litre litres liter liters dm3": 1e-3, "ml cm3 cc": 1e-6, "mm3": 1e-9,
    "ft3 cuft cu.ft. cf": _FT3, "in3": 1.6387064e-5, "gal gallon gallons USgal": 3.785411784e-3,
}  # fmt: skip
_TIME = {
    "s sec second seconds": 1.0, "ms": 1e-3, "min mins minute minutes": 60.0, "h hr hrs hour hours": 3600.0,
    "d day days": 86_400.0,
}  # fmt: skip
_HOURS = {
    "h hr hrs hour hours h/a h/yr h/y h/year hr/yr hours/year": 1.0,
    "min mins minutes": 1 / 60,
    "d day days": 24.0,
}
_MASS = {"kg": 1.0, "g": 1e-3, "mg": 1e-6, "t tonne tonnes": 1e3, "lb lbs lbm": _LB, "oz": _LB / 16}
_POWER = {"W": 1.0, "kW": 1e3, "MW Mw": 1e6, "mW": 1e-3, "hp bhp HP": 745.6998715822702, "PS": 735.49875}
_ENERGY = {
    "J": 1.0, "kJ": 1e3, "MJ": 1e6, "GJ": 1e9, "Wh": 3600.0, "kWh": 3.6e6, "MWh": 3.6e9, "GWh": 3.6e12,
    "kWmin": 6e4, "Btu BTU": 1055.05585262, "MMBtu MMBTU": 1.05505585262e9, "therm therms": 1.05505585262e8,
}  # fmt: skip
_FREQUENCY = {"Hz": 1.0, "kHz": 1e3, "MHz": 1e6}
_SPEED = {
    "Hz 1/s rps rev/s r/s s-1": 1.0, "rpm 1/min r/min rev/min min-1 U/min RPM": 1 / 60,
}  # fmt: skip
_PRESSURE_EXAMPLES = "'7 bar(g)', '800 kPa(a)', '100 psig'"

DIMENSIONS: Mapping[str, Dimension] = {
    "pressure": Dimension("Pa absolute", _PRESSURE_EXAMPLES, _PRESSURE),
    "absolute pressure": Dimension("Pa absolute", "'101.3 kPa', '1013 mbar', '29.9 inHg'", _PRESSURE),
    "vacuum pressure": Dimension("Pa absolute", "'-0.6 bar(g)', '400 mbar(a)', '20 inHg vacuum'", _PRESSURE),
    "temperature": Dimension("K", "'20 degC', '68 °F', '293 K'", {}),
    "length": Dimension("m", "'0.5 m', '25 cm', '1/4 in'", _LENGTH),
    "speed": Dimension("Hz", "'1480 rpm', '1480 1/min', '24.7 Hz'", _SPEED),
    "frequency": Dimension("Hz", "'50 Hz', '40 kHz'", _FREQUENCY),
    "flow": Dimension("m3/s", "'60 l/min', '4 Nm3/h', '2 cfm', '1.5 kg/h'", {}),
    "volume flow": Dimension("m3/s", "'12 m3/min', '500 m3/h', '425 cfm'", {}),
    "volume": Dimension("m3", "'2 m3', '500 l', '130 gal'", _VOLUME),
    "mass": Dimension("kg", "'2 kg', '5 lb'", _MASS),
    "power": Dimension("W", "'75 kW', '100 hp'", _POWER),
    "energy": Dimension("J", "'120 kWh'", _ENERGY),
    "specific power": Dimension("J/m3", "'6.2 kW/(m3/min)', '18 kW/100 cfm', '0.1 kWh/m3'", {}),
    "carbon": Dimension("kg/kWh", "'0.3 kg/kWh', '300 g/kWh', '0.81 lb/kWh'", {}),
    "voltage": Dimension("V", "'400 V', '11 kV'", {"V volt volts": 1.0, "kV": 1e3}),
    "level": Dimension("dB", "'46 dB'", {"dB dBuV": 1.0}),
    "fraction": Dimension("1", "'0.7', '70 %'", {"%": 0.01, "percent": 0.01}),
    "percent": Dimension("%", "'70 %'", {"% percent pct": 1.0}),
    "duration": Dimension("s", "'3 h', '45 min', '20 s'", _TIME),
    "hours": Dimension("h", "'8000 h', '45 min'", _HOURS),
    "angle": Dimension("rad", "'15 deg', '0.26 rad'", {"deg ° degree degrees": 0.017453292519943295, "rad": 1.0}),
}

# name: temperature [K], pressure [Pa absolute] at which a volume is meant, and where that is written
REFERENCES: Mapping[str, tuple[float, float, str]] = {
    "free air": (293.15, ATMOSPHERE, "20 degC, 101.325 kPa"),
    "FAD": (293.15, 100_000.0, "20 degC, 100 kPa, ISO 1217"),
    "ANR": (293.15, 100_000.0, "20 degC, 100 kPa, ISO 8778"),
    "normal": (273.15, ATMOSPHERE, "0 degC, 101.325 kPa, DIN 1343"),
    "standard metric": (288.15, ATMOSPHERE, "15 degC, 101.325 kPa, ISO 13443"),
    "standard leak": (273.15, ATMOSPHERE, "0 degC, 101.325 kPa, as 'std cm3/s' in leak testing"),
    "scfm": (293.15, 14.5 * _PSI, "68 degF, 14.5 psia, dry, as compressor makers state it"),
}
_TEMPERATURE = {  # what is added to the number, and what the sum is worth in K
    "degC °C C celsius": (273.15, 1.0), "degF °F F fahrenheit": (459.67, 5 / 9), "K kelvin": (0.0, 1.0),
    "degR °R": (0.0, 5 / 9),
}  # fmt: skip
TEMPERATURES = {name: worth for names, worth in _TEMPERATURE.items() for name in names.split(" ")}


def squeezed(unit: str) -> str:
    """A unit without what only people need: spaces, dots between factors, '^', the word 'per'."""
    unit = re.sub(r"\bper\b", "/", unit)
    return re.sub(r"[\s·*^]", "", unit.replace("cu ft", "ft3").replace("cubic feet", "ft3"))


@cache
def _spellings(dimension: str) -> tuple[dict[str, float], dict[str, set[float]]]:
    exact = {squeezed(name): factor for name, factor in DIMENSIONS[dimension].spelled.items()}
    folded: dict[str, set[float]] = {}
    for name, factor in exact.items():
        folded.setdefault(name.casefold(), set()).add(factor)
    return exact, folded


def factor(dimension: str, unit: str) -> float | None:
    """What `unit` is worth in the dimension's SI unit; None where it is not one of the dimension's, or where only
    upper and lower case would tell two of them apart ("mpa").

    Examples
    --------
    >>> factor("length", "cm"), factor("pressure", "BAR"), factor("pressure", "mpa")
    (0.01, 100000.0, None)
    """
    exact, folded = _spellings(dimension)
    unit = squeezed(unit)
    if unit in exact:
        return exact[unit]
    found = folded.get(unit.casefold(), set())
    return next(iter(found)) if len(found) == 1 else None
