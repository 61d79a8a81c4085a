"""The finer parts of survey.toml: prices over the day, the worth of money, the day's load, a machine's own curve, what
a gas is made of."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

from earwitness import units
from earwitness.plant.survey import Energy, Price, PriceBand
from earwitness.units import UnitError

if TYPE_CHECKING:
    from earwitness.intake.settings import _Table

_CLOCK = re.compile(r"(\d{1,2})(?::(\d{2}))?$")
_DEMAND = re.compile(r"\s*/\s*kW(?:\s*/?\s*month)?\s*$", re.IGNORECASE)


def tariff_of(table: _Table) -> Energy:
    """`[energy]`: price, carbon, carbon_marginal, demand_charge = "9 EUR/kW", `band` tables with from, to, price."""
    return Energy(
        table.price("price", heat=False),
        table.amount("carbon", "carbon", low=0, high=10),
        table.amount("carbon_marginal", "carbon", low=0, high=10),
        tuple(band for given in _listed(table) if (band := _band(table, given)) is not None),
        _demand(table),
        _years(table),
        table.amount("discount_rate", "fraction", low=0, high=1) or 0.0,
        table.amount("reopen_rate", "fraction", low=0, high=1) or 0.0,
    )


def profile_of(table: _Table) -> tuple[float, ...]:
    """`[air] load_profile`: numbers of equal spans of a day, fractions of capacity."""
    given = table.take("load_profile")
    if given is None:
        return ()
    good = isinstance(given, list) and 1 <= len(given) <= 1440
    if not good or not all(_is_number(x) and 0 <= x <= 1 for x in given):
        table.wrong("load_profile", given, "a list of fractions of capacity over a day, such as 24 numbers from 0 to 1")
        return ()
    return tuple(float(x) for x in given)


def curve_of(table: _Table) -> tuple[tuple[float, float], ...]:
    """`[[compressor]] part_load = [[0, 0.25], [0.5, 0.8], [1, 1]]`: fractions of capacity and of full power."""
    given = table.take("part_load")
    if given is None:
        return ()
    listed = isinstance(given, list) and all(isinstance(pair, list) for pair in given)
    pairs = [tuple(pair) for pair in given] if listed else []
    numbers = [x for pair in pairs for x in pair if _is_number(x)]
    if len(pairs) < 2 or len(numbers) != 2 * len(pairs) or any(len(pair) != 2 for pair in pairs):
        table.wrong("part_load", given, "pairs of fractions, of capacity and of full power: [[0, 0.25], [1, 1]]")
        return ()
    return tuple((float(load), float(power)) for load, power in pairs)


def composition_of(table: _Table) -> dict[str, float]:
    """`[[gas]] composition = { methane = 0.93, ethane = 0.07 }`: mole fractions."""
    given = table.take("composition")
    if given is None:
        return {}
    good = isinstance(given, dict) and given
    if not good or not all(_is_number(x) and x >= 0 for x in given.values()):
        table.wrong("composition", given, "mole fractions by gas: { methane = 0.93, ethane = 0.07 }")
        return {}
    return {str(name): float(x) for name, x in given.items()}


def _is_number(given: Any) -> bool:
    """TOML also has nan, inf and true."""
    return isinstance(given, int | float) and not isinstance(given, bool) and math.isfinite(given)


def _years(table: _Table) -> int | None:
    given = table.take("horizon_years")
    if given is None:
        return None
    if not isinstance(given, int) or isinstance(given, bool) or not 1 <= given <= 50:
        table.wrong("horizon_years", given, "a whole number of years from 1 to 50")
        return None
    return given


def _listed(table: _Table) -> list[Any]:
    given = table.take("band")
    if given is None:
        return []
    if not isinstance(given, list):
        table.wrong("band", given, "[[energy.band]] tables with from, to and price")
        return []
    return given


def _band(table: _Table, given: Any) -> PriceBand | None:
    try:
        hours = [_hour(given[key]) for key in ("from", "to")]
        read = units.price(str(given["price"]), where="[energy] band price", decimal=".")
    except UnitError as error:
        table.problem("band", error.sentence)
        return None
    except (TypeError, KeyError, ValueError):
        table.wrong("band", given, 'from = "22:00", to = "06:00", price = "0.14 EUR/kWh"')
        return None
    return PriceBand(hours[0], hours[1], Price(read.value, read.currency, read.per, read.given))


def _hour(given: Any) -> float:
    match = _CLOCK.match(str(given)[:5])
    if match is None or not 0 <= int(match[1]) <= 24:
        raise ValueError(given)
    return int(match[1]) + int(match[2] or 0) / 60


def _demand(table: _Table) -> float | None:
    """Money for the highest kW of a month."""
    given = table.text("demand_charge")
    if given is None:
        return None
    try:
        amount, _ = units.money(_DEMAND.sub("", given), where="[energy] demand_charge", decimal=".")
    except UnitError:
        amount = -1.0
    if not _DEMAND.search(given) or amount < 0:
        table.wrong("demand_charge", given, '"9 EUR/kW", for the highest power of each month')
        return None
    return amount
