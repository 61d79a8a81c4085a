"""Which conditions of a reading can be changed where one looks at it, with what stands there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from earwitness.intake.choices import CHOICES

SOUND = ("level_db", "background_db", "gain_db", "distance_m", "sensor", "signal", "centre_khz")
OF_KIND: dict[str, tuple[str, ...]] = {
    "leak": ("medium", "pressure", "place", "opening_mm", "attachment", "hours_per_year", "cause", "confirmed"),
    "seal": ("reference_db", "sweep_length_m", "sweep_marks"),
    "bearing": (
        *("speed_rpm", "bearing", "rolling_elements", "element_mm", "pitch_mm", "contact_angle_deg"),
        *("baseline_db", "load_percent"),
    ),
    "gear": ("speed_rpm", "teeth", "mate_teeth", "load_percent", "baseline_db"),
    "electrical": ("voltage_v", "mains_hz", "supply"),
    "valve": ("position_commanded", "upstream_db", "downstream_db", "beyond_db", "medium", "pressure"),
    "trap": ("trap_type", "upstream_c", "downstream_c", "upstream_db", "downstream_db"),
    "other": ("medium", "pressure", "speed_rpm", "voltage_v", "mains_hz"),
}
NAMES = {
    "kind": "kind", "level_db": "level [dB]", "background_db": "background [dB]", "gain_db": "gain setting [dB]",
    "distance_m": "distance", "centre_khz": "tuned to [kHz]", "opening_mm": "opening", "hours_per_year": "hours a year",
    "reference_db": "level through the open enclosure [dB]", "sweep_length_m": "length of the sweep",
    "sweep_marks": "marks of the sweep (s:m)", "speed_rpm": "speed", "rolling_elements": "rolling elements",
    "element_mm": "diameter of an element", "pitch_mm": "pitch diameter", "contact_angle_deg": "contact angle",
    "baseline_db": "baseline [dB]", "load_percent": "load [%]", "mate_teeth": "teeth of the mate",
    "voltage_v": "voltage", "mains_hz": "mains frequency", "upstream_c": "temperature upstream",
    "downstream_c": "temperature downstream", "upstream_db": "level upstream [dB]",
    "downstream_db": "level downstream [dB]", "beyond_db": "level further downstream [dB]",
}  # fmt: skip


@dataclass(frozen=True)
class Condition:
    """One column of the reading's row. `otherwise` holds where the cell is empty (from the settings)."""

    column: str
    name: str
    given: str
    otherwise: str
    choices: Sequence[str]


def conditions_of(kind: str, cells: Mapping[str, Any], result: Mapping[str, Any]) -> list[Condition]:
    stated: Mapping[str, Any] = result.get("conditions") or cells.get("conditions") or {}
    columns = ("kind", *OF_KIND.get(kind, ()), *SOUND)
    return [_condition(column, cells, stated.get(column) or {}) for column in columns]


def _condition(column: str, cells: Mapping[str, Any], stated: Mapping[str, Any]) -> Condition:
    given, otherwise = "", ""
    cells = {**(cells.get("machine") or {}), **cells}  # the machine's data are a part of their own
    if stated:
        text = str(stated.get("given", ""))
        if column == "centre_khz" and stated.get("unit") == "Hz" and isinstance(stated.get("value"), int | float):
            text = f"{stated['value'] / 1000:g}"  # in the unit that the name says
        given, otherwise = (text, "") if stated.get("from") == "row" else ("", text)
    elif isinstance(cells.get(column), str):
        given = cells[column]
    elif isinstance(cells.get(column), int | float):
        given = f"{cells[column]:g}"
    return Condition(column, NAMES.get(column, column.replace("_", " ")), given, otherwise, CHOICES.get(column, ()))


def changed(given: Mapping[str, str], conditions: Sequence[Condition]) -> dict[str, str]:
    """Of what a form gives, the cells that are not as they were; columns that are not offered are not among them."""
    before = {c.column: c.given for c in conditions}
    return {k: v.strip() for k, v in given.items() if k in before and v.strip() != before[k]}
