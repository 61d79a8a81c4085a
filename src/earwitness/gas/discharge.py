"""How much of the ideal flow an edge lets through."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = float | NDArray[np.float64]

INCOMPRESSIBLE_SHARP = 0.61
ROUNDED = 0.97


def critical_pressure_ratio(k: Floats) -> Floats:
    """Outlet over inlet pressure at and below which the throat runs at the speed of sound: (2/(k+1))**(k/(k−1)).

    Parameters
    ----------
    k : float or array, isentropic exponent [1], above 0

    Examples
    --------
    >>> round(float(critical_pressure_ratio(1.4)), 4)
    0.5283
    """
    k = np.where(np.abs(np.asarray(k, dtype=float) - 1) < 1e-6, 1 + 1e-6, k)
    return _plain((2 / (k + 1)) ** (k / (k - 1)))


def sharp_edge_coefficient(
    pressure_ratio: Floats, k: Floats = 1.4, incompressible: float = INCOMPRESSIBLE_SHARP
) -> Floats:
    """Discharge coefficient of a sharp-edged hole: it rises as the outlet pressure falls, also past the critical ratio.

    The momentum balance of the jet with a force defect that does not change with the pressure ratio,
    f = 1/Ci − 1/(2·Ci²). Subsonic, the jet leaves its narrowest place at the outlet pressure; choked, at the speed of
    sound, the rest of the hole's area feeling the outlet pressure.

    Parameters
    ----------
    pressure_ratio : float or array, outlet over inlet [1], 0 to 1
    k : float or array, isentropic exponent [1]
    incompressible : float, coefficient for a liquid [1], above 0.5

    References
    ----------
    Jobson, Proc. IMechE 169 (1955) 767; Bragg, J. Mech. Eng. Sci. 2 (1960) 35.

    Examples
    --------
    >>> [round(float(sharp_edge_coefficient(r)), 3) for r in (0.9, 0.3, 0.0)]
    [0.627, 0.819, 0.872]
    """
    r = np.clip(np.asarray(pressure_ratio, dtype=float), 0.0, 1.0)
    k = np.asarray(k, dtype=float)
    k = np.where(np.abs(k - 1) < 1e-6, 1 + 1e-6, k)
    defect = 1 / incompressible - 1 / (2 * incompressible**2)
    jet = np.maximum(r, critical_pressure_ratio(k))
    density = jet ** (1 / k)
    # jet momentum flux over p0; its limit for a vanishing pressure drop is 2·(1 − r), taken a hair below r = 1
    near = np.minimum(jet, 1 - 1e-9)
    momentum = near ** (1 / k) * 2 * k / (k - 1) * -np.expm1((k - 1) / k * np.log(near))
    push = np.where(r < 1 - 1e-9, 1 - r, 1e-9)
    a, b = defect * density * momentum, momentum + jet - r
    return _plain((b - np.sqrt(np.maximum(0.0, b * b - 4 * a * push))) / (2 * a))


def _plain(values: NDArray[np.float64]) -> Floats:
    return float(values) if np.ndim(values) == 0 else values
