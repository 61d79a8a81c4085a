"""Power at part load by the way a compressor is controlled: fraction of full-load power over fraction of capacity.
A repaired leak saves along this curve, never in proportion to full load."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from earwitness.energy._checks import Floats, _fraction, _positive
from earwitness.errors import InputError
from earwitness.sentence import Sentence, say

CONTROLS = ("load-unload", "inlet-modulation", "variable-displacement", "variable-speed", "start-stop")
SMALL_STORAGE_S = 8.02  # 1 US gal of receiver for each ft3/min of capacity
POWER_PER_PA = 0.0725e-5  # 1 % of power for each 2 psi of pressure (S, US DOE): 7.25 %/bar
_STARTS_PER_HOUR = 6.0  # P: what mid-size motors commonly bear

# Straight lines through the shape of the customary curves (US DOE compressed-air sourcebook, read from memory: M).
_KNOTS: dict[str, tuple[tuple[float, ...], tuple[float, ...]]] = {
    "inlet-modulation": ((0.0, 1.0), (0.71, 1.0)),
    "variable-displacement": ((0.0, 0.4, 1.0), (0.25, 0.58, 1.0)),
    "variable-speed": ((0.0, 0.5, 1.0), (0.12, 0.53, 1.0)),
    "start-stop": ((0.0, 1.0), (0.0, 1.0)),
}


@dataclass(frozen=True)
class LoadUnloadCycle:
    """A lubricated screw machine between its two pressure switches. One stated set for every machine that tells no
    better; all customary (P) except the power of the closed inlet and of the blown-down machine (M, US DOE curves).

    band_pa : cut-out minus cut-in pressure [Pa]
    sump_abs : pressure in the oil separator on load [Pa absolute]
    blown_down_abs : where the blow-down ends [Pa absolute]
    blow_down_s : how long it takes [s]
    sump_s : gas volume of separator, cooler and pipe before the check valve, over the machine's capacity [s]
    power_closed : power right after the inlet closes, sump still full [fraction of full load]
    power_blown_down : power once blown down [fraction of full load]
    """

    band_pa: float = 0.69e5
    sump_abs: float = 8.0e5
    blown_down_abs: float = 2.0e5
    blow_down_s: float = 30.0
    sump_s: float = 1.0
    power_closed: float = 0.71
    power_blown_down: float = 0.26
    ambient_abs: float = 101_325.0


@dataclass(frozen=True)
class PartLoadCurve:
    """Fraction of full-load power over fraction of capacity, straight between its points."""

    control: str
    capacity: tuple[float, ...]
    power: tuple[float, ...]
    notes: tuple[Sentence, ...] = ()

    def at(self, load: Floats) -> NDArray[np.float64]:
        """Power [fraction of full load] at a load [fraction of capacity]; above capacity it stays at full load."""
        return np.interp(np.asarray(load, dtype=np.float64), self.capacity, self.power)


def load_unload_power(load: Floats, storage_s: float, cycle: LoadUnloadCycle | None = None) -> NDArray[np.float64]:
    """Mean power of a load-unload machine over one whole cycle, phase by phase: on load the receiver fills to the
    cut-out; the inlet closes and the sump blows down while the receiver empties to the cut-in; then the sump is filled
    again before any air goes out, and the receiver sags meanwhile.

    Parameters
    ----------
    load : float or array (n,), demand over capacity, 0 to 1 [1]
    storage_s : float, receiver volume over capacity in free air, above 0 [s] (1 US gal per ft3/min is 8.02 s)
    cycle : the machine's parameters; by default the one stated set

    Returns
    -------
    (n,) power over full-load power at the cut-in pressure, held at 1 [1]

    Raises
    ------
    InputError : load outside 0 to 1, storage of 0 or less

    Notes
    -----
    Isothermal receiver and sump, constant demand and capacity, on-load power averaged over the pressure band; the
    sump vents through a choked opening, so its absolute pressure falls exponentially, and the unloaded power falls
    with it. Checked against the US DOE curves: 87 % (1 gal/cfm) and 76 % (3 gal/cfm) at half load.

    Examples
    --------
    >>> [round(float(load_unload_power(0.5, gallons * 8.02)), 2) for gallons in (1, 3, 10)]
    [0.85, 0.76, 0.68]
    """
    c = cycle or LoadUnloadCycle()
    x = _fraction("load", load)
    _positive("storage_s", storage_s, "s")
    inside = np.clip(x, 1e-9, 1 - 1e-9)  # at the ends a phase lasts for ever; the mean is continuous
    band_s = storage_s * c.band_pa / c.ambient_abs  # seconds of full capacity between the switches
    decay_s = c.blow_down_s / np.log(c.sump_abs / c.blown_down_abs)

    unloaded_s = band_s / inside
    venting_s = np.minimum(unloaded_s, c.blow_down_s)
    sump = c.sump_abs * np.exp(-venting_s / decay_s)
    span = c.sump_abs - c.blown_down_abs
    # Integral of the sump's pressure above its blown-down one [Pa s].
    above = decay_s * (c.sump_abs - sump) - c.blown_down_abs * venting_s
    swing = c.power_closed - c.power_blown_down
    unloaded = c.power_blown_down * unloaded_s + swing * above / span

    refill_s = c.sump_s * (c.sump_abs - sump) / c.ambient_abs  # at full power: a screw compresses by its built-in ratio

    band_up_s, sag_up_s = band_s / (1 - inside), inside * refill_s / (1 - inside)
    above_cut_in = POWER_PER_PA * c.band_pa / 2 * band_up_s  # full load is stated at the cut-in pressure
    loaded_s = band_up_s + sag_up_s
    mean = (loaded_s + above_cut_in + unloaded + refill_s) / (loaded_s + unloaded_s + refill_s)
    return np.asarray(np.fmin(mean, 1.0) + 0 * x)  # near full load it would exceed 1: there nothing is saved


def part_load_curve(
    control: str, *, storage_s: float | None = None, cycle: LoadUnloadCycle | None = None
) -> PartLoadCurve:
    """The curve of a control type: simulated for `load-unload`, customary shape for the others.

    Parameters
    ----------
    control : one of CONTROLS
    storage_s : float, receiver volume over capacity in free air, above 0 [s]; unknown: 8.02 s for load-unload, noted
    cycle : parameters of the simulated cycle

    Raises
    ------
    InputError : a control type that is not one of CONTROLS

    Examples
    --------
    >>> float(part_load_curve("inlet-modulation").at(0.5))
    0.855
    """
    if control not in CONTROLS:
        raise InputError("control", control, "one of " + ", ".join(CONTROLS))
    notes: list[Sentence] = []
    if control == "load-unload":
        if storage_s is None:
            notes.append(
                say(
                    "storage-assumed",
                    "The receiver's volume is not given; {storage_s:.0f} s of capacity (1 gal per cfm) is assumed. "
                    "More storage lets the machine unload longer and saves more.",
                    storage_s=SMALL_STORAGE_S,
                )
            )
        load = np.linspace(0.0, 1.0, 101)
        power = np.maximum.accumulate(load_unload_power(load, storage_s or SMALL_STORAGE_S, cycle))
        return PartLoadCurve(control, tuple(load.tolist()), tuple(power.tolist()), tuple(notes))
    notes.append(
        say("curve-customary", "The part-load curve for {control} is the customary shape, not this machine's own.",
            control=control)
    )  # fmt: skip
    if control == "start-stop" and storage_s is not None:
        starts = starts_per_hour(0.5, storage_s, (cycle or LoadUnloadCycle()).band_pa)
        if starts > _STARTS_PER_HOUR:
            notes.append(
                say(
                    "many-starts",
                    "At half load this machine would start {starts:.0f} times an hour; {allowed:.0f} is what motors "
                    "commonly bear. Ask the maker, or give it more storage.",
                    starts=float(starts),
                    allowed=_STARTS_PER_HOUR,
                )
            )
    return PartLoadCurve(control, *_KNOTS[control], tuple(notes))


def curve_from_points(capacity: Sequence[float], power: Sequence[float]) -> PartLoadCurve:
    """The user's own curve.

    Parameters
    ----------
    capacity : sequence of float (n >= 2), rising, from 0 to 1 [fraction of capacity]
    power : sequence of float (n), not falling, 0 or more [fraction of full-load power]

    Raises
    ------
    InputError : fewer than two points, capacity that does not run from 0 to 1, power that falls as the load rises

    Examples
    --------
    >>> float(curve_from_points([0, 1], [0.5, 1]).at(0.5))
    0.75
    """
    x, y = np.asarray(capacity, dtype=np.float64), np.asarray(power, dtype=np.float64)
    if len(x) < 2 or x[0] != 0 or x[-1] != 1 or np.any(np.diff(x) <= 0):
        raise InputError("capacity", list(capacity), "two or more rising fractions, the first 0 and the last 1")
    if len(y) != len(x) or np.any(y < 0) or np.any(np.diff(y) < 0):
        raise InputError(
            "power", list(power), "as many fractions as capacity has, 0 or more, none below the one before"
        )
    return PartLoadCurve("own points", tuple(x.tolist()), tuple(y.tolist()))


def starts_per_hour(
    load: Floats, storage_s: float, band_pa: float, ambient_abs: float = 101_325.0
) -> NDArray[np.float64]:
    """How often a machine between two pressure switches starts (or loads) in an hour: most often at half load.

    Parameters
    ----------
    load : float or array (n,), demand over capacity, 0 to 1 [1]
    storage_s : float, receiver volume over capacity in free air, above 0 [s]
    band_pa : float, cut-out minus cut-in pressure, above 0 [Pa]
    ambient_abs : float, pressure of free air [Pa absolute]

    Examples
    --------
    >>> round(float(starts_per_hour(0.5, 60.0, 1e5)), 1)
    15.2
    """
    x = _fraction("load", load)
    band_s = float(_positive("storage_s", storage_s, "s")) * float(_positive("band_pa", band_pa, "Pa")) / ambient_abs
    return np.asarray(3600.0 * x * (1 - x) / band_s)
