"""The conditions of a reading, changed and judged again at once; kept only when the inspector keeps them."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from earwitness.ledger import readings
from earwitness.server import Ask, Page, Refusal, Went, jobs
from earwitness.work.answers import at_this_site, local_rates
from earwitness.work.correct import try_reading
from earwitness.workbench.conditions import changed, conditions_of
from earwitness.workbench.pages.reading import Judgement, judgement_of, reading_here, result_of
from earwitness.workbench.pages.survey import CORRECT

page = Page("reading-conditions", title="Conditions")


@dataclass(frozen=True)
class Changed:
    """Cells of the reading's row, by column."""

    cells: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Tried:
    """What the reading was judged, and what it would be under the changed conditions."""

    id: uuid.UUID
    was: str
    now: Judgement
    same: bool
    cells: Mapping[str, str]
    problems: Sequence[str]


@page.deed("/site/{site}/reading/{id}/try", role="look", template="reading_tried.html.j2")
def tried(ask: Ask, given: Changed) -> Tried:
    """Judge the reading under other conditions, without keeping them."""
    filed = reading_here(ask)
    with ask.ledger.reading() as connection:
        current = readings.current_judgements(connection, [filed.id]).get(filed.id)
        rates = local_rates(connection, filed.site_id)
    result = result_of(filed, current)
    cells = changed(given.cells, conditions_of(filed.kind, filed.cells, result))
    assessment = try_reading(ask.ledger, filed.id, cells).assessment
    found = assessment.as_json()
    was, now = (judgement_of(at_this_site(rates, each)) for each in (result, found))
    problems = [p["text"] for p in found.get("problems") or () if p.get("column") in cells]
    return Tried(filed.id, was.heading, now, was.heading == now.heading, cells, problems)


@page.deed("/site/{site}/reading/{id}/conditions", role="inspect")
def keep(ask: Ask, given: Changed) -> Went:
    """Correct the reading's row in its survey and judge that again; what stood before is kept."""
    filed = reading_here(ask)
    with ask.ledger.reading() as connection:
        current = readings.current_judgements(connection, [filed.id]).get(filed.id)
    cells = changed(given.cells, conditions_of(filed.kind, filed.cells, result_of(filed, current)))
    if not cells:
        raise Refusal(422, "nothing-corrected", "No condition was changed.")
    here = f"{ask.site.path}/reading/{filed.id}"
    asked = {
        "survey": str(filed.survey_id),
        "cells": {f"{filed.row}:{column}": text for column, text in cells.items()},
        "site": ask.site.tag,
        "address": here,
    }
    with ask.ledger.writing() as connection:
        job = jobs.enqueue(connection, CORRECT, ask.who.name, asked, ask.site.id)
    return Went(f"{here}?job={job}", str(job))
