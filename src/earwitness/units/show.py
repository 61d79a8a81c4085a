"""Values out as text: in a unit that people use, with the digits that the interval deserves."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Protocol

from earwitness.errors import InputError
from earwitness.units.flow import volume_rate
from earwitness.units.quantity import _MARK, _carbon_unit, _temperature, specific_power_unit
from earwitness.units.table import ATMOSPHERE, DIMENSIONS, factor, squeezed

_PLAIN = ("length", "speed", "volume", "mass", "power", "energy", "voltage", "level", "duration", "angle", "percent")
_WIDE = 1.5  # high over low from which on two digits of each number are enough


class _Interval(Protocol):
    @property
    def value(self) -> float: ...
    @property
    def low(self) -> float: ...
    @property
    def high(self) -> float: ...


def show(value: float, unit: str, *, digits: int = 3) -> str:
    """An SI value as text in `unit`, to so many significant digits; a currency is taken as it stands.

    Examples
    --------
    >>> show(801325.0, "bar(g)", digits=2), show(293.15, "degC"), show(1e-3, "l/min"), show(410.3, "EUR")
    ('7.0 bar(g)', '20.0 degC', '60.0 l/min', '410 EUR')
    """
    converted = from_si(value, unit)
    return f"{_rounded(converted, _step(converted, digits))} {unit}"


def show_interval(interval: _Interval, unit: str) -> str:
    """Median and interval as text in `unit`: two digits where it is wide, more where it is tight.

    Examples
    --------
    >>> from earwitness.interval import Interval
    >>> show_interval(Interval(1.0e-3, 3.33e-4, 3.0e-3, 1.2e-3), "l/min")
    '60 l/min (20–180)'
    >>> show_interval(Interval(410.3, 128.0, 1310.0, 550.0), "EUR")
    '410 EUR (130–1300)'
    """
    value, low, high = (from_si(x, unit) for x in (interval.value, interval.low, interval.high))
    half = abs(high - low) / 2
    wide = not math.isfinite(half) or low <= 0 or high > _WIDE * low
    shared = math.inf if wide or not half else 10.0 ** (math.floor(math.log10(half)) - 1)
    texts = [_rounded(x, min(_step(x, 2 if half else 3), shared)) for x in (value, low, high)]
    if not half:
        return f"{texts[0]} {unit}"
    dash = " to " if low < 0 else "–"
    return f"{texts[0]} {unit} ({texts[1]}{dash}{texts[2]})"


def from_si(value: float, unit: str) -> float:
    """An SI value in `unit`: pressures from Pa absolute (gauge against the standard atmosphere), temperatures from
    K, volume flows from m3/s, work for free air from J/m3. A currency, alone or for a year, is taken as it stands."""
    zero, worth, offset = _line(unit)
    return (value - zero) / worth - offset


@lru_cache(maxsize=1024)
def _line(unit: str) -> tuple[float, float, float]:
    """How an SI value becomes one in `unit`: less a zero, over what the unit is worth, less an offset."""
    if unit.split("/")[0].split(" ")[0].isalpha() and unit[:3].isupper() and len(unit.split("/")[0]) == 3:
        return 0.0, 1.0, 0.0
    if worth := factor("pressure", unit):
        return 0.0, worth, 0.0
    offset, scale = _temperature(unit)
    if scale:
        return 0.0, scale, offset
    for dimension in _PLAIN:
        if worth := factor(dimension, unit):
            return 0.0, worth, 0.0
    if match := _MARK.match(squeezed(unit)):
        worth = factor("pressure", match["unit"])
        if worth:
            gauge = match["mark"].casefold()[0] != "a"
            return ATMOSPHERE * gauge, worth, 0.0
    return 0.0, _compound(unit), 0.0


def _compound(unit: str) -> float:
    if rate := volume_rate(unit):
        return rate[0]
    top, _, bottom = squeezed(unit).partition("/")
    mass, time = factor("mass", top), factor("duration", bottom)
    if mass and time:
        return mass / time
    if worth := specific_power_unit(unit) or _carbon_unit(unit):
        return worth
    raise InputError("unit", unit, "one of " + ", ".join(sorted(d for d in DIMENSIONS)))


def _step(value: float, digits: int) -> float:
    """The place of the last of so many significant digits."""
    return 10.0 ** (math.floor(math.log10(abs(value))) - digits + 1) if value and math.isfinite(value) else 1.0


def _rounded(value: float, step: float) -> str:
    if not math.isfinite(value):
        return str(value)
    if not math.isfinite(step):
        step = _step(value, 3)
    places = -math.floor(math.log10(step) + 1e-9)
    value = round(value, places)
    if value and (abs(value) < 1e-4 or abs(value) >= 1e7):
        return f"{value:.{max(0, math.floor(math.log10(abs(value))) + places)}e}"
    return f"{value:.{max(0, places)}f}"
