"""The columns of the sheet: their names, what other words people head them with, and what a cell of each holds."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from earwitness import units


@dataclass(frozen=True, slots=True)
class Column:
    """`holds` is "text", "quantity", "count", "choice", "yes-no", "time", "marks", "flow", "money" or "path".
    `unit` is the one that the name carries; `low`, `high` bound the number as it is stored, both allowed."""

    name: str
    holds: str = "text"
    field: str = ""  # the field of Reading (or of its Machine, Repair)
    dimension: str = ""
    unit: str | None = None
    low: float = float("-inf")
    high: float = float("inf")
    also: tuple[str, ...] = ()


def _text(name: str, *also: str) -> Column:
    return Column(name, "text", name, also=also)


def _choice(name: str, *also: str) -> Column:
    return Column(name, "choice", name, also=also)


def _measure(
    name: str, field: str, dimension: str, unit: str | None, *also: str,
    low: float = float("-inf"), high: float = float("inf"),
) -> Column:  # fmt: skip
    return Column(name, "quantity", field, dimension, unit, low, high, also)


def _db(name: str, *also: str) -> Column:
    return _measure(name, name, "level", "dB", *also, low=-300, high=300)


def _length(name: str, field: str, unit: str, *also: str) -> Column:
    return _measure(name, field, "length", unit, *also, low=1e-7, high=1e5)


COLUMNS: tuple[Column, ...] = (
    # which
    _text("reading", "reading_id", "reading_no", "reading_number", "id", "no", "nr", "number"),
    _text("point", "point_id", "measuring_point", "measurement_point", "point_name"),
    _text("area", "hall", "department", "building"),
    _text("tag", "tag_no", "tag_number", "tag_id", "leak_tag"),
    _text("component", "machine", "asset", "equipment"),
    _text("location", "spot", "exact_spot", "where", "position_in_words"),
    _choice("kind", "type", "kind_of_reading", "what"),
    _text("verifies", "verification_of", "checks"),
    # sound
    _choice("sensor", "probe"),
    _choice("signal"),
    _text("attachment"),
    _measure("centre_khz", "centre_hz", "frequency", "kHz", "center_khz", "centre_frequency", "center_frequency",
             low=1, high=1e7),
    Column("recording", "path", "recording", also=("recording_file", "file", "filename", "file_name", "audio",
                                                   "audio_file", "sound_file", "wav", "sound")),
    Column("background_recording", "path", "background_recording", also=("background_file", "background_audio")),
    _db("gain_db"),
    _db("level_db", "db", "reading_db", "sound_level"),
    _db("background_db"),
    _db("baseline_db"),
    _db("reference_db"),
    _length("distance_m", "distance_m", "m"),
    # state
    _choice("status"),
    _measure("load_percent", "load_percent", "percent", "%", low=0, high=300),
    Column("taken_at", "time", "taken_at", also=("taken", "date", "time", "datetime", "date_time", "date_and_time",
                                                 "timestamp", "when", "time_taken")),
    _choice("place", "indoors_outdoors", "indoor_outdoor"),
    _choice("hazardous_area", "hazardous_zone", "ex_zone", "atex_zone"),
    # gas
    _text("medium", "gas", "fluid", "media"),
    _measure("pressure", "pressure_abs", "pressure", None, "line_pressure", "system_pressure", "gauge_pressure",
             low=0, high=1e9),
    _measure("pressure_downstream", "pressure_downstream_abs", "pressure", None, "downstream_pressure",
             "back_pressure", low=0, high=1e9),
    _measure("temperature_c", "temperature_k", "temperature", "degC", low=1, high=5000),
    _length("opening_mm", "opening_m", "mm", "hole_mm", "hole", "hole_size"),
    Column("flow", "flow", "flow", "flow", also=("measured_flow", "flow_measured", "leak_rate", "flow_rate")),
    _measure("hours_per_year", "hours_per_year", "hours", "h", "operating_hours", "h/year", "hours/year",
             "h/a", low=0, high=8784),
    _choice("cause"),
    _choice("confirmed", "confirmed_by"),
    # machine
    _measure("speed_rpm", "machine.speed_hz", "speed", "rpm", "rpm", "shaft_speed", "rotation_speed",
             low=1e-4, high=5000),
    Column("bearing", "text", "machine.bearing", also=("bearing_type", "bearing_no", "bearing_number",
                                                       "bearing_designation")),
    Column("rolling_elements", "count", "machine.rolling_elements", low=3, high=1000, also=("balls", "rollers")),
    _length("element_mm", "machine.element_m", "mm", "ball_mm", "element_diameter"),
    _length("pitch_mm", "machine.pitch_m", "mm", "pitch_diameter"),
    _measure("contact_angle_deg", "machine.contact_angle_rad", "angle", "deg", low=0, high=1.58),
    _length("bore_mm", "machine.bore_m", "mm", "bore_diameter"),
    _length("outside_mm", "machine.outside_m", "mm", "outside_diameter"),
    _length("width_mm", "machine.width_m", "mm"),
    Column("teeth", "count", "machine.teeth", low=3, high=10_000),
    Column("mate_teeth", "count", "machine.mate_teeth", low=3, high=10_000),
    # electrical
    _measure("mains_hz", "mains_hz", "frequency", "Hz", "mains_frequency", low=10, high=1000),
    _measure("voltage_v", "voltage_v", "voltage", "V", "nominal_voltage", low=1, high=2e6),
    _choice("supply"),
    # valve, trap
    _db("upstream_db"),
    _db("downstream_db"),
    _db("beyond_db"),
    _choice("position_commanded", "commanded_position", "commanded"),
    _choice("trap_type"),
    _measure("upstream_c", "upstream_k", "temperature", "degC", "upstream_temperature", low=1, high=5000),
    _measure("downstream_c", "downstream_k", "temperature", "degC", "downstream_temperature", low=1, high=5000),
    # sweep
    _length("sweep_length_m", "sweep_length_m", "m"),
    Column("sweep_marks", "marks", "sweep_marks"),
    # room
    _measure("room_m3", "room_m3", "volume", "m3", "room_volume", low=1e-3, high=1e8),
    _measure("ventilation", "ventilation_m3_s", "volume flow", None, "ventilation_rate", "air_flow",
             low=0, high=1e6),
    # repair
    _measure("repair_hours", "repair.hours", "hours", "h", "repair_time", low=0, high=1e5),
    Column("repair_cost", "money", "repair.cost", also=("cost_of_repair",)),
    Column("craft", "text", "repair.craft", also=("trade",)),
    Column("access", "text", "repair.access"),
    Column("isolation", "text", "repair.isolation"),
    Column("shutdown", "yes-no", "repair.shutdown", also=("shutdown_needed", "needs_shutdown")),
    Column("parts", "text", "repair.parts", also=("spare_parts",)),
    Column("fixed_now", "yes-no", "repair.fixed_now", also=("fixed", "repaired")),
    Column("level_after_db", "quantity", "repair.level_after_db", "level", "dB", -300, 300),
    Column("reported_to", "text", "repair.reported_to"),
    Column("reported_at", "time", "repair.reported_at"),
    # rest
    Column("photo", "path", "photo", also=("picture", "image", "photo_file")),
    _text("note", "notes", "remark", "remarks", "comment", "comments"),
)  # fmt: skip
BY_NAME: Mapping[str, Column] = {column.name: column for column in COLUMNS}
_BARE = re.compile(r"^(?P<name>.*?)\s*[\[(](?P<unit>.*)[\])]\s*$", re.DOTALL)
_SUFFIXES = ("_khz", "_mm", "_m", "_c", "_deg", "_hz", "_v", "_db", "_rpm", "_percent", "_m3")

_ONE_UNIT = ("level", "percent")  # a bare number under any name of these can mean one thing only


@dataclass(frozen=True, slots=True)
class Heading:
    """A column of the sheet: what it is, the unit that serves its cells, and how it was headed."""

    column: Column
    unit: str | None
    exact: bool


@cache
def _names() -> Mapping[str, tuple[Column, bool]]:
    """Every spelling of a column's name, and whether that spelling still carries the unit."""
    names: dict[str, tuple[Column, bool]] = {}
    for column in COLUMNS:
        for also in column.also:
            carries = also in ("rpm", "h/year", "hours/year", "h/a") or also.endswith(_SUFFIXES)
            names.setdefault(also, (column, carries or column.dimension in _ONE_UNIT))
        for suffix in _SUFFIXES:
            if column.unit and column.name.endswith(suffix):
                names.setdefault(column.name.removesuffix(suffix), (column, column.dimension in _ONE_UNIT))
    return names | {column.name: (column, True) for column in COLUMNS}


