"""What a filed reading does to the findings of its point: opens one, hears it again, verifies or reopens it.

Every step is one row of history. A reading decides about a finding once; judged anew by a newer version it changes the
finding's figures and never its history.
"""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from earwitness.errors import EarwitnessError
from earwitness.ledger import findings as stored
from earwitness.ledger import points, readings
from earwitness.ledger.database import Ledger
from earwitness.ledger.readings import FiledReading
from earwitness.plant.assessment import Assessment
from earwitness.plant.finding import ACT_NOW_CLASS, CLOSED, STANDING, Figures, Finding, Step
from earwitness.plant.site import identity
from earwitness.sentence import Sentence, say
from earwitness.work.rank import merit
from earwitness.work.verify import compare, differences
from earwitness.work.warn import looked_for_in_vain

HEARD = frozenset({"finding-heard", "heard-again", "heard-after-repair"})  # codes of steps that heard the fault itself


@dataclass(frozen=True)
class Event:
    """What one reading did, or why it did nothing; `state` is the finding's state where a step was taken."""

    reading: str
    finding_id: uuid.UUID | None
    state: str | None
    sentence: Sentence

    def as_json(self) -> dict[str, Any]:
        out = {"reading": self.reading, "finding": str(self.finding_id) if self.finding_id else None}
        return out | {"state": self.state} | self.sentence.as_json()


def figures_of(assessment: Assessment) -> Figures:
    """What the list is ranked by, in the order of work.rank."""
    money = assessment.quantities
    stated = money.get("cost_per_year") or money.get("saving_per_year")
    by = merit(assessment)
    return Figures(
        urgent=by.urgent,
        word_order=by.word,
        loss_per_hour=by.loss_per_hour,
        cost_per_year=money["cost_per_year"].interval.mean if "cost_per_year" in money else None,
        saving_per_year=money["saving_per_year"].interval.mean if "saving_per_year" in money else None,
        currency=stated.unit or None if stated is not None else None,
        rank_class=(0 if by.urgent else ACT_NOW_CLASS) + 10 * by.word + by.acts,
        rank_loss=-by.loss_per_hour if by.loss_per_hour is not None else 0.0,
        rank_rest=1000.0 * by.severity - by.over_db,
    )


def heard_fault(assessment: Assessment) -> bool:
    """As `is_finding`, mended on the spot or not."""
    r = assessment.reading
    return assessment.fault is not None and r.cause != "deliberate" and not looked_for_in_vain(r)


def decide(connection: Connection, filed: FiledReading, assessment: Assessment, who: str) -> list[Event]:
    """Take the step that this reading decides, if it decides one."""
    opened = stored.findings_opened_by(connection, [filed.id]).get(filed.id)
    if opened is not None:
        return _judged_anew(_Case(connection, filed, assessment, who), opened)
    if assessment.reading.status != "read" or assessment.verdict is None or stored.stepped_by(connection, filed.id):
        return []
    case = _Case(connection, filed, assessment, who)
    target = _target(case)
    if target is None:
        return _without_finding(case)
    if filed.taken_at < stored.history(connection, target.id)[-1].at:
        return case.told(target, "older-than-finding", "{reading} is older than what is known of its finding.")
    if heard_fault(assessment):
        return _fault(case, target)
    if assessment.verdict == "inconclusive" or assessment.fault is not None:
        return _undecided(case, target)
    return [] if target.state in CLOSED else _quiet(case, target)


@dataclass(frozen=True)
class _Case:
    connection: Connection
    filed: FiledReading
    assessment: Assessment
    who: str

    @property
    def named(self) -> str:
        r = self.assessment.reading
        return f"{r.reading} ({r.point})" if r.point else r.reading

    def told(self, finding: Finding | None, code: str, text: str, **args: Any) -> list[Event]:
        sentence = say(code, text, reading=self.named, **args)
        return [Event(self.filed.name, finding.id if finding else None, None, sentence)]

    def step(self, finding: Finding, state: str, why: Sentence, *, heard: bool = False) -> Event:
        """`heard`: the fault itself was heard, so that the finding's figures and verdict follow."""
        step = Step(state, self.filed.taken_at, self.who, why.text, self.filed.id, {"code": why.code})
        figures = figures_of(self.assessment) if heard else None
        verdict = self.assessment.fault or "" if heard else ""
        stored.take_step(self.connection, finding.id, step, figures=figures, verdict=verdict)
        said = say("finding-" + state, "{reading}: " + state + ". {why}", reading=self.named, why=why.text)
        return Event(self.filed.name, finding.id, state, said)


def _target(case: _Case) -> Finding | None:
    """The finding that the reading is about: the one it verifies, else the latest at its point."""
    c, filed = case.connection, case.filed
    if case.assessment.reading.verifies:
        found = _verified(c, filed, case.assessment.reading.verifies)
        if found is not None:
            return found
    if filed.point_id is None:
        return None
    return next(iter(stored.findings_at(c, filed.point_id, filed.kind)), None)


