"""How loud a jet of escaping gas is in a narrow ultrasonic band: an order of magnitude from jet-noise physics."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = float | NDArray[np.float64]

STROUHAL = 0.2  # the spectrum's peak, f·D/U (from memory of the jet-noise literature)
EFFICIENCY = 1e-4  # sound power over jet power at the speed of sound (customary order of magnitude)
AIR_SOUND_SPEED = 343.2
_HIGHEST_MACH = 2.0  # above it the share of sound no longer grows as the fifth power
REFERENCE_POWER = 1e-12


def jet_band_power_level(
    diameter: Floats,
    mass_flow: Floats,
    speed: Floats,
    *,
    centre_hz: Floats,
    bandwidth_hz: Floats,
) -> Floats:
    """Sound power level of a jet inside a band [dB re 1 pW].

    All of it is a share of the jet's power that grows with the fifth power of its speed (so Lighthill's eighth power in
    all); it is spread over frequency as (4/π)·x²/(1+x²)², x = f/fp, fp = 0.2·U/D. In one band the power therefore
    grows by 25 dB a decade of flow for small holes and by 5 dB for large ones.

    Parameters
    ----------
    diameter : float or array, of the jet [m]
    mass_flow : float or array [kg/s]
    speed : float or array, of the jet where it leaves, at most that of sound in the gas [m/s]
    centre_hz : float or array, middle of the band [Hz]
    bandwidth_hz : float or array, width of the band [Hz]

    References
    ----------
    Lighthill, Proc. R. Soc. A 211 (1952) 564; Strouhal number and efficiency from memory, as orders of magnitude.
    """
    speed = np.asarray(speed, dtype=float)
    mach = np.minimum(speed / AIR_SOUND_SPEED, _HIGHEST_MACH)
    power = 0.5 * np.asarray(mass_flow) * speed**2 * EFFICIENCY * mach**5
    peak = STROUHAL * speed / np.asarray(diameter, dtype=float)
    high = (np.asarray(centre_hz) + np.asarray(bandwidth_hz) / 2) / peak
    low = np.maximum(0.0, np.asarray(centre_hz) - np.asarray(bandwidth_hz) / 2) / peak
    level = 10 * np.log10(power * (_below(high) - _below(low)) / REFERENCE_POWER)
    return float(level) if np.ndim(level) == 0 else level


def _below(x: NDArray[np.float64]) -> NDArray[np.float64]:
    """Share of the spectrum below x times its peak. Small x: the difference of near-equal terms, so its series."""
    return np.where(x < 0.02, 4 / (3 * np.pi) * x**3 * (1 - 1.2 * x**2), 2 / np.pi * (np.arctan(x) - x / (1 + x * x)))