def normal(header: str) -> str:
    """A header in the spelling of the column names: "Level dB" is level_db."""
    return _spelled(header).casefold()


def _spelled(header: str) -> str:
    header = unicodedata.normalize("NFKC", header).strip().strip("*:")
    return re.sub(r"[\s\-_.]+", "_", header).strip("_")


def heading(header: str) -> Heading | None:
    """What a header stands for, None where it is a column of their own.

    Examples
    --------
    >>> heading("Pressure [bar(g)]").unit, heading("distance (cm)").column.name, heading("opening_in").unit
    ('bar(g)', 'distance_m', 'in')
    """
    header = " ".join(header.split())
    if len(header) > 120:
        return None
    plain = normal(header)
    if plain in _names():
        column, carries = _names()[plain]
        return Heading(column, column.unit if carries else None, plain == column.name)
    if match := _BARE.match(header):
        name, unit = normal(match["name"]), match["unit"].strip()
        if name in _names():
            column, carries = _names()[name]
            if _fits(column, unit):
                return Heading(column, unit, name == column.name)
            return Heading(column, column.unit if carries else None, name == column.name)
    for base, (column, _) in _names().items():
        unit = _spelled(header)[len(base) + 1 :]
        if plain.startswith(base + "_") and column.holds in ("quantity", "flow") and _fits(column, unit):
            return Heading(column, unit, False)
    return None


def _fits(column: Column, unit: str) -> bool:
    if column.holds == "money":
        return len(unit) <= 5
    if column.holds not in ("quantity", "flow"):
        return False
    return bool(unit) and units.fits(column.dimension or "flow", unit)


@cache
def recognised(header: str) -> str | None:
    """The name of the column that a header stands for."""
    found = heading(header)
    return found.column.name if found else None
