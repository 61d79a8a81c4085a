"""What a row leaves empty and the survey knows: filled in, with the place it came from."""

from __future__ import annotations

from dataclasses import replace

from earwitness.plant.reading import Given, Reading
from earwitness.plant.survey import Survey
from earwitness.sentence import say
from earwitness.units import show

GAS_KINDS = frozenset({"leak", "valve", "trap"})
AIR_NAMES = frozenset({None, "air", "compressed air", "plant air", "instrument air"})
PARTS = {"pressure": "[air] pressure", "hours_per_year": "[air] hours_per_year", "mains_hz": "[site] mains_hz"}


def filled(reading: Reading, survey: Survey) -> Reading:
    """The reading with the survey's pressure (of compressed air), hours, mains frequency and receiver frequency where
    its own cells are empty. A cell that could not be read stays unknown: it is not replaced by a general figure."""
    unread = {p.column for p in reading.problems}
    given: dict[str, Given] = {}
    changes: dict[str, float] = {}

    def take(field: str, column: str, value: float | None, unit: str, shown: str) -> None:
        if getattr(reading, field) is None and value is not None and column not in unread:
            changes[field] = value
            source = "site settings" if PARTS.get(column) in survey.from_site else "survey"
            given[column] = Given(shown.format(value), value, unit, source)

    is_air = (reading.medium or "").casefold().strip() in AIR_NAMES or reading.medium is None
    if reading.kind in GAS_KINDS:
        if is_air and reading.kind == "leak":
            absolute = survey.air.pressure_abs
            shown = show(absolute, "bar(a)") if absolute is not None else ""
            take("pressure_abs", "pressure", absolute, "Pa absolute", shown)
        take("hours_per_year", "hours_per_year", survey.air.hours_per_year, "h", "{:g} h")
    if reading.kind in ("electrical", "bearing", "gear", "other"):
        take("mains_hz", "mains_hz", survey.conditions.mains_hz, "Hz", "{:g} Hz")
    take("centre_hz", "centre_khz", survey.instrument.centre_hz, "Hz", "{:g} Hz")
    if not changes:
        return reading
    notes = reading.notes
    if not is_air and "hours_per_year" in changes:
        text = "No hours are noted of {gas}: those of the compressed air, {hours:g} a year, stand in."
        notes += (say("hours-of-the-air", text, gas=reading.medium, hours=changes["hours_per_year"]),)
    return replace(reading, conditions={**reading.conditions, **given}, notes=notes, **changes)  # type: ignore[arg-type]
