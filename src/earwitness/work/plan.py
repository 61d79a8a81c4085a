"""The repairs of the coming weeks: which, when, by whom, so that the expected loss avoided is greatest.

Dangers are not planned: they are dealt with before. What one isolation, one access or one bag of parts serves is set up
once a week for each craft. A finding counts with its saving times the probability that it is there.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from statistics import median
from typing import Any, Literal, Protocol

from sqlalchemy import Connection

from earwitness.errors import EarwitnessError
from earwitness.interval import Interval, Uncertain
from earwitness.ledger import Ledger
from earwitness.ledger import findings as stored
from earwitness.ledger.findings import Listed
from earwitness.plant.assessment import rounded
from earwitness.plant.finding import Step
from earwitness.plant.site import Site
from earwitness.programme.schedule import Schedule, Task, Weeks, schedule
from earwitness.report.format import money as told_money
from earwitness.sentence import Sentence, say
from earwitness.work.answers import corrected, local_rates, record_of_told
from earwitness.work.avoided import Avoided, as_json, if_there, together
from earwitness.work.last_heard import as_last_heard
from earwitness.work.rank import DEFAULT_REPAIR_HOURS
from earwitness.work.returns import AreaReturn

SCHEMA = "earwitness.plan/1"
WEEKS_A_YEAR = 365.25 / 7
DEFAULT_CRAFT = {  # common practice, where a reading does not state one
    "leak": "fitter", "seal": "fitter", "bearing": "fitter", "gear": "fitter", "electrical": "electrician",
    "valve": "fitter", "trap": "fitter", "other": "fitter",
}  # fmt: skip
SET_UP_HOURS = {"isolation": 1.0, "access": 0.5, "parts": 0.25}  # common practice; --set-up states others
PAGE = 500


@dataclass(frozen=True)
class Offer:
    """What is there to work with: hours of each craft a week, weeks that are shutdowns (counted from 1), money, hours
    that a set-up takes, weeks until parts are there, and what a year of a finding without money costs, by kind.
    `other_hours` are those a week of each craft that is needed and not named; None leaves its repairs out."""

    weeks: int
    hours: Mapping[str, float]
    shutdowns: frozenset[int] = frozenset()
    budget: float = float("inf")
    currency: str = ""
    set_up_hours: Mapping[str, float] = field(default_factory=lambda: dict(SET_UP_HOURS))
    parts_weeks: Mapping[str, int] = field(default_factory=dict)
    worth: Mapping[str, float] = field(default_factory=dict)
    other_hours: float | None = None


@dataclass(frozen=True)
class Job:
    """A finding on its way into the plan; `assumed` names what no reading states: "craft", "hours", and "money" where
    it counts as the median of the others, "worth" where the offer says what a year of its kind costs. `currency` is
    that of its value; one that the plan is not told in counts in the plan as if it had no money."""

    listed: Listed
    task: Task
    value_per_year: float
    avoids: Avoided
    currency: str
    probability: float | None
    basis: Sentence
    assumed: frozenset[str] = frozenset()
    heard: Mapping[str, Any] = field(default_factory=dict)  # the latest judgement

    @property
    def has_money(self) -> bool:
        return "money" not in self.assumed or self.foreign

    @property
    def foreign(self) -> bool:
        """Told in another currency than the plan's."""
        return "currency" in self.assumed


