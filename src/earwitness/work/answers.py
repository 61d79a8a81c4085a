"""What fitters answer, what it does to the probabilities of this site, and who was told of a danger.

A tag takes: found or not found, what it was, fixed on the spot with the level before and after. The simulated
probability counts like twenty answers; what the floor says moves it from there, verdict by verdict.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, select

from earwitness.errors import EarwitnessError
from earwitness.ledger import Ledger, points, readings, schema, sites
from earwitness.ledger import answers as stored
from earwitness.ledger import findings as ledger_findings
from earwitness.ledger.answers import Answer, Tally, Told
from earwitness.plant.assessment import rounded
from earwitness.plant.finding import ALLOWED, STANDING, Finding, Step
from earwitness.programme.answers import HitRate, corrected_probability, hit_rate
from earwitness.report.format import counted
from earwitness.sentence import Sentence, say
from earwitness.work.findings import finding_of

SIMULATED = say("basis-simulated", "simulated sound")
NEARLY = 0.01  # a mean probability is kept this far from certain, so that answers can move it


@dataclass(frozen=True)
class LocalRate:
    """How often a verdict proves true at this site, beside what the tool had given on average."""

    verdict: str
    tally: Tally
    expected: float
    rate: HitRate

    def as_json(self) -> dict[str, Any]:
        return {
            "verdict": self.verdict,
            "found": self.tally.found,
            "not_found": self.tally.not_found,
            "expected": rounded(self.expected),
            "rate": {"value": rounded(self.rate.rate), "low": rounded(self.rate.low), "high": rounded(self.rate.high)},
        }


@dataclass(frozen=True)
class Answered:
    answer: Answer
    state: str
    sentence: Sentence
    rate: LocalRate | None

    def as_json(self) -> dict[str, Any]:
        a = self.answer
        out = {
            "finding": str(a.finding_id),
            "verdict": a.verdict,
            "found": a.found,
            "what_it_was": a.what_it_was,
            "fixed": a.fixed_on_spot,
            "level_before_db": a.level_before_db,
            "level_after_db": a.level_after_db,
            "at": a.at.isoformat(),
            "who": a.who,
            "state": self.state,
            "summary": self.sentence.as_json(),
            "local_rate": self.rate.as_json() if self.rate else None,
        }
        return {k: v for k, v in out.items() if v is not None}


def local_rates(connection: Connection, site_id: uuid.UUID) -> dict[str, LocalRate]:
    """By verdict, for every verdict of the tool's own that fitters of this site have answered on."""
    out = {}
    for verdict, tally in stored.tallies(connection, site_id).items():
        expected = min(1 - NEARLY, max(NEARLY, tally.mean_probability))
        rate = hit_rate(tally.found, tally.not_found, expected)
        out[verdict] = LocalRate(verdict, tally, expected, rate)
    return out


def corrected(rates: Mapping[str, LocalRate], verdict: str, probability: float) -> tuple[float, Sentence]:
    """A verdict's probability at this site, and what it rests on (`probability_basis`)."""
    local = rates.get(verdict)
    if local is None:
        return probability, SIMULATED
    text = "simulated sound, corrected by {n} answers of fitters at this site ({found} found)"
    basis = say("basis-answers", text, n=local.rate.answers, found=local.tally.found)
    return corrected_probability(probability, local.rate, local.expected), basis


def at_this_site(rates: Mapping[str, LocalRate], reading: Mapping[str, Any]) -> dict[str, Any]:
    """A judged reading with its verdict's probability as the answers of this site's fitters move it, if there are any:
    the one that reports, pages and plan tell."""
    if reading.get("verdict") not in rates or reading.get("probability") is None:
        return dict(reading)
    probability, basis = corrected(rates, reading["verdict"], reading["probability"])
    return {**reading, "probability": round(probability, 4), "probability_basis": basis.text}


def answered_finding(connection: Connection, site_id: uuid.UUID, text: str) -> Finding:
    """The finding that a tag, a reading's name or the beginning of an identity means: at a point the one on the list,
    else the latest."""
    point = points.point_by_tag(connection, site_id, text)
    if point is not None:
        found = ledger_findings.findings_at(connection, point.id)
        found.sort(key=lambda f: f.state not in STANDING)
        if found:
            return found[0]
        raise EarwitnessError(f"nothing was ever found at {point.name} ({point.tag})")
    named = readings.readings_named(connection, site_id, text.strip())
    opened = ledger_findings.findings_opened_by(connection, [r.id for r in named])
    for reading in named:
        if reading.id in opened:
            return opened[reading.id]
        for finding_id in ledger_findings.stepped_by(connection, reading.id):
            return ledger_findings.finding(connection, finding_id)
    return finding_of(connection, site_id, text)


