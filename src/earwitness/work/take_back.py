"""What somebody said by mistake is taken back: it stays as it was said, with who took it back and when, and counts no
more. A repair that rested on it alone is open again."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime
from typing import TypeVar

from sqlalchemy import Connection, Table

from earwitness.errors import EarwitnessError
from earwitness.ledger import Ledger, schema
from earwitness.ledger import answers as stored
from earwitness.ledger import findings as ledger_findings
from earwitness.ledger.answers import Answer, Told
from earwitness.ledger.rows import take_back
from earwitness.plant.finding import Finding, Step
from earwitness.sentence import Sentence, say
from earwitness.work.answers import told_of
from earwitness.work.opinion import Opinion, opinions

Said = TypeVar("Said", Answer, Told, Opinion)


def take_back_answer(
    ledger: Ledger, finding: Finding, of: uuid.UUID | None, *, who: str, at: datetime
) -> tuple[Finding, Sentence]:
    """Take back one answer on a finding, or the last that stands; what was fixed by that answer alone is reopened.

    Raises
    ------
    EarwitnessError : there is no such answer, or it was taken back already
    """
    with ledger.writing() as connection:
        given = stored.answers(connection, finding.site_id, finding.id)
        answer = _taken_back(connection, schema.answer, given, of, who, at)
        now = _reopened(connection, finding.id, answer.id, who, at)
    then = " The finding is on the list again." if now.state == "reopened" else f" The finding is {now.state}."
    text = "The answer of {whose} is taken back and counts no more.{then}"
    return now, say("answer-taken-back", text, whose=answer.who, then=then)


def take_back_told(ledger: Ledger, finding: Finding, of: uuid.UUID | None, *, who: str, at: datetime) -> Sentence:
    """Take back that somebody was told of a finding, or the last that stands; what a sheet notes is changed there.

    Raises
    ------
    EarwitnessError : nothing such was filed, or it was taken back already
    """
    with ledger.writing() as connection:
        told = _taken_back(connection, schema.told, told_of(connection, finding), of, who, at)
    return say("told-taken-back", "That {whom} was told is taken back and counts no more.", whom=told.who)


def take_back_opinion(ledger: Ledger, reading_id: uuid.UUID, of: uuid.UUID, *, who: str, at: datetime) -> Sentence:
    """Take back a person's own verdict on a reading.

    Raises
    ------
    EarwitnessError : there is no such verdict, or it was taken back already
    """
    with ledger.writing() as connection:
        said = opinions(connection, reading_id)[::-1]
        opinion = _taken_back(connection, schema.opinion, said, of, who, at)
    return say("verdict-taken-back", "The verdict of {whose} is taken back and counts no more.", whose=opinion.who)


def _taken_back(
    connection: Connection, table: Table, said: Sequence[Said], of: uuid.UUID | None, who: str, at: datetime
) -> Said:
    """The one that is meant, by default the last that stands, marked as taken back."""
    named = [one for one in said if (one.taken_back_at is None if of is None else one.id == of)]
    if not named:
        raise EarwitnessError("nothing such stands here that could be taken back; look again at what stands")
    if not take_back(connection, table, named[-1].id, at=at, by=who):
        raise EarwitnessError("that was taken back already; look again at what stands")
    return named[-1]


def _reopened(connection: Connection, finding_id: uuid.UUID, answer_id: uuid.UUID, who: str, at: datetime) -> Finding:
    """The finding; back on the list if this answer was all that had it repaired."""
    last = ledger_findings.history(connection, finding_id)[-1]
    if last.state != "repaired" or last.data.get("answer") != str(answer_id):
        return ledger_findings.finding(connection, finding_id)
    why = say("repair-taken-back", "The answer that it was fixed on the spot is taken back.")
    step = Step("reopened", max(at, last.at), who, why.text, None, {"code": why.code, "answer": str(answer_id)})
    return ledger_findings.take_step(connection, finding_id, step)
