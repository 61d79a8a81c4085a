"""Findings and their history: opened, stepped on, ranked, and what the steps save over time."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, func, select

from earwitness.errors import InputError
from earwitness.ledger import schema
from earwitness.ledger.rows import change, put
from earwitness.plant.finding import ACT_NOW_CLASS, CLOSED, STANDING, Figures, Finding, Step, check_step

FIGURES = tuple(Figures.__dataclass_fields__)


@dataclass(frozen=True)
class Listed:
    """A line of the list: a finding with the names of its point and area; where the point is in doubt, as the row that
    opened it has them."""

    finding: Finding
    point: str
    tag: str | None  # as printed
    plant_tag: str | None
    area: str | None
    location: str | None

    @property
    def where(self) -> str:
        """In words: area, point, tag."""
        tag = self.plant_tag or self.tag
        return ", ".join(x for x in (self.area, self.point, f"tag {tag}" if tag else None) if x)


@dataclass(frozen=True)
class Savings:
    """From this moment on, until the next: the sums of what open findings would save, what verified repairs do save,
    and what was saved and is lost again [currency a year]. Each currency has sums of its own."""

    at: datetime
    estimated: float
    verified: float
    lost_again: float
    currency: str = ""  # empty where no money is known


def finding(connection: Connection, finding_id: uuid.UUID) -> Finding:
    row = connection.execute(select(schema.finding).where(schema.finding.c.id == finding_id)).first()
    if row is None:
        raise InputError("finding", finding_id, "the identity of a finding in this ledger")
    return _finding(row)


def findings_at(connection: Connection, point_id: uuid.UUID, kind: str | None = None) -> list[Finding]:
    """Every finding that a point ever had, the latest first."""
    f = schema.finding.c
    asked = select(schema.finding).where(f.point_id == point_id)
    if kind is not None:
        asked = asked.where(f.kind == kind)
    return [_finding(r) for r in connection.execute(asked.order_by(f.opened_at.desc(), f.id))]


def findings_beginning(connection: Connection, site_id: uuid.UUID, digits: str) -> list[Finding]:
    """Those of a site whose identity begins with these digits; none for fewer than four."""
    digits = digits.replace("-", "")
    if not 4 <= len(digits) <= 32 or any(d not in "0123456789abcdef" for d in digits):
        return []
    low, high = (uuid.UUID(digits.ljust(32, end)) for end in "0f")
    f = schema.finding.c
    rows = connection.execute(select(schema.finding).where(f.id.between(low, high), f.site_id == site_id).limit(9))
    return [_finding(r) for r in rows]


def findings_opened_by(connection: Connection, reading_ids: Collection[uuid.UUID]) -> dict[uuid.UUID, Finding]:
    """By the reading that opened it."""
    f, ids, found = schema.finding.c, sorted(reading_ids), dict[uuid.UUID, Finding]()
    for first in range(0, len(ids), 500):
        rows = connection.execute(select(schema.finding).where(f.opened_by.in_(ids[first : first + 500])))
        found |= {r.opened_by: _finding(r) for r in rows}
    return found


def ranked(
    connection: Connection,
    site_id: uuid.UUID,
    *,
    standing: bool | None = True,
    limit: int = 100,
    offset: int = 0,
    states: Collection[str] = (),
    area_id: uuid.UUID | None = None,
    urgent: bool = False,
) -> list[Listed]:
    """A page of the site's findings by rank: what is to be acted on first, first. `standing` are those open,
    scheduled or reopened; else those repaired, verified or dismissed; for None all, those standing first. `urgent` are
    only those to be acted on from the floor."""
    f, p = schema.finding.c, schema.point.c
    page = select(schema.finding).where(f.site_id == site_id)
    if standing is not None:
        page = page.where(f.standing == standing)
    if states:
        page = page.where(f.state.in_(sorted(states)))
    if area_id is not None:
        page = page.join(schema.point, p.id == f.point_id).where(p.area_id == area_id)
    if urgent:
        page = page.where(f.rank_class < ACT_NOW_CLASS)
    first = (f.standing.desc(),) if standing is None else ()
    page = page.order_by(*first, f.rank_class, f.rank_loss, f.rank_rest, f.id).limit(limit).offset(offset)
    return listed(connection, [_finding(r) for r in connection.execute(page)])


def listed(connection: Connection, found: Sequence[Finding]) -> list[Listed]:
    """These findings, each with its place."""
    p, a = schema.point.c, schema.area.c
    named = select(p.id, p.name, p.tag, p.plant_tag, p.location, a.name.label("area"))
    placed = named.select_from(schema.point.outerjoin(schema.area, a.id == p.area_id))
    ids = {f.point_id for f in found if f.point_id is not None}
    places = {r.id: r for r in connection.execute(placed.where(p.id.in_(ids)))} if ids else {}
    noted = _as_noted(connection, [f.opened_by for f in found if f.point_id is None])
    return [_listed(f, places.get(f.point_id), noted.get(f.opened_by, {})) for f in found]


def count_by_state(connection: Connection, site_id: uuid.UUID) -> dict[str, int]:
    f = schema.finding.c
    rows = connection.execute(select(f.state, func.count()).where(f.site_id == site_id).group_by(f.state))
    return {state: count for state, count in rows}


def history(connection: Connection, finding_id: uuid.UUID) -> list[Step]:
    s = schema.finding_step.c
    rows = connection.execute(select(schema.finding_step).where(s.finding_id == finding_id).order_by(s.number))
    return [Step(r.state, r.at, r.who, r.why, r.reading_id, r.data, r.saving_per_year, r.currency) for r in rows]


def stepped_by(connection: Connection, reading_id: uuid.UUID) -> list[uuid.UUID]:
    """The findings of which this reading decided a step."""
    s = schema.finding_step.c
    return list(connection.scalars(select(s.finding_id).where(s.reading_id == reading_id).distinct()))


def open_finding(connection: Connection, opened: Finding, step: Step) -> None:
    """A new finding with its first step; one that is there already stays as it is."""
    if connection.scalar(select(schema.finding.c.id).where(schema.finding.c.id == opened.id)) is not None:
        return
    check_step((), step.state, step.why)
    row = {name: getattr(opened, name) for name in Finding.__dataclass_fields__ if name != "figures"}
    put(connection, schema.finding, [row | {"standing": True} | _figures(opened.figures)])
    _put_step(connection, opened, step, 1)


def take_step(
    connection: Connection, finding_id: uuid.UUID, step: Step, *, figures: Figures | None = None, verdict: str = ""
) -> Finding:
    """The finding's next step; raises InputError where it may not be taken. New figures replace those of the list."""
    now = finding(connection, finding_id)
    steps = history(connection, finding_id)
    check_step(steps, step.state, step.why)
    values: dict[str, Any] = {
        "state": step.state,
        "standing": step.state in STANDING,
        "closed_at": step.at if step.state in CLOSED else None,
    }
    if figures is not None:
        values |= _figures(figures)
    if verdict:
        values["verdict"] = verdict
    if step.saving_per_year is None:
        money = now.figures if figures is None else figures
        step = replace(step, saving_per_year=money.saving_per_year, currency=money.currency)
    _put_step(connection, now, step, len(steps) + 1)
    change(connection, schema.finding, finding_id, **values)
    return finding(connection, finding_id)


