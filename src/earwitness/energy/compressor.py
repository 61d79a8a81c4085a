"""What a cubic metre of compressed air costs in work: ideal work, the federal minimum efficiency, rating plate, meter.

Free air is air at the compressor's inlet; specific power is electrical power over free air delivered [J/m3 = W/(m3/s)].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from earwitness.energy._checks import Floats, _positive
from earwitness.errors import InputError
from earwitness.interval import Uncertain, within_factor
from earwitness.sentence import Sentence, say

AIR_EXPONENT = 1.4
_RULE_M3_S = (35 / 2118.88, 1250 / 2118.88)  # 10 CFR 431.345 covers 35 to 1,250 ft3/min
SHARED_NAME = "specific_power"


@dataclass(frozen=True)
class SpecificPower:
    """Electrical work for a cubic metre of free air, where it came from, and what to say about it.

    value : [J/m3], its spread shared under the name "specific_power": it does not average out over leaks
    source : "measured", "stated", "rating" or "rule" (upper bound from the minimum efficiency)
    """

    value: Uncertain
    source: str
    notes: tuple[Sentence, ...] = ()


def _pressures(inlet_abs: Floats, outlet_abs: Floats) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    inlet, outlet = _positive("inlet_abs", inlet_abs, "Pa absolute"), _positive("outlet_abs", outlet_abs, "Pa absolute")
    if np.any(outlet < inlet):
        raise InputError("outlet_abs", outlet_abs, "not below the inlet pressure")
    return inlet, outlet


def isentropic_work(inlet_abs: Floats, outlet_abs: Floats, exponent: float = AIR_EXPONENT) -> NDArray[np.float64]:
    """Work without heat given off or taken up: p1 k/(k-1) ((p2/p1)^((k-1)/k) - 1).

    Parameters
    ----------
    inlet_abs : float or array, inlet pressure, above 0 [Pa absolute]
    outlet_abs : float or array, outlet pressure, not below the inlet [Pa absolute]
    exponent : float, isentropic exponent, above 1 [1]

    Returns
    -------
    work per volume at the inlet [J/m3]

    Examples
    --------
    >>> round(float(isentropic_work(1.01325e5, 8.01325e5)) / 6e4, 4)  # kW/(m3/min)
    4.761
    """
    inlet, outlet = _pressures(inlet_abs, outlet_abs)
    if not exponent > 1:
        raise InputError("exponent", exponent, "above 1")
    a = (exponent - 1) / exponent
    return np.asarray(inlet / a * ((outlet / inlet) ** a - 1))


def minimum_efficiency(capacity_m3_s: Floats) -> NDArray[np.float64]:
    """Least package isentropic efficiency that 10 CFR 431.345 allows a lubricated, air-cooled, fixed-speed rotary
    compressor: r = -0.00928 ln2(q) + 0.13911 ln(q) + 0.27110 with q in l/s, e = r - 0.15 (1 - r).

    Parameters
    ----------
    capacity_m3_s : float or array, free air delivered at full load, above 0; the rule covers 0.0165 to 0.59 [m3/s]

    Returns
    -------
    efficiency [1]

    Examples
    --------
    >>> round(float(minimum_efficiency(500 / 2118.88)), 3)
    0.717
    """
    ln = np.log(1000 * _positive("capacity_m3_s", capacity_m3_s, "m3/s"))
    r = -0.00928 * ln**2 + 0.13911 * ln + 0.27110
    return np.asarray(r - 0.15 * (1 - r))


def specific_power_limit(
    capacity_m3_s: Floats, outlet_abs: Floats, inlet_abs: float = 101_325.0
) -> NDArray[np.float64]:
    """The most that a machine of least allowed efficiency draws: isentropic work over `minimum_efficiency`.

    Parameters
    ----------
    capacity_m3_s : float or array, free air delivered at full load, above 0 [m3/s]
    outlet_abs : float or array, delivery pressure, not below the inlet [Pa absolute]
    inlet_abs : float, inlet pressure, above 0 [Pa absolute]

    Returns
    -------
    specific power [J/m3]

    Examples
    --------
    >>> round(float(specific_power_limit(500 / 2118.88, 8.01325e5)) / 6e4, 2)  # kW/(m3/min)
    6.64
    """
    return np.asarray(isentropic_work(inlet_abs, outlet_abs) / minimum_efficiency(capacity_m3_s))


def specific_power(
    *,
    measured_j_m3: float | None = None,
    stated_j_m3: float | None = None,
    rated_power_w: float | None = None,
    capacity_m3_s: float | None = None,
    outlet_abs: float | None = None,
) -> SpecificPower | None:
    """The best specific power that the given figures allow, or None where they allow none.

    Parameters
    ----------
    measured_j_m3 : float, metered power over metered flow, above 0 [J/m3]
    stated_j_m3 : float, as the user states it, above 0 [J/m3]
    rated_power_w : float, rating plate, above 0 [W]
    capacity_m3_s : float, free air delivered at full load, above 0 [m3/s]
    outlet_abs : float, delivery pressure; needed where only the capacity is known [Pa absolute]

    Notes
    -----
    95 % factors, all customary (P): metered 1.05, stated 1.10, rating plate 1.15, rule 1.25.

    Examples
    --------
    >>> found = specific_power(rated_power_w=90e3, capacity_m3_s=0.25)
    >>> found.source, found.value.median
    ('rating', 360000.0)
    """
    if measured_j_m3 is not None:
        value = float(_positive("measured_j_m3", measured_j_m3, "J/m3"))
        return SpecificPower(within_factor(value, 1.05, share_named=SHARED_NAME), "measured")
    if stated_j_m3 is not None:
        value = float(_positive("stated_j_m3", stated_j_m3, "J/m3"))
        return SpecificPower(within_factor(value, 1.10, share_named=SHARED_NAME), "stated")
    if capacity_m3_s is None:
        return None
    capacity = float(_positive("capacity_m3_s", capacity_m3_s, "m3/s"))
    if rated_power_w is not None:
        value = float(_positive("rated_power_w", rated_power_w, "W")) / capacity
        note = say(
            "specific-power-from-plate",
            "Specific power is taken from the rating plate, {kw_per_m3_min:.2f} kW/(m3/min); a plate names the motor, "
            "not what the machine draws. A power meter and a flow meter would settle it.",
            kw_per_m3_min=value / 6e4,
        )
        return SpecificPower(within_factor(value, 1.15, share_named=SHARED_NAME), "rating", (note,))
    if outlet_abs is None:
        return None
    return _from_rule(capacity, outlet_abs)


def _from_rule(capacity_m3_s: float, outlet_abs: float) -> SpecificPower:
    value = float(specific_power_limit(capacity_m3_s, outlet_abs))
    notes = [
        say(
            "specific-power-from-rule",
            "No power is given for the compressor; {kw_per_m3_min:.2f} kW/(m3/min) is what a machine of the least "
            "efficiency that 10 CFR 431.345 allows would draw. Rated or measured power would settle it.",
            kw_per_m3_min=value / 6e4,
        )
    ]
    if not _RULE_M3_S[0] <= capacity_m3_s <= _RULE_M3_S[1]:
        notes.append(
            say(
                "rule-outside-range",
                "The efficiency rule covers 1 to 35 m3/min; this machine delivers {m3_min:.1f}.",
                m3_min=capacity_m3_s * 60,
            )
        )
    return SpecificPower(within_factor(value, 1.25, share_named=SHARED_NAME), "rule", tuple(notes))
