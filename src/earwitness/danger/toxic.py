"""What poisons: published exposure limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class ExposureLimits:
    """Parts per million of air by volume: mean over a shift, short-term or ceiling, immediately dangerous to life."""

    shift_ppm: float
    short_term_ppm: float
    idlh_ppm: float
    source: str


_NIOSH = "NIOSH Pocket Guide to Chemical Hazards"
EXPOSURE_LIMITS: Mapping[str, ExposureLimits] = {
    "carbon dioxide": ExposureLimits(5_000, 30_000, 40_000, _NIOSH),
    "carbon monoxide": ExposureLimits(35, 200, 1_200, _NIOSH + " (200 ppm ceiling)"),
    "hydrogen sulfide": ExposureLimits(10, 10, 100, _NIOSH + " (10 ppm ceiling, 10 minutes)"),
    "ammonia": ExposureLimits(25, 35, 300, _NIOSH),
    "sulfur dioxide": ExposureLimits(2, 5, 100, _NIOSH),
    "chlorine": ExposureLimits(0.5, 0.5, 10, _NIOSH + " (0.5 ppm ceiling, 15 minutes)"),
}


def exposure_limits(gas: str | None, composition: Mapping[str, float] | None = None) -> ExposureLimits | None:
    """Published limits of a toxic gas, or None where it is not in the table. Of a mixture, the limits of its worst
    part, as concentrations of the mixture.

    Parameters
    ----------
    gas : str or None
    composition : mapping of gas name to mole fraction, optional [mol/mol]

    References
    ----------
    NIOSH Pocket Guide to Chemical Hazards (values from memory except carbon dioxide). Local limits come first.

    Examples
    --------
    >>> exposure_limits("carbon dioxide").idlh_ppm
    40000
    """
    if composition:
        found = [
            ExposureLimits(e.shift_ppm / x, e.short_term_ppm / x, e.idlh_ppm / x, f"{e.source}, by its share of {part}")
            for part, x in composition.items()
            if x > 0 and (e := EXPOSURE_LIMITS.get(part)) is not None
        ]
        return min(found, key=lambda e: e.idlh_ppm, default=None)
    return EXPOSURE_LIMITS.get(gas) if gas else None
