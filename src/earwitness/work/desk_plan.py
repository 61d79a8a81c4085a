"""The plan as the desk keeps it: what is offered, the weeks that come of it, and repairs moved by hand."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from sqlalchemy import Connection, func, select

from earwitness import units
from earwitness.errors import InputError
from earwitness.ledger import schema
from earwitness.plant.site import Site
from earwitness.report.wording import FAULTS, capital
from earwitness.sentence import Sentence, say
from earwitness.work.plan import DEFAULT_CRAFT, Job, Offer, Plan, plan

PART = "plan"  # of the site's settings
MOST_WEEKS = 52
_kept: OrderedDict[Any, Plan] = OrderedDict()  # the last few plans, by all that they rest on


@dataclass(frozen=True)
class Wanted:
    """What somebody offers: the first Monday, weeks, hours a week ("fitter=16, electrician=8"), shutdown weeks counted
    from 1 ("3, 7"), money for parts and help ("5000 EUR", empty: no limit)."""

    first: str
    weeks: int
    hours: str
    shutdowns: str
    budget: str


@dataclass(frozen=True)
class Moved:
    """What moving repairs by hand costs within the weeks planned, and what it breaks."""

    cost: float
    breaks: Sequence[Sentence]


def wanted_of(site: Site, today: date) -> Wanted:
    kept = site.settings.get(PART) or {}
    monday = today + timedelta(days=(7 - today.weekday()) % 7)
    usual = ", ".join(f"{craft}=16" for craft in sorted(set(DEFAULT_CRAFT.values())))
    return Wanted(
        str(kept.get("first") or monday.isoformat()), int(kept.get("weeks") or 8), str(kept.get("hours") or usual),
        str(kept.get("shutdowns") or ""), str(kept.get("budget") or ""),
    )  # fmt: skip


def offer_of(wanted: Wanted, currency: str) -> Offer:
    """Raises InputError where something is offered that cannot be."""
    first_day(wanted)
    if not 1 <= wanted.weeks <= MOST_WEEKS:
        raise InputError("weeks", wanted.weeks, f"1 to {MOST_WEEKS}")
    hours: dict[str, float] = {}
    for part in filter(None, (p.strip() for p in wanted.hours.replace(";", ",").split(","))):
        craft, equals, number = part.partition("=")
        value = units.number(number.removesuffix("h").strip(), where="hours") if equals and craft.strip() else -1.0
        if not 0 <= value <= 1000:
            raise InputError("hours", part, "a craft and its hours a week, such as fitter=16")
        hours[craft.strip()] = value
    if not hours:
        raise InputError("hours", "empty", "a craft and its hours a week, such as fitter=16")
    shut = [p.strip() for p in wanted.shutdowns.replace(";", ",").split(",") if p.strip()]
    late = [s for s in shut if not s.isdigit() or not 1 <= int(s) <= wanted.weeks]
    if late:
        raise InputError("shutdowns", late[0], f"weeks 1 to {wanted.weeks}, separated by commas")
    budget = float("inf")
    if wanted.budget.strip():
        budget, currency = units.money(wanted.budget, where="budget", currency=currency or None)
    return Offer(wanted.weeks, hours, frozenset(int(s) for s in shut), budget, currency)


def first_day(wanted: Wanted) -> date:
    try:
        return date.fromisoformat(wanted.first.strip())
    except ValueError:
        raise InputError("first", wanted.first, "a date such as 2026-11-30") from None


def planned(connection: Connection, site: Site, offer: Offer) -> Plan:
    """The best plan; solved once for what is in the ledger now."""
    s, a = schema.finding_step, schema.assessment
    steps = connection.execute(select(func.count(), func.max(s.c.at)).where(s.c.site_id == site.id)).one()
    judged = connection.execute(select(func.count(), func.max(a.c.made_at)).where(a.c.site_id == site.id)).one()
    key = (str(connection.engine.url), site.id, repr(offer), tuple(steps), tuple(judged))
    if key not in _kept:
        _kept[key] = plan(connection, site, offer)
        while len(_kept) > 8:
            _kept.popitem(last=False)
    return replace(_kept[key], site=site)


def moves_of(site: Site) -> dict[str, int]:
    """Finding: week from 1, or 0 for not in these weeks."""
    return {str(k): int(v) for k, v in ((site.settings.get(PART) or {}).get("moves") or {}).items()}


def with_moves(best: Plan, moves: Mapping[str, int]) -> tuple[Plan, Moved]:
    """The plan with these repairs moved and all others where they were: what it avoids less, and what it breaks."""
    week = dict(best.found.week)
    for name, to in moves.items():
        if name in best.jobs and to <= best.offer.weeks:
            week.pop(name, None)
            if to > 0:
                week[name] = to - 1
    value = sum(best.jobs[n].task.value_per_week * (best.offer.weeks - w) for n, w in week.items())
    left = {n: best.left.get(n) or say("left-by-hand", "Taken out by hand.") for n in best.jobs if n not in week}
    found = replace(best.found, week=week, value=value, left=tuple(left))
    made = replace(best, found=found, left=left)
    return made, Moved(best.found.value - value, _broken(made))


def _broken(made: Plan) -> list[Sentence]:
    offer, out = made.offer, []
    for w in range(1, offer.weeks + 1):
        jobs = made.in_week(w)
        for craft in sorted({j.task.craft for j in jobs} | set(offer.hours)):
            used, offered = _used(made, jobs, craft), offer.hours.get(craft, 0.0)
            if used > offered + 1e-6:
                text = "Week {week} needs {used:g} h of {craft} and offers {offered:g} h."
                out.append(say("move-hours", text, week=w, used=round(used, 2), craft=craft, offered=offered))
        for j in jobs:
            where = j.listed.point or j.listed.tag or "a point in doubt"
            if j.task.needs_shutdown and w not in offer.shutdowns:
                text = "{where} needs a shutdown, and week {week} is none."
                out.append(say("move-no-shutdown", text, where=where, week=w))
            if w - 1 < j.task.first_week:
                out.append(say("move-no-parts", "The parts for {where} come after week {week}.", where=where, week=w))
    cost = sum(made.jobs[n].task.cost for n in made.found.week)
    if cost > offer.budget:
        text = "The parts and help cost {cost:.0f} {currency}, more than the budget."
        out.append(say("move-budget", text, cost=cost, currency=offer.currency))
    return out


def _used(made: Plan, jobs: Sequence[Job], craft: str) -> float:
    mine = [j for j in jobs if j.task.craft == craft]
    set_ups = {b for j in mine for b in j.task.bundles}
    return sum(j.task.hours for j in mine) + sum(made.offer.set_up_hours.get(b.split(":")[0], 0.0) for b in set_ups)


def used(made: Plan, week: int) -> dict[str, float]:
    """Hours of each craft in a week, also of one that is not offered."""
    jobs = made.in_week(week)
    return {c: _used(made, jobs, c) for c in sorted(set(made.offer.hours) | {j.task.craft for j in jobs})}


def cost_of(best: Plan, now: Plan, name: str) -> float:
    """What the place of this repair costs against the best plan, in money avoided within these weeks."""
    task, weeks = best.jobs[name].task, best.offer.weeks
    before = best.found.week.get(name)
    after = now.found.week.get(name)
    gain = [0.0 if w is None else task.value_per_week * (weeks - w) for w in (before, after)]
    return gain[0] - gain[1]


def what(job: Job) -> str:
    verdict = job.listed.finding.verdict
    return capital(FAULTS.get(verdict, (verdict,))[0])


def spot(job: Job) -> str:
    x = job.listed
    return ", ".join(p for p in (x.area, x.point, x.location) if p) or "a point in doubt"
