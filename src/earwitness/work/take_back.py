"""What somebody said by mistake is taken back: it stays as it was said, with who took it back and when, and counts no
more. A repair that rested on it alone is open again."""

from __future__ import annotations

import uuid
from datetime import datetime

from sqlalchemy import Connection

from earwitness.errors import EarwitnessError
from earwitness.ledger import Ledger, schema
from earwitness.ledger import answers as stored
from earwitness.ledger import findings as ledger_findings
from earwitness.ledger.rows import take_back
from earwitness.plant.finding import Finding, Step
from earwitness.sentence import Sentence, say
from earwitness.work.answers import told_of
from earwitness.work.opinion import opinions

ALREADY = "that was taken back already; look again at what stands"


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
        standing = [a for a in given if a.taken_back_at is None]
        if of is None and not standing:
            raise EarwitnessError("no answer stands on this finding; there is nothing to take back")
        answer = standing[-1] if of is None else next((a for a in given if a.id == of), None)
        if answer is None:
            raise EarwitnessError("there is no such answer on this finding; look again at what stands")
        if not take_back(connection, schema.answer, answer.id, at=at, by=who):
            raise EarwitnessError(ALREADY)
        now = _reopened(connection, finding.id, answer.id, who, at)
    then = " The finding is on the list again." if now.state == "reopened" else f" The finding is {now.state}."
    text = "The answer of {whose} is taken back and counts no more.{then}"
    return now, say("answer-taken-back", text, whose=answer.who, then=then)


def _reopened(connection: Connection, finding_id: uuid.UUID, answer_id: uuid.UUID, who: str, at: datetime) -> Finding:
    """The finding; back on the list if this answer was all that had it repaired."""
    last = ledger_findings.history(connection, finding_id)[-1]
    if last.state != "repaired" or last.data.get("answer") != str(answer_id):
        return ledger_findings.finding(connection, finding_id)
    why = say("repair-taken-back", "The answer that it was fixed on the spot is taken back.")
    step = Step("reopened", max(at, last.at), who, why.text, None, {"code": why.code, "answer": str(answer_id)})
    return ledger_findings.take_step(connection, finding_id, step)


def take_back_told(ledger: Ledger, finding: Finding, of: uuid.UUID | None, *, who: str, at: datetime) -> Sentence:
    """Take back that somebody was told of a finding, or the last that stands.

    Raises
    ------
    EarwitnessError : nothing such was filed, or it was taken back already
    """
    with ledger.writing() as connection:
        filed = told_of(connection, finding)
        standing = [t for t in filed if t.taken_back_at is None]
        if of is None and not standing:
            raise EarwitnessError("nobody is filed as told of this; what stands in a sheet is changed in the sheet")
        told = standing[-1] if of is None else next((t for t in filed if t.id == of), None)
        if told is None:
            raise EarwitnessError("nobody such is filed as told of this; look again at what stands")
        if not take_back(connection, schema.told, told.id, at=at, by=who):
            raise EarwitnessError(ALREADY)
    return say("told-taken-back", "That {whom} was told is taken back and counts no more.", whom=told.who)


def take_back_opinion(ledger: Ledger, reading_id: uuid.UUID, of: uuid.UUID, *, who: str, at: datetime) -> Sentence:
    """Take back a person's own verdict on a reading.

    Raises
    ------
    EarwitnessError : there is no such verdict, or it was taken back already
    """
    with ledger.writing() as connection:
        opinion = next((o for o in opinions(connection, reading_id) if o.id == of), None)
        if opinion is None:
            raise EarwitnessError("there is no such verdict on this reading; look again at what stands")
        if not take_back(connection, schema.opinion, opinion.id, at=at, by=who):
            raise EarwitnessError(ALREADY)
    return say("verdict-taken-back", "The verdict of {whose} is taken back and counts no more.", whose=opinion.who)
