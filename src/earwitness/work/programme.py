"""The programme at a glance: what was found, mended, proven and lost again, and how much rounds overlook."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from statistics import median
from typing import Any

from sqlalchemy import Connection, func, select

from earwitness.interval import Interval
from earwitness.ledger import findings as stored
from earwitness.ledger import schema, system_tests
from earwitness.ledger.findings import ACCOUNTS, Savings
from earwitness.plant.assessment import FAULTS, rounded
from earwitness.plant.finding import STATES
from earwitness.plant.site import Site
from earwitness.programme.answers import Population, capture_recapture
from earwitness.report.format import amounts
from earwitness.sentence import Sentence, say
from earwitness.work import system_history
from earwitness.work.answers import LocalRate, local_rates
from earwitness.work.avoided import as_json
from earwitness.work.savings import NOTHING, PROMISED, Sums, sums

SCHEMA = "earwitness.programme/1"
AGES = (30, 90, 365)  # days
SAME_ROUND = timedelta(days=3)  # two inspectors within so many days walked the same round
RECENT_SURVEYS = 40  # looked through for two walks of one round


@dataclass(frozen=True)
class Backlog:
    """Findings that are to be repaired, and how long they have been."""

    count: int
    oldest_days: float | None
    median_days: float | None
    older_than: dict[int, int]


@dataclass(frozen=True)
class TwoWalks:
    """Two inspectors, one round: what each found, what both did, and what that says of what is there."""

    day: date
    inspectors: tuple[str, str]
    first: int
    second: int
    both: int
    population: Population

    @property
    def sentence(self) -> Sentence:
        text = (
            "{day}: {a} found {first}, {b} {second}, {both} of them the same: about {total:.0f} ({low:.0f}–{high:.0f}) "
            "were there, and one walk finds about {rate:.0f} %. What is hard to hear is missed by both, so there are "
            "rather more."
        )
        p = self.population
        return say(
            "two-walks", text, day=self.day.isoformat(), a=self.inspectors[0], b=self.inspectors[1], first=self.first,
            second=self.second, both=self.both, total=p.total, low=p.low, high=p.high, rate=100 * p.detection_rate,
        )  # fmt: skip


@dataclass(frozen=True)
class Programme:
    site: Site
    at: datetime
    currencies: tuple[str, ...]  # of the findings' money, the most frequent first
    by_state: dict[str, int]
    by_kind: dict[str, dict[str, int]]
    ever: dict[str, int]  # findings that ever reached a state
    backlog: Backlog
    sums: Sums  # as they stand now
    course: tuple[Savings, ...]
    walks: tuple[TwoWalks, ...]
    answers: tuple[LocalRate, ...]
    system: tuple[system_history.Reconciled, ...]
    system_change: dict[str, float] | None
    notes: tuple[Sentence, ...] = ()

    @property
    def currency(self) -> str:
        """That of most of the site's money; empty where there is none."""
        return next(iter(self.currencies), "")

    @property
    def promised(self) -> float:
        return self.sum_of(PROMISED, self.currency).mean

    def sum_of(self, account: str, currency: str) -> Interval:
        return self.sums.get(currency, {}).get(account, NOTHING)

    @property
    def savings(self) -> Savings | None:
        """The last sums in that currency; None where nothing was found yet."""
        return next(reversed(self.course_in(self.currency)), None)

    def course_in(self, currency: str) -> list[Savings]:
        return [x for x in self.course if x.currency == currency]

    def as_json(self) -> dict[str, Any]:
        b = self.backlog
        backlog: dict[str, Any] = {"count": b.count, "older_than_days": {str(k): v for k, v in b.older_than.items()}}
        if b.oldest_days is not None and b.median_days is not None:
            backlog |= {"oldest_days": round(b.oldest_days, 1), "median_days": round(b.median_days, 1)}
        return {
            "schema": SCHEMA,
            "site": self.site.name,
            "at": self.at.isoformat(),
            "findings": {"by_state": self.by_state, "by_kind": self.by_kind, "ever": self.ever},
            "backlog": backlog,
            "savings": _savings_json(self, *self.currencies[:1]),
            "savings_in_other_currencies": [_savings_json(self, c) for c in self.currencies[1:]],
            "detection": [_walk_json(w) for w in self.walks],
            "answers": [r.as_json() for r in self.answers],
            "system_tests": [r.as_json() for r in self.system],
            "system_leakage_m3_s": self.system_change,
            "notes": [n.as_json() for n in self.notes],
        }


