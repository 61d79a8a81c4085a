"""How much gas there is in the air of a room, once it no longer rises: the mean, if the air mixes."""

from __future__ import annotations

from earwitness.errors import InputError

OXYGEN_IN_AIR = 0.2095
OXYGEN_LOW, OXYGEN_HIGH = 0.195, 0.235  # OSHA 29 CFR 1910.146 (from memory)


def steady_mean_fraction(release_m3_s: float, ventilation_m3_s: float, inefficiency: float = 1.0) -> float:
    """Steady mean volume fraction of a gas that escapes into a ventilated room, f·Qg/(Qg + Q1), at most 1.

    Parameters
    ----------
    release_m3_s : float, gas at the room's temperature and pressure, 0 or more [m3/s]
    ventilation_m3_s : float, fresh air, 0 or more [m3/s]
    inefficiency : float, 1 for a well-mixed room to 5 for one with dead corners [1]

    References
    ----------
    IEC 60079-10-1:2015, annex C, background concentration (equation from memory).

    Examples
    --------
    >>> round(steady_mean_fraction(2.2572e-3 / 0.66703, 0.5), 5)
    0.00672
    """
    _not_negative("release_m3_s", release_m3_s)
    _not_negative("ventilation_m3_s", ventilation_m3_s)
    if inefficiency < 1:
        raise InputError("inefficiency", f"{inefficiency:g}", "1 (well mixed) or more")
    if release_m3_s == 0:
        return 0.0
    return min(1.0, inefficiency * release_m3_s / (release_m3_s + ventilation_m3_s))


def oxygen_fraction(gas_fraction: float, oxygen_in_gas: float = 0.0) -> float:
    """Volume fraction of oxygen in air that a gas has mixed into.

    Parameters
    ----------
    gas_fraction : float, of the escaped gas in the air, 0 to 1 [1]
    oxygen_in_gas : float, 1 for oxygen itself [1]

    Examples
    --------
    >>> round(oxygen_fraction(0.04), 3)  # air with 4 % carbon dioxide
    0.201
    """
    return OXYGEN_IN_AIR * (1 - gas_fraction) + oxygen_in_gas * gas_fraction


def _not_negative(name: str, value: float) -> None:
    if value < 0:
        raise InputError(name, f"{value:g} m3/s", "0 m3/s or more")
