"""What if: pressure lowered, a zone shut at night, other controls. The same plant power, before and after."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from earwitness.energy._checks import Floats, _fraction, _not_negative, _positive
from earwitness.energy.part_load import POWER_PER_PA
from earwitness.energy.plant import Plant, plant_power
from earwitness.energy.saving import _hours, _profile
from earwitness.errors import InputError
from earwitness.sentence import Sentence, say

_RULE_PA = 2e5
_CHOKED_ABS = 1.92e5  # air to the atmosphere: 101,325 Pa / 0.5283
Profile = float | Sequence[float] | NDArray[np.float64]


@dataclass(frozen=True)
class WhatIf:
    """Mean plant power before and after [W], energy saved in a year [J] (negative: it costs more), demand after."""

    before_w: float
    after_w: float
    saved_j: float
    demand_after_m3_s: NDArray[np.float64]
    before_profile_w: NDArray[np.float64]
    after_profile_w: NDArray[np.float64]
    notes: tuple[Sentence, ...] = ()


def pressure_power_factor(change_pa: Floats) -> NDArray[np.float64]:
    """Power over power before, when the delivery pressure changes: 1 % for each 2 psi, 7.25 % a bar (US DOE).

    Parameters
    ----------
    change_pa : float or array, pressure after minus before; the rule is meant for up to about 2 bar [Pa]

    Returns
    -------
    factor [1]

    Examples
    --------
    >>> round(float(pressure_power_factor(-2 * 6894.757)), 3)
    0.99
    """
    return np.asarray(1 + POWER_PER_PA * np.asarray(change_pa, dtype=np.float64))


def leak_at_pressure(flow_m3_s: Floats, before_abs: Floats, after_abs: Floats) -> NDArray[np.float64]:
    """Flow of the same choked openings at another pressure: proportional to absolute pressure.

    Parameters
    ----------
    flow_m3_s : float or array, at the pressure before, 0 or more [m3/s]
    before_abs : float or array, above 0; choked to the atmosphere above about 1.9e5 [Pa absolute]
    after_abs : float or array, above 0 [Pa absolute]

    Returns
    -------
    flow at the pressure after [m3/s]

    Examples
    --------
    >>> round(float(leak_at_pressure(1.0, 8.01325e5, 7.01325e5)), 4)
    0.8752
    """
    before, after = _positive("before_abs", before_abs, "Pa absolute"), _positive("after_abs", after_abs, "Pa absolute")
    return np.asarray(_not_negative("flow_m3_s", flow_m3_s, "m3/s") * after / before)


def pressure_reduction(
    plant: Plant,
    demand_m3_s: Profile,
    leakage_m3_s: float,
    before_abs: float,
    after_abs: float,
    hours_per_year: float,
    unregulated: float = 0.0,
    weights: Sequence[float] | None = None,
) -> WhatIf:
    """Lower (or raise) the pressure of the whole system.

    Parameters
    ----------
    plant : the machines
    demand_m3_s : float or array (h,), demand now, leaks included [m3/s]
    leakage_m3_s : float, the part of it that leaks, not above the least demand [m3/s]
    before_abs : float, above 0 [Pa absolute]
    after_abs : float, above 0 [Pa absolute]
    hours_per_year : float, 0 to 8784 [h]
    unregulated : float, part of the useful demand without a regulator, which falls too (artificial demand), 0 to 1 [1]
    weights : sequence of float (h,), part of the time of each span; equal by default [1]

    Raises
    ------
    InputError : leakage above the least demand, fractions out of range, pressures of 0 or less
    """
    demand, share = _profile(demand_m3_s, weights)
    leakage = float(_not_negative("leakage_m3_s", leakage_m3_s, "m3/s"))
    if leakage > demand.min():
        raise InputError("leakage_m3_s", leakage_m3_s, f"not above the least demand of {demand.min():.3g} m3/s")
    _fraction("unregulated", unregulated)
    useful = demand - leakage
    falls = leakage + unregulated * useful
    after = demand - falls + leak_at_pressure(falls, before_abs, after_abs)
    note = say(
        "pressure-changed",
        "From {before:.2f} to {after:.2f} bar absolute: leaks and unregulated uses change by {flow:+.1f} %, power by "
        "{power:+.1f} % at the same flow. First make sure that every user still gets the pressure it needs.",
        before=before_abs / 1e5,
        after=after_abs / 1e5,
        flow=100 * (after_abs / before_abs - 1),
        power=100 * (float(pressure_power_factor(after_abs - before_abs)) - 1),
    )
    factor = float(pressure_power_factor(after_abs - before_abs))
    notes = (note, *_outside(before_abs, after_abs))
    return _compare(plant, plant, demand, after, share, hours_per_year, factor, notes)


def zone_shut(
    plant: Plant,
    demand_m3_s: Profile,
    zone_leakage_m3_s: float,
    shut: Sequence[bool],
    hours_per_year: float,
    weights: Sequence[float] | None = None,
) -> WhatIf:
    """Shut a zone off while nobody works in it: its leaks stop in those spans of the profile.

    Parameters
    ----------
    plant : the machines
    demand_m3_s : float or array (h,), demand now, leaks included [m3/s]
    zone_leakage_m3_s : float, what the zone leaks, 0 or more [m3/s]
    shut : (h,) true where the zone is shut
    hours_per_year : float, 0 to 8784 [h]
    weights : sequence of float (h,), part of the time of each span; equal by default [1]

    Raises
    ------
    InputError : `shut` of another length than the profile, more leakage than demand in a span that is shut
    """
    demand, share = _profile(demand_m3_s, weights)
    closed = np.asarray(shut, dtype=bool)
    if closed.shape != demand.shape:
        raise InputError("shut", list(shut), f"{len(demand)} values, one for each span of the profile")
    leakage = float(_not_negative("zone_leakage_m3_s", zone_leakage_m3_s, "m3/s"))
    if np.any(leakage > demand[closed]):
        raise InputError("zone_leakage_m3_s", zone_leakage_m3_s, "not above the demand while the zone is shut")
    note = say(
        "zone-shut",
        "The zone is shut {percent:.0f} % of the time. A shut valve is no isolation for work on the pipe, and what "
        "needs air at night (dry-pipe sprinklers, instruments) must not hang on this zone.",
        percent=100 * float(share @ closed),
    )
    return _compare(plant, plant, demand, demand - leakage * closed, share, hours_per_year, 1.0, (note,))


def control_change(
    plant: Plant,
    changed: Plant,
    demand_m3_s: Profile,
    hours_per_year: float,
    weights: Sequence[float] | None = None,
) -> WhatIf:
    """The same demand under other controls (`plant.with_control(...)`), more storage, or another order of machines.

    Parameters
    ----------
    plant : the machines now
    changed : the machines after
    demand_m3_s : float or array (h,), leaks included [m3/s]
    hours_per_year : float, 0 to 8784 [h]
    weights : sequence of float (h,), part of the time of each span; equal by default [1]
    """
    demand, share = _profile(demand_m3_s, weights)
    return _compare(plant, changed, demand, demand, share, hours_per_year, 1.0, changed.notes)


def _outside(before_abs: float, after_abs: float) -> list[Sentence]:
    notes = []
    if abs(after_abs - before_abs) > _RULE_PA:
        notes.append(
            say(
                "power-rule-stretched",
                "A change of {change:.1f} bar stretches the rule of 7.25 % of power for each bar, which is meant for "
                "2 bar at most: ask the maker for the power at the new pressure.",
                change=abs(after_abs - before_abs) / 1e5,
            )
        )
    if min(before_abs, after_abs) < _CHOKED_ABS:
        notes.append(
            say(
                "no-longer-choked",
                "At {low:.2f} bar absolute leaks are no longer choked and flow less than in proportion to pressure: "
                "the saving is understated.",
                low=min(before_abs, after_abs) / 1e5,
            )
        )
    return notes


def _compare(
    before: Plant,
    after: Plant,
    demand: NDArray[np.float64],
    demand_after: NDArray[np.float64],
    share: NDArray[np.float64],
    hours_per_year: float,
    power_factor: float,
    notes: tuple[Sentence, ...],
) -> WhatIf:
    first = plant_power(before, demand)
    then = plant_power(after, demand_after) * power_factor
    before_w, after_w = float(share @ first), float(share @ then)
    saved = (before_w - after_w) * float(_hours(hours_per_year)) * 3600.0
    return WhatIf(before_w, after_w, saved, demand_after, first, then, notes)
