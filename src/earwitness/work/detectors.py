"""Which detector a kind of reading goes to, and what it is told of the reading: conditions, never a name or a note."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from earwitness.hearing.evidence import Judgement
from earwitness.hearing.heard import Heard
from earwitness.plant.reading import Reading
from earwitness.plant.survey import Survey

if TYPE_CHECKING:
    from earwitness.hearing.bearing import BearingMachine

Detector = Callable[[Heard, Reading, Survey], Judgement]


def judge_sound(heard: Heard, reading: Reading, survey: Survey) -> Judgement:
    """What the detector of the reading's kind makes of a sound."""
    return detector_of(reading.kind)(heard, reading, survey)


def detector_of(kind: str) -> Detector:
    return _DETECTORS.get(kind, _unknown)


def _leak(heard: Heard, r: Reading, survey: Survey) -> Judgement:
    from earwitness.hearing import leak

    swept = True if r.sweep_marks or r.sweep_length_m else None
    return leak.judge(heard, leak.LeakState(cause=r.cause, pressurised=True, swept=swept))  # type: ignore[arg-type]


def _seal(heard: Heard, r: Reading, survey: Survey) -> Judgement:
    from earwitness.hearing import seal

    return seal.judge(heard, seal.SealState(sweep_marks=r.sweep_marks, sweep_length_m=r.sweep_length_m))


def _electrical(heard: Heard, r: Reading, survey: Survey) -> Judgement:
    from earwitness.hearing import discharge

    return discharge.judge(heard, discharge.ElectricalState(r.mains_hz, r.voltage_v, r.supply))  # type: ignore[arg-type]


def _bearing(heard: Heard, r: Reading, survey: Survey) -> Judgement:
    from earwitness.hearing import bearing

    return bearing.judge(heard, _bearing_machine(r))


def _bearing_machine(r: Reading) -> BearingMachine:
    from earwitness.hearing.bearing import BearingMachine

    m = r.machine
    return BearingMachine(
        speed_hz=m.speed_hz,
        rolling_elements=m.rolling_elements,
        element_m=m.element_m,
        pitch_m=m.pitch_m,
        contact_angle_rad=m.contact_angle_rad,
        designation=m.bearing,
        load_percent=r.load_percent,
        mains_hz=r.mains_hz,
    )


def _gear(heard: Heard, r: Reading, survey: Survey) -> Judgement:
    from earwitness.hearing import gear

    m = r.machine
    return gear.judge(heard, gear.GearMachine(m.speed_hz, m.teeth, m.mate_teeth, r.mains_hz))


def _valve(heard: Heard, r: Reading, survey: Survey) -> Judgement:
    from earwitness.hearing import valve

    before, after = r.pressure_abs, r.pressure_downstream_abs
    state = valve.ValveState(
        upstream_db=_less_gain(r.upstream_db, r),
        downstream_db=_less_gain(r.downstream_db, r),
        beyond_db=_less_gain(r.beyond_db, r),
        position_commanded=r.position_commanded,  # type: ignore[arg-type]
        pressure_across=None if before is None or after is None else before > after,
    )
    return valve.judge(heard, state)


def _trap(heard: Heard, r: Reading, survey: Survey) -> Judgement:
    from earwitness.hearing import trap

    state = trap.TrapState(r.trap_type, r.upstream_k, r.downstream_k, _less_gain(r.upstream_db, r))  # type: ignore[arg-type]
    return trap.judge(heard, state)


def _unknown(heard: Heard, r: Reading, survey: Survey) -> Judgement:
    from earwitness.hearing import unknown

    return unknown.judge(heard, unknown.UnknownState(r.mains_hz, r.voltage_v, r.supply, _bearing_machine(r)))


def _less_gain(level_db: float | None, r: Reading) -> float | None:
    return None if level_db is None else level_db - (r.gain_db or 0.0)


_DETECTORS: dict[str, Detector] = {
    "leak": _leak,
    "seal": _seal,
    "electrical": _electrical,
    "bearing": _bearing,
    "gear": _gear,
    "valve": _valve,
    "trap": _trap,
}
