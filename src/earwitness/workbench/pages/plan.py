"""Plan: who mends what, when; what a move costs; and the papers for it."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from sqlalchemy import select
from starlette.responses import Response

from earwitness.interval import Interval
from earwitness.ledger import schema
from earwitness.report.blocks import word
from earwitness.report.format import amounts, counted, digits_of
from earwitness.report.sheets import Sheet
from earwitness.report.wording import capital
from earwitness.sentence import Sentence
from earwitness.server import Ask, Page, Refusal, Went
from earwitness.work import desk_plan, work_orders
from earwitness.work.desk_plan import CraftLine, Wanted
from earwitness.work.desk_settings import keep, site_with
from earwitness.work.plan import Plan, take_over
from earwitness.work.plan_maker import AT_ONCE_S, PATIENCE_S, Making, maker
from earwitness.work.programme import currency_of
from earwitness.workbench.tag_link import tag_link

page = Page("plan", title="Plan", order=60)
FEW = 40  # repairs that are all laid open; of more the first week is, and those to which something was moved


@dataclass(frozen=True)
class Working:
    """A plan that is being made: of how many repairs, once that is known, and since when."""

    repairs: int | None
    seconds: float


@dataclass(frozen=True)
class StillWorking:
    working: Working | None


@dataclass(frozen=True)
class JobLine:
    finding_id: str
    what: str
    where: str
    tag: str
    word: str
    work: str
    value_per_year: float  # expected
    avoids: Interval | None  # a year; None where the value is assumed, because no reading says it
    currency: str
    week: int  # 0: not in these weeks
    best_week: int
    move_costs: Interval
    why: str
    state: str


@dataclass(frozen=True)
class WeekShown:
    week: int
    starts: date
    shutdown: bool
    hours: Sequence[str]
    avoids: Mapping[str, Interval]  # in a year, by currency
    open: bool
    bundles: Sequence[tuple[str, Sequence[JobLine]]]


@dataclass(frozen=True)
class PlanShown:
    """The repairs of the coming weeks, those moved by hand where they were put, and what that costs."""

    heading: str
    rests_on: str
    wanted: Wanted | None  # none while the plan is being made
    amiss: Sequence[str]
    crafts: Sequence[CraftLine]
    without_money: Mapping[str, int]
    currency: str
    told_in_money: bool
    weeks: Sequence[WeekShown]
    left: Sequence[JobLine]
    left_open: bool
    dangers: int
    moved: int
    moves_cost: Mapping[str, Interval]  # by currency
    breaks: Sequence[Sentence]
    notes: Sequence[Sentence]
    fields: Mapping[str, str]
    columns: str
    weeks_stamp: str = ""  # says which plan was looked at when it is scheduled
    working: Working | None = None


@dataclass(frozen=True)
class Move:
    """A repair and the week it goes to (from 1); 0 takes it out, none gives it back to the plan."""

    finding: str
    week: int | None = None


@dataclass(frozen=True)
class ScheduledAs:
    """The `weeks_stamp` of the plan that was looked at; without it the plan of this moment is meant."""

    seen: str = ""


@dataclass(frozen=True)
class Columns:
    """The columns of the plant's own system, a line each: THEIR COLUMN = field."""

    columns: str


@dataclass(frozen=True)
class Made:
    """The best plan, the one as it was moved by hand, and what both rest on."""

    wanted: Wanted
    best: Plan
    now: Plan
    moved: desk_plan.Moved
    columns: str
    unused: str


def _made(ask: Ask) -> Made:
    """For a deed or a paper, which need the plan itself."""
    found = _asked_for(ask, PATIENCE_S)
    if isinstance(found, Working):
        raise Refusal(503, "plan-not-made", "The plan is still being made; ask again in a minute.")
    return found


def _asked_for(ask: Ask, wait_s: float) -> Made | Working:
    with ask.ledger.reading() as connection:
        site = site_with(connection, ask.site.id)
        wanted = desk_plan.wanted_of(site, ask.site.now().date())
        offer, unused = desk_plan.kept_offer_of(wanted, currency_of(connection, site.id))
        best = maker.of(ask.ledger, connection, site, offer, wait_s)
    if isinstance(best, Making):
        return Working(best.repairs, round(best.seconds, 1))
    now, moved = desk_plan.with_moves(best, desk_plan.moves_of(site))
    return Made(wanted, best, now, moved, str(site.settings.get(work_orders.PART) or work_orders.USUAL), unused)


@page.data("/site/{site}/plan/working", role="plan")
def working(ask: Ask) -> StillWorking:
    """Whether the plan is being made, how many repairs it holds, and since how many seconds."""
    found = _asked_for(ask, 0.0)
    return StillWorking(found if isinstance(found, Working) else None)


