"""Columns that take one of a few words, and the other words that people write for them."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping

from earwitness.plant.reading import KINDS, STATUSES
from earwitness.sentence import say
from earwitness.units import UnitError

CHOICES: Mapping[str, tuple[str, ...]] = {
    "kind": KINDS,
    "sensor": ("airborne", "contact"),
    "signal": ("heterodyned", "direct"),
    "status": tuple(status for status in STATUSES if status != "unreadable"),
    "place": ("indoors", "outdoors", "confined"),
    "hazardous_area": ("no", "0", "1", "2", "20", "21", "22"),
    "cause": ("fault", "deliberate", "drain"),
    "confirmed": ("soap", "meter", "opened", "not-found"),
    "supply": ("sinusoidal", "inverter"),
    "position_commanded": ("closed", "open"),
    "trap_type": ("thermodynamic", "float", "bucket", "thermostatic"),
    "control": ("load-unload", "inlet-modulation", "variable-displacement", "variable-speed", "start-stop"),
}
_ALSO: Mapping[str, Mapping[str, str]] = {
    "kind": {
        "air-leak": "leak", "gas-leak": "leak", "leakage": "leak", "tightness": "seal", "gasket": "seal",
        "electric": "electrical", "electricity": "electrical", "discharge": "electrical", "gearbox": "gear",
        "steam-trap": "trap", "unknown": "other",
    },
    "sensor": {"air": "airborne", "air-probe": "airborne", "touch": "contact", "contact-probe": "contact"},
    "signal": {"heterodyne": "heterodyned", "raw": "direct"},
    "status": {
        "ok": "read", "done": "read", "running": "read", "not-accessible": "not-reached", "inaccessible": "not-reached",
        "no-access": "not-reached", "not-accessed": "not-reached", "off": "not-running", "stopped": "not-running",
        "standstill": "not-running", "no-pressure": "not-pressurised", "depressurised": "not-pressurised",
        "not-pressurized": "not-pressurised", "depressurized": "not-pressurised",
    },
    "place": {
        "indoor": "indoors", "inside": "indoors", "in": "indoors", "outdoor": "outdoors", "outside": "outdoors",
        "out": "outdoors", "confined-space": "confined",
    },
    "hazardous_area": {"none": "no", "n": "no", "false": "no", "not-classified": "no", "unclassified": "no"},
    "cause": {"on-purpose": "deliberate", "intended": "deliberate", "defect": "fault"},
    "confirmed": {"soapy-water": "soap", "metered": "meter", "none-found": "not-found"},
    "supply": {"sine": "sinusoidal", "sinus": "sinusoidal", "mains": "sinusoidal", "vfd": "inverter",
               "vsd": "inverter", "drive": "inverter"},
    "position_commanded": {"shut": "closed", "close": "closed", "opened": "open"},
    "trap_type": {"disc": "thermodynamic", "disk": "thermodynamic", "ball-float": "float", "inverted-bucket": "bucket",
                  "balanced-pressure": "thermostatic", "bimetallic": "thermostatic"},
    "control": {"load/unload": "load-unload", "modulation": "inlet-modulation", "vsd": "variable-speed",
                "start/stop": "start-stop", "on/off": "start-stop"},
}  # fmt: skip
_YES = frozenset(["yes", "y", "true", "t", "1", "x", "✓", "✔", "ja", "j", "oui", "si", "sí"])
_NO = frozenset(["no", "n", "false", "f", "0", "nein", "non"])


def choice(column: str, text: str, *, where: str) -> str:
    """The allowed word that `text` is, whatever its case and spacing.

    Examples
    --------
    >>> choice("status", "Not Running", where="row 3"), choice("kind", "Air leak", where="row 3")
    ('not-running', 'leak')
    """
    allowed = CHOICES[column]
    word = re.sub(r"[\s_\-]+", "-", text.strip().casefold())
    if column == "hazardous_area":
        word = re.sub(r"^(?:zone|ex-?zone)-?", "", word).removesuffix(".0")
    for candidate in (word, word.removesuffix("s")):
        if candidate in allowed:
            return candidate
        if candidate in _ALSO[column]:
            return _ALSO[column][candidate]
    near = difflib.get_close_matches(word[:60], allowed, 1, 0.6)
    raise UnitError(
        say(
            "not-one-of",
            "{where}: '{given}' is not one of {allowed}" + ("; did you mean '{near}'?" if near else "."),
            where=where, given=" ".join(text.split())[:60], allowed=", ".join(allowed), near=near[0] if near else "",
        )
    )  # fmt: skip


def yes_or_no(text: str, *, where: str) -> bool:
    """True for yes, false for no, in the common spellings."""
    word = text.strip().casefold()
    if word in _YES or word in _NO:
        return word in _YES
    raise UnitError(
        say(
            "not-yes-or-no", "{where}: '{given}' is neither yes nor no.", where=where, given=" ".join(text.split())[:60]
        )
    )
