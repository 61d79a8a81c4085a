"""One reading: why the tool says so, what it sounds like, and what the inspector says.

Its sound and pictures are in `reading_sound`, its conditions in `reading_conditions`.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, select

from earwitness.ledger import readings, schema, surveys
from earwitness.ledger.readings import FiledReading
from earwitness.report import blocks, wording
from earwitness.report.evidence import SILENT, Measure, measures
from earwitness.report.model import Amount, Said
from earwitness.server import Ask, Page, Went, jobs
from earwitness.server.refusal import not_found
from earwitness.work.answers import at_this_site, local_rates
from earwitness.work.opinion import Agreement, Opinion, agreement, decide, opinions, verdicts_of
from earwitness.work.take_back import take_back_opinion
from earwitness.workbench.conditions import Condition, conditions_of

page = Page("reading", title="Reading", under="surveys")
WIDE_BAND_HZ = 96_000


@dataclass(frozen=True)
class Piece:
    """One measure: its value, what it was held against, and what that says for which verdicts [nats]. `weight` is what
    all of it together says for the verdict that is likeliest."""

    name: str
    value: str
    criterion: str
    says: str
    weight: float


@dataclass(frozen=True)
class SoundOf:
    """The recording behind the reading."""

    file: str
    seconds: float
    rate_hz: float
    channel: int
    wide: bool
    tuned_khz: float | None
    places: Sequence[Mapping[str, float]]


@dataclass(frozen=True)
class Earlier:
    """A judgement or a correction that was replaced."""

    at: datetime
    text: str


@dataclass(frozen=True)
class Judgement:
    """What a reading was judged to be, to be read."""

    heading: str
    verdict: str | None
    probability: float | None
    for_it: Sequence[Piece]
    against_it: Sequence[Piece]
    next_to_nothing: int
    probabilities: str
    severity: str
    spoiled: Sequence[str]
    next_step: str
    notes: Sequence[str]
    amounts: Sequence[Amount]
    hazards: Sequence[Mapping[str, Any]]
    cautions: Sequence[str]
    reported: str


@dataclass(frozen=True)
class ReadingShown:
    id: uuid.UUID
    reading: str
    kind: str
    status: str
    where: str
    survey_id: uuid.UUID
    survey: str
    point_id: uuid.UUID | None
    finding: str | None
    judged: Judgement
    sound: SoundOf | None
    lost: bool  # the recording was filed and is not in the folder of recordings
    place: Sequence[Said]
    note: str
    photo: bool
    conditions: Sequence[Condition]
    opinions: Sequence[Opinion]
    verdicts: Sequence[str]
    agreement: Agreement
    earlier: Sequence[Earlier]
    job: jobs.JobState | None
    before_id: uuid.UUID | None
    next_id: uuid.UUID | None
    may_inspect: bool


@dataclass(frozen=True)
class Decided:
    verdict: str
    why: str


@dataclass(frozen=True)
class TakenBack:
    """A verdict of a person's own that was a mistake."""

    of: uuid.UUID


def reading_here(ask: Ask) -> FiledReading:
    of = ask.id(what="reading")
    with ask.ledger.reading() as connection:
        try:
            found = readings.reading(connection, of)
        except ValueError:
            raise not_found("reading") from None
    if found.site_id != ask.site.id:
        raise not_found("reading")
    return found


def result_of(filed: FiledReading, judged: readings.Judged | None) -> Mapping[str, Any]:
    """What is kept of its judgement; its bare status where it was never judged."""
    return judged.result if judged else {"reading": filed.name, "kind": filed.kind, "status": filed.status}


