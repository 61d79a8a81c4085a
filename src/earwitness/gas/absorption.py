"""What the air takes away from sound on its way."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = float | NDArray[np.float64]

_T_TRIPLE, _T_REFERENCE, _P_REFERENCE = 273.16, 293.15, 101_325.0


def air_absorption(
    frequency_hz: Floats, temperature: Floats = 293.15, humidity: Floats = 0.5, pressure_abs: Floats = 101_325.0
) -> Floats:
    """Attenuation of a pure tone by air [dB/m].

    Parameters
    ----------
    frequency_hz : float or array, 50 Hz to 10 kHz in the standard's table; used to 200 kHz [Hz]
    temperature : float or array, of the air [K]
    humidity : float or array, relative humidity as a fraction [1]
    pressure_abs : float or array, of the air [Pa absolute]

    References
    ----------
    ISO 9613-1:1993, equations (3) to (5) and annex B.

    Examples
    --------
    >>> round(air_absorption(40_000.0), 4)
    1.3182
    """
    f = np.asarray(frequency_hz, dtype=float)
    t, p = np.asarray(temperature, dtype=float), np.asarray(pressure_abs, dtype=float) / _P_REFERENCE
    saturation = 10 ** (-6.8346 * (_T_TRIPLE / t) ** 1.261 + 4.6151)
    h = 100 * np.asarray(humidity, dtype=float) * saturation / p
    ratio = t / _T_REFERENCE
    oxygen = p * (24 + 4.04e4 * h * (0.02 + h) / (0.391 + h))
    nitrogen = p * ratio**-0.5 * (9 + 280 * h * np.exp(-4.170 * (ratio ** (-1 / 3) - 1)))
    classical = 1.84e-11 / p * np.sqrt(ratio)
    relaxing = 0.01275 * np.exp(-2239.1 / t) / (oxygen + f**2 / oxygen)
    relaxing = relaxing + 0.1068 * np.exp(-3352.0 / t) / (nitrogen + f**2 / nitrogen)
    loss = 8.686 * f**2 * (classical + ratio**-2.5 * relaxing)
    return float(loss) if np.ndim(loss) == 0 else loss