@dataclass(frozen=True)
class Plan:
    site: Site
    offer: Offer
    dangers: tuple[tuple[Listed, list[dict[str, str]]], ...]
    jobs: Mapping[str, Job]
    found: Schedule
    left: Mapping[str, Sentence]
    returns: tuple[AreaReturn, ...] = ()
    notes: tuple[Sentence, ...] = ()

    def in_week(self, week: int) -> list[Job]:
        """Jobs of a week (from 1), those that share a set-up together."""
        jobs = [j for name, j in self.jobs.items() if self.found.week.get(name) == week - 1]
        return sorted(jobs, key=lambda j: (j.task.craft, j.task.bundles, -j.value_per_year, j.task.name))

    @property
    def told_in_money(self) -> bool:
        """Whether any repair has an amount of its own; else all count alike, and no sum is told."""
        return any(j.has_money for j in self.jobs.values())

    def avoided(self) -> dict[str, Interval]:
        """What these repairs avoid within the weeks planned, by currency."""
        return self.sums({n: (self.offer.weeks - w) / WEEKS_A_YEAR for n, w in self.found.week.items()})

    def sums(self, years: Mapping[str, float]) -> dict[str, Interval]:
        """What these repairs avoid over so many years each, by currency and never across; what counts by the money of
        others counts for the order alone."""
        jobs = {n: self.jobs[n] for n in years if self.jobs[n].has_money}
        return together({n: (j.currency, j.avoids, years[n]) for n, j in jobs.items()})

    def used(self, week: int) -> dict[str, float]:
        """Hours of each craft in a week, set-ups among them."""
        jobs, out = self.in_week(week), dict.fromkeys(self.offer.hours, 0.0)
        for j in jobs:
            out[j.task.craft] += j.task.hours
        for craft, bundle in {(j.task.craft, b) for j in jobs for b in j.task.bundles}:
            out[craft] += self.offer.set_up_hours.get(bundle.split(":")[0], 0.0)
        return out

    def as_json(self) -> dict[str, Any]:
        o = self.offer
        weeks = [
            {
                "week": w,
                "shutdown": w in o.shutdowns,
                "hours": {c: {"used": rounded(u), "offered": o.hours[c]} for c, u in self.used(w).items()},
                "repairs": [_job_json(j, self.told_in_money) for j in self.in_week(w)],
            }
            for w in range(1, o.weeks + 1)
        ]
        gap = {"value": rounded(self.found.value), "bound": rounded(self.found.bound), "gap": rounded(self.found.gap)}
        unit = (self.told_in_money and o.currency) or "value"
        return {
            "schema": SCHEMA,
            "site": self.site.name,
            "currency": o.currency or None,
            "first": [_place_json(x) | {"verdict": x.finding.verdict, "told": t} for x, t in self.dangers],
            "weeks": weeks,
            "avoided": {currency: as_json(x) for currency, x in self.avoided().items()},
            "optimality": gap | {"unit": f"{unit} avoided within the weeks planned"},
            "left": [_place_json(self.jobs[n].listed) | {"why": why.as_json()} for n, why in self.left.items()],
            "returns": [r.as_json() for r in self.returns],
            "notes": [n.as_json() for n in self.notes],
        }


def _place_json(x: Listed) -> dict[str, Any]:
    named = {"finding": str(x.finding.id), "point": x.point, "area": x.area, "location": x.location, "tag": x.plant_tag}
    return {k: v for k, v in named.items() if v is not None} | {"printed_tag": x.tag}


def _job_json(j: Job, told_in_money: bool) -> dict[str, Any]:
    out = _place_json(j.listed) | {
        "verdict": j.listed.finding.verdict,
        "craft": j.task.craft,
        "hours": j.task.hours,
        "cost": j.task.cost,
        "value_per_year": rounded(j.value_per_year) if told_in_money else None,
        "assumed": sorted(j.assumed),
        "avoids_per_year": as_json(j.avoids.over(1.0)) if j.has_money else None,
        "currency": j.currency or None,
        "set_ups": list(j.task.bundles),
        "probability": None if j.probability is None else rounded(j.probability),
        "probability_basis": j.basis.text,
    }
    return {k: v for k, v in out.items() if v is not None}


class Told(Protocol):
    repairs: int | None


