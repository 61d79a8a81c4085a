"""Today: only what is new, worse or due. Dangers first, whatever else there is."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import select

from earwitness.ledger import answers, findings, readings, schema, surveys
from earwitness.ledger.findings import Listed
from earwitness.ledger.surveys import FiledSurvey
from earwitness.report import blocks, wording
from earwitness.report.format import counted, joined
from earwitness.server import Ask, Page, Refusal, Went
from earwitness.server.refusal import not_found
from earwitness.work.answers import LocalRate, at_this_site, local_rates, record_of_told
from earwitness.workbench.due import Overdue, overdue, undecided
from earwitness.workbench.watch import WATCH, Worse, work_out, worse_since

page = Page("today", title="Today", order=10)
page.job(WATCH)(work_out)
SHOWN = 25  # lines of a section; the rest is counted and one step away
URGENT_CLASS = 100  # findings of a rank class below it are urgent


@dataclass(frozen=True)
class ActNow:
    """A danger: what was heard, what comes first, and who was told."""

    finding_id: uuid.UUID
    reading_id: uuid.UUID
    where: str
    heading: str
    hazards: Sequence[Mapping[str, Any]]
    told: Sequence[Mapping[str, str]]


@dataclass(frozen=True)
class FindingLine:
    finding_id: uuid.UUID
    where: str
    what: str
    word: str
    since: datetime


@dataclass(frozen=True)
class Undecided:
    reading_id: uuid.UUID
    reading: str
    where: str
    settles: str


@dataclass(frozen=True)
class Today:
    """What is new, worse or due at a site."""

    heading: str
    rests_on: FiledSurvey | None
    act_now: Sequence[ActNow]
    overdue: Sequence[Overdue]
    unverified: Sequence[FindingLine]
    worse: Sequence[Worse] | None
    undecided: Sequence[Undecided]
    undecided_count: int
    fresh: Sequence[FindingLine]
    counts: Mapping[str, int]
    may_tell: bool


@dataclass(frozen=True)
class Told:
    """Who was told of a danger, and the words."""

    finding: uuid.UUID
    who: str
    words: str = ""


WORDS = ("DANGER", "WARNING", "CAUTION", "NOTICE", "")


@page.view("/site/{site}/today")
def show(ask: Ask) -> Today:
    """What must be done now, and what has changed."""
    site, now = ask.site.id, datetime.now(UTC)
    with ask.ledger.reading() as connection:
        last = next(iter(surveys.surveys(connection, site, limit=1)), None)
        ranked = findings.ranked(connection, site, limit=4 * SHOWN)
        urgent = [x for x in ranked if x.finding.figures.urgent]
        rates = local_rates(connection, ask.site.id)
        act_now = [_act_now(connection, x, rates) for x in urgent]
        late = overdue(connection, site, now)[:SHOWN]
        repaired = findings.ranked(connection, site, standing=False, states=("repaired",), limit=SHOWN)
        unsure, unsure_count = undecided(connection, last.id, SHOWN) if last else ([], 0)
        counts = findings.count_by_state(connection, site)
        fresh = _fresh(connection, ranked, last)
    shown = Today(
        "", last, act_now, late, [_line(x) for x in repaired], worse_since(ask.house, last),
        [_unsure(r) for r in unsure], unsure_count, fresh, counts, ask.may("inspect"),
    )  # fmt: skip
    return _headed(shown)


def _headed(it: Today) -> Today:
    parts = []
    if it.act_now:
        parts.append(counted(len(it.act_now), "thing") + " to act on now")
    if it.overdue:
        parts.append(counted(len(it.overdue), "repair") + " overdue")
    if it.counts.get("repaired"):
        parts.append(counted(it.counts["repaired"], "repair") + " to verify")
    if it.worse:
        parts.append(counted(len(it.worse), "point") + " getting worse")
    if it.undecided_count:
        parts.append(counted(it.undecided_count, "reading") + " to settle")
    heading = joined(parts) if parts else "Nothing needs you today"
    return replace(it, heading=heading)


def _line(x: Listed) -> FindingLine:
    f = x.finding
    what = wording.capital(wording.FAULTS.get(f.verdict, (f.verdict,))[0])
    return FindingLine(f.id, x.where, what, WORDS[f.figures.word_order], f.opened_at)


def _act_now(connection: Any, x: Listed, rates: Mapping[str, LocalRate]) -> ActNow:
    current = readings.current_judgements(connection, [x.finding.opened_by]).get(x.finding.opened_by)
    result = at_this_site(rates, current.result) if current else {}
    hazards = sorted(result.get("hazards") or (), key=lambda h: WORDS.index(h["signal_word"]))
    return ActNow(
        x.finding.id, x.finding.opened_by, x.where, blocks.list_row(result).what if result else _line(x).what,
        hazards[:1], record_of_told(connection, x.finding),
    )  # fmt: skip


def _fresh(connection: Any, ranked: Sequence[Listed], last: FiledSurvey | None) -> list[FindingLine]:
    """Of the first of the list, those that the last survey opened; what is urgent stands above already."""
    if last is None:
        return []
    r = schema.reading.c
    opened_by = [x.finding.opened_by for x in ranked]
    mine = set(connection.scalars(select(r.id).where(r.id.in_(opened_by), r.survey_id == last.id)))
    return [_line(x) for x in ranked if x.finding.opened_by in mine and not x.finding.figures.urgent][:SHOWN]


def _unsure(row: Any) -> Undecided:
    result = row.result
    settles = blocks.text(result.get("next_step")) or "Listen again."
    return Undecided(row.id, row.name, blocks.where(result), settles)


@page.deed("/site/{site}/today/tell", role="inspect")
def told(ask: Ask, given: Told) -> Went:
    """Keep that somebody was told of a danger, when and by whom."""
    if not given.who.strip():
        raise Refusal(422, "who-needed", "Who was told? Write the name.", field="who")
    with ask.ledger.reading() as connection:
        try:
            found = findings.finding(connection, given.finding)
        except ValueError:
            raise not_found("finding") from None
    if found.site_id != ask.site.id:
        raise not_found("finding")
    now, words = datetime.now(UTC), given.words.strip() or found.verdict
    with ask.ledger.writing() as connection:
        told_of = answers.Told(uuid.uuid4(), ask.site.id, found.opened_by, now, given.who.strip(), ask.who.name, words)
        answers.keep_told(connection, told_of)
    return Went(f"{ask.site.path}/today", str(given.finding), f"It is kept that {told_of.who} was told.")
