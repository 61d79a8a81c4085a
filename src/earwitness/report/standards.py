"""Standards and published sources that the work leans on, and the cautions that hold on every round.

No edition is named as the current one: editions change, and which one binds is the site's matter."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

EDITIONS = (
    "No edition is named here as the current one. Before a standard is cited in a contract or to an authority, look up "
    "the edition in force."
)
ALWAYS = (
    "ISO 29821: ultrasound in condition monitoring; what a record of a reading holds. It gives no universally accepted "
    "severity criteria, so none are claimed here.",
    "ANSI Z535 and ISO 3864: signal words and their colours.",
    "JCGM 101: propagation of distributions; how the intervals of computed quantities were made.",
)
BY_KIND: dict[str, tuple[str, ...]] = {
    "leak": (
        "ASTM E1002: leak testing with ultrasound. It says that it is not to be the only method for highly toxic or "
        "explosive gas.",
        "ISO 9613-1: absorption of sound in air.",
        "ISO 11011: assessment of compressed-air systems.",
    ),
    "seal": ("ASTM E1002, practice with a tone emitter: places only; no size is stated from a tone level.",),
    "bearing": (
        "ISO 17359: condition monitoring of machines, general guidance.",
        "Smith and Randall, Mechanical Systems and Signal Processing 64–65 (2015) 100–131: envelope analysis of "
        "bearings.",
    ),
    "gear": ("ISO 17359: condition monitoring of machines, general guidance.",),
    "electrical": (
        "Peek's law and the Paschen minimum: below 1 kV on a sinusoidal supply no corona is to be expected.",
    ),
}
FLAMMABLE = (
    "IEC 60079-20-1 and NFPA 497: flammable limits; the lower of the two was used.",
    "IEC 60079-10-1: release rate and dilution, used for the signal word only, not for a zone classification.",
)
GROUND_RULES = (
    "Flammable gas: gas at the leak may already be ignitable. No figure in this report gives permission to stay, enter "
    "or delay.",
    "Electrical: listen with the equipment closed, from outside the boundaries of the site's electrical risk "
    "assessment. Do not open, touch or switch; tell the authorised electrical person.",
    "Turning machinery: never reach past a guard. Pressure: isolate, vent and prove zero pressure before any joint is "
    "touched. Steam that escapes can be invisible.",
    "Confined spaces: no entry without the site's permit, whatever was heard.",
    "Headphones mask alarms. Phones and receivers that are not certified for a hazardous area stay outside it.",
    "Local rules and licensed people come before anything written here.",
)


def used(readings: list[Mapping[str, Any]]) -> tuple[str, ...]:
    """The standards that this survey's readings lean on, each once."""
    named = list(ALWAYS)
    for reading in readings:
        if reading.get("verdict") is None:
            continue
        named += BY_KIND.get(str(reading.get("kind")), ())
        if any(h.get("code", "").startswith("flammable") for h in reading.get("hazards") or ()):
            named += FLAMMABLE
    return tuple(dict.fromkeys(named))