@page.view("/site/{site}/plan", role="plan")
def show(ask: Ask) -> PlanShown:
    """The repairs of the coming weeks, and what they avoid."""
    made = _asked_for(ask, AT_ONCE_S)
    if isinstance(made, Working):
        return _not_yet(made)
    wanted, best, now, moved = made.wanted, made.best, made.now, made.moved
    first = desk_plan.first_day(wanted)
    moves = [n for n in now.jobs if now.found.week.get(n) != best.found.week.get(n)]
    at_hand = {1, *(now.found.week[n] + 1 for n in moves if n in now.found.week)}
    weeks = [_week(best, now, w, first, at_hand) for w in range(1, now.offer.weeks + 1)]
    amiss = [s for s in (desk_plan.over_of(wanted, ask.site.now().date()), made.unused) if s]
    return PlanShown(
        _heading(now), _rests_on(now), wanted, amiss, desk_plan.crafts_of(now, wanted),
        desk_plan.kinds_without_money(now, wanted), now.offer.currency, now.told_in_money, weeks,
        [_line(best, now, n) for n in now.left], len(now.jobs) <= FEW, len(now.dangers), len(moves), moved.cost,
        moved.breaks, now.notes, work_orders.FIELDS, made.columns, _weeks_stamp(made),
    )  # fmt: skip


def _not_yet(working: Working) -> PlanShown:
    of = "the repairs" if working.repairs is None else counted(working.repairs, "repair")
    return PlanShown(
        "The plan is being made", f"It sets {of} into weeks, which takes some seconds.",
        None, (), (), {}, "", False, (), (), False, 0, 0, {}, (), (), work_orders.FIELDS, "", "", working,
    )  # fmt: skip


def _weeks_stamp(made: Made) -> str:
    """Another one for each plan that sets a repair into another week."""
    text = repr((desk_plan.first_day(made.wanted), sorted(made.now.found.week.items())))
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _week(best: Plan, now: Plan, week: int, first: date, at_hand: set[int]) -> WeekShown:
    jobs, offer = now.in_week(week), now.offer
    hours = [f"{c} {u:g} of {offer.hours.get(c, 0):g} h" for c, u in desk_plan.used(now, week).items() if u]
    return WeekShown(
        week, first + timedelta(weeks=week - 1), week in offer.shutdowns, hours,
        now.sums({j.task.name: 1.0 for j in jobs}), len(now.jobs) <= FEW or week in at_hand, _bundles(best, now, week),
    )  # fmt: skip


def _heading(now: Plan) -> str:
    if not now.jobs:
        return "Nothing is waiting to be mended"
    text = f"{len(now.found.week)} of {counted(len(now.jobs), 'repair')} in {counted(now.offer.weeks, 'week')}"
    return f"{text}; they avoid {avoided} by then" if (avoided := amounts(now.avoided())) else text


def _rests_on(now: Plan) -> str:
    urgent = len(now.dangers)
    said = f"{counted(urgent, 'finding')} to act on now" if urgent else "none is known"
    best = (
        ""
        if now.found.gap < 0.0005
        else f" No plan could avoid more than {digits_of(100 * now.found.gap, 2)} % beyond it."
    )
    return f"Dangers stand before every plan: {said}.{best}"


def _bundles(best: Plan, now: Plan, week: int) -> list[tuple[str, Sequence[JobLine]]]:
    """Repairs of a week that share a set-up, together; the set-up as their heading."""
    out: dict[str, list[JobLine]] = {}
    for job in now.in_week(week):
        out.setdefault(capital("; ".join(job.task.bundles)), []).append(_line(best, now, job.task.name))
    return list(out.items())


def _line(best: Plan, now: Plan, name: str) -> JobLine:
    job = now.jobs[name]
    why = now.left[name].text if name in now.left else ""
    return JobLine(
        name, desk_plan.what(job), desk_plan.spot(job), job.listed.plant_tag or job.listed.tag or "",
        word(job.heard),
        f"{job.task.craft} {job.task.hours:g} h", job.value_per_year,
        job.avoids.over(1.0) if job.has_money else None, job.currency, now.found.week.get(name, -1) + 1,
        best.found.week.get(name, -1) + 1, desk_plan.cost_of(best, now, name), why,
        job.listed.finding.state,
    )  # fmt: skip


def _keep(ask: Ask, **values: Any) -> None:
    with ask.ledger.reading() as connection:
        before = site_with(connection, ask.site.id).settings.get(desk_plan.PART) or {}
    keep(ask.ledger, ask.site.id, desk_plan.PART, {**before, **values})


