"""The leaks found against the whole system: a measured leakage narrows them, and no sum exceeds what is supplied."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from earwitness.errors import InputError, as_asked
from earwitness.gas.system_test import (
    SystemLeakage,
    bleed_down_test,
    load_unload_test,
    night_flow_test,
)
from earwitness.interval import Interval
from earwitness.plant.assessment import Assessment, Quantity
from earwitness.plant.survey import AirSystem, LeakTest
from earwitness.programme.posterior import Reconciliation, reconcile
from earwitness.sentence import Sentence, say
from earwitness.units import show
from earwitness.work.economy import Economy
from earwitness.work.size import REFERENCE


def system_leakage(air: AirSystem, plant_capacity_m3_s: float | None) -> tuple[SystemLeakage | None, list[Sentence]]:
    """What the survey's own system test measured; None where there was none or it cannot be used, and why."""
    test = air.leak_test
    if test is None:
        return None, []
    try:
        return _measured(test, air, plant_capacity_m3_s), []
    except InputError as error:
        return None, [say("leak-test-not-used", "The system test is not used: {error}.", error=str(error))]


def _measured(test: LeakTest, air: AirSystem, capacity: float | None) -> SystemLeakage:
    v = test.values
    if test.kind == "load-unload":
        made = v.get("capacity_m3_s", capacity)
        if made is None:
            raise InputError("capacity", "empty", "the free air that the machine delivers on load")
        return load_unload_test([v["on_load_s"]], [v["off_load_s"]], made)
    if test.kind == "bleed-down":
        pressures = [v["pressure_from_abs"], v["pressure_to_abs"]]
        at = air.pressure_abs or pressures[0]
        lasts, falls_to = ("duration", f"{v['duration_s']:g} s"), ("pressure_to", show(pressures[1], "bar(g)"))
        with as_asked(volume_m3=("volume", f"{v['volume_m3']:g} m3"), times_s=lasts, pressures_abs=falls_to):
            return bleed_down_test(v["volume_m3"], [0.0, v["duration_s"]], pressures, at)
    return night_flow_test([v["flow_m3_s"]])


def reconciled(
    counted: Sequence[Assessment], air: AirSystem, economy: Economy, seed: int, count: int
) -> tuple[Reconciliation | None, SystemLeakage | None, list[Sentence]]:
    """The counted air leaks updated by the system test and capped by the supply, where either is known."""
    measured, notes = system_leakage(air, economy.capacity_m3_s)
    if not counted:
        return None, measured, notes
    flows = [a.amounts["volume_flow"] for a in counted]
    leakage = measured.flow if measured else None
    try:
        return reconcile(flows, leakage, economy.supply_m3_s, seed=seed, count=count), measured, notes
    except InputError as error:
        text = "The leaks found and the supply contradict each other: {error}. Check openings, flows and capacity."
        notes.append(say("supply-contradicts", text, error=str(error)))
        return None, measured, notes


def as_json(found: Reconciliation, measured: SystemLeakage | None, counted: Sequence[Assessment]) -> dict[str, Any]:
    """The block `reconciliation` of findings.json: every flow in m3/s of free air."""

    def flow(interval: Interval | None) -> dict[str, Any] | None:
        return None if interval is None else Quantity(interval, "m3/s", "reconciled", REFERENCE).as_json()

    out = {
        "found": flow(found.found),
        "not_found": flow(found.not_found),
        "system_total": flow(found.total),
        "system_measured": flow(measured.flow.interval()) if measured else None,
        "share_found": Quantity(found.share_found, "1", "reconciled").as_json() if found.share_found else None,
        "adjusted": {a.reading.reading: flow(i) for a, i in zip(counted, found.flows, strict=True)},
        "notes": [n.as_json() for n in (*found.notes, *(measured.notes if measured else ()))],
    }
    return {k: v for k, v in out.items() if v is not None}
