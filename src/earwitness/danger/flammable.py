"""What burns, from which share of the air on, and how much of it a release makes ignitable."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from scipy.constants import R as GAS_CONSTANT

from earwitness.errors import InputError

_IEC, _NFPA = "IEC 60079-20-1 (2010)", "NFPA 497 (2008)"
_ISO817 = "ISO 817 (from memory)"


@dataclass(frozen=True)
class FlammableLimits:
    """Lower and upper flammable limit in air [volume fraction], by source; the lower of the lower ones counts."""

    published: tuple[tuple[str, float, float], ...]

    @property
    def lower(self) -> float:
        return min(low for _, low, _ in self.published)

    @property
    def upper(self) -> float:
        return max(high for _, _, high in self.published)

    @property
    def source(self) -> str:
        return min(self.published, key=lambda row: row[1])[0]


def _both(iec: tuple[float, float], nfpa: tuple[float, float]) -> FlammableLimits:
    return FlammableLimits(((_IEC, *iec), (_NFPA, *nfpa)))


LIMITS: Mapping[str, FlammableLimits] = {
    "methane": _both((0.044, 0.17), (0.05, 0.15)),
    "ethane": _both((0.024, 0.155), (0.03, 0.125)),
    "propane": _both((0.017, 0.109), (0.021, 0.095)),
    "butane": _both((0.014, 0.093), (0.019, 0.085)),
    "isobutane": _both((0.013, 0.098), (0.018, 0.084)),
    "ethylene": _both((0.023, 0.36), (0.027, 0.36)),
    "propylene": _both((0.02, 0.111), (0.024, 0.103)),
    "acetylene": _both((0.023, 1.0), (0.025, 1.0)),
    "hydrogen": _both((0.04, 0.77), (0.04, 0.75)),
    "carbon monoxide": _both((0.109, 0.74), (0.125, 0.74)),
    "ammonia": _both((0.15, 0.336), (0.15, 0.28)),
    "hydrogen sulfide": _both((0.04, 0.455), (0.04, 0.44)),
    "r32": FlammableLimits(((_ISO817, 0.144, 0.293),)),
    "r1234yf": FlammableLimits(((_ISO817, 0.062, 0.123),)),
    "r1234ze(e)": FlammableLimits(((_ISO817, 0.065, 0.127),)),
}

# Usual compositions (mole fractions) of what goes by one name; the supplier's own is better.
MIXTURES: Mapping[str, Mapping[str, float]] = {
    "natural gas": {"methane": 0.93, "ethane": 0.05, "propane": 0.02},
    "biogas": {"methane": 0.6, "carbon dioxide": 0.4},
    "lpg": {"propane": 0.6, "butane": 0.4},
    "forming gas": {"nitrogen": 0.95, "hydrogen": 0.05},
    "shielding gas": {"argon": 0.82, "carbon dioxide": 0.18},
}

NOT_FLAMMABLE = frozenset(
    {"air", "vacuum", "steam", "nitrogen", "oxygen", "argon", "helium", "carbon dioxide", "sulfur hexafluoride"}
    | {"r134a", "r404a", "r407c", "r410a"}
)

# Bought and kept as a liquid under its own pressure: liquid can reach the leak.
KEPT_LIQUID = frozenset(
    ("propane", "butane", "isobutane", "propylene", "lpg", "ammonia", "r32", "r1234yf", "r1234ze(e)")
)


def lower_flammable_limit(gas: str, composition: Mapping[str, float] | None = None) -> float | None:
    """Lower flammable limit in air [volume fraction]; None where none is known, which does not mean that it cannot
    burn (see `flammability`).

    Parameters
    ----------
    gas : str
        This program's plain name: "methane", "natural gas".
    composition : mapping of gas name to mole fraction, optional [mol/mol]
        Of a mixture; Le Chatelier's rule over the parts that burn.

    References
    ----------
    IEC 60079-20-1 (2010) and NFPA 497 (2008), the lower of the two.

    Examples
    --------
    >>> lower_flammable_limit("propane")
    0.017
    >>> round(lower_flammable_limit("natural gas"), 4)
    0.041
    """
    parts = composition or MIXTURES.get(gas)
    if parts:
        burning = {part: x for part, x in parts.items() if flammability(part) != "not flammable" and x > 0}
        limits = {part: lower_flammable_limit(part) for part in burning}
        if not burning or any(limit is None for limit in limits.values()):
            return None
        total = sum(parts.values())
        known = {part: limit for part, limit in limits.items() if limit is not None}
        return le_chatelier({part: x / total for part, x in burning.items()}, known)
    return LIMITS[gas].lower if gas in LIMITS else None


def flammability(gas: str | None, composition: Mapping[str, float] | None = None) -> str:
    """ "flammable", "not flammable" or "unknown". What is in no table is unknown, never harmless.

    Parameters
    ----------
    gas : str or None
    composition : mapping of gas name to mole fraction, optional [mol/mol]

    Examples
    --------
    >>> flammability("r134a"), flammability("r32"), flammability("process gas")
    ('not flammable', 'flammable', 'unknown')
    """
    parts = composition or (MIXTURES.get(gas) if gas else None)
    if parts:
        each = {flammability(part) for part, x in parts.items() if x > 0}
        return "flammable" if "flammable" in each else "unknown" if "unknown" in each else "not flammable"
    if gas in LIMITS:
        return "flammable"
    return "not flammable" if gas in NOT_FLAMMABLE else "unknown"


def le_chatelier(fractions: Mapping[str, float], limits: Mapping[str, float]) -> float:
    """Lower flammable limit of a mixture, 1/Σ(xi/Li) [volume fraction].

    Parameters
    ----------
    fractions : mapping of gas name to its mole fraction in the mixture, inert parts left out [mol/mol]
    limits : mapping of gas name to its lower flammable limit [volume fraction]

    References
    ----------
    Le Chatelier's mixing rule, as in ISO 10156:2017.

    Examples
    --------
    >>> round(le_chatelier({"propane": 0.5, "butane": 0.5}, {"propane": 0.017, "butane": 0.014}), 5)
    0.01535
    """
    return 1 / sum(x / limits[part] for part, x in fractions.items())


def release_rate(
    area: float,
    pressure_abs: float,
    temperature: float,
    molar_mass: float,
    k: float,
    *,
    coefficient: float = 0.75,
    compressibility: float = 1.0,
) -> float:
    """Choked release of gas through a hole, by the form that hazardous-area classification uses [kg/s].

    Parameters
    ----------
    area : float, of the hole [m2]
    pressure_abs : float, inside [Pa absolute]
    temperature : float, inside [K]
    molar_mass : float [kg/mol]
    k : float, cp/cv [1]
    coefficient : float, discharge coefficient, 0.75 for a sharp edge in that standard [1]
    compressibility : float, Z [1]

    References
    ----------
    IEC 60079-10-1:2015, annex B (equation from memory). Zoning is for competent persons; this is only its arithmetic.
    """
    choked = k * (2 / (k + 1)) ** ((k + 1) / (k - 1)) * molar_mass / (compressibility * GAS_CONSTANT * temperature)
    return coefficient * area * pressure_abs * math.sqrt(choked)


def release_characteristic(
    mass_flow: float,
    lower_limit: float | None,
    molar_mass: float,
    *,
    temperature: float = 293.15,
    ambient_abs: float = 101_325.0,
) -> float:
    """Air that the release brings to its lower flammable limit each second, W/(ρ·LFL) [m3/s].

    Parameters
    ----------
    mass_flow : float, W [kg/s]
    lower_limit : float or None, volume fraction [1]; None, not known, is refused
    molar_mass : float, for the density of the gas in the open [kg/mol]
    temperature : float, of the surroundings [K]
    ambient_abs : float, of the surroundings [Pa absolute]

    References
    ----------
    IEC 60079-10-1:2015, annex C (equation from memory). Zoning is for competent persons.
    """
    if lower_limit is None:
        raise InputError("lower_limit", "unknown", "a lower flammable limit; ask the gas's safety data sheet for it")
    if not 0 < lower_limit <= 1:
        raise InputError("lower_limit", f"{lower_limit:g}", "a volume fraction above 0, at most 1")
    density = ambient_abs * molar_mass / (GAS_CONSTANT * temperature)
    return mass_flow / (density * lower_limit)