def _savings_json(view: Programme, currency: str = "") -> dict[str, Any]:
    course = view.course_in(currency)
    now = {name: view.sum_of(name, currency) for name in (PROMISED, *ACCOUNTS)}
    return {
        "currency": currency or None,
        **{name: rounded(x.mean) for name, x in now.items()},
        "intervals": {name: as_json(x) for name, x in now.items()},
        "course": [{"at": x.at.isoformat(), **{n: rounded(getattr(x, n)) for n in ACCOUNTS}} for x in course],
    }


def _walk_json(w: TwoWalks) -> dict[str, Any]:
    p = w.population
    return {
        "day": w.day.isoformat(),
        "inspectors": list(w.inspectors),
        "first": w.first,
        "second": w.second,
        "both": w.both,
        "present": {"value": rounded(p.total), "low": rounded(p.low), "high": rounded(p.high)},
        "detection_rate": rounded(p.detection_rate),
        "said": w.sentence.as_json(),
    }


def programme(connection: Connection, site: Site, *, at: datetime) -> Programme:
    """The view of one site as of the ledger's last word; `at` is the moment from which ages are counted."""
    by_kind, ever = _counts(connection, site.id)
    by_state = {state: sum(k.get(state, 0) for k in by_kind.values()) for state in STATES}
    course = stored.savings(connection, site.id)
    currencies = dict.fromkeys((*currencies_of(connection, site.id), *(x.currency for x in course if x.currency)))
    notes = []
    walks = _walks(connection, site.id)
    if not walks:
        text = (
            "How much a round overlooks is not known: it shows when two inspectors walk the same round within {days} "
            "days and file it as two surveys."
        )
        notes.append(say("no-two-walks", text, days=SAME_ROUND.days))
    tests = system_tests.system_tests(connection, site.id)
    return Programme(
        site, at, tuple(currencies), by_state, by_kind, ever,
        _backlog(connection, site.id, at), sums(connection, site.id), tuple(thinned(course)), tuple(walks),
        tuple(local_rates(connection, site.id).values()), tuple(system_history.history(connection, site)),
        system_history.change_between(tests), tuple(notes),
    )  # fmt: skip


def _counts(connection: Connection, site_id: uuid.UUID) -> tuple[dict[str, dict[str, int]], dict[str, int]]:
    f, s = schema.finding.c, schema.finding_step.c
    by_kind: dict[str, dict[str, int]] = defaultdict(dict)
    asked = select(f.kind, f.state, func.count()).where(f.site_id == site_id).group_by(f.kind, f.state)
    for kind, state, count in connection.execute(asked.order_by(f.kind, f.state)):
        by_kind[kind][state] = count
    reached = select(s.state, func.count(s.finding_id.distinct())).where(s.site_id == site_id).group_by(s.state)
    ever = {state: count for state, count in connection.execute(reached)}
    return dict(by_kind), {state: ever.get(state, 0) for state in STATES}


def _backlog(connection: Connection, site_id: uuid.UUID, at: datetime) -> Backlog:
    f = schema.finding.c
    rows = connection.scalars(select(f.opened_at).where(f.site_id == site_id, f.standing))
    days = sorted(max(0.0, (at - opened) / timedelta(days=1)) for opened in rows)
    if not days:
        return Backlog(0, None, None, dict.fromkeys(AGES, 0))
    return Backlog(len(days), days[-1], median(days), {age: sum(d > age for d in days) for age in AGES})


def thinned(course: Sequence[Savings], most: int = 400) -> list[Savings]:
    """The course of the sums, of each currency at most so many moments: the last of each equal share."""
    kept = []
    for currency in dict.fromkeys(x.currency for x in course):
        own = [x for x in course if x.currency == currency]
        picked = sorted({round((i + 1) * len(own) / most) - 1 for i in range(most)}) if len(own) > most else ()
        kept += [own[i] for i in picked] or own
    return sorted(kept, key=lambda x: x.at)


def currencies_of(connection: Connection, site_id: uuid.UUID) -> list[str]:
    """Those of the site's findings, the most frequent first; none where no finding has money."""
    f = schema.finding.c
    count = func.count().label("count")
    asked = select(f.currency, count).where(f.site_id == site_id, f.currency.is_not(None)).group_by(f.currency)
    return [row.currency for row in connection.execute(asked.order_by(count.desc(), f.currency))]