def refigure(
    connection: Connection, finding_id: uuid.UUID, figures: Figures, verdict: str, point_id: uuid.UUID | None
) -> None:
    """The same reading judged anew: its finding's figures follow, its history does not change."""
    change(connection, schema.finding, finding_id, **_figures(figures), verdict=verdict, point_id=point_id)


def savings(connection: Connection, site_id: uuid.UUID) -> list[Savings]:
    """The three sums after each step that was ever taken, in order of time, each in the currency of its step. Where no
    step of the site has money, sums of nothing without a currency."""
    s = schema.finding_step.c
    asked = select(s.finding_id, s.state, s.at, s.saving_per_year, s.currency).where(s.site_id == site_id)
    rows = connection.execute(asked.order_by(s.at, s.finding_id, s.number)).all()
    without_money = all(r.saving_per_year is None for r in rows)
    now: dict[uuid.UUID, tuple[str, str, float]] = {}
    proven: set[uuid.UUID] = set()
    sums: dict[str, dict[str, float]] = {}
    out: list[Savings] = []
    for row in rows:
        if row.state == "verified":
            proven.add(row.finding_id)
        touched = _moved(sums, now, row, _account(row.state, row.finding_id in proven))
        for currency in sorted(touched) if not without_money else [""]:
            own = sums.get(currency) or dict.fromkeys(ACCOUNTS, 0.0)
            at = Savings(row.at, **{name: round(own[name], 6) + 0.0 for name in ACCOUNTS}, currency=currency)
            same = next((n for n in range(len(out) - 1, -1, -1) if out[n].currency == currency), None)
            if same is not None and out[same].at == at.at:
                out[same] = at
            else:
                out.append(at)
    return out


