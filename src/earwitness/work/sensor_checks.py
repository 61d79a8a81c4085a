"""One minute on a fixed source each round: what it says of the sensor, and of the readings taken with it."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from statistics import stdev
from typing import Any

from sqlalchemy import Connection

from earwitness.errors import EarwitnessError
from earwitness.ledger import Ledger, sites, system_tests
from earwitness.plant.site import SensitivityCheck
from earwitness.sentence import Sentence, say

FEWEST = 3  # checks from which the spread between rounds is taken


@dataclass(frozen=True)
class Sensor:
    """Checks by instrument; `between_db`: standard deviation from round to round, None where not known."""

    instrument_of: Mapping[uuid.UUID, uuid.UUID]  # by survey
    checks: Mapping[uuid.UUID, Sequence[SensitivityCheck]]
    between_db: float | None
    notes: tuple[Sentence, ...]

    def mistrust(self, survey_id: uuid.UUID, day: date) -> Sentence | None:
        """Why a reading of that survey is not to be compared: the last check before it failed."""
        instrument = self.instrument_of.get(survey_id)
        before = [c for c in self.checks.get(instrument, ()) if c.day <= day] if instrument else []
        if not before or before[-1].passed:
            return None
        last = before[-1]
        text = "The sensor had failed its check on {day} ({level:.0f} dB, {expected:.0f} dB expected)."
        return say("sensor-failed", text, day=last.day.isoformat(), level=last.level_db, expected=last.expected_db)

    def as_json(self) -> dict[str, Any]:
        latest = [list(c)[-1] for c in self.checks.values() if c]
        return {
            "checks": sum(len(c) for c in self.checks.values()),
            "between_rounds_db": self.between_db,
            "latest": [{"day": c.day.isoformat(), "level_db": c.level_db, "passed": c.passed} for c in latest],
        }


def sensor_of(connection: Connection, site_id: uuid.UUID, survey_ids: set[uuid.UUID]) -> Sensor | None:
    """What the checks say of the instruments of these surveys; None where none was ever checked."""
    of = system_tests.instruments_of(connection, survey_ids)
    checks = system_tests.checks(connection, set(of.values()))
    if not any(checks.values()):
        return None
    passed = [[c.level_db - c.expected_db for c in them if c.passed] for them in checks.values()]
    enough = [p for p in passed if len(p) >= FEWEST]
    between = max(stdev(p) for p in enough) if enough else None
    notes = []
    for them in checks.values():
        if them and not them[-1].passed:
            last = them[-1]
            text = (
                "The sensor failed its last check ({day}: {level:.0f} dB, {expected:.0f} dB expected): have it mended "
                "and checked before its levels are trusted."
            )
            args = {"day": last.day.isoformat(), "level": last.level_db, "expected": last.expected_db}
            notes.append(say("sensor-failing", text, **args))
        elif len(them) >= FEWEST and _drifts(them):
            text = "The checks fall by {fall:.1f} dB from the first to the last: the sensor is losing sensitivity."
            notes.append(say("sensor-drifting", text, fall=them[0].level_db - them[-1].level_db))
    return Sensor(of, checks, between, tuple(notes))


def _drifts(checks: Sequence[SensitivityCheck]) -> bool:
    """Each check below the one before, by more than half the tolerance in all."""
    levels = [c.level_db for c in checks[-FEWEST:]]
    falling = all(a > b for a, b in pairwise(levels))
    return falling and levels[0] - levels[-1] > checks[-1].tolerance_db / 2


def record_check(ledger: Ledger, site: str | None, serial: str | None, check: SensitivityCheck) -> tuple[str, bool]:
    """File a check of the instrument with that serial number (the only one where none is named); its words, and
    whether it passed."""
    with ledger.writing() as connection:
        home = sites.site_of(connection, site)
        known = system_tests.instruments(connection, home.id)
        found = [i for i in known if serial is None or (i.serial or "").casefold() == serial.casefold().strip()]
        if len(found) != 1:
            listed = "; ".join(f"{i.receiver} {i.serial} {i.sensor}" for i in known[:8]) or "none"
            raise EarwitnessError(f"which instrument? name one with --serial; the ledger knows: {listed}")
        system_tests.keep_check(connection, found[0].id, check)
        words = " ".join(w for w in (found[0].receiver, found[0].serial, found[0].sensor) if w)
    return words, check.passed
