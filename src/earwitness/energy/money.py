"""Whether a repair pays, and for how long: present value, leaks that open again."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from earwitness.energy._checks import Floats, _not_negative
from earwitness.errors import InputError


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


def _mean_over_year(rate: float) -> float:
    return 1.0 if rate == 0 else float(-np.expm1(-rate) / rate)