ACCOUNTS = ("estimated", "verified", "lost_again")


def saved_each(connection: Connection, site_id: uuid.UUID) -> dict[uuid.UUID, tuple[str, str, float]]:
    """What each finding adds to the last of these sums: currency, account, amount [currency a year]."""
    s = schema.finding_step.c
    asked = select(s.finding_id, s.state, s.saving_per_year, s.currency).where(s.site_id == site_id)
    rows = connection.execute(asked.order_by(s.at, s.finding_id, s.number)).all()
    proven = {r.finding_id for r in rows if r.state == "verified"}
    last = {r.finding_id: r for r in rows}
    each = {i: (r.currency or "", _account(r.state, i in proven), r.saving_per_year) for i, r in last.items()}
    return {i: moved for i, moved in each.items() if moved[1] and moved[2] is not None}


def promised_each(connection: Connection, site_id: uuid.UUID) -> list[tuple[uuid.UUID, str, float]]:
    """What each finding that was ever repaired or verified was to save at that step, at most: currency, amount."""
    s = schema.finding_step.c
    asked = (
        select(s.finding_id, s.currency, func.max(s.saving_per_year))
        .where(s.site_id == site_id, s.state.in_(["repaired", "verified"]), s.saving_per_year.is_not(None))
        .group_by(s.finding_id, s.currency)
        .order_by(s.finding_id, s.currency)
    )
    return [(i, currency or "", value) for i, currency, value in connection.execute(asked)]


def _moved(
    sums: dict[str, dict[str, float]], now: dict[uuid.UUID, tuple[str, str, float]], row: Any, account: str
) -> set[str]:
    """Take the finding's saving from the account where it stood to this one; the currencies whose sums this changed."""
    currency, name, value = now.get(row.finding_id, ("", "", 0.0))
    touched = set()
    if name:
        sums[currency][name] -= value
        touched.add(currency)
    if row.saving_per_year is None:
        now[row.finding_id] = ("", "", 0.0)
        return touched
    currency = row.currency or ""
    own = sums.setdefault(currency, dict.fromkeys(ACCOUNTS, 0.0))
    if account:
        own[account] += row.saving_per_year
    now[row.finding_id] = (currency, account, row.saving_per_year)
    return touched | {currency}


def _account(state: str, proven: bool) -> str:
    if state == "verified":
        return "verified"
    if state == "dismissed":
        return ""
    return "lost_again" if proven else "estimated"


def _put_step(connection: Connection, of: Finding, step: Step, number: int) -> None:
    row: Mapping[str, Any] = {
        "id": step.identity(of.id, number),
        "site_id": of.site_id,
        "finding_id": of.id,
        "number": number,
        "state": step.state,
        "at": step.at,
        "who": step.who,
        "why": step.why,
        "reading_id": step.reading_id,
        "saving_per_year": step.saving_per_year,
        "currency": step.currency,
        "data": dict(step.data),
    }
    put(connection, schema.finding_step, [row])


def _figures(figures: Figures) -> dict[str, Any]:
    return {name: getattr(figures, name) for name in FIGURES}


def _finding(r: Row[Any]) -> Finding:
    cells = r._mapping
    own = {name: cells[name] for name in Finding.__dataclass_fields__ if name != "figures"}
    return Finding(**own, figures=Figures(**{name: cells[name] for name in FIGURES}))


def _as_noted(connection: Connection, opened_by: Sequence[uuid.UUID]) -> dict[uuid.UUID, Mapping[str, Any]]:
    """What the rows of these readings say."""
    if not opened_by:
        return {}
    r = schema.reading.c
    return {row.id: row.cells for row in connection.execute(select(r.id, r.cells).where(r.id.in_(opened_by)))}


def _listed(found: Finding, place: Any, noted: Mapping[str, Any]) -> Listed:
    if place is None:
        point = noted.get("point") or noted.get("reading") or "no point known"
        return Listed(found, point, None, noted.get("tag"), noted.get("area"), noted.get("location"))
    return Listed(found, place.name, place.tag, place.plant_tag, place.area, place.location)