def _verified(c: Connection, filed: FiledReading, text: str) -> Finding | None:
    others = [r for r in readings.readings_named(c, filed.site_id, text.strip()) if r.id != filed.id]
    others.sort(key=lambda r: r.survey_id != filed.survey_id)  # the same sheet's first, then the latest
    for other in others:
        for known in stored.findings_opened_by(c, [other.id]).values():
            return known
        for finding_id in stored.stepped_by(c, other.id):
            return stored.finding(c, finding_id)
    point = points.point_by_tag(c, filed.site_id, text)
    return next(iter(stored.findings_at(c, point.id, filed.kind)), None) if point is not None else None


def _without_finding(case: _Case) -> list[Event]:
    if not heard_fault(case.assessment):
        if case.assessment.reading.verifies:
            text = "{reading} is to verify a repair, but the ledger knows no finding '{verifies}'."
            return case.told(None, "verifies-no-finding", text, verifies=case.assessment.reading.verifies)
        return []
    filed = case.filed
    if filed.point_id is not None:
        later = readings.listens(case.connection, filed.point_id, since=filed.taken_at)
        if any(x.taken_at > filed.taken_at and x.verdict not in (None, "inconclusive") for x in later):
            text = "{reading} heard {verdict}, but a later reading of the point is filed already; no finding is opened."
            return case.told(None, "older-than-known", text, verdict=case.assessment.fault)
    return _open(case)


def _open(case: _Case) -> list[Event]:
    filed, a = case.filed, case.assessment
    given = uuid.UUID(a.finding) if a.finding else identity("finding", str(filed.id))
    if _taken(case.connection, given):
        given = identity("finding", str(filed.id))
    figures = figures_of(a)
    finding = Finding(
        given, filed.site_id, filed.point_id, filed.kind, a.fault or "", "open", filed.taken_at, filed.id,
        repair=_repair(a), figures=figures,
    )  # fmt: skip
    by = "heard" if a.verdict == a.fault else "seen"
    why = say("finding-heard", "{verdict} {by}.", verdict=a.fault, by=by)
    step = Step("open", filed.taken_at, case.who, why.text, filed.id, {"code": why.code}, figures.saving_per_year,
                figures.currency)  # fmt: skip
    stored.open_finding(case.connection, finding, step)
    said = say("finding-open", "{reading}: open. {why}", reading=case.named, why=why.text)
    return [Event(filed.name, given, "open", said), *_mended(case, finding)]


def _mended(case: _Case, finding: Finding) -> list[Event]:
    """Fixed on the spot: repaired, and to be verified like any other repair."""
    repair = case.assessment.reading.repair
    if not repair.fixed_now:
        return []
    after = f"; level after: {repair.level_after_db:.0f} dB" if repair.level_after_db is not None else ""
    return [case.step(finding, "repaired", say("fixed-on-the-spot", "Fixed on the spot{after}.", after=after))]


def _fault(case: _Case, target: Finding) -> list[Event]:
    verdict = case.assessment.fault
    again = "again" if verdict == target.verdict else f"where {target.verdict} was heard before"
    if target.state in ("open", "scheduled", "reopened"):
        why = say("heard-again", "{verdict} heard {again}.", verdict=verdict, again=again)
        return [case.step(target, target.state, why, heard=True), *_mended(case, target)]
    if target.state == "dismissed":
        if verdict == target.verdict and not case.assessment.urgent:
            text = "{reading} heard {verdict} again, which was dismissed; reopen it if the reason no longer holds."
            return case.told(target, "dismissed-heard-again", text, verdict=verdict)
        return _open(case)
    unlike = differences(case.filed.kind, _before(case, target).comparable, case.filed.comparable)
    if unlike and not case.assessment.urgent:
        if target.state == "verified":
            return _open(case)  # something is wrong there; whether it is the same thing cannot be told
        text = "{reading} heard {verdict} at a repaired point. Not comparable, so nothing is decided: {differences}."
        said = "; ".join(s.text for s in unlike)
        return case.told(target, "repair-not-comparable", text, verdict=verdict, differences=said)
    why = say("heard-after-repair", "{verdict} heard {again}, after the repair.", verdict=verdict, again=again)
    return [case.step(target, "reopened", why, heard=True), *_mended(case, target)]


def _quiet(case: _Case, target: Finding) -> list[Event]:
    before = _before(case, target)
    levels = (_level(before), _level(case.filed))
    repeats = _repeats(case.connection, target.point_id)
    compared = compare(case.filed.kind, before.comparable, case.filed.comparable, *levels, repeats)
    if compared.proven:
        return [case.step(target, "verified", compared.why)]
    return case.told(target, "repair-undecided", "{reading}: {why}", why=compared.why.text)


def _undecided(case: _Case, target: Finding) -> list[Event]:
    """Worth a line only where somebody wanted to know."""
    if not case.assessment.reading.verifies and target.state != "repaired":
        return []
    text = "{reading} was to verify a repair, but it was judged {verdict}; nothing is decided."
    return case.told(target, "verification-inconclusive", text, verdict=case.assessment.verdict)


