"""The plan as the desk keeps it: what is offered, the weeks that come of it, and repairs moved by hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from earwitness import units
from earwitness.errors import EarwitnessError
from earwitness.interval import Interval
from earwitness.plant.site import Site
from earwitness.report.format import money, when
from earwitness.report.wording import FAULTS, capital
from earwitness.sentence import Sentence, say
from earwitness.work.desk_settings import NotTakenError
from earwitness.work.plan import WEEKS_A_YEAR, Job, Offer, Plan
from earwitness.work.rank import DEFAULT_REPAIR_HOURS

PART = "plan"  # of the site's settings
MOST_WEEKS, MOST_HOURS = 52, 1000
USUAL_WEEKS, USUAL_HOURS = 8, 16.0  # where nothing is set: two days a week of one person (common practice)


@dataclass(frozen=True)
class Wanted:
    """What somebody offers: the first day, weeks, hours a week by craft, shutdown weeks counted from 1 ("3, 7"), money
    for parts and help ("5000 EUR", empty: no limit), and what a year of a finding without money costs, by kind."""

    first: str
    weeks: int
    shutdowns: str = ""
    budget: str = ""
    hours: Mapping[str, float] = field(default_factory=dict)
    worth: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class CraftLine:
    """A craft that the open repairs need: how many, how long they take, the hours a week it has, and whence these."""

    craft: str
    repairs: int
    needs: float
    hours: float
    whence: str


@dataclass(frozen=True)
class Moved:
    """What moving repairs by hand costs within the weeks planned, and what it breaks."""

    cost: Mapping[str, Interval]  # by currency
    breaks: Sequence[Sentence]


def wanted_of(site: Site, today: date) -> Wanted:
    kept = site.settings.get(PART) or {}
    monday = today + timedelta(days=(7 - today.weekday()) % 7)
    return Wanted(
        str(kept.get("first") or monday.isoformat()), int(kept.get("weeks") or USUAL_WEEKS),
        str(kept.get("shutdowns") or ""), str(kept.get("budget") or ""), kept.get("hours") or {},
        kept.get("worth") or {},
    )  # fmt: skip


def over_of(wanted: Wanted, today: date) -> str:
    """That weeks of the plan are over, where they are."""
    gone = min((today - first_day(wanted)).days // 7, wanted.weeks)
    if gone < 1:
        return ""
    began, weeks = when(first_day(wanted).isoformat()), "1 week" if gone == 1 else f"{gone} weeks"
    return f"This plan began on {began}: {weeks} of it are over. State another first day to plan from now on."


def kinds_without_money(made: Plan, wanted: Wanted) -> dict[str, int]:
    """How many repairs of each kind have no amount of money that the plan can count, those for which one is stated here
    too."""
    kinds = [j.listed.finding.kind for j in made.jobs.values() if j.assumed & {"money", "worth"}]
    return {kind: kinds.count(kind) for kind in sorted(set(kinds) | {k for k, v in wanted.worth.items() if v.strip()})}


def crafts_of(made: Plan, wanted: Wanted) -> list[CraftLine]:
    """Each craft that the open repairs need, the busiest first."""
    jobs: dict[str, list[Job]] = {}
    for job in made.jobs.values():
        jobs.setdefault(job.task.craft, []).append(job)
    lines = []
    for craft, mine in jobs.items():
        hours = (
            "set here" if craft in wanted.hours else f"{USUAL_HOURS:g} h a week are assumed (two days of one person)"
        )
        said = [f"{hours}"]
        if n := sum("craft" in j.assumed for j in mine):
            said.append(f"the craft of {n} is assumed from what was heard")
        if n := sum("hours" in j.assumed for j in mine):
            said.append(f"{n} without stated hours count as {DEFAULT_REPAIR_HOURS:g} h each")
        if len(said) > 1 or craft not in wanted.hours:
            said.append("common practice")
        needs = sum(j.task.hours for j in mine)
        lines.append(
            CraftLine(craft, len(mine), needs, made.offer.hours.get(craft, 0.0), capital("; ".join(said)) + ".")
        )
    return sorted(lines, key=lambda c: (-c.needs, c.craft))


def offer_of(wanted: Wanted, currency: str) -> Offer:
    """Raises InputError where something is offered that cannot be."""
    first_day(wanted)
    if not 1 <= wanted.weeks <= MOST_WEEKS:
        raise NotTakenError("weeks", f"{wanted.weeks} weeks cannot be planned; 1 to {MOST_WEEKS} would do.")
    for craft, hours in wanted.hours.items():
        if not 0 <= hours <= MOST_HOURS:
            text = f"{hours:g} h a week cannot be; from 0 to {MOST_HOURS} would do."
            raise NotTakenError(f"hours.{craft}", text)
    shut = [p.strip() for p in wanted.shutdowns.replace(";", ",").split(",") if p.strip()]
    late = [s for s in shut if not s.isdigit() or not 1 <= int(s) <= wanted.weeks]
    if late:
        text = f"'{late[0]}' is no week of this plan; weeks 1 to {wanted.weeks}, separated by commas, would do."
        raise NotTakenError("shutdowns", text)
    worth = {}
    for kind, text in wanted.worth.items():
        if text.strip():
            worth[kind], currency = _money(text, f"worth.{kind}", currency)
    budget = float("inf")
    if wanted.budget.strip():
        budget, currency = _money(wanted.budget, "budget", currency)
    shutdowns = frozenset(int(s) for s in shut)
    return Offer(
        wanted.weeks, dict(wanted.hours), shutdowns, budget, currency, worth=worth, other_hours=USUAL_HOURS
    )  # fmt: skip


def kept_offer_of(wanted: Wanted, currency: str) -> tuple[Offer, str]:
    """The same of what was kept earlier: an amount that no longer fits is left out, and that is said."""
    try:
        return offer_of(wanted, currency), ""
    except EarwitnessError as error:
        return offer_of(replace(wanted, budget="", worth={}), currency), f"Budget and amounts are not used. {error}"


def _money(text: str, where: str, currency: str) -> tuple[float, str]:
    value, given = units.money(text, where=where, currency=currency or None)
    if currency and given != currency:
        raise NotTakenError(
            where, f"The repairs of this site are told in {currency}; state an amount in {currency} too."
        )
    return value, given


def first_day(wanted: Wanted) -> date:
    try:
        return date.fromisoformat(wanted.first.strip())
    except ValueError:
        raise NotTakenError("first", f"'{wanted.first}' is no day; 2026-11-30 would do.") from None


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
    lost = {n: years for n in best.jobs if (years := _years_lost(best, made, n))}
    return made, Moved(best.sums(lost), _broken(made))


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
            where = j.listed.point
            if j.task.needs_shutdown and w not in offer.shutdowns:
                text = "{where} needs a shutdown, and week {week} is none."
                out.append(say("move-no-shutdown", text, where=where, week=w))
            if w - 1 < j.task.first_week:
                out.append(say("move-no-parts", "The parts for {where} come after week {week}.", where=where, week=w))
    cost = sum(made.jobs[n].task.cost for n in made.found.week)
    if cost > offer.budget:
        text = "The parts and help cost {cost}, more than the budget."
        out.append(say("move-budget", text, cost=money({offer.currency: cost})))
    return out


def _used(made: Plan, jobs: Sequence[Job], craft: str) -> float:
    mine = [j for j in jobs if j.task.craft == craft]
    set_ups = {b for j in mine for b in j.task.bundles}
    return sum(j.task.hours for j in mine) + sum(made.offer.set_up_hours.get(b.split(":")[0], 0.0) for b in set_ups)


def used(made: Plan, week: int) -> dict[str, float]:
    """Hours of each craft in a week, also of one that is not offered."""
    jobs = made.in_week(week)
    return {c: _used(made, jobs, c) for c in sorted(set(made.offer.hours) | {j.task.craft for j in jobs})}


def cost_of(best: Plan, now: Plan, name: str) -> Interval:
    """What the place of this repair costs against the best plan, in money avoided within these weeks, in the currency
    of the repair."""
    return best.jobs[name].avoids.over(_years_lost(best, now, name))


def _years_lost(best: Plan, now: Plan, name: str) -> float:
    """How much sooner this repair is made in the best plan, within these weeks."""
    weeks = best.offer.weeks
    before, after = (weeks - made.found.week.get(name, weeks) for made in (best, now))
    return (before - after) / WEEKS_A_YEAR


def what(job: Job) -> str:
    verdict = job.listed.finding.verdict
    return capital(FAULTS.get(verdict, (verdict,))[0])


def spot(job: Job) -> str:
    x = job.listed
    return ", ".join(p for p in (x.area, x.point, x.location) if p)