@page.deed("/site/{site}/plan/offer", role="plan")
def offered(ask: Ask, given: Wanted) -> Went:
    """Plan anew with these hours, budget and shutdown weeks; moves made by hand are given back."""
    with ask.ledger.reading() as connection:
        desk_plan.offer_of(given, currency_of(connection, ask.site.id))
    _keep(ask, **vars(given), moves={})
    return Went(f"{ask.site.path}/plan")


@page.deed("/site/{site}/plan/move", role="plan")
def move(ask: Ask, given: Move) -> Went:
    """Move one repair to another week; the others stay, and the page says what it costs and breaks."""
    made = _made(ask)
    best, wanted = made.best, made.wanted
    if given.finding not in best.jobs:
        raise Refusal(404, "not-there", "There is no such {what} here.", what="repair")
    if given.week is not None and not 0 <= given.week <= wanted.weeks:
        text = "There is no week {week} in this plan; 1 to {weeks} would do."
        raise Refusal(422, "week-wrong", text, week=given.week, weeks=wanted.weeks)
    with ask.ledger.reading() as connection:
        moves = desk_plan.moves_of(site_with(connection, ask.site.id))
    moves.pop(given.finding, None)
    if given.week is not None and given.week != best.found.week.get(given.finding, -1) + 1:
        moves[given.finding] = given.week
    _keep(ask, moves=moves)
    return Went(f"{ask.site.path}/plan#r-{given.finding}", given.finding, "Moved; the page says what it costs.")


@page.deed("/site/{site}/plan/columns", role="plan")
def columns(ask: Ask, given: Columns) -> Went:
    """Keep the columns that the plant's own system wants."""
    work_orders.columns_of(given.columns)
    keep(ask.ledger, ask.site.id, work_orders.PART, given.columns.strip())
    return Went(f"{ask.site.path}/plan#papers", text="The columns are kept.")


@page.deed("/site/{site}/plan/schedule", role="plan")
def scheduled(ask: Ask, given: ScheduledAs) -> Went:
    """The planned findings become scheduled, each with its week; not if the plan is no longer what was looked at."""
    made = _made(ask)
    if given.seen and given.seen != _weeks_stamp(made):
        text = (
            "Meanwhile the plan is another one. Nothing was scheduled; load the page anew, look it over, then schedule."
        )
        raise Refusal(409, "plan-otherwise", text)
    wanted, now = made.wanted, made.now
    first = datetime.combine(desk_plan.first_day(wanted), time(), ask.site.zone)
    count = take_over(ask.ledger, now, who=ask.who.name, at=datetime.now(UTC), first=first)
    return Went(f"{ask.site.path}/plan", text=f"{counted(count, 'repair')} scheduled, each by the end of its week.")


def _file(data: bytes, kind: str, name: str) -> Response:
    return Response(data, media_type=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'})


def _orders(made: Made) -> Sheet:
    return work_orders.orders(made.now, work_orders.columns_of(made.columns), desk_plan.first_day(made.wanted))


@page.raw("/site/{site}/plan/work-orders.csv", role="plan")
def orders_csv(ask: Ask) -> Response:
    """The work orders in the saved columns, as CSV."""
    sheet = _orders(_made(ask))
    return _file(work_orders.orders_csv(sheet), "text/csv; charset=utf-8", "work-orders.csv")


@page.raw("/site/{site}/plan/work-orders.xlsx", role="plan")
def orders_xlsx(ask: Ask) -> Response:
    """The same as a workbook."""
    sheet = _orders(_made(ask))
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    return _file(work_orders.orders_xlsx(sheet, datetime.now(UTC)), kind, "work-orders.xlsx")


@page.raw("/site/{site}/plan/calendar.ics", role="plan")
def calendar(ask: Ask) -> Response:
    """The weeks as a calendar file (RFC 5545)."""
    made = _made(ask)
    data = work_orders.orders_ics(made.now, desk_plan.first_day(made.wanted), datetime.now(UTC))
    return _file(data, "text/calendar; charset=utf-8", "repairs.ics")


@page.raw("/site/{site}/plan/cards.pdf", role="plan")
def cards(ask: Ask) -> Response:
    """A card for each planned repair: tag, photo, exact spot."""
    made = _made(ask)
    first = desk_plan.first_day(made.wanted)
    data = work_orders.cards_pdf(made.now, first, _photos(ask, made.now), tag_link(ask))
    return _file(data, "application/pdf", "cards.pdf")


def _photos(ask: Ask, now: Plan) -> dict[str, Path]:
    opened = {now.jobs[n].listed.finding.opened_by: n for n in now.found.week}
    r = schema.reading.c
    asked = select(r.id, r.photo_sha256).where(r.id.in_(sorted(opened)), r.photo_sha256.is_not(None))
    with ask.ledger.reading() as connection:
        return {opened[i]: ask.ledger.store.path(sha) for i, sha in connection.execute(asked)}
