"""What energy costs: time-of-use bands, demand charge.
Money stays in the currency in which the price was given."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from earwitness.energy._checks import Floats, _not_negative
from earwitness.errors import InputError


@dataclass(frozen=True)
class Band:
    """A price that holds from one hour of the day to another (22 to 6 runs over midnight) [currency/kWh]."""

    from_hour: float
    to_hour: float
    price_kwh: float


@dataclass(frozen=True)
class Tariff:
    """Energy price [currency/kWh], bands that override it by the hour of the day, and a charge for the highest power
    of the month [currency/(kW month)]."""

    price_kwh: float
    currency: str
    bands: tuple[Band, ...] = ()
    demand_kw_month: float = 0.0


def mean_price(tariff: Tariff, profile_w: Sequence[float] | NDArray[np.float64] | None = None) -> float:
    """Price of a kWh [currency/kWh], weighted with the power of a day's profile.

    Parameters
    ----------
    tariff : the prices
    profile_w : array (h,), power over one day in equal spans; flat by default [W]

    Raises
    ------
    InputError : a band outside 0 to 24 h, bands that overlap, a negative price

    Examples
    --------
    >>> night = Band(22, 6, 0.10)
    >>> round(mean_price(Tariff(0.22, "EUR", (night,))), 2)
    0.18
    """
    profile = np.ones(24) if profile_w is None else _not_negative("profile_w", np.asarray(profile_w), "W")
    prices = _prices(tariff, len(profile))
    total = float(profile.sum())
    return float(prices @ profile / total) if total > 0 else float(prices.mean())


def demand_cost(peak_w: Floats, demand_kw_month: Floats) -> NDArray[np.float64]:
    """Demand charge of a year: the highest power of each month, twelve times. A saving lowers it only where it lowers
    the peak itself.

    Parameters
    ----------
    peak_w : float or array, highest power, 0 or more [W]
    demand_kw_month : float or array, 0 or more [currency/(kW month)]

    Returns
    -------
    money a year [currency]

    Examples
    --------
    >>> float(demand_cost(50e3, 10.0))
    6000.0
    """
    peak = _not_negative("peak_w", peak_w, "W")
    return np.asarray(12 * peak / 1000 * _not_negative("demand_kw_month", demand_kw_month, "a kW and month"))


def _prices(tariff: Tariff, spans: int) -> NDArray[np.float64]:
    """Price of each span of a day of `spans` equal ones, each span taken in steps of a minute or finer."""
    _not_negative("price_kwh", tariff.price_kwh, "a kWh")
    if spans < 1:
        raise InputError("profile_w", "empty", "one power or more")
    steps = spans * max(1, 1440 // spans)
    hour = (np.arange(steps) + 0.5) * 24 / steps
    price, taken = np.full(steps, tariff.price_kwh), np.zeros(steps, dtype=bool)
    for band in tariff.bands:
        if not (0 <= band.from_hour <= 24 and 0 <= band.to_hour <= 24 and band.from_hour != band.to_hour):
            raise InputError("band", f"{band.from_hour} to {band.to_hour}", "two different hours from 0 to 24")
        _not_negative("price_kwh", band.price_kwh, "a kWh")
        after, until = hour >= band.from_hour, hour < band.to_hour
        inside = (after & until) if band.from_hour < band.to_hour else (after | until)
        if np.any(taken & inside):
            raise InputError("band", f"{band.from_hour} to {band.to_hour}", "hours that no other band covers")
        taken |= inside
        price[inside] = band.price_kwh
    return price.reshape(spans, -1).mean(axis=1)
