"""What is wrong here, in the order to mend it. Dangers stand first and outside every filter."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from earwitness.ledger import findings, sites
from earwitness.plant.finding import STANDING
from earwitness.plant.site import Area
from earwitness.report.format import counted
from earwitness.server import Ask, Page
from earwitness.server.refusal import not_found
from earwitness.work.desk_findings import FindingRow, dangers, rows_by_rank
from earwitness.work.programme import currencies_of

page = Page("findings", title="Findings", order=40)
SHOWN = 50
SHOWS = ("open", "closed", "all")


@dataclass(frozen=True)
class Findings:
    """A page of the list."""

    heading: str
    show: str
    area: uuid.UUID | None
    areas: Sequence[Area]
    dangers: Sequence[FindingRow]
    rows: Sequence[FindingRow]
    counts: Mapping[str, int]
    currencies: Sequence[str]
    number: int
    more: bool


@page.view("/site/{site}/findings")
def show(ask: Ask) -> Findings:
    """Dangers, then by rank; `show` open, closed or all, of one `area`, page by page."""
    shown = ask.query.get("show", "open")
    if shown not in SHOWS:
        raise not_found("list")
    number = int(ask.number("page", 1, 1, 100_000))
    with ask.ledger.reading() as connection:
        areas = sites.areas(connection, ask.site.id)
        area = next((a.id for a in areas if str(a.id) == ask.query.get("area")), None)
        first = dangers(connection, ask.site.id)
        counts = findings.count_by_state(connection, ask.site.id)
        currencies = currencies_of(connection, ask.site.id)
        rows = rows_by_rank(
            connection, ask.site.id, show=shown, area_id=area, limit=SHOWN + 1, offset=SHOWN * (number - 1)
        )
    more, above = len(rows) > SHOWN, {d.id for d in first}
    rows = [r for r in rows[:SHOWN] if r.id not in above]
    return Findings(_heading(counts, len(first)), shown, area, areas, first, rows, counts, currencies, number, more)


def _heading(counts: Mapping[str, int], urgent: int) -> str:
    standing = sum(counts.get(s, 0) for s in STANDING)
    said = [counted(standing, "finding") + " to mend" if standing else "Nothing to mend is known here"]
    if urgent:
        said.insert(0, counted(urgent, "thing") + " to act on now")
    if counts.get("repaired"):
        said.append(counted(counts["repaired"], "repair") + " to verify")
    return ", ".join(said)
