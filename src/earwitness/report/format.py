"""Numbers as people read them: in the units of the floor, with the digits that the interval deserves."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

SPACE = "\u00a0"  # between digits and unit, and between thousands
DASH = "–"


@dataclass(frozen=True)
class Unit:
    """A unit for showing: what the SI value is multiplied with, and its name."""

    name: str
    factor: float = 1.0


def rounded(value: float, digits: int) -> str:
    """`value` to `digits` significant digits, with spaces between thousands.

    >>> rounded(1234.5, 2).replace(SPACE, " ")
    '1 200'
    >>> rounded(0.0123, 1)
    '0.01'
    """
    if not math.isfinite(value):
        return "unknown"
    if value == 0:
        return "0"
    places = digits - 1 - math.floor(math.log10(abs(value)))
    shown = round(value, places)
    if shown and math.floor(math.log10(abs(shown))) > math.floor(math.log10(abs(value))):
        places -= 1
    return f"{shown:,.{max(places, 0)}f}".replace(",", SPACE)


def digits_deserved(value: float, low: float | None, high: float | None) -> int:
    """Significant digits that an interval deserves: one where it spans more than a factor of 100, two as a rule, more
    only where it is narrower than 2 %."""
    if low is None or high is None or value == 0:
        return 2
    if low <= 0 or high / low > 100:
        return 1
    half = (high - low) / 2 / abs(value)
    if half < 0.001:
        return 4
    return 3 if half < 0.02 else 2


def with_interval(quantity: Mapping[str, Any], unit: Unit) -> str:
    """`about 60 l/min (20–180)`; a value without an interval is said to have none."""
    value, low, high = (_finite(quantity.get(k)) for k in ("value", "low", "high"))
    if value is None:
        return ""
    digits = digits_deserved(value, low, high)
    text = f"about {rounded(value * unit.factor, digits)}{SPACE}{unit.name}"
    if low is None or high is None:
        return text
    bounds = max(2, digits)
    return f"{text} ({rounded(low * unit.factor, bounds)}{DASH}{rounded(high * unit.factor, bounds)})"


def _finite(value: Any) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if math.isfinite(value) else None


def unit_for(name: str, quantity: Mapping[str, Any], medium: str | None = None) -> Unit:
    """The unit of the floor for a quantity of findings.json."""
    stated = str(quantity.get("unit", "")).split(",")[0].strip()
    top = max((abs(v) for v in (_finite(quantity.get("value")),) if v is not None), default=0.0)
    if stated == "m3/s":
        return Unit("m³/min", 60.0) if top * 60_000 >= 1000 else Unit("l/min", 60_000.0)
    if stated == "kg/s":
        if medium == "steam":
            return Unit("kg/h", 3600.0)
        return Unit("g/s", 1000.0) if top >= 1e-4 else Unit("mg/s", 1e6)
    if name.endswith("_per_year"):
        return Unit(stated.removesuffix("/year").removesuffix("/a") + " a year")
    return Unit(stated)


def percent(share: float) -> str:
    """A probability in words' company: never 0 or 100 %.

    >>> percent(0.9993).replace(SPACE, " ")
    'more than 99 %'
    """
    if share > 0.99:
        return f"more than 99{SPACE}%"
    if share < 0.01:
        return f"less than 1{SPACE}%"
    return f"{share * 100:.0f}{SPACE}%"


def likely(share: float) -> str:
    """How sure, in a word and a number."""
    word = "very likely" if share >= 0.95 else "likely" if share >= 0.8 else "possibly"
    return f"{word} ({percent(share)})"


def counted(number: int, one: str, many: str | None = None) -> str:
    """`1 point`, `3 points`."""
    return f"{number}{SPACE}{one if number == 1 else many or one + 's'}"


def joined(words: list[str]) -> str:
    """`a, b and c`."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1] if words else ""


def plain_number(value: Any, digits: int = 3) -> str:
    """A number of evidence: to three significant digits, without trailing zeros; a text stays a text."""
    number = _finite(value)
    if number is None:
        return "" if value is None else str(value)
    return f"{number:.{digits}g}" if 1e-3 <= abs(number) < 1e5 or number == 0 else rounded(number, digits)
