"""A test of the whole air system, from texts with units."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from earwitness import units
from earwitness.errors import InputError, as_asked
from earwitness.gas.system_test import SystemLeakage, bleed_down_test, load_unload_test, night_flow_test
from earwitness.plant.assessment import Quantity, rounded
from earwitness.work.size import REFERENCE


def load_unload(on: Sequence[str], off: Sequence[str], capacity: str) -> SystemLeakage:
    """Times on and off load of one compressor while nothing uses air."""
    if len(on) != len(off) or not on:
        raise InputError("on, off", f"{len(on)} and {len(off)} times", "as many times on load as off load")
    loaded, unloaded, made = _seconds(on, "on"), _seconds(off, "off"), _volume_flow(capacity, "capacity")
    times = ", ".join(on), ", ".join(off)
    with as_asked(loaded_s=("on", times[0]), unloaded_s=("off", times[1]), capacity_m3_s=("capacity", capacity)):
        return load_unload_test(loaded, unloaded, made)


def bleed_down(volume: str, times: Sequence[str], pressures: Sequence[str], at: str | None) -> SystemLeakage:
    """Pressures of a system that nothing feeds and nothing uses, at stated times."""
    if len(times) != len(pressures):
        raise InputError("time, pressure", f"{len(times)} and {len(pressures)}", "one pressure for each time")
    read = [units.quantity(p, "pressure", where="pressure") for p in pressures]
    level = read[0] if at is None else units.quantity(at, "pressure", where="at")
    space, seconds = units.quantity(volume, "volume", where="volume"), _seconds(times, "time")
    with as_asked(
        volume_m3=("volume", volume),
        times_s=("time", ", ".join(times)),
        pressures_abs=("pressure", ", ".join(pressures)),
        at_pressure_abs=("at", at or pressures[0]),
    ):
        return bleed_down_test(space, seconds, read, level)


def metered(flows: Sequence[str], used: str | None) -> SystemLeakage:
    """A flow meter's readings while nothing but the stated use draws air."""
    taken = 0.0 if used is None else _volume_flow(used, "used")
    read = [_volume_flow(f, "flow") for f in flows]
    with as_asked(flows_m3_s=("flow", ", ".join(flows)), used_m3_s=("used", used)):
        return night_flow_test(read, taken)


def as_json(found: SystemLeakage) -> dict[str, Any]:
    return {
        "method": found.method,
        "leakage": Quantity(found.flow.interval(), "m3/s", found.method, REFERENCE).as_json(),
        "fraction_of_capacity": None if found.fraction is None else rounded(found.fraction),
        "at_pressure_abs": found.at_pressure_abs,
        "read_otherwise": {name: rounded(flow) for name, flow in found.others.items()},
        "notes": [n.as_json() for n in found.notes],
    }


def _seconds(texts: Sequence[str], where: str) -> list[float]:
    return [units.quantity(t, "duration", where=where) for t in texts]


def _volume_flow(text: str, where: str) -> float:
    return units.quantity(text, "volume flow", where=where)
