"""The choked throat in one number: the exponent of an isentrope p·v**n that lets through as much as the real gas."""

from __future__ import annotations

import math


def ideal_critical_flow_factor(exponent: float) -> float:
    """C* = G·√(R·T0/M)/p0 of a perfect gas, √(n·(2/(n+1))**((n+1)/(n−1))) [1].

    Parameters
    ----------
    exponent : float, n, above 0; cp/cv for a perfect gas [1]

    References
    ----------
    ISO 9300, critical-flow function.

    Examples
    --------
    >>> round(ideal_critical_flow_factor(1.4), 6)
    0.684731
    """
    if abs(exponent - 1) < 1e-6:
        return math.exp(-0.5)
    return math.sqrt(exponent * (2 / (exponent + 1)) ** ((exponent + 1) / (exponent - 1)))


def exponent_of_isentrope(factor: float, compressibility: float) -> float:
    """The exponent n with which the ideal formula gives a real gas's critical flow: C*(n) = C*·√Z.

    Parameters
    ----------
    factor : float, C* of the real gas [1]
    compressibility : float, Z upstream [1]

    Examples
    --------
    >>> round(exponent_of_isentrope(0.684731, 1.0), 4)
    1.4
    """
    from scipy.optimize import brentq

    square = factor**2 * compressibility
    return float(brentq(lambda n: ideal_critical_flow_factor(n) ** 2 - square, 0.2, 12.0, xtol=1e-10))
