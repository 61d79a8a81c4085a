"""Whether a repair pays, and for how long: payback, present value, leaks that open again."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from earwitness.energy._checks import Floats, _not_negative, _positive
from earwitness.errors import InputError


def simple_payback(cost: Floats, saving_per_year: Floats) -> NDArray[np.float64]:
    """Years until a repair has paid for itself, without interest; infinite where nothing is saved.

    Parameters
    ----------
    cost : float or array, 0 or more [currency]
    saving_per_year : float or array, 0 or more [currency/a]

    Returns
    -------
    time [a]

    Examples
    --------
    >>> float(simple_payback(150, 300))
    0.5
    """
    spent, saved = np.broadcast_arrays(
        _not_negative("cost", cost, ""), _not_negative("saving_per_year", saving_per_year, "")
    )
    return np.divide(spent, saved, out=np.where(np.isnan(saved), np.nan, np.inf), where=saved > 0)


def net_present_value(
    cost: Floats, saving_per_year: Floats, discount_rate: float, years: int, reopen_rate: float = 0.0
) -> NDArray[np.float64]:
    """Present value of a repair: savings at the end of each year, discounted, shrinking as leaks open again, less cost.

    Parameters
    ----------
    cost : float or array, spent now, 0 or more [currency]
    saving_per_year : float or array, in the first year if nothing re-opened [currency/a]
    discount_rate : float, above -1 [1/a]
    years : horizon, 1 or more [a]
    reopen_rate : float, part of the repaired leaks that open again in a year, 0 or more [1/a]

    Returns
    -------
    money today [currency]

    Notes
    -----
    Year n counts with the mean of exp(-rate t) over that year: a repair re-opens at a constant rate.

    Examples
    --------
    >>> round(float(net_present_value(1000, 500, 0.10, 3)), 2)
    243.43
    """
    if not discount_rate > -1:
        raise InputError("discount_rate", discount_rate, "above -1 a year")
    if years < 1:
        raise InputError("years", years, "1 or more")
    year = np.arange(1, years + 1)
    kept = persisting(np.asarray(year - 1, dtype=np.float64), reopen_rate) * _mean_over_year(reopen_rate)
    worth = float(np.sum(kept / (1 + discount_rate) ** year))
    return np.asarray(np.asarray(saving_per_year, dtype=np.float64) * worth - _not_negative("cost", cost, ""))


def persisting(years: Floats, reopen_rate: float) -> NDArray[np.float64]:
    """Part of a set of repairs that still holds after some years, when each opens again at a constant rate.

    Parameters
    ----------
    years : float or array, 0 or more [a]
    reopen_rate : float, 0 or more [1/a]

    Returns
    -------
    part that holds [1]

    Examples
    --------
    >>> round(float(persisting(2, 0.25)), 3)
    0.607
    """
    return np.asarray(
        np.exp(-float(_not_negative("reopen_rate", reopen_rate, "a year")) * _not_negative("years", years, "a"))
    )


def open_time(open_leaks: Floats, new_per_year: Floats) -> NDArray[np.float64]:
    """Mean time that a leak stays open, from the standing stock and the yearly new ones: Little's law, W = L/lambda.

    Parameters
    ----------
    open_leaks : float or array, standing stock, 0 or more [leaks]
    new_per_year : float or array, leaks that open in a year, above 0 [leaks/a]

    Returns
    -------
    time [a]

    Examples
    --------
    >>> float(open_time(60, 40))
    1.5
    """
    return np.asarray(_not_negative("open_leaks", open_leaks, "") / _positive("new_per_year", new_per_year, "a year"))


def _mean_over_year(rate: float) -> float:
    return 1.0 if rate == 0 else float(-np.expm1(-rate) / rate)
