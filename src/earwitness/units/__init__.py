"""Text with units in, SI inside, text with units out: the only place that knows other units.

- `quantity(text, dimension, *, where, unit=None, ambient_abs=101325.0, decimal=None) -> float`: the SI value
- `read(…same…) -> Quantity(value, unit, given, notes)`: with what had to be assumed, as sentences
- `flow(text, *, where, unit=None, decimal=None) -> Flow`: a mass flow, or a volume flow with its reference
- `price(text, *, where, heat=False, decimal=None) -> PriceRead(value, currency, per, given, notes)`
- `money(text, *, where, currency=None, decimal=None) -> (amount, currency)`
- `number(text, *, where, decimal=None) -> float`: a number without a unit
- `show(value, unit, *, digits=3) -> str` and `show_interval(interval, unit) -> str`: "60 l/min (20–180)"
- `from_si(value, unit) -> float`
- `fits(dimension, unit) -> bool`; `factor(dimension, unit) -> float | None`, `DIMENSIONS`, `REFERENCES`: the table

Dimensions: pressure, absolute pressure, vacuum pressure, temperature, length, speed, frequency, flow, volume flow,
volume, mass, power, energy, specific power, carbon, voltage, level, fraction, percent, duration, hours, angle.
What cannot be read raises `UnitError`, an `EarwitnessError` with the sentence that says what would do.
"""

from earwitness.units.flow import Flow, flow
from earwitness.units.money import PriceRead, money, price
from earwitness.units.number import UnitError, number
from earwitness.units.quantity import Quantity, fits, quantity, read
from earwitness.units.show import from_si, show, show_interval
from earwitness.units.table import ATMOSPHERE, DIMENSIONS, REFERENCES, factor

__all__ = [
    "ATMOSPHERE", "DIMENSIONS", "REFERENCES", "Flow", "PriceRead", "Quantity", "UnitError", "factor", "fits", "flow",
    "from_si", "money", "number", "price", "quantity", "read", "show", "show_interval",
]  # fmt: skip