def _before(case: _Case, target: Finding) -> FiledReading:
    """The latest reading that heard the fault."""
    steps = stored.history(case.connection, target.id)
    heard = [s.reading_id for s in steps if s.reading_id and s.data.get("code") in HEARD]
    return readings.reading(case.connection, heard[-1] if heard else target.opened_by)


def _level(filed: FiledReading) -> float | None:
    """Of a valve or trap, the level downstream of it."""
    return filed.level_db if filed.level_db is not None else filed.cells.get("downstream_db")


def _repeats(connection: Connection, point_id: uuid.UUID | None) -> list[list[float]]:
    """The levels of readings in a row: of one survey and one verdict."""
    if point_id is None:
        return []
    groups: dict[tuple[uuid.UUID, str | None], list[float]] = defaultdict(list)
    for listen in readings.listens(connection, point_id):
        if listen.level_db is not None and listen.status == "read":
            groups[listen.survey_id, listen.verdict].append(listen.level_db)
    return list(groups.values())


def _judged_anew(case: _Case, opened: Finding) -> list[Event]:
    """The reading that opened a finding was corrected, or judged by a newer version."""
    connection, filed, assessment = case.connection, case.filed, case.assessment
    if not heard_fault(assessment):
        text = (
            "{reading} opened a finding ({verdict}) and is now judged {now}; dismiss the finding with a reason if it "
            "no longer stands."
        )
        now = assessment.verdict or assessment.reading.status
        said = say("finding-in-doubt", text, reading=filed.name, verdict=opened.verdict, now=now)
        return [] if opened.state in CLOSED else [Event(filed.name, opened.id, None, said)]
    if joined := _joined(case, opened):
        return joined
    heard = [s.reading_id for s in stored.history(connection, opened.id) if s.data.get("code") in HEARD]
    if heard == [filed.id] and opened.state != "dismissed":  # no later reading has given it other figures
        stored.refigure(connection, opened.id, figures_of(assessment), assessment.fault or "", filed.point_id)
    return []


def _joined(case: _Case, opened: Finding) -> list[Event]:
    """What was opened while its point was in doubt, and stands at that point already: heard again there, and the one
    without a point dismissed as the same. Nothing where that is not beyond doubt."""
    c, filed = case.connection, case.filed
    if opened.point_id is not None or filed.point_id is None or len(stored.history(c, opened.id)) > 1:
        return []
    known = next(iter(stored.findings_at(c, filed.point_id, filed.kind)), None)
    if known is None or known.state not in {*STANDING, "repaired"}:
        return []
    if filed.taken_at >= stored.history(c, known.id)[-1].at:
        events = _fault(case, known)
    elif known.state in STANDING:
        events = case.told(known, "older-than-finding", "{reading} is older than what is known of its finding.")
    else:
        return []
    if known.state not in STANDING and all(e.state is None for e in events):
        return []
    why = say("same-finding", "The same as what was found at {point} before.", point=case.assessment.reading.point)
    return [case.step(opened, "dismissed", why), *events]


def _taken(connection: Connection, finding_id: uuid.UUID) -> bool:
    try:
        stored.finding(connection, finding_id)
    except EarwitnessError:
        return False
    return True


def _repair(assessment: Assessment) -> Mapping[str, Any]:
    repair: Mapping[str, Any] = assessment.as_json().get("repair") or {}
    return repair


def step_finding(ledger: Ledger, finding_id: uuid.UUID, state: str, *, who: str, why: str, at: datetime) -> Finding:
    """A step that a person takes: scheduled, repaired, dismissed (with a reason), reopened."""
    if not who.strip():
        raise EarwitnessError("who took this step? state --who NAME")
    with ledger.writing() as connection:
        if state == "dismissed" and stored.finding(connection, finding_id).figures.urgent and len(why.split()) < 3:
            raise EarwitnessError(
                "this must be acted on at once; to dismiss it, say in three words or more what was measured there, "
                "or why it is none"
            )
        return stored.take_step(connection, finding_id, Step(state, at, who.strip(), why.strip()))


def without_hour(connection: Connection, steps: Sequence[Step]) -> set[uuid.UUID]:
    """The readings behind these steps of which the sheet states no hour: they are filed at the start of their day."""
    filed = (readings.reading(connection, i) for i in {s.reading_id for s in steps if s.reading_id})
    return {r.id for r in filed if not r.cells.get("taken_at")}


def finding_of(connection: Connection, site_id: uuid.UUID, text: str) -> Finding:
    """The finding whose identity begins so."""
    found = stored.findings_beginning(connection, site_id, text.strip().casefold())
    if len(found) != 1:
        raise EarwitnessError(
            f"nothing with a finding is called {text}, and {len(found) or 'no'} findings begin with it; "
            "`earwitness findings list` shows tags and identities"
        )
    return found[0]