def plan(
    connection: Connection,
    site: Site,
    offer: Offer,
    returns: Sequence[AreaReturn] = (),
    *,
    seconds: float = 9.0,
    told: Told | None = None,
) -> Plan:
    """The plan for everything on the site's list, the best found in so many seconds. `told` learns how many repairs
    there are as soon as that is known."""
    listed = _standing(connection, site.id)
    offer = offer if offer.currency else replace(offer, currency=_most_frequent_currency(listed))
    urgent = [x for x in listed if x.finding.figures.urgent]
    dangers = tuple((x, record_of_told(connection, x.finding)) for x in urgent)
    jobs, notes = _jobs(connection, site.id, [x for x in listed if not x.finding.figures.urgent], offer)
    if told is not None:
        told.repairs = len(jobs)
    crafts = sorted({j.task.craft for j in jobs} - set(offer.hours))
    if crafts and offer.other_hours is not None:
        offer = replace(offer, hours={**offer.hours, **dict.fromkeys(crafts, offer.other_hours)})
    elif crafts:
        text = "No hours are stated for {crafts}: their repairs are left out until there are."
        notes.append(say("plan-no-hours", text, crafts=", ".join(crafts)))
    bundles = {b for j in jobs for b in j.task.bundles}
    weeks = Weeks(
        hours={craft: [hours] * offer.weeks for craft, hours in offer.hours.items()},
        shutdown=[w in offer.shutdowns for w in range(1, offer.weeks + 1)],
        budget=offer.budget,
        bundle_hours={b: offer.set_up_hours.get(b.split(":")[0], 0.0) for b in sorted(bundles)},
    )
    found = schedule([j.task for j in jobs if j.task.craft in offer.hours], weeks, seconds=seconds)
    by_name = {j.task.name: j for j in jobs}
    left = {n: _why_left(j.task, offer) for n, j in by_name.items() if n not in found.week}
    return Plan(site, offer, dangers, by_name, found, left, tuple(returns), tuple(notes))


def _standing(connection: Connection, site_id: uuid.UUID) -> list[Listed]:
    out: list[Listed] = []
    while page := stored.ranked(connection, site_id, limit=PAGE, offset=len(out)):
        out += page
    return out


def _jobs(
    connection: Connection, site_id: uuid.UUID, listed: Sequence[Listed], offer: Offer
) -> tuple[list[Job], list[Sentence]]:
    rates = local_rates(connection, site_id)
    money = {x.finding.id: _money(x) for x in listed if _told_in(x, offer) == offer.currency}
    known = [m for m in money.values() if m is not None]
    usual = median(known) if known else 1.0
    jobs, spelled = [], {_folded(craft): craft for craft in offer.hours}
    for x, heard in as_last_heard(connection, listed):
        value, repair = money.get(x.finding.id), x.finding.repair
        assumed = {name for name in ("craft", "hours") if not repair.get(name)}
        currency = _told_in(x, offer)
        if value is None:
            value = offer.worth.get(x.finding.kind)
            assumed |= {"money" if value is None else "worth", *(["currency"] if currency != offer.currency else [])}
            value = usual if value is None else value
        p, basis = None, say("basis-none", "not told by its sound")
        if heard.get("verdict") == x.finding.verdict and heard.get("probability") is not None:
            p, basis = corrected(rates, x.finding.verdict, heard["probability"])
        there = 1.0 if p is None else p
        own = value if currency == offer.currency else _money(x) or 0.0
        amount = Uncertain(own) if _money(x) is None else if_there(own, heard, _name(x), currency)
        own, value = own * there, value * there
        craft = " ".join(str(repair.get("craft") or DEFAULT_CRAFT[x.finding.kind]).split())
        craft = spelled.setdefault(_folded(craft), craft)
        task = _task(x, craft, value, offer)
        jobs.append(Job(x, task, own, Avoided(amount, there), currency, p, basis, frozenset(assumed), heard))
    without = sum("money" in j.assumed and not j.foreign for j in jobs)
    return jobs, [*_on_money(without, len(jobs), usual, offer), *_on_currencies(jobs, offer)]


def _most_frequent_currency(listed: Sequence[Listed]) -> str:
    told = [x.finding.figures.currency or "" for x in listed if _money(x) is not None]
    return max(sorted(set(told)), key=told.count, default="")


def _told_in(x: Listed, offer: Offer) -> str:
    """The currency of its money; the plan's own where it has none, or where an earlier version did not write it."""
    return (x.finding.figures.currency if _money(x) is not None else None) or offer.currency


def _folded(craft: str) -> str:
    return " ".join(craft.casefold().split())


def _on_money(without: int, of: int, usual: float, offer: Offer) -> list[Sentence]:
    if not without:
        return []
    if without == of:
        text = "No repair here has an amount of money: they are ordered as if all were worth the same."
        return [say("plan-no-money-at-all", text)]
    text = (
        "Without an amount of money of its own: {n} of {of} repairs. For the order each counts as the median of the "
        "others, {usual} a year, and no sum holds it."
    )
    return [say("plan-no-money", text, n=without, of=of, usual=told_money({offer.currency: usual}))]


