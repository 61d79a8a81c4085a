"""How much a whole system leaks: load/unload timing, bleed-down of a receiver, metered flow at night.

Flows are free air (inlet conditions of the compressor, or the stated atmosphere) [m3/s]; pressures absolute [Pa].
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from earwitness.errors import InputError
from earwitness.interval import Uncertain, within_factor
from earwitness.sentence import Sentence, say

ATMOSPHERE = 101_325.0
_CARRIED_ON = 0.25  # P: ln error for each unit of ln pressure beyond the record
Floats = float | NDArray[np.float64]


@dataclass(frozen=True)
class SystemLeakage:
    """What a system test found.

    flow : leakage in free air [m3/s], with its spread
    method : "load-unload", "bleed-down" or "metered"
    at_pressure_abs : the pressure that it holds for [Pa absolute], where known
    fraction : of the compressor's capacity [1], where known
    others : the same record read by other customary formulas, name to flow [m3/s]
    notes : assumptions
    """

    flow: Uncertain
    method: str
    at_pressure_abs: float | None = None
    fraction: float | None = None
    others: dict[str, float] = field(default_factory=dict)
    notes: tuple[Sentence, ...] = ()


def load_fraction(loaded_s: Floats, unloaded_s: Floats) -> NDArray[np.float64]:
    """Part of its capacity [1] that a compressor makes: time on load over the whole time, T/(T+t).

    Parameters
    ----------
    loaded_s : float or array, time on load, 0 or more [s]
    unloaded_s : float or array, time off load, 0 or more [s]

    Raises
    ------
    InputError : a negative time, or no time at all

    Examples
    --------
    >>> round(float(load_fraction(480.0, 2880.0)), 5)
    0.14286
    """
    loaded, unloaded = np.asarray(loaded_s, dtype=np.float64), np.asarray(unloaded_s, dtype=np.float64)
    if np.any(loaded < 0):
        raise InputError("loaded_s", loaded_s, "0 s or more")
    if np.any(unloaded < 0) or np.any(loaded + unloaded == 0):
        raise InputError("unloaded_s", unloaded_s, "0 s or more, and not both times 0")
    return np.asarray(loaded / (loaded + unloaded))


def load_unload_test(
    loaded_s: Sequence[float], unloaded_s: Sequence[float], capacity_m3_s: float, capacity_factor: float = 1.05
) -> SystemLeakage:
    """Leakage from the cycles of one compressor while nothing uses air.

    Parameters
    ----------
    loaded_s : sequence of float (n,), time on load of each cycle [s]
    unloaded_s : sequence of float (n,), time off load of each cycle [s]
    capacity_m3_s : float, free air that the machine delivers on load, above 0 [m3/s]
    capacity_factor : float, the capacity is known within this factor at 95 %, customary (P), 1 or more [1]

    Raises
    ------
    InputError : no cycle, lists of different length, negative times, a capacity of 0 or less

    Notes
    -----
    The cycles' own scatter goes in as its standard error; one or two cycles cannot show any, and 10 % is taken (P).
    US DOE, Improving Compressed Air System Performance (2003): leakage % = 100 T/(T+t).

    Examples
    --------
    >>> result = load_unload_test([480.0], [2880.0], 900 / 2118.88)
    >>> round(result.flow.median * 2118.88, 2)  # ft3/min
    128.57
    """
    on, off = np.asarray(loaded_s, dtype=np.float64), np.asarray(unloaded_s, dtype=np.float64)
    if on.ndim != 1 or len(on) == 0 or on.shape != off.shape:
        raise InputError("loaded_s", list(loaded_s), "one time on load and one time off load for each cycle")
    _positive("capacity_m3_s", capacity_m3_s, "m3/s")
    fraction = float(load_fraction(float(on.sum()), float(off.sum())))
    notes = [
        say(
            "test-nothing-used",
            "Holds only if nothing used air during the test and the machine delivered its stated capacity on load.",
        )
    ]
    if len(on) >= 3:
        each = load_fraction(on, off)
        own = float(np.std(np.log(np.maximum(each, 1e-9)), ddof=1) / math.sqrt(len(on)))
    else:
        own = math.log(1.1) / 1.96
        notes.append(
            say(
                "few-cycles",
                "Only {cycles} timed; five or more would show how steady the leakage is.",
                cycles="1 cycle was" if len(on) == 1 else f"{len(on)} cycles were",
            )
        )
    if np.any(off == 0):
        notes.append(
            say(
                "never-unloaded",
                "The machine never unloaded in at least one cycle: the leakage is at least its capacity.",
            )
        )
    capacity = within_factor(capacity_m3_s, capacity_factor)
    flow = Uncertain(capacity_m3_s * fraction, math.hypot(own, capacity.sigma))
    return SystemLeakage(flow, "load-unload", None, fraction, {}, tuple(notes))


def bleed_down_flow(
    volume_m3: Floats,
    start_abs: Floats,
    end_abs: Floats,
    seconds: Floats,
    factor: Floats = 1.0,
    reference_abs: float = ATMOSPHERE,
) -> NDArray[np.float64]:
    """Mean leakage [m3/s, free air at the system's temperature] during a bleed-down: V (p1-p2)/(T p0) times a factor.

    Parameters
    ----------
    volume_m3 : float or array, receivers and pipes, above 0 [m3]
    start_abs : float or array, pressure at the start [Pa absolute]
    end_abs : float or array, pressure at the end, below the start [Pa absolute]
    seconds : float or array, time between, above 0 [s]
    factor : float or array, 1.0 (NAVFAC MO-209: the mean over the interval) or 1.25 (US DOE, customary) [1]
    reference_abs : float, pressure of free air [Pa absolute]

    Examples
    --------
    >>> round(float(bleed_down_flow(10.0, 8e5, 7e5, 600.0)), 5)
    0.01645
    """
    volume, time = _positive("volume_m3", volume_m3, "m3"), _positive("seconds", seconds, "s")
    start, end = _falling(start_abs, end_abs)
    return np.asarray(volume * (start - end) / (time * reference_abs) * np.asarray(factor, dtype=np.float64))


def constant_hole_factor(start_abs: Floats, end_abs: Floats) -> NDArray[np.float64]:
    """Leakage at the starting pressure over the mean leakage of the bleed-down, for choked holes that stay the same
    and gas that stays at one temperature: p1 ln(p1/p2)/(p1-p2) [1]. Neither 1.0 nor 1.25 in general.

    Parameters
    ----------
    start_abs : float or array, pressure at the start [Pa absolute]
    end_abs : float or array, pressure at the end, below the start [Pa absolute]

    Examples
    --------
    >>> round(float(constant_hole_factor((100 + 14.7) * 6894.76, (50 + 14.7) * 6894.76)), 3)
    1.313
    """
    start, end = _falling(start_abs, end_abs)
    return np.asarray(start * np.log(start / end) / (start - end))


def system_volume(
    flow_m3_s: Floats, start_abs: Floats, end_abs: Floats, seconds: Floats, reference_abs: float = ATMOSPHERE
) -> NDArray[np.float64]:
    """Volume of receivers and pipes [m3] from a bleed-down at a known mean flow: V = Q T p0/(p1-p2).

    Parameters
    ----------
    flow_m3_s : float or array, known mean flow in free air, above 0 [m3/s]
    start_abs : float or array, pressure at the start [Pa absolute]
    end_abs : float or array, pressure at the end, below the start [Pa absolute]
    seconds : float or array, time between, above 0 [s]
    reference_abs : float, pressure of free air [Pa absolute]

    Examples
    --------
    >>> round(float(system_volume(0.01645, 8e5, 7e5, 600.0)), 2)
    10.0
    """
    flow, time = _positive("flow_m3_s", flow_m3_s, "m3/s"), _positive("seconds", seconds, "s")
    start, end = _falling(start_abs, end_abs)
    return np.asarray(flow * time * reference_abs / (start - end))


def bleed_down_test(
    volume_m3: float,
    times_s: Sequence[float],
    pressures_abs: Sequence[float],
    at_pressure_abs: float,
    volume_factor: float = 1.10,
    reference_abs: float = ATMOSPHERE,
) -> SystemLeakage:
    """Leakage at a stated pressure, fitted to the decay of a system that nothing feeds and nothing uses.

    Parameters
    ----------
    volume_m3 : float, receivers and pipes, above 0 [m3]
    times_s : sequence of float (n >= 2), rising [s]
    pressures_abs : sequence of float (n), falling [Pa absolute]
    at_pressure_abs : float, pressure that the leakage is wanted for, above atmosphere [Pa absolute]
    volume_factor : float, the volume is known within this factor at 95 %, customary (P), 1 or more [1]
    reference_abs : float, pressure of free air [Pa absolute]

    Returns
    -------
    SystemLeakage; `others` holds the same record read with the factors 1.0 and 1.25 over its whole length, and as
    constant choked holes

    Raises
    ------
    InputError : fewer than two readings, times that do not rise, pressures that do not fall

    Notes
    -----
    Three intervals or more: a straight line of flow over the mean gauge pressure of each interval, as in NAVFAC MO-209
    table 5-4, which lets leaks close or valves shut as the pressure falls. Fewer: constant choked holes, whose flow is
    proportional to absolute pressure.
    """
    time, pressure = np.asarray(times_s, dtype=np.float64), np.asarray(pressures_abs, dtype=np.float64)
    if time.ndim != 1 or len(time) < 2 or len(time) != len(pressure):
        raise InputError("times_s", list(times_s), "two or more times, and a pressure for each")
    if not np.all(np.diff(time) > 0):
        raise InputError("times_s", list(times_s), "rising")
    if not np.all(np.diff(pressure) < 0):
        raise InputError("pressures_abs", list(pressures_abs), "falling at every reading")
    _positive("at_pressure_abs", at_pressure_abs, "Pa absolute")
    volume = within_factor(float(_positive("volume_m3", volume_m3, "m3")), volume_factor)
    whole = (volume_m3, float(pressure[0]), float(pressure[-1]), float(time[-1] - time[0]))
    holes = _constant_holes(volume_m3, time, pressure, reference_abs) * at_pressure_abs
    others = {
        "factor 1.0": float(bleed_down_flow(*whole, 1.0, reference_abs)),
        "factor 1.25": float(bleed_down_flow(*whole, 1.25, reference_abs)),
        "constant holes": holes,
    }
    median, own, notes = holes, math.log(1.2) / 1.96, [_which_formula(others, at_pressure_abs)]
    end = float(np.clip(at_pressure_abs, pressure[-1], pressure[0]))
    if len(time) >= 4:
        flows = bleed_down_flow(volume_m3, pressure[:-1], pressure[1:], np.diff(time), 1.0, reference_abs)
        middle = 0.5 * (pressure[:-1] + pressure[1:])
        line, error = _line_at(middle, flows, at_pressure_abs)
        at_end = _line_at(middle, flows, end)[0]
        if line > 0 and at_end > 0:
            # Beyond the record the line and a proportional flow part: their distance is part of the error.
            parting = math.log(line / (at_end * at_pressure_abs / end))
            median, own = line, math.hypot(error / line, parting)
    if at_pressure_abs != end:
        own = math.hypot(own, _CARRIED_ON * abs(math.log(at_pressure_abs / end)))
        notes.append(
            say(
                "outside-record",
                "{at:.2f} bar is outside the recorded {low:.2f} to {high:.2f} bar (absolute): the line is carried on, "
                "and the interval widened.",
                at=at_pressure_abs / 1e5,
                low=float(pressure[-1]) / 1e5,
                high=float(pressure[0]) / 1e5,
            )
        )
    flow = Uncertain(median, math.hypot(own, volume.sigma))
    return SystemLeakage(flow, "bleed-down", at_pressure_abs, None, others, tuple(notes))


def night_flow_test(flows_m3_s: Sequence[float], used_m3_s: float = 0.0, meter_factor: float = 1.05) -> SystemLeakage:
    """Leakage from a flow meter's readings while nothing but the stated use draws air.

    Parameters
    ----------
    flows_m3_s : sequence of float (n), meter readings in free air, above 0 [m3/s]
    used_m3_s : float, what is known to be used then, 0 or more and below the readings' median [m3/s]
    meter_factor : float, the meter is right within this factor at 95 %, customary (P), 1 or more [1]

    Raises
    ------
    InputError : no reading, a negative one, a use that leaves nothing

    Examples
    --------
    >>> round(night_flow_test([0.061, 0.060, 0.062]).flow.median, 3)
    0.061
    """
    flows = np.asarray(flows_m3_s, dtype=np.float64)
    if flows.ndim != 1 or len(flows) == 0 or np.any(~np.isfinite(flows)) or np.any(flows <= 0):
        raise InputError("flows_m3_s", list(flows_m3_s), "one reading or more, each above 0")
    metered = float(np.median(flows))
    if not 0 <= used_m3_s < metered:
        raise InputError("used_m3_s", used_m3_s, "0 or more, and below what the meter showed")
    leakage = metered - used_m3_s
    scatter = float(np.std(flows, ddof=1) / math.sqrt(len(flows))) if len(flows) >= 3 else 0.05 * metered
    meter = within_factor(metered, meter_factor)
    own = math.hypot(scatter * 1.2533, meter.sigma * metered) / leakage  # a median's error is 1.2533 that of a mean
    note = say(
        "night-use",
        "The metered flow counts as leakage less {used:.2f} m3/min of stated use; any other "
        "use at night makes it less.",
        used=used_m3_s * 60,
    )
    return SystemLeakage(Uncertain(leakage, own), "metered", None, None, {}, (note,))


def _constant_holes(
    volume_m3: float, time: NDArray[np.float64], pressure: NDArray[np.float64], reference_abs: float
) -> float:
    """Flow per absolute pressure of choked holes: the log of the pressure falls along a line through the record."""
    rate = -np.polyfit(time - time[0], np.log(pressure), 1)[0]
    return float(volume_m3 * rate / reference_abs)


def _line_at(x: NDArray[np.float64], y: NDArray[np.float64], at: float) -> tuple[float, float]:
    """A straight line through points, read at `at`, with the standard error of that reading."""
    middle = x.mean()
    slope = float(((x - middle) * (y - y.mean())).sum() / ((x - middle) ** 2).sum())
    residual = y - y.mean() - slope * (x - middle)
    scatter = math.sqrt(float(residual @ residual) / (len(x) - 2))
    error = scatter * math.sqrt(1 / len(x) + (at - middle) ** 2 / float(((x - middle) ** 2).sum()))
    return float(y.mean() + slope * (at - middle)), error


def _which_formula(others: dict[str, float], at_pressure_abs: float) -> Sentence:
    return say(
        "bleed-down-formulas",
        "Over the whole record the factor 1.0 gives {one:.2f} m3/min (the mean while the pressure falls), the "
        "customary 1.25 gives {quarter:.2f} (a guess at the flow at working pressure), and holes "
        "that stay the same and choked give {holes:.2f} at {at:.2f} bar absolute.",
        one=others["factor 1.0"] * 60,
        quarter=others["factor 1.25"] * 60,
        holes=others["constant holes"] * 60,
        at=at_pressure_abs / 1e5,
    )


def _positive(name: str, value: Floats, unit: str) -> NDArray[np.float64]:
    array = np.asarray(value, dtype=np.float64)
    if np.any(array <= 0) or np.any(np.isinf(array)):
        raise InputError(name, value, f"above 0 {unit}")
    return array


def _falling(start_abs: Floats, end_abs: Floats) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    start, end = _positive("start_abs", start_abs, "Pa absolute"), _positive("end_abs", end_abs, "Pa absolute")
    if np.any(end >= start):
        raise InputError("end_abs", end_abs, "below the pressure at the start")
    return start, end