def currency_of(connection: Connection, site_id: uuid.UUID) -> str:
    """The one that most of the site's findings are told in; empty where none has money."""
    return next(iter(currencies_of(connection, site_id)), "")


# --- two walks of one round -----------------------------------------------------------------------------------------


def _walks(connection: Connection, site_id: uuid.UUID) -> list[TwoWalks]:
    """Pairs of surveys by two inspectors within a few days, compared where both went."""
    s = schema.survey.c
    asked = select(s.id, s.day, s.inspector).where(s.site_id == site_id).order_by(s.day.desc(), s.id)
    surveys = list(reversed(connection.execute(asked.limit(RECENT_SURVEYS)).all()))
    out = []
    for n, one in enumerate(surveys):
        for other in surveys[n + 1 :]:
            if other.day - one.day > SAME_ROUND:
                break
            if one.inspector.casefold().strip() != other.inspector.casefold().strip():
                found = _compared(connection, one, other)
                out += [found] if found else []
    return out


def _compared(connection: Connection, one: Any, other: Any) -> TwoWalks | None:
    """Leaks of the areas that both walked; None where there was no such area or nothing was found."""
    walked = [_heard(connection, survey.id) for survey in (one, other)]
    areas = set(walked[0]) & set(walked[1])
    first, second = (set().union(*(w[a] for a in areas)) if areas else set() for w in walked)
    if not first or not second:
        return None
    both = len(first & second)
    population = capture_recapture(len(first), len(second), both)
    return TwoWalks(one.day, (one.inspector, other.inspector), len(first), len(second), both, population)


def _heard(connection: Connection, survey_id: uuid.UUID) -> dict[uuid.UUID, set[uuid.UUID]]:
    """By area walked, the points at which a leak was heard."""
    r, a, p = schema.reading.c, schema.assessment.c, schema.point.c
    asked = (
        select(p.area_id, p.id, a.verdict)
        .select_from(
            schema.reading.join(schema.point, p.id == r.point_id).join(
                schema.assessment, (a.reading_id == r.id) & a.current
            )
        )
        .where(r.survey_id == survey_id, r.kind == "leak", p.area_id.is_not(None), r.status == "read")
    )
    out: dict[uuid.UUID, set[uuid.UUID]] = defaultdict(set)
    for area_id, point_id, verdict in connection.execute(asked):
        heard = out[area_id]
        if verdict in FAULTS:
            heard.add(point_id)
    return out


def moment(day: date | None, now: datetime) -> datetime:
    """The end of a day, or now."""
    return now if day is None else datetime.combine(day, time(23, 59, 59), UTC)


def told(view: Programme) -> list[str]:
    """The view in plain lines."""
    lines = [f"{view.site.name}, {view.at:%Y-%m-%d}"]
    counted = ", ".join(f"{n} {s}" for s, n in view.by_state.items() if n)
    lines.append(f"Findings: {sum(view.by_state.values())} in all: {counted or 'none'}")
    lines += [
        f"  {kind}: " + ", ".join(f"{n} {s}" for s, n in sorted(states.items()))
        for kind, states in view.by_kind.items()
    ]
    e = view.ever
    lines.append(f"Ever: {e['repaired']} repaired, {e['verified']} verified, {e['reopened']} reopened")
    b = view.backlog
    if b.oldest_days is not None and b.median_days is not None:
        older = ", ".join(f"{n} over {days} days" for days, n in b.older_than.items() if n)
        lines.append(
            f"Backlog: {b.count}, half of them older than {b.median_days:.0f} days, the oldest {b.oldest_days:.0f} days"
            + (f"; {older}" if older else "")
        )
    for c in view.currencies:
        if not view.course_in(c):
            continue
        s = {name: amounts({c: view.sum_of(name, c)}) for name in (PROMISED, *ACCOUNTS)}
        lines.append(
            f"Saving a year: {s['verified']} verified of {s[PROMISED]} promised by repairs; "
            f"{s['lost_again']} lost again; {s['estimated']} still to be had"
        )
    lines += [w.sentence.text for w in view.walks]
    for r in view.answers:
        share, low, high = (100 * x for x in (r.rate.rate, r.rate.low, r.rate.high))
        lines.append(
            f"Answers on {r.verdict}: {r.tally.found} found, {r.tally.not_found} not; true in {share:.0f} % "
            f"({low:.0f}–{high:.0f} %), {100 * r.expected:.0f} % expected"
        )
    lines += [f"System test {line}" for line in system_history.told(view.system)]
    return lines + [f"Note: {n.text}" for n in view.notes]
