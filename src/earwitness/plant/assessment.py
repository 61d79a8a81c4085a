"""An assessment: what one reading was judged to be, in the contract's shape (earwitness.survey/1)."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from earwitness.hearing.evidence import Evidence, Place
from earwitness.interval import Interval, Uncertain
from earwitness.plant.reading import Problem, Reading
from earwitness.sentence import Sentence

FAULTS = frozenset(
    {
        "leak",
        "passage",
        *("outer-race", "inner-race", "rolling-element", "cage", "irregular", "friction"),
        *("tooth", "wear"),
        *("corona", "tracking", "arcing", "mains-hum"),
        "passing",
        *("blowing", "blocked"),
    }
)
INTERVAL_DIGITS = 4  # significant digits kept in files; what is shown has fewer


def rounded(value: float, digits: int = INTERVAL_DIGITS) -> float:
    """`value` to so many significant digits: below what any reading deserves, above what rounding would show."""
    if value == 0 or not math.isfinite(value):
        return 0.0 if value == 0 else value
    return round(value, digits - 1 - math.floor(math.log10(abs(value))))


@dataclass(frozen=True)
class Quantity:
    """A number with its interval, its unit, the road it came by, and the condition that a volume refers to."""

    interval: Interval
    unit: str
    method: str
    reference: str | None = None

    def as_json(self) -> dict[str, Any]:
        i = self.interval
        out: dict[str, Any] = {
            "value": rounded(i.value),
            "low": rounded(i.low),
            "high": rounded(i.high),
            "mean": rounded(i.mean),
            "unit": self.unit,
            "method": self.method,
            "coverage": i.coverage,
        }
        return out | ({"reference": self.reference} if self.reference else {})


@dataclass(frozen=True)
class FitnessNote:
    code: str
    sentence: Sentence
    spoils: tuple[str, ...]


@dataclass(frozen=True)
class RecordingUsed:
    file: str
    sha256: str
    seconds: float
    rate_hz: float
    channels: int
    channel_used: int  # counted from 1
    codec: str

    def as_json(self) -> dict[str, Any]:
        return {
            "file": self.file,
            "sha256": self.sha256,
            "seconds": round(self.seconds, 3),
            "rate_hz": self.rate_hz,
            "channels": self.channels,
            "channel_used": self.channel_used,
            "codec": self.codec,
        }


@dataclass(frozen=True)
class Warned:
    """A hazard as the report and the file carry it."""

    code: str
    args: Mapping[str, Any]
    signal_word: str
    text: str
    basis: str
    first_actions: tuple[Sentence, ...]
    urgent: bool

    def as_json(self) -> dict[str, Any]:
        return {
            "code": self.code,
            "args": dict(self.args),
            "signal_word": self.signal_word,
            "text": self.text,
            "basis": self.basis,
            "first_actions": [s.as_json() for s in self.first_actions],
        }


@dataclass(frozen=True)
class Assessment:
    reading: Reading
    finding: str | None = None  # identifier of what is wrong; None where nothing was found
    recording: RecordingUsed | None = None
    fit: bool | None = None
    fitness: tuple[FitnessNote, ...] = ()
    verdict: str | None = None
    probability: float | None = None
    probabilities: Mapping[str, float] = field(default_factory=dict)
    probability_basis: str = "simulated sound"
    detector: str | None = None
    detector_version: str | None = None
    severity: Sentence | None = None
    evidence: tuple[Evidence, ...] = ()
    quantities: Mapping[str, Quantity] = field(default_factory=dict)
    spreads: Uncertain | None = None  # of the flow: own and shared ln standard deviations
    spread: Uncertain | None = None  # of the mass flow
    amounts: Mapping[str, Uncertain] = field(default_factory=dict)  # what the totals draw from, by quantity
    currency: str = ""  # of the money among these amounts
    of_air: bool = False  # the amounts are of compressed air
    counts: bool = False
    counts_why: str = ""
    places: tuple[Place, ...] = ()
    places_m: tuple[float | None, ...] = ()
    hazards: tuple[Warned, ...] = ()
    rank: int | None = None
    next_step: Sentence | None = None
    cautions: tuple[Sentence, ...] = ()
    notes: tuple[Sentence, ...] = ()
    problems: tuple[Problem, ...] = ()

    @property
    def fault(self) -> str | None:
        """What is wrong by what was heard, or by what somebody saw whatever was heard; None where nothing is known."""
        if self.verdict in FAULTS:
            return self.verdict
        return "leak" if self.reading.seen else None

    @property
    def urgent(self) -> bool:
        return any(h.urgent for h in self.hazards)

    @property
    def signal_word(self) -> str | None:
        words = {h.signal_word for h in self.hazards}
        return next((w for w in ("DANGER", "WARNING", "CAUTION", "NOTICE") if w in words), None)

    def as_json(self) -> dict[str, Any]:
        r = self.reading
        out: dict[str, Any] = {
            "reading": r.reading,
            "row": r.row,
            "point": r.point,
            "area": r.area,
            "tag": r.tag,
            "component": r.component,
            "location": r.location,
            "kind": r.kind,
            "status": r.status,
            "taken_at": r.taken_at.isoformat() if r.taken_at else None,
            "verifies": r.verifies,
            "medium": r.medium,
            "cause": r.cause,
            "confirmed": r.confirmed,
            "fault": self.fault,
            "finding": self.finding,
            "conditions": {name: given.as_json() for name, given in r.conditions.items()},
            "recording": self.recording.as_json() if self.recording else None,
            "fitness": self._fitness(),
            "photo": r.photo,
            "note": r.note,
            "repair": self._repair(),
            "hazards": [h.as_json() for h in self.hazards],
            "signal_word": self.signal_word,
            "urgent": self.urgent,
            "rank": self.rank,
            "next_step": self.next_step.as_json() if self.next_step else None,
            "cautions": [s.as_json() for s in self.cautions],
            "notes": [s.as_json() for s in (*r.notes, *self.notes)],
            "problems": [p.as_json() for p in (*r.problems, *self.problems)],
            "extra": dict(r.extra),
        }
        if self.verdict is not None:
            out |= self._judged()
        if self.quantities:
            out["quantities"] = {name: q.as_json() for name, q in self.quantities.items()}
        if self.spread is not None:
            shared = {name: rounded(s) for name, s in self.spread.shared.items()}
            out["spread"] = {"own": rounded(self.spread.own), "shared": shared}
        if self.counts_why:
            out["counts_in_totals"] = {"yes": self.counts, "why": self.counts_why}
        return {key: value for key, value in out.items() if value is not None}

    def _fitness(self) -> dict[str, Any] | None:
        if self.fit is None:
            return None
        problems = [{**n.sentence.as_json(), "code": n.code, "spoils": list(n.spoils)} for n in self.fitness]
        return {"fit": self.fit, "problems": problems}

    def _judged(self) -> dict[str, Any]:
        out: dict[str, Any] = {"verdict": self.verdict}
        if self.probability is not None:
            out |= {
                "probability": round(self.probability, 4),
                "probabilities": {v: round(p, 4) for v, p in self.probabilities.items()},
                "probability_basis": self.probability_basis,
            }
        return out | {
            "detector": {"name": self.detector, "version": self.detector_version},
            "severity": {"word": self.severity.code, "basis": self.severity.text} if self.severity else None,
            "evidence": [_evidence(e) for e in self.evidence],
            "places": [_place(p, m) for p, m in zip(self.places, self.places_m, strict=True)],
        }

    def _repair(self) -> dict[str, Any] | None:
        r = self.reading.repair
        named = {
            "hours": r.hours,
            "cost": r.cost,
            "cost_currency": r.cost_currency,
            "craft": r.craft,
            "access": r.access,
            "isolation": r.isolation,
            "shutdown": r.shutdown,
            "parts": r.parts,
            "fixed_now": r.fixed_now,
            "level_after_db": r.level_after_db,
            "reported_to": r.reported_to,
            "reported_at": r.reported_at,
        }
        return {k: v for k, v in named.items() if v is not None} or None


def _evidence(e: Evidence) -> dict[str, Any]:
    return {
        "code": e.code,
        "args": dict(e.args),
        "name": e.name,
        "value": None if e.value is None or not math.isfinite(e.value) else rounded(float(e.value)),
        "unit": e.unit,
        "criterion": e.criterion,
        "for": e.supports,
        "weight": round(float(e.weight), 4),
    }


def _place(place: Place, at_m: float | None) -> dict[str, Any]:
    out = {"at_s": round(place.at_s, 2), "level_db": round(place.level_db, 1)}
    return out | ({"at_m": round(at_m, 2)} if at_m is not None else {})