@page.view("/site/{site}/reading/{id}")
def show(ask: Ask) -> ReadingShown:
    """Why the tool says so, what spoils it, and what the inspector says."""
    filed = reading_here(ask)
    with ask.ledger.reading() as connection:
        survey = surveys.survey(connection, filed.survey_id)
        history = readings.judgements(connection, filed.id)
        corrected = readings.revisions(connection, filed.id)
        said = opinions(connection, filed.id)
        agreed = agreement(connection, filed.site_id)
        order = _beside(connection, filed)
        rates = local_rates(connection, filed.site_id)
    current = next((j for j in history if j.current), None)
    result = at_this_site(rates, result_of(filed, current))
    lost = filed.recording_sha256 is not None and not ask.ledger.store.path(filed.recording_sha256).is_file()
    earlier = [Earlier(j.made_at, wording.headline(j.result)) for j in history if not j.current]
    earlier += [Earlier(v.replaced_at, f"Row corrected; revision {v.revision} stood before.") for v in corrected]
    return ReadingShown(
        id=filed.id,
        reading=filed.name,
        kind=filed.kind,
        status=filed.status,
        where=blocks.where(result),
        survey_id=filed.survey_id,
        survey=survey.title,
        point_id=filed.point_id,
        finding=result.get("finding"),
        judged=judgement_of(result),
        sound=None if lost else _sound(filed, result),
        lost=lost,
        place=blocks.block(result, None).place,
        note=str(result.get("note") or ""),
        photo=filed.photo_sha256 is not None,
        conditions=conditions_of(filed.kind, filed.cells, result),
        opinions=said,
        verdicts=verdicts_of(filed.kind),
        agreement=agreed,
        earlier=sorted(earlier, key=lambda e: e.at, reverse=True),
        job=jobs.asked_for(ask.ledger, ask.query.get("job")),
        before_id=order[0],
        next_id=order[1],
        may_inspect=ask.may("inspect"),
    )


def _beside(connection: Connection, filed: FiledReading) -> tuple[uuid.UUID | None, uuid.UUID | None]:
    """The readings before and after this one in its sheet."""
    r = schema.reading.c
    here = select(r.id).where(r.survey_id == filed.survey_id, r.status != readings.WITHDRAWN).limit(1)
    before = connection.execute(here.where(r.row < filed.row).order_by(r.row.desc())).scalar()
    after = connection.execute(here.where(r.row > filed.row).order_by(r.row)).scalar()
    return before, after


def judgement_of(result: Mapping[str, Any]) -> Judgement:
    block = blocks.block(result, None)
    found = measures(result)
    pieces = [Piece(m.name, m.value, m.criterion, m.speaks, m.says) for m in found if _says_something(m)]
    return Judgement(
        heading=wording.headline(result).rstrip("."),
        verdict=result.get("verdict"),
        probability=result.get("probability"),
        for_it=[p for p in pieces if p.weight >= 0],
        against_it=[p for p in pieces if p.weight < 0],
        next_to_nothing=len(found) - len(pieces),
        probabilities=block.probabilities,
        severity=block.severity,
        spoiled=block.spoiled,
        next_step=block.next_step,
        notes=block.notes,
        amounts=block.amounts,
        hazards=result.get("hazards") or (),
        cautions=block.cautions,
        reported=block.reported,
    )


def _says_something(m: Measure) -> bool:
    return any(abs(w) >= SILENT for _, w in m.weights)


def _sound(filed: FiledReading, result: Mapping[str, Any]) -> SoundOf | None:
    used = result.get("recording")
    if filed.recording_sha256 is None or not used:
        return None
    rate = float(used["rate_hz"])
    centre = filed.cells.get("centre_hz")
    tuned = round(float(centre) / 1000, 1) if centre and 1000 < float(centre) < rate / 2 else None
    return SoundOf(
        str(used["file"]), float(used["seconds"]), rate, int(used["channel_used"]), rate >= WIDE_BAND_HZ, tuned,
        result.get("places") or (),
    )  # fmt: skip


@page.deed("/site/{site}/reading/{id}/decide", role="inspect")
def decided(ask: Ask, given: Decided) -> Went:
    """Keep the inspector's own verdict beside the tool's, with its reason."""
    filed = reading_here(ask)
    with ask.ledger.writing() as connection:
        opinion = Opinion(datetime.now(UTC), ask.who.name, given.verdict, given.why)
        decide(connection, filed.id, filed.kind, filed.site_id, opinion)
    return Went(f"{ask.site.path}/reading/{filed.id}#opinion", str(filed.id), "Your verdict is kept beside the tool's.")


@page.deed("/site/{site}/reading/{id}/take-back", role="inspect")
def taken_back(ask: Ask, given: TakenBack) -> Went:
    """Take back a verdict of a person's own; it stays to be read, and counts no more."""
    filed = reading_here(ask)
    sentence = take_back_opinion(ask.ledger, filed.id, given.of, who=ask.who.name, at=datetime.now(UTC))
    return Went(f"{ask.site.path}/reading/{filed.id}#opinion", str(filed.id), sentence.text)
