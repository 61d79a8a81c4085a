"""Greasing a bearing by ear: how much at most, how often, when to stop, and the log of every greasing."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import Connection

from earwitness.errors import EarwitnessError, InputError
from earwitness.ledger import Ledger, sites
from earwitness.ledger import greasing as log
from earwitness.ledger.greasing import Greasing
from earwitness.plant.assessment import rounded
from earwitness.plant.site import Point
from earwitness.programme.greasing import Dose, Stop, grease_amount, grease_interval, stop_greasing
from earwitness.report.format import digits_of
from earwitness.sentence import Sentence, say
from earwitness.work.trends import point_of, trend_of

SCHEMA = "earwitness.greasing/1"
ROSE_DB = 1.0  # after greasing higher than before: a rise that the stop rule would have stopped at
DEEP_GROOVE = ("60", "62", "63", "64", "160", "618", "619")  # series for which the interval's factor holds


@dataclass(frozen=True)
class Advice:
    point: Point
    dose: Dose | None
    interval_hours: float | None
    interval_said: Sentence
    baseline_db: float | None
    log: tuple[Greasing, ...]
    stop: Stop | None = None
    notes: tuple[Sentence, ...] = ()

    def as_json(self) -> dict[str, Any]:
        out: dict[str, Any] = {
            "schema": SCHEMA,
            "point": {"id": str(self.point.id), "name": self.point.name, "tag": self.point.tag},
            "amount": self.dose.sentence.as_json() if self.dose else None,
            "grams_most": rounded(self.dose.grams) if self.dose and self.dose.grams is not None else None,
            "interval_hours": rounded(self.interval_hours) if self.interval_hours else None,
            "interval": self.interval_said.as_json(),
            "baseline_db": self.baseline_db,
            "stop": None if self.stop is None else {"now": self.stop.stop, **self.stop.sentence.as_json()},
            "log": [_log_json(g) for g in self.log],
            "notes": [n.as_json() for n in self.notes],
        }
        return {k: v for k, v in out.items() if v is not None}


def _log_json(g: Greasing) -> dict[str, Any]:
    return {
        "at": g.at.isoformat(),
        "who": g.who,
        "grams": g.grams,
        "level_before_db": g.level_before_db,
        "levels_db": list(g.levels_db),
        "level_after_db": g.level_after_db,
        "stopped_because": g.stopped_because,
    }


def advise(
    connection: Connection,
    point: Point,
    *,
    temperature_k: float | None = None,
    vertical: bool = False,
    levels_db: Sequence[float] = (),
    grams: float = 0.0,
) -> Advice:
    """Amount, interval and log of a bearing; with the levels heard so far, whether to stop."""
    if point.kind not in ("bearing", "gear"):
        raise EarwitnessError(f"{point.name} is a {point.kind}; grease is for a bearing")
    m = point.machine
    notes: list[Sentence] = []
    dose = None
    if m.outside_m and m.width_m:
        dose = grease_amount(m.outside_m, m.width_m, m.bearing or "")
    elif m.bearing and grease_amount(0.05, 0.015, m.bearing).grams is None:
        dose = grease_amount(0.05, 0.015, m.bearing)  # sealed: no amount, whatever its size
    else:
        text = "The amount needs the bearing's outside diameter and width (outside_mm, width_mm)."
        notes.append(say("grease-size-not-known", text))
    interval, said = _interval(point, dose, temperature_k, vertical)
    done = tuple(log.greasings(connection, point.id))
    baseline = trend_of(connection, point).baseline
    most = dose.grams if dose else None
    stop = None
    if levels_db:
        level = baseline.level_db if baseline else float("-inf")
        stop = stop_greasing(list(levels_db), level, grams, most)
    notes += _over_greased(done, most, interval)
    return Advice(point, dose, interval, said, baseline.level_db if baseline else None, done, stop, tuple(notes))


def _interval(
    point: Point, dose: Dose | None, temperature_k: float | None, vertical: bool
) -> tuple[float | None, Sentence]:
    m = point.machine
    if dose is not None and dose.grams is None:
        return None, say("grease-interval-sealed", "No interval: it is sealed or shielded, and greased for its life.")
    if not (m.bore_m and m.speed_hz):
        return None, say("grease-interval-unknown", "The interval needs the bore and the speed (bore_mm, speed_rpm).")
    series = "".join(c for c in (m.bearing or "").split("-")[0] if c.isdigit())
    if not series.startswith(DEEP_GROOVE):
        text = "No interval: the formula is for deep-groove ball bearings, and {bearing} is not known to be one."
        return None, say("grease-interval-other", text, bearing=m.bearing or "this bearing")
    try:
        hours = grease_interval(m.bore_m, m.speed_hz, temperature_k=temperature_k or 343.15, vertical=vertical)
    except InputError as error:
        return None, say("grease-interval-none", "No interval: {error}.", error=str(error))
    text = "About every {hours} running hours{under}: a formula, the maker's word and the level come first."
    under = "" if temperature_k else " at 70 °C and below"
    return hours, say("grease-interval", text, hours=digits_of(hours, 2), under=under)


def _over_greased(done: Sequence[Greasing], most: float | None, interval_hours: float | None) -> list[Sentence]:
    """Signs in the log that a bearing gets too much: more than its amount, a level that rose, too often."""
    notes = []
    for g in done[-3:]:
        day = f"{g.at:%Y-%m-%d}"
        if most is not None and g.grams > most * 1.05:
            text = "On {day} {grams:.1f} g went in, more than the {most:.1f} g that it takes: too much grease kills it."
            notes.append(say("grease-too-much", text, day=day, grams=g.grams, most=most))
        if g.level_before_db is not None and g.level_after_db is not None:
            rise = g.level_after_db - g.level_before_db
            if rise >= ROSE_DB:
                text = (
                    "On {day} the level rose by {rise:.0f} dB under greasing: likely too much; let it run out, listen."
                )
                notes.append(say("grease-level-rose", text, day=day, rise=rise))
    if interval_hours is not None and len(done) >= 2:
        apart = (done[-1].at - done[-2].at) / timedelta(hours=1)
        if apart < interval_hours / 4:
            text = "Greased twice within {apart:.0f} h, where about {hours} running hours are usual: find out why."
            notes.append(say("grease-too-often", text, apart=apart, hours=digits_of(interval_hours, 2)))
    return notes


def record(
    ledger: Ledger,
    site: str | None,
    name: str,
    *,
    who: str,
    at: datetime,
    grams: float,
    before_db: float | None,
    levels_db: Sequence[float],
    after_db: float | None,
    stopped_because: str | None = None,
) -> Advice:
    """File a greasing, and say what the log now shows. A sealed bearing gets none."""
    if not grams > 0:
        raise InputError("grams", grams, "more than 0")
    with ledger.writing() as connection:
        point = point_of(connection, sites.site_of(connection, site).id, name)
        now = advise(connection, point, levels_db=levels_db, grams=grams)
        if now.dose is not None and now.dose.grams is None:
            raise EarwitnessError(f"{point.name}: {now.dose.sentence.text}")
        because = stopped_because or (now.stop.sentence.text if now.stop and now.stop.stop else None)
        done = Greasing(
            uuid.uuid4(), point.site_id, point.id, at, who, grams, before_db, tuple(levels_db), after_db, because
        )
        log.keep_greasing(connection, done)
        return advise(connection, point, levels_db=levels_db, grams=grams)