def _on_currencies(jobs: Sequence[Job], offer: Offer) -> list[Sentence]:
    notes = []
    if foreign := [j for j in jobs if j.foreign]:
        text = (
            "Told in {currencies}, where the plan is in {currency}: {n} of {of} repairs. No sum is made across: for "
            "the order each of these counts as the median of the others, unless a year of its kind is stated here."
        )
        named = ", ".join(sorted({j.currency for j in foreign}))
        notes.append(
            say("plan-currencies", text, n=len(foreign), of=len(jobs), currencies=named, currency=offer.currency)
        )
    costs = [j.listed.finding.repair for j in jobs]
    if n := sum(bool(r.get("cost")) and r.get("cost_currency") not in (None, offer.currency) for r in costs):
        text = "Parts and help told in another currency than {currency}: of {n} of {of} repairs. No budget holds them."
        notes.append(say("plan-cost-currencies", text, n=n, of=len(jobs), currency=offer.currency))
    return notes


def _money(x: Listed) -> float | None:
    """What repairing it saves a year; where the controls' share is not known, what it wastes."""
    return getattr(x.finding.figures, _name(x))


def _name(x: Listed) -> Literal["saving_per_year", "cost_per_year"]:
    return "saving_per_year" if x.finding.figures.saving_per_year is not None else "cost_per_year"


def _task(x: Listed, craft: str, value_per_year: float, offer: Offer) -> Task:
    repair = x.finding.repair
    bundles = tuple(f"{what}: {repair[what]}" for what in ("isolation", "access", "parts") if repair.get(what))
    parts = str(repair.get("parts") or "").casefold()
    return Task(
        name=str(x.finding.id),
        hours=float(repair.get("hours") or DEFAULT_REPAIR_HOURS),
        craft=craft,
        value_per_week=value_per_year / WEEKS_A_YEAR,
        cost=_cost(repair, offer),
        first_week=next((n for name, n in offer.parts_weeks.items() if name.casefold() in parts), 0) if parts else 0,
        needs_shutdown=bool(repair.get("shutdown")),
        bundles=bundles,
    )


def _cost(repair: Mapping[str, Any], offer: Offer) -> float:
    """Of parts and help, where it is in the currency of the budget."""
    return float(repair.get("cost") or 0.0) if repair.get("cost_currency") in (None, offer.currency) else 0.0


def _why_left(task: Task, offer: Offer) -> Sentence:
    if not offer.hours.get(task.craft):
        return say("left-no-craft", "No hours are offered for: {craft}.", craft=task.craft)
    later = [w for w in offer.shutdowns if w > task.first_week]
    if task.needs_shutdown and not later:
        return say("left-no-shutdown", "It needs a shutdown, and none falls into these weeks once parts are there.")
    if task.first_week >= offer.weeks:
        return say("left-parts-late", "Its parts come after these weeks.")
    set_up = sum(offer.set_up_hours.get(b.split(":")[0], 0.0) for b in task.bundles)
    if task.hours + set_up > offer.hours[task.craft]:
        text = "It takes {hours:g} h with its set-ups, more than a week offers: divide it, or call in help."
        return say("left-too-long", text, hours=task.hours + set_up)
    if task.cost > offer.budget:
        return say("left-too-dear", "It costs more than the whole budget.")
    return say("left-worth-less", "Hours and budget avoid more elsewhere.")


def take_over(ledger: Ledger, made: Plan, *, who: str, at: datetime, first: datetime | None = None) -> int:
    """The planned findings become scheduled, each with its week; how many. `first` is the beginning of the first week;
    where it is stated each is due at the end of its own."""
    if not who.strip():
        raise EarwitnessError("who schedules them? state --who NAME")
    with ledger.writing() as connection:
        for name, week in sorted(made.found.week.items()):
            why = f"week {week + 1} of {made.offer.weeks}"
            data: dict[str, Any] = {"week": week + 1, "weeks": made.offer.weeks}
            if first is not None:
                data["due"] = (first + timedelta(weeks=week + 1, minutes=-1)).isoformat()
            step = Step("scheduled", at, who.strip(), why, None, data)
            stored.take_step(connection, uuid.UUID(name), step)
    return len(made.found.week)