def answer(
    ledger: Ledger,
    site: str | None,
    text: str,
    *,
    who: str,
    at: datetime,
    found: bool,
    what: str | None = None,
    fixed: bool = False,
    before_db: float | None = None,
    after_db: float | None = None,
) -> Answered:
    """File what a fitter found at a tag. Fixed on the spot, the finding is repaired, not yet verified."""
    if fixed and not found:
        raise EarwitnessError("what was not found cannot be fixed; state --found, or leave --fixed out")
    if not who.strip():
        raise EarwitnessError("who answers? state --who NAME")
    with ledger.writing() as connection:
        home = sites.site_of(connection, site)
        finding = answered_finding(connection, home.id, text)
        given = Answer(
            uuid.uuid4(), home.id, finding.id, at, who.strip(), found, finding.verdict, what, fixed, before_db,
            after_db, _probability(connection, finding),
        )  # fmt: skip
        stored.keep_answer(connection, given)
        state = finding.state
        if fixed and "repaired" in ALLOWED[finding.state]:
            why = _fixed_words(what, before_db, after_db)
            data = {"code": why.code, "answer": str(given.id)}
            step = Step("repaired", at, given.who, why.text, None, data)
            state = ledger_findings.take_step(connection, finding.id, step).state
        rate = local_rates(connection, home.id).get(finding.verdict)
    return Answered(given, state, _summary(given, finding, state, rate), rate)


def _fixed_words(what: str | None, before_db: float | None, after_db: float | None) -> Sentence:
    levels = ""
    if before_db is not None and after_db is not None:
        levels = f" Level {before_db:.0f} dB before, {after_db:.0f} dB after."
    return say("answer-fixed", "Found and fixed on the spot{what}.{levels}", what=f": {what}" if what else "",
               levels=levels)  # fmt: skip


def _summary(given: Answer, finding: Finding, state: str, rate: LocalRate | None) -> Sentence:
    what = "found" if given.found else "not found"
    if not given.found and state in STANDING:
        then = " It stays on the list: listen again under the same conditions, or dismiss it with a reason."
    elif given.fixed_on_spot:
        then = " A later reading verifies it."
    else:
        then = ""
    local = ""
    if rate is not None:
        local = f" Of {counted(rate.rate.answers, 'answer')} on {given.verdict} here {rate.tally.found} found it."
    text = "{verdict} {what} ({state}).{then}{local}"
    return say("answer-filed", text, verdict=given.verdict, what=what, state=state, then=then, local=local)


def _probability(connection: Connection, finding: Finding) -> float | None:
    """What the tool gave the verdict when it last heard the fault; None where its sound did not say so."""
    steps = ledger_findings.history(connection, finding.id)
    heard = [s.reading_id for s in steps if s.reading_id is not None and s.state in STANDING]
    a = schema.assessment.c
    asked = select(a.probability).where(a.reading_id == (heard[-1] if heard else finding.opened_by), a.current)
    return connection.scalar(asked.where(a.verdict == finding.verdict))


# --- dangers: who was told, and when --------------------------------------------------------------------------------


def tell(
    ledger: Ledger, site: str | None, text: str, *, who: str, by: str, at: datetime, words: str = ""
) -> tuple[Finding, Told]:
    """File that somebody was told of what was found at a tag."""
    if not who.strip() or not by.strip():
        raise EarwitnessError("who was told, and by whom? state --who NAME and --by NAME")
    with ledger.writing() as connection:
        home = sites.site_of(connection, site)
        finding = answered_finding(connection, home.id, text)
        told = Told(uuid.uuid4(), home.id, finding.opened_by, at, who.strip(), by.strip(), words or finding.verdict)
        stored.keep_told(connection, told)
    return finding, told


def record_of_told(connection: Connection, finding: Finding) -> list[dict[str, str]]:
    """Who was told of a finding, when and by whom: what the sheet says, then what was filed since."""
    out = []
    to, when = finding.repair.get("reported_to"), finding.repair.get("reported_at")
    if to:
        out.append({"who": str(to), "at": str(when or ""), "by": "the inspector", "text": "noted in the sheet"})
    for t in told_of(connection, finding):
        if t.taken_back_at is None:
            out.append({"who": t.who, "at": t.at.isoformat(), "by": t.by, "text": t.text, "id": str(t.id)})
    return out


def told_of(connection: Connection, finding: Finding) -> list[Told]:
    """What was filed of who was told of a finding, in order of time; what was taken back too."""
    steps = ledger_findings.history(connection, finding.id)
    return stored.told(connection, {finding.opened_by, *(s.reading_id for s in steps if s.reading_id)})
