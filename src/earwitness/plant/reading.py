"""A reading: one listen at one point, as the inspector noted it, in SI units and absolute pressure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from earwitness.sentence import Sentence

KINDS = ("leak", "seal", "bearing", "gear", "electrical", "valve", "trap", "other")
STATUSES = ("read", "not-reached", "not-running", "not-pressurised", "unreadable")


@dataclass(frozen=True)
class Given:
    """A quantity as it was given and as it is used: the text, the SI value, the unit, and where it came from
    ("row", "survey", "site settings", "default")."""

    given: str
    value: float
    unit: str
    source: str = "row"

    def as_json(self) -> dict[str, Any]:
        return {"given": self.given, "value": self.value, "unit": self.unit, "from": self.source}


@dataclass(frozen=True)
class MeasuredFlow:
    """A flow read on a meter or a bag: mass flow [kg/s], or volume flow [m3/s] at a stated reference condition."""

    value: float
    unit: str  # "kg/s" or "m3/s"
    given: str
    reference_temperature_k: float | None = None
    reference_pressure_abs: float | None = None
    reference_name: str | None = None


@dataclass(frozen=True)
class Problem:
    """Something that could not be read or used: where, what was wrong and what would do. `row` is the sheet's row
    number as a person counts it (the header is row 1); None where it concerns the whole survey."""

    row: int | None
    column: str | None
    sentence: Sentence
    file: str | None = None

    def as_json(self) -> dict[str, Any]:
        place: dict[str, Any] = {"row": self.row, "column": self.column}
        if self.file is not None:
            place["file"] = self.file
        return place | self.sentence.as_json()


@dataclass(frozen=True)
class Machine:
    speed_hz: float | None = None
    bearing: str | None = None
    rolling_elements: int | None = None
    element_m: float | None = None
    pitch_m: float | None = None
    contact_angle_rad: float | None = None
    bore_m: float | None = None
    outside_m: float | None = None
    width_m: float | None = None
    teeth: int | None = None
    mate_teeth: int | None = None


@dataclass(frozen=True)
class Repair:
    hours: float | None = None
    cost: float | None = None  # in the survey's currency
    cost_currency: str | None = None
    craft: str | None = None
    access: str | None = None
    isolation: str | None = None
    shutdown: bool | None = None
    parts: str | None = None
    fixed_now: bool | None = None
    level_after_db: float | None = None
    reported_to: str | None = None
    reported_at: str | None = None


@dataclass(frozen=True)
class Reading:
    reading: str
    row: int
    kind: str
    status: str = "read"
    point: str | None = None
    area: str | None = None
    tag: str | None = None
    component: str | None = None
    location: str | None = None
    verifies: str | None = None
    # sound
    sensor: str | None = None
    signal: str | None = None
    attachment: str | None = None
    centre_hz: float | None = None
    recording: str | None = None  # path below the survey folder, with forward slashes
    background_recording: str | None = None
    gain_db: float | None = None
    level_db: float | None = None
    background_db: float | None = None
    baseline_db: float | None = None
    reference_db: float | None = None
    distance_m: float | None = None
    # state
    load_percent: float | None = None
    taken_at: datetime | None = None
    place: str | None = None  # indoors, outdoors, confined; None counts as indoors
    hazardous_area: str | None = None
    # gas
    medium: str | None = None
    pressure_abs: float | None = None  # Pa
    pressure_downstream_abs: float | None = None  # Pa
    temperature_k: float | None = None
    opening_m: float | None = None
    flow: MeasuredFlow | None = None
    hours_per_year: float | None = None
    cause: str | None = None
    confirmed: str | None = None
    machine: Machine = Machine()
    # electrical
    mains_hz: float | None = None
    voltage_v: float | None = None
    supply: str | None = None
    # valve, trap
    upstream_db: float | None = None
    downstream_db: float | None = None
    beyond_db: float | None = None
    position_commanded: str | None = None
    trap_type: str | None = None
    upstream_k: float | None = None
    downstream_k: float | None = None
    # sweep: (seconds, metres)
    sweep_length_m: float | None = None
    sweep_marks: tuple[tuple[float, float], ...] = ()
    # room
    room_m3: float | None = None
    ventilation_m3_s: float | None = None
    repair: Repair = Repair()
    photo: str | None = None
    note: str | None = None
    conditions: Mapping[str, Given] = field(default_factory=dict)  # every quantity that was given, by column
    notes: tuple[Sentence, ...] = ()
    problems: tuple[Problem, ...] = ()
    extra: Mapping[str, str] = field(default_factory=dict)  # their own columns, carried through

    @property
    def seen(self) -> bool:
        """Somebody saw the leak itself: with soap, on a meter, or opened."""
        return self.kind == "leak" and self.confirmed in ("soap", "meter", "opened")

    @property
    def repeats(self) -> Sentence | None:
        """What the row is told where it repeats another in every cell: it counts once."""
        return next((p.sentence for p in self.problems if p.sentence.code == "duplicate-row"), None)
