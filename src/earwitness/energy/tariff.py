"""What energy costs and what it emits: time-of-use bands, demand charge, grid factors, escaped gas.
Money stays in the currency in which the price was given."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from earwitness.energy._checks import Floats, _not_negative
from earwitness.errors import InputError
from earwitness.sentence import Sentence, say

J_PER_KWH = 3.6e6


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


@dataclass(frozen=True)
class GridCarbon:
    """CO2 of bought power [kg], by the mean of all plants and by the plants that a saving turns down; never mixed."""

    average_kg: NDArray[np.float64] | None
    marginal_kg: NDArray[np.float64] | None
    notes: tuple[Sentence, ...] = ()


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


def energy_cost(energy_j: Floats, price_kwh: Floats) -> NDArray[np.float64]:
    """Money for energy.

    Parameters
    ----------
    energy_j : float or array [J]
    price_kwh : float or array, 0 or more [currency/kWh]

    Returns
    -------
    money [currency]

    Examples
    --------
    >>> float(energy_cost(3.6e9, 0.2))
    200.0
    """
    price = _not_negative("price_kwh", price_kwh, "a kWh")
    return np.asarray(np.asarray(energy_j, dtype=np.float64) / J_PER_KWH * price)


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


def profile_cost(
    tariff: Tariff, profile_w: Sequence[float] | NDArray[np.float64], days_per_year: float = 365.0
) -> float:
    """Energy and demand charge of a year [currency] whose every working day runs the profile.

    Parameters
    ----------
    tariff : the prices
    profile_w : array (h,), power over one day in equal spans, 0 or more [W]
    days_per_year : float, 0 to 366 [d]

    Raises
    ------
    InputError : days out of range, negative power, bands that overlap

    Examples
    --------
    >>> round(profile_cost(Tariff(0.2, "EUR", demand_kw_month=10.0), [10e3] * 24), 2)
    18720.0
    """
    if not 0 <= days_per_year <= 366:
        raise InputError("days_per_year", days_per_year, "0 to 366")
    profile = _not_negative("profile_w", np.asarray(profile_w), "W")
    energy_kwh = profile / 1000 * 24 / len(profile) * days_per_year
    return float(_prices(tariff, len(profile)) @ energy_kwh + demand_cost(float(profile.max()), tariff.demand_kw_month))


def grid_carbon(
    energy_j: Floats, average_kg_kwh: float | None = None, marginal_kg_kwh: float | None = None
) -> GridCarbon:
    """CO2 of bought power, by average and by marginal factor, each only where its factor is given.

    Parameters
    ----------
    energy_j : float or array [J]
    average_kg_kwh : float, mean of the grid, 0 or more [kg/kWh]
    marginal_kg_kwh : float, of the plants that follow the load, 0 or more [kg/kWh]

    Examples
    --------
    >>> float(grid_carbon(3.6e9, average_kg_kwh=0.3).average_kg)
    300.0
    """
    kwh = np.asarray(energy_j, dtype=np.float64) / J_PER_KWH
    average = None if average_kg_kwh is None else kwh * _not_negative("average_kg_kwh", average_kg_kwh, "kg/kWh")
    marginal = None if marginal_kg_kwh is None else kwh * _not_negative("marginal_kg_kwh", marginal_kg_kwh, "kg/kWh")
    notes: tuple[Sentence, ...] = ()
    if marginal is None and average is not None:
        notes = (
            say(
                "carbon-average",
                "Carbon is counted with the grid's average factor. A saving turns down the plants that follow the "
                "load, whose marginal factor can differ up to threefold.",
            ),
        )
    return GridCarbon(average, marginal, notes)


def gas_carbon(mass_kg: Floats, warming_potential: float | None) -> NDArray[np.float64] | None:
    """CO2 equivalent [kg] of escaped gas, or None where its warming potential is unknown: unknown is not nought.

    Parameters
    ----------
    mass_kg : float or array, 0 or more [kg]
    warming_potential : float, over 100 years, 0 or more; the gas table has it with its source [kg CO2/kg]

    Examples
    --------
    >>> float(gas_carbon(2.0, 24_300.0))
    48600.0
    """
    mass = _not_negative("mass_kg", mass_kg, "kg")
    if warming_potential is None:
        return None
    return np.asarray(mass * _not_negative("warming_potential", warming_potential, "kg CO2/kg"))


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
