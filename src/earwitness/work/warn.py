"""What a finding can do to people, in the contract's shape; the rules themselves are in `danger`."""

from __future__ import annotations

from earwitness.danger.assess_gas import assess_gas
from earwitness.danger.cautions import standing_cautions as cautions_of
from earwitness.danger.electrical import assess_electrical, assess_open_discharge
from earwitness.danger.flammable import flammability
from earwitness.danger.hazard import Hazard
from earwitness.danger.machine import assess_machine
from earwitness.danger.toxic import exposure_limits
from earwitness.errors import InputError
from earwitness.gas.gases import find_gas, gas_state, specific_gravity
from earwitness.hearing.evidence import Judgement
from earwitness.plant.assessment import Warned
from earwitness.plant.reading import Reading
from earwitness.plant.survey import Survey
from earwitness.sentence import Sentence, say
from earwitness.work.size import Sized, composition_of, gas_of

STANDARD_PRESSURE = 101_325.0
ELECTRICAL = frozenset({"corona", "tracking", "arcing", "mains-hum", "no-discharge-heard"})
MACHINE = frozenset({"outer-race", "inner-race", "rolling-element", "cage", "irregular", "friction", "tooth", "wear"})


def hazards_of(
    reading: Reading, verdict: str | None, sized: Sized, survey: Survey, judgement: Judgement | None
) -> tuple[Warned, ...]:
    """Hazards of what was heard, worst first."""
    if verdict == "inconclusive" and (kinds := _open_kinds(judgement)):
        return (_warned(assess_open_discharge(kinds, reading.voltage_v, reading.supply)),)
    if verdict in ELECTRICAL or (reading.kind == "electrical" and verdict is not None):
        return (_warned(assess_electrical(str(verdict), reading.voltage_v, reading.supply)),)
    if verdict in MACHINE:
        act = bool(judgement and judgement.severity and judgement.severity.code == "act")
        hazard = assess_machine(str(verdict), act=act)
        return (_warned(hazard),) if hazard else ()
    if looked_for_in_vain(reading):
        return ()
    if verdict in ("passing", "blowing") or verdict == "leak" or sized.gas is not None:
        return tuple(_warned(h) for h in _gas_hazards(reading, verdict, sized, survey))
    return ()


def _open_kinds(judgement: Judgement | None) -> tuple[str, ...]:
    """Of a discharge that was heard while its kind is open: the two likeliest."""
    notes = judgement.notes if judgement else ()
    said = next((note.args for note in notes if note.code == "discharge-of-open-kind"), None)
    return (str(said["first"]), str(said["second"])) if said else ()


def _gas_hazards(reading: Reading, verdict: str | None, sized: Sized, survey: Survey) -> tuple[Hazard, ...]:
    known, _ = gas_of(reading, survey)
    gas = known.name if known else None
    ambient = survey.conditions.ambient_pressure_abs or STANDARD_PRESSURE
    pressure = reading.pressure_abs
    volume = sized.amounts.get("volume_flow")
    try:
        gravity = specific_gravity(known) if known and gas not in ("vacuum", "steam") else None
    except InputError:
        gravity = None
    return assess_gas(
        gas,
        place=reading.place,
        release_m3_s=volume.interval().high if volume else None,
        ventilation_m3_s=reading.ventilation_m3_s,
        room_m3=reading.room_m3,
        liquid=_liquid(reading, gas, pressure),
        gauge_pressure=None if pressure is None else pressure - ambient,
        specific_gravity=gravity,
        composition=composition_of(reading.medium, survey) if reading.medium else None,
        superheated=gas == "steam" and _superheated(reading, pressure),
        to_open=verdict == "leak" or reading.kind == "leak",
    )


def _liquid(reading: Reading, gas: str | None, pressure: float | None) -> bool | None:
    """Whether it is a liquid at the noted pressure and temperature; None where these do not say."""
    if gas is None or pressure is None or gas in ("air", "vacuum", "steam"):
        return None
    try:
        return gas_state(find_gas(gas), pressure, reading.temperature_k or 293.15).phase == "liquid"
    except InputError:
        return None


def _superheated(reading: Reading, pressure: float | None) -> bool:
    if reading.temperature_k is None or pressure is None:
        return False
    try:
        saturated = gas_state("steam", pressure, None).temperature
    except InputError:
        return False
    return reading.temperature_k > saturated + 2.0


def looked_for_in_vain(reading: Reading) -> bool:
    """Looked for and not found, of what neither burns, poisons nor suffocates: of any other gas it clears nothing."""
    if reading.confirmed != "not-found" or reading.medium is None:
        return reading.confirmed == "not-found"
    return named(reading.medium) in ("air", "vacuum")


def named(medium: str | None) -> str | None:
    """The program's plain name of a medium; as it was written where it is none that is known."""
    try:
        return None if medium is None else find_gas(medium).name
    except InputError:
        return medium


def standing_cautions(reading: Reading, verdict: str | None) -> tuple[Sentence, ...]:
    """The usual cautions where people act on this reading; an undecided reading on a gas that burns keeps them all."""
    dangerous, medium = is_dangerous(reading.medium), named(reading.medium)
    cautions = cautions_of(
        reading.kind,
        medium=medium,
        flammable_or_toxic=dangerous,
        flammable=medium is None or flammability(medium) != "not flammable",
        place=reading.place,
        hazardous_area=reading.hazardous_area,
    )
    if dangerous and verdict in ("inconclusive", "no-leak-heard"):
        text = "Nothing decided by ear clears {medium}: use a gas detector before anyone relies on this."
        cautions = (say("silence-clears-nothing", text, medium=reading.medium or "this gas"), *cautions)
    return cautions


def is_dangerous(medium: str | None) -> bool:
    """Whether the medium burns or poisons; one that is noted and not known counts as if it did."""
    if medium is None:
        return False
    try:
        name = find_gas(medium).name
    except InputError:
        return True
    return flammability(name) != "not flammable" or exposure_limits(name) is not None


def _warned(h: Hazard) -> Warned:
    return Warned(h.code, dict(h.args), h.signal_word, h.sentence.text, h.basis, h.first_actions, h.urgent)
