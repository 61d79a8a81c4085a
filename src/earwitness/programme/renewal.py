"""How soon to come back: leaks appear at a rate, cost money until found, and a round costs money too."""

from __future__ import annotations

import math
from dataclasses import dataclass

from earwitness.errors import InputError


@dataclass(frozen=True)
class Rate:
    """New findings a year, with the 95 % interval that so few surveys allow."""

    per_year: float
    low: float
    high: float


@dataclass(frozen=True)
class Return:
    """Years until the next round pays best, with the range that the rate's interval gives."""

    years: float
    earliest: float
    latest: float


def arrival_rate(found: int, years: float) -> Rate:
    """Rate at which findings appear, from new findings counted over a time (Poisson process).

    Parameters
    ----------
    found : new findings since the first survey of the area, >= 0
    years : float, time over which they appeared, > 0 [a]

    References: Garwood (1936), Biometrika 28, 437: exact interval from chi-squared quantiles.
    """
    if found < 0 or years <= 0:
        raise InputError("found, years", (found, years), "found of 0 or more over a time greater than 0")
    from scipy.special import chdtri  # light; scipy.stats takes seconds

    low = float(chdtri(2 * found, 0.975)) / 2 / years if found else 0.0
    high = float(chdtri(2 * found + 2, 0.025)) / 2 / years
    return Rate(found / years, low, high)


def best_return(rate: Rate, cost_per_finding_year: float, round_cost: float) -> Return:
    """Interval between rounds that costs least: the round's cost over T against what new findings lose until found.

    Parameters
    ----------
    rate : new findings a year
    cost_per_finding_year : float, what one costs for each year that it stays [currency]
    round_cost : float, of one survey of the area with its hours [currency]

    Cost a year = R/T + lambda·c·T/2, least at T = sqrt(2R/(lambda·c)): the form of the economic order quantity
    (Harris 1913); findings appear as a Poisson process and are all found and repaired at a round.
    """
    if cost_per_finding_year <= 0 or round_cost <= 0:
        raise InputError("cost_per_finding_year, round_cost", (cost_per_finding_year, round_cost), "greater than 0")

    def at(per_year: float) -> float:
        return math.sqrt(2 * round_cost / (per_year * cost_per_finding_year)) if per_year > 0 else math.inf

    return Return(at(rate.per_year), at(rate.high), at(rate.low))
