"""What a record of such a survey must hold, and whether this one does: what is missing is said, not passed over."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from earwitness.report import wording
from earwitness.report.format import when
from earwitness.report.model import Said

NOT_STATED = "not stated"


def record(findings: Mapping[str, Any]) -> tuple[Said, ...]:
    """Inspector and qualification, date, instrument with serial and last check, references and conditions."""
    survey = findings.get("survey") or {}
    instrument = survey.get("instrument") or {}
    site = survey.get("conditions") or survey.get("site_conditions") or {}
    readings = [r for r in findings.get("readings") or () if r.get("status", "read") == "read"]
    lines = [
        ("Site", survey.get("site")),
        ("Date", when(str(survey["date"])) if survey.get("date") else None),
        ("Inspector", survey.get("inspector")),
        ("Qualification", survey.get("qualification")),
        ("Receiver", instrument.get("receiver")),
        ("Serial number", instrument.get("serial")),
        ("Sensor", instrument.get("sensor")),
        ("Tuned to", _tuned(instrument)),
        ("Last sensitivity check", instrument.get("last_check")),
        ("What the displayed dB refers to", instrument.get("level_ref")),
        ("Mains frequency", _given(site.get("mains_hz"), " Hz")),
        ("Temperature and humidity", _weather(site)),
    ]
    said = [Said(label, str(value) if value not in (None, "") else NOT_STATED) for label, value in lines]
    return (*said, *_for_all(readings), *_per_reading(readings))


def _for_all(readings: list[Any]) -> tuple[Said, ...]:
    """What was set once for the whole survey and used for its readings."""
    found: dict[Said, None] = {}
    for reading in readings:
        for name, given in (reading.get("conditions") or {}).items():
            if isinstance(given, Mapping) and given.get("from") in ("survey", "site settings"):
                found[Said(*wording.condition(name, given))] = None
    return tuple(found)


def _per_reading(readings: list[Any]) -> tuple[Said, ...]:
    """For what belongs to each reading: for how many of them it is there."""
    wanted = (
        ("Time of each reading", lambda r: r.get("taken_at")),
        ("Distance", lambda r: "distance_m" in (r.get("conditions") or {})),
        ("Level", lambda r: "level_db" in (r.get("conditions") or {})),
        ("Background level", lambda r: "background_db" in (r.get("conditions") or {})),
        ("Recording", lambda r: r.get("recording")),
        ("Photo", lambda r: r.get("photo")),
    )
    total = len(readings)
    return tuple(Said(label, f"given for {sum(bool(test(r)) for r in readings)} of {total} readings taken")
                 for label, test in wanted) if total else ()  # fmt: skip


def _tuned(instrument: Mapping[str, Any]) -> str | None:
    if instrument.get("centre_khz") is not None:
        return f"{instrument['centre_khz']:g} kHz" if isinstance(instrument["centre_khz"], int | float) else str(
            instrument["centre_khz"])  # fmt: skip
    if isinstance(instrument.get("centre_hz"), int | float):
        return f"{instrument['centre_hz'] / 1000:g} kHz"
    return None


def _given(value: Any, unit: str) -> str | None:
    return None if value is None else f"{value:g}{unit}" if isinstance(value, int | float) else str(value)


def _weather(site: Mapping[str, Any]) -> str | None:
    """Temperature and humidity as stated, or from their SI values."""
    parts = []
    if site.get("temperature") is not None:
        parts.append(str(site["temperature"]))
    elif isinstance(site.get("temperature_k"), int | float):
        parts.append(f"{site['temperature_k'] - 273.15:.0f} °C")
    humidity = site.get("humidity")
    if isinstance(humidity, int | float):
        parts.append(f"{humidity * 100:.0f} % relative humidity")
    elif humidity:
        parts.append(str(humidity))
    return ", ".join(parts) or None
