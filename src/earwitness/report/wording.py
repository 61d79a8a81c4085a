"""What each verdict, status, method and condition is called on paper. What was heard, never more."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from earwitness.report.format import SPACE, likely, unit_for, with_interval

Reading = Mapping[str, Any]

FAULTS: dict[str, tuple[str, str]] = {  # verdict: (one, many)
    "leak": ("leak", "leaks"),
    "passage": ("place where the tone comes through", "places where the tone comes through"),
    "outer-race": ("bearing with damage at the outer race", "bearings with damage at the outer race"),
    "inner-race": ("bearing with damage at the inner race", "bearings with damage at the inner race"),
    "rolling-element": ("bearing with a damaged rolling element", "bearings with a damaged rolling element"),
    "cage": ("bearing with a damaged cage", "bearings with a damaged cage"),
    "irregular": ("bearing with impacts out of rhythm", "bearings with impacts out of rhythm"),
    "friction": ("bearing with raised friction", "bearings with raised friction"),
    "tooth": ("gear with a tooth that strikes", "gears with a tooth that strikes"),
    "wear": ("gear with worn mesh", "gears with worn mesh"),
    "corona": ("corona discharge", "corona discharges"),
    "tracking": ("tracking discharge", "tracking discharges"),
    "arcing": ("arcing", "arcings"),
    "mains-hum": ("mains hum (mechanical)", "mains hums (mechanical)"),
    "passing": ("valve that passes", "valves that pass"),
    "blowing": ("steam trap that blows", "steam traps that blow"),
    "blocked": ("steam trap that is blocked", "steam traps that are blocked"),
}
QUIET: dict[str, str] = {
    "no-leak-heard": "No leak heard",
    "no-passage-heard": "No passage heard",
    "no-fault-heard": "No fault heard",
    "no-discharge-heard": "No discharge heard",
    "working": "Steam trap heard working",
}
STATUS: dict[str, str] = {
    "not-reached": "not reached",
    "not-running": "not running",
    "not-pressurised": "not pressurised",
    "unreadable": "row could not be read",
}
KINDS: dict[str, str] = {
    "leak": "leak",
    "seal": "seal (tone test)",
    "bearing": "bearing",
    "gear": "gear",
    "electrical": "electrical",
    "valve": "valve",
    "trap": "steam trap",
    "other": "not stated",
}
METHODS: dict[str, str] = {
    "measured": "measured",
    "opening": "from the opening and the pressure",
    "calibration": "from the site's own calibration leaks",
    "level": "from the level alone: rough",
    "reconciled": "adjusted to the whole system",
}
QUANTITIES: dict[str, str] = {
    "volume_flow": "escapes, as volume",
    "mass_flow": "escapes, as mass",
    "cost_per_year": "wastes",
    "saving_per_year": "of which would come back",
    "energy_per_year": "energy",
    "carbon_per_year": "carbon dioxide",
}
CONDITIONS: dict[str, str] = {"pressure_downstream": "pressure downstream", "temperature_c": "temperature"}
SUFFIXES = {"_db": " dB", "_hz": " Hz", "_khz": " kHz", "_rpm": " rpm", "_mm": " mm", "_m": " m", "_m3": " m³"} | {
    "_deg": "°", "_v": " V", "_c": " °C", "_percent": " %",
}  # fmt: skip


def fault(reading: Reading, *, many: bool = False) -> str:
    """What a verdict is called, with what escapes where that is known."""
    verdict = str(reading.get("fault") or reading.get("verdict") or "")
    name = FAULTS.get(verdict, (verdict.replace("-", " "),) * 2)[1 if many else 0]
    if verdict == "leak":
        medium = str(reading.get("medium") or "").strip()
        if medium == "vacuum":
            return "leak into the vacuum" if not many else "leaks into the vacuum"
        return f"{medium} {name}".strip()
    return name


def is_undecided(reading: Reading) -> bool:
    """Read, but with no definite answer (a verdict unknown to this report counts here, so that no reading is lost)."""
    known = {*QUIET, *FAULTS}
    return reading.get("status", "read") == "read" and reading.get("verdict") not in known and not is_seen(reading)


def is_seen(reading: Reading) -> bool:
    """Somebody saw what is wrong; the sound itself did not tell it."""
    return bool(reading.get("fault")) and reading.get("fault") != reading.get("verdict")


def capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def headline(reading: Reading) -> str:
    """The finding in one sentence; the summary that came with the data, where one did."""
    given = reading.get("summary")
    if isinstance(given, Mapping) and given.get("text"):
        return str(given["text"])
    status, verdict = reading.get("status", "read"), reading.get("verdict")
    if status != "read":
        return capital(STATUS.get(str(status), str(status))) + "."
    if verdict is None:
        return "Not judged."
    if verdict == "inconclusive" and not is_seen(reading):
        return "Not decided."
    probability = reading.get("probability")
    sure = f", {likely(probability)}" if isinstance(probability, int | float) else ""
    if is_seen(reading):
        sure = f", seen ({reading.get('confirmed')}) though not told by its sound"
    elif verdict in QUIET:
        return f"{QUIET[verdict]}{sure}."
    parts = [capital(fault(reading)) + sure]
    places = reading.get("places") or []
    if verdict == "passage" and len(places) > 1:
        parts[0] = f"The tone comes through at {len(places)}{SPACE}places{sure}"
    flow = escapes(reading)
    sentence = ", ".join([*parts, *([flow] if flow else [])])
    wastes, saves = shown(reading, "cost_per_year"), shown(reading, "saving_per_year")
    if wastes:
        sentence += f"; wastes {wastes}"
        if saves and controlled(reading):
            sentence += f", of which the controls give back {saves}"
    return sentence + "."


def controlled(reading: Reading) -> bool:
    """True where a compressor's or a pump's controls decide what a closed leak gives back (air, vacuum); what another
    gas costs is saved whole."""
    return str(reading.get("medium") or "air").strip().lower() in {"air", "compressed air", "vacuum"}


def shown(reading: Reading, name: str) -> str:
    """A quantity of a reading with its interval; empty where it is not known."""
    quantity = (reading.get("quantities") or {}).get(name)
    if not isinstance(quantity, Mapping):
        return ""
    return with_interval(quantity, unit_for(name, quantity))


def escapes(reading: Reading) -> str:
    """How much escapes, with its interval; empty where it is not known."""
    return shown(reading, "volume_flow") or shown(reading, "mass_flow")


def method(quantity: Mapping[str, Any]) -> str:
    """By which road the number came, and the coverage of its interval."""
    name = str(quantity.get("method", ""))
    parts = [METHODS.get(name, name.replace("-", " ").replace("_", " "))]
    if isinstance(quantity.get("coverage"), int | float) and quantity.get("low") is not None:
        parts.append(f"{quantity['coverage'] * 100:.0f}{SPACE}% interval")
    return "; ".join(p for p in parts if p)


def condition(name: str, given: Mapping[str, Any]) -> tuple[str, str]:
    """A condition as it was given: its name in words, and the text with its unit. A bare number is in the unit of its
    column, or, where it is the SI value itself, in the unit that stands beside that."""
    text = str(given.get("given", ""))
    suffix = next((x for x in sorted(SUFFIXES, key=len, reverse=True) if name.endswith(x)), "")
    if re.fullmatch(r"[+-]?\d+([.,]\d+)?", text):
        si = float(text.replace(",", ".")) == given.get("value") and given.get("unit")
        text += f"{SPACE}{given['unit']}".removesuffix(f"{SPACE}1") if si else SUFFIXES.get(suffix, "")
    label = name.removesuffix(suffix) if suffix else name
    label = CONDITIONS.get(name, label.replace("_", " "))
    origin = given.get("from")
    if origin == "survey":
        text += " (from the survey's settings)"
    elif origin == "site settings":
        text += " (from the site's settings)"
    elif origin == "default":
        text += " (assumed)"
    return label, text
