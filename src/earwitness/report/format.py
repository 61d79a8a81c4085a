"""Numbers as people read them: in the units of the floor, with the digits that the interval deserves."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from earwitness.interval import Interval
from earwitness.units.show import from_si

SPACE = "\u00a0"  # between digits and unit, and between thousands
DASH = "–"
WIDE = 1.5  # high over low from which on two digits of each number are enough


MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
          "December")  # fmt: skip
STAMP = re.compile(r"(\d{4})-(\d\d)-(\d\d)(?:[T ](\d\d:\d\d)(?::\d\d(?:\.\d+)?)?(Z|[+-]\d\d:\d\d)?)?")


@dataclass(frozen=True)
class Unit:
    """A unit for showing: the name that is printed, and the one that `units` knows (none: the value as it stands)."""

    name: str
    known: str = ""

    def of(self, value: float) -> float:
        return from_si(value, self.known) if self.known else value


def rounded(value: float, step: float) -> str:
    """`value` to a multiple of `step` (a power of ten), with spaces between thousands.

    >>> rounded(1234.5, 100).replace(SPACE, " ")
    '1 200'
    >>> rounded(0.0123, 0.001)
    '0.012'
    """
    if not math.isfinite(value):
        return "unknown"
    places = -round(math.log10(step))
    return f"{round(value, places):,.{max(places, 0)}f}".replace(",", SPACE)


def _step(value: float, digits: int) -> float:
    """The place of the last of so many significant digits."""
    return 10.0 ** (math.floor(math.log10(abs(value))) - digits + 1) if value else 1.0


def digits_of(value: float, digits: int) -> str:
    """`value` to so many significant digits."""
    return rounded(value, _step(value, digits)) if math.isfinite(value) else "unknown"


def with_interval(quantity: Mapping[str, Any], unit: Unit) -> str:
    """`about 60 l/min (20–180)`: two digits each where the interval is wide, a common step that fits it where it is
    tight; a value without an interval gets two digits and no brackets.

    >>> with_interval({"value": 1350, "low": 1240, "high": 1470}, Unit("EUR")).replace(SPACE, " ")
    'about 1 350 EUR (1 240–1 470)'
    """
    value, low, high = (_finite(quantity.get(k)) for k in ("value", "low", "high"))
    if value is None:
        return ""
    value = unit.of(value)
    if low is None or high is None:
        return f"about {digits_of(value, 2)}{SPACE}{unit.name}".rstrip()
    low, high = unit.of(low), unit.of(high)
    half = (high - low) / 2
    tight = low > 0 and high <= WIDE * low and half > 0
    shared = 10.0 ** (math.floor(math.log10(half)) - 1) if tight else math.inf
    shown = [rounded(x, min(_step(x, 2), shared)) for x in (value, low, high)]
    dash = DASH if low >= 0 else " to "
    return f"about {shown[0]}{SPACE}{unit.name}".rstrip() + f" ({shown[1]}{dash}{shown[2]})"


def _finite(value: Any) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if math.isfinite(value) else None


def money(sums: Mapping[str, float]) -> str:
    """Amounts that have no interval of their own, by currency and never added across: two digits each.

    >>> money({"EUR": 17217.3, "USD": 95.5}).replace(SPACE, " ")
    '17 000 EUR and 96 USD'
    """
    return joined([f"{digits_of(value, 2)}{SPACE}{currency}".rstrip() for currency, value in sums.items()])


def amounts(sums: Mapping[str, Interval]) -> str:
    """Expected amounts with their intervals, by currency and never added across.

    >>> amounts({"EUR": Interval(16000.0, 8900.0, 34400.0, 17217.3)}).replace(SPACE, " ")
    'about 17 000 EUR (8 900–34 000)'
    """
    told = []
    for currency, x in sums.items():
        known = {"value": x.mean, "low": x.low, "high": x.high}
        told.append(money({currency: x.mean}) if x.low == x.high else with_interval(known, Unit(currency)))
    return joined(told)


def unit_for(name: str, quantity: Mapping[str, Any]) -> Unit:
    """The unit of the floor for a quantity of findings.json."""
    stated = str(quantity.get("unit", "")).split(",")[0].strip()
    top = max((abs(v) for v in (_finite(quantity.get("value")),) if v is not None), default=0.0)
    if stated == "m3/s":
        return Unit("m³/min", "m3/min") if from_si(top, "l/min") >= 1000 else Unit("l/min", "l/min")
    if stated == "kg/s":
        return Unit("kg/h", "kg/h") if from_si(top, "kg/h") >= 0.1 else Unit("g/h", "g/h")
    if name.endswith("_per_year"):
        return Unit(stated.removesuffix("/year").removesuffix("/a") + f" a{SPACE}year")
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
    text = f"{number:.{digits}g}" if 1e-3 <= abs(number) < 1e5 or number == 0 else digits_of(number, digits)
    return text.replace("-", "−")


def when(stamp: str) -> str:
    """A date as people write it, without a number that could be day or month; what is no date stays as it is.

    >>> when("2026-11-18T09:40:00+01:00").replace(SPACE, " "), when("2026-11-18").replace(SPACE, " "), when("Q3")
    ('18 November 2026, 09:40 (+01:00)', '18 November 2026', 'Q3')
    """
    found = STAMP.fullmatch(stamp)
    if not found or not 1 <= int(found[2]) <= 12:
        return stamp
    day = SPACE.join((str(int(found[3])), MONTHS[int(found[2]) - 1], found[1]))
    zone = {"Z": f"{SPACE}(UTC)", None: ""}.get(found[5], f"{SPACE}({found[5]})")
    return day + (f", {found[4]}{zone}" if found[4] else "")
