"""What repairs really save: the plant's power before minus after, at the demand that it has; kept apart from what the
leaks waste. The bill falls only by what the controls give back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from earwitness.energy._checks import Floats, _not_negative, _positive
from earwitness.energy.plant import Plant, plant_power
from earwitness.errors import InputError
from earwitness.sentence import Sentence, say

_ALL = 0.97
_REASONS = {
    "load-unload": "between its loads the compressor runs on unloaded and draws power without making air",
    "inlet-modulation": "the throttled inlet lowers the air made much more than the power drawn",
    "variable-displacement": "the turned-down compressor still carries its fixed losses",
    "variable-speed": "the power of the turned-down drive falls nearly with the flow",
    "start-stop": "the compressor stands still when no air is needed",
    "own points": "that is what the stated part-load curve gives back",
}

NO_CAPACITY = say(
    "no-capacity",
    "No compressor capacity is given, so what the leaks waste is not capped by what the plant makes, and what the "
    "controls give back cannot be told: the bill may fall by much less. Capacity and control type would settle it.",
)
NO_CONTROL = say(
    "no-control",
    "The compressors' control type is not given, so what the controls give back cannot be told: the bill may fall by "
    "much less than the leaks waste. The control type (load-unload, variable-speed, ...) would settle it.",
)
NO_LOAD = say(
    "no-load",
    "The plant's average load is not given, so what the controls give back cannot be told: it depends on where on "
    "their part-load curve the compressors work. The average load, or a day's profile, would settle it.",
)


@dataclass(frozen=True)
class Saving:
    """Power before and after, and energy a year, as draws or single values (shape of `repaired_m3_s`).

    before_w, after_w : plant power averaged over the profile [W]
    saved_j : what the controls give back in a year [J]
    wasted_j : what the repaired leaks waste in a year, flow times full-load specific power [J]
    fraction : saved over wasted [1]; a single leak's saving is what it wastes times this fraction
    after_profile_w : mean plant power after, hour by hour of the profile [W]
    notes : why it is less than proportional, and what was capped
    """

    before_w: float
    after_w: NDArray[np.float64]
    saved_j: NDArray[np.float64]
    wasted_j: NDArray[np.float64]
    fraction: NDArray[np.float64]
    before_profile_w: NDArray[np.float64]
    after_profile_w: NDArray[np.float64]
    notes: tuple[Sentence, ...] = ()


def repair_saving(
    plant: Plant | None,
    demand_m3_s: float | Sequence[float] | NDArray[np.float64],
    repaired_m3_s: Floats,
    hours_per_year: float,
    weights: Sequence[float] | None = None,
    specific_power_ratio: Floats = 1.0,
) -> Saving | None:
    """Saving of a set of repairs: plant power before minus after, averaged over the demand profile.

    Parameters
    ----------
    plant : the machines; None where no capacity is known: then there is no cap and no part-load, and None comes back
        (say `NO_CAPACITY`, `NO_CONTROL` or `NO_LOAD`)
    demand_m3_s : float or array (h,), demand now, leaks included; one average or a profile of equal spans [m3/s]
    repaired_m3_s : float or array (n,), what the repairs stop, draws of the sum over the set [m3/s]
    hours_per_year : float, hours that these leaks are under pressure, 0 to 8784 [h]
    weights : sequence of float (h,), how much of the time each span of the profile stands for; equal by default [1]
    specific_power_ratio : float or array (n,), draws of the true over the stated power of the machines [1]

    Returns
    -------
    Saving

    Raises
    ------
    InputError : negative flow, profile and weights of different length, hours out of range

    Notes
    -----
    Repairs beyond the demand itself are cut off at it: no repair saves air that is not made. Where a simulated curve is
    steeper than proportional the saving is held at what the leaks waste.

    Examples
    --------
    >>> from earwitness.energy.part_load import part_load_curve
    >>> from earwitness.energy.plant import Machine
    >>> machine = Machine("K1", 0.2, 72e3, part_load_curve("inlet-modulation"))
    >>> found = repair_saving(Plant((machine,)), 0.15, 0.03, 8000)
    >>> round(float(found.fraction), 2)
    0.29
    """
    if plant is None:
        return None
    hours = float(_hours(hours_per_year))
    demand, share = _profile(demand_m3_s, weights)
    repaired = _not_negative("repaired_m3_s", repaired_m3_s, "m3/s")
    ratio = _positive("specific_power_ratio", specific_power_ratio, "")
    notes: list[Sentence] = []
    supplied = np.minimum(demand, plant.capacity_m3_s)
    average = float(share @ supplied)
    if np.any(repaired > average):
        notes.append(_capped(float(np.median(repaired)), average))
    before_profile = plant_power(plant, supplied)
    after = plant_power(plant, np.maximum(supplied - repaired[..., None], 0.0))
    before_w, after_w = float(share @ before_profile), after @ share
    wasted_w = np.minimum(repaired[..., None], supplied) @ share * plant.specific_power_j_m3
    saved_w = np.maximum(before_w - after_w, 0.0)
    if np.mean(saved_w > wasted_w * (1 + 1e-9)) > 0.5:
        notes.append(_steeper())
    saved_w = np.minimum(saved_w, wasted_w)
    fraction = np.divide(saved_w, wasted_w, out=np.zeros_like(saved_w), where=wasted_w > 0)
    notes.append(_why(plant, float(np.mean(fraction))))
    seconds = hours * 3600.0 * ratio
    return Saving(
        before_w,
        np.asarray(after_w),
        np.asarray(saved_w * seconds),
        np.asarray(wasted_w * seconds),
        fraction,
        before_profile,
        np.asarray(after if after.ndim == 1 else after.mean(axis=0)),
        (*notes, *plant.notes),
    )


def _hours(hours_per_year: Floats) -> NDArray[np.float64]:
    hours = np.asarray(hours_per_year, dtype=np.float64)
    if np.any((hours < 0) | (hours > 8784)):
        raise InputError("hours_per_year", hours_per_year, "0 to 8784 h")
    return hours


def _profile(
    demand_m3_s: float | Sequence[float] | NDArray[np.float64], weights: Sequence[float] | None
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    demand = np.atleast_1d(_not_negative("demand_m3_s", np.asarray(demand_m3_s, dtype=np.float64), "m3/s"))
    share = np.ones(len(demand)) if weights is None else np.asarray(weights, dtype=np.float64)
    if share.shape != demand.shape or np.any(share < 0) or share.sum() <= 0:
        raise InputError("weights", weights, f"{len(demand)} numbers, 0 or more, not all 0")
    return demand, share / share.sum()


def _capped(found_m3_s: float, made_m3_s: float) -> Sentence:
    return say(
        "saving-capped",
        "The leaks add up to about {found:.1f} m3/min but the compressors make {made:.1f} m3/min on average: the "
        "saving is capped at what is made. A system test of the whole leakage would settle the flows.",
        found=found_m3_s * 60,
        made=made_m3_s * 60,
    )


def _steeper() -> Sentence:
    return say(
        "saving-held",
        "At this load the plant's curve is steeper than proportional; the saving is held at what the leaks waste.",
    )


def _why(plant: Plant, fraction: float) -> Sentence:
    trimming = next((m for m in plant.machines if m.trims), plant.machines[-1])
    if fraction > _ALL:
        return say(
            "controls-give-back-all",
            "Under {control} control nearly all that these leaks waste is given back: {reason}.",
            control=trimming.curve.control,
            reason=_REASONS.get(trimming.curve.control, _REASONS["own points"]),
        )
    return say(
        "controls-give-back",
        "Of the energy that these leaks waste, the controls give back {percent:.0f} %: under {control} control "
        "{reason}. To save the rest, compressor run time or power must come down too.",
        percent=100 * fraction,
        control=trimming.curve.control,
        reason=_REASONS.get(trimming.curve.control, _REASONS["own points"]),
    )
