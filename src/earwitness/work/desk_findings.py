"""Findings as the desk shows them: the list in the order of mending, and one finding with all that is known of it."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import Connection

from earwitness.errors import InputError
from earwitness.ledger import answers as stored_answers
from earwitness.ledger import findings, points, readings
from earwitness.ledger.answers import Answer, Told
from earwitness.ledger.database import Ledger
from earwitness.ledger.findings import Listed
from earwitness.plant.finding import ALLOWED, STANDING, STATES, Finding, Step
from earwitness.report import blocks, wording
from earwitness.report.format import counted, when
from earwitness.report.model import Amount
from earwitness.work.answers import at_this_site, local_rates, record_of_told, told_of
from earwitness.work.before_work import before_work
from earwitness.work.findings import HEARD, without_hour
from earwitness.work.last_heard import as_last_heard, needed

WORDS = ("DANGER", "WARNING", "CAUTION", "NOTICE", "")
CLOSED = tuple(s for s in STATES if s not in STANDING)
BY_HAND = ("repaired", "dismissed", "reopened")  # steps that a person takes; a reading verifies
MOST_DANGERS = 200


@dataclass(frozen=True)
class FindingRow:
    """A line of the list."""

    id: uuid.UUID
    where: str
    what: str
    word: str
    state: str
    since: datetime
    cost_per_year: float | None
    saving_per_year: float | None
    currency: str
    wastes: str  # the same with its interval, as the reading that last heard it says
    saves: str
    work: str


@dataclass(frozen=True)
class Moment:
    """One step of a finding's history."""

    state: str
    at: datetime
    timed: bool  # False where only the day is known
    who: str
    why: str
    reading_id: uuid.UUID | None


@dataclass(frozen=True)
class FindingStory:
    """All that is known of one finding."""

    id: uuid.UUID
    heading: str
    where: str
    spot: str
    what: str
    state: str
    urgent: bool
    point_id: uuid.UUID | None
    tag: str | None
    reading_id: uuid.UUID
    photo_of: uuid.UUID | None
    hazards: Sequence[Mapping[str, Any]]
    cautions: Sequence[str]
    before_work: Mapping[str, Any]
    told: Sequence[Mapping[str, str]]
    told_no_more: Sequence[Told]  # what was taken back
    answers: Sequence[Answer]
    history: Sequence[Moment]
    amounts: Sequence[Amount]
    work: str
    verification: str
    may_become: Sequence[str]


def rows_by_rank(
    connection: Connection, site_id: uuid.UUID, *, show: str, area_id: uuid.UUID | None, limit: int, offset: int
) -> list[FindingRow]:
    """A page of the findings that stand (`open`), that do not any more (`closed`), or `all`, by rank."""
    standing = None if show == "all" else show == "open"
    page = findings.ranked(connection, site_id, standing=standing, area_id=area_id, limit=limit, offset=offset)
    return _rows(connection, page)


def dangers(connection: Connection, site_id: uuid.UUID) -> list[FindingRow]:
    """What stands and must be acted on from the floor; no order, filter or page hides one."""
    return _rows(connection, findings.ranked(connection, site_id, urgent=True, limit=MOST_DANGERS))


def _rows(connection: Connection, found: Sequence[Listed]) -> list[FindingRow]:
    return [_row(x, heard) for x, heard in as_last_heard(connection, found)]


def _row(x: Listed, heard: Mapping[str, Any]) -> FindingRow:
    f, said = x.finding, blocks.list_row({**heard, "repair": x.finding.repair})
    return FindingRow(
        f.id, x.where, fault(f.verdict), WORDS[f.figures.word_order], f.state,
        f.opened_at, f.figures.cost_per_year, f.figures.saving_per_year, f.figures.currency or "",
        said.wastes, said.saves, said.work,
    )  # fmt: skip


def fault(verdict: str) -> str:
    return wording.capital(wording.FAULTS.get(verdict, (verdict.replace("-", " "),))[0])


def story_of(connection: Connection, finding: Finding, now: datetime) -> FindingStory:
    """From first heard to verified, with what the latest reading that heard it says; days are those where `now` is."""
    steps = findings.history(connection, finding.id)
    heard = [s.reading_id for s in steps if s.reading_id and s.data.get("code") in HEARD] or [finding.opened_by]
    judged = readings.current_judgements(connection, heard)
    latest = heard[-1]
    result: Mapping[str, Any] = judged[latest].result if latest in judged else {"verdict": finding.verdict}
    result = at_this_site(local_rates(connection, finding.site_id), result)
    block = blocks.block(result, None)
    point = points.points_by_id(connection, [finding.point_id])[0] if finding.point_id else None
    (place,) = findings.listed(connection, [finding])
    untimed = without_hour(connection, steps)
    photos = [i for i in reversed(heard) if readings.reading(connection, i).photo_sha256]
    what = block.what or fault(finding.verdict)
    verified = next((s.why for s in reversed(steps) if s.state == "verified"), "")
    return FindingStory(
        id=finding.id,
        heading=_heading(place, steps, result, now),
        where=place.where,
        spot=", ".join(x for x in (point.component if point else None, place.location) if x),
        what=what,
        state=finding.state,
        urgent=finding.figures.urgent,
        point_id=finding.point_id,
        tag=point.tag if point else None,
        reading_id=latest,
        photo_of=photos[0] if photos else None,
        hazards=sorted(result.get("hazards") or (), key=lambda h: WORDS.index(h["signal_word"])),
        cautions=block.cautions,
        before_work=before_work(result),
        told=record_of_told(connection, finding),
        told_no_more=[t for t in told_of(connection, finding) if t.taken_back_at is not None],
        answers=stored_answers.answers(connection, finding.site_id, finding.id),
        history=[Moment(s.state, s.at, s.reading_id not in untimed, s.who, s.why, s.reading_id) for s in steps],
        amounts=block.amounts,
        work=blocks.list_row({"repair": needed(finding.repair, result)}).work,
        verification=verified if finding.state == "verified" else "",
        may_become=[s for s in ("scheduled", *BY_HAND) if _allowed(finding.state, s)],
    )


def _allowed(state: str, step: str) -> bool:
    return step in ALLOWED[state] and not (step == state == "reopened")


def _heading(x: Listed, steps: Sequence[Step], result: Mapping[str, Any], now: datetime) -> str:
    f = x.finding
    at = (steps[-1].at if steps else f.opened_at).astimezone(now.tzinfo)
    days = counted(max(0, (now - f.opened_at).days), "day")
    stands = {"open": f"Open for {days}", "scheduled": f"Scheduled, open for {days}", "reopened": "Open again"}
    day, unproven = when(at.date().isoformat()), ", not yet verified" * (f.state == "repaired")
    stood = stands.get(f.state, f"{f.state.capitalize()} on {day}{unproven}")
    what = wording.fault(result) if result.get("verdict") else fault(f.verdict).lower()
    text = f"{stood}: {what} at {x.point}"
    wastes = wording.shown(result, "cost_per_year")
    if wastes and f.state in STANDING:
        text += f", wastes {wastes}"
    return text


def schedule(ledger: Ledger, finding_id: uuid.UUID, *, who: str, why: str, at: datetime, due: datetime) -> Finding:
    """Plan a repair by hand, to be done by `due`."""
    if due <= at:
        raise InputError("due", when(due.date().isoformat()), "a day that is still to come")
    with ledger.writing() as connection:
        day = when(due.date().isoformat())
        step = Step("scheduled", at, who, why or f"To be done by {day}.", None, {"due": due.isoformat()})
        return findings.take_step(connection, finding_id, step)
