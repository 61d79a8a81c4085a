"""A site's system tests over time, each held against the leaks that were known and open on its day."""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, tzinfo
from typing import Any

from sqlalchemy import Connection, select

from earwitness.errors import InputError
from earwitness.gas.system_test import SystemLeakage
from earwitness.interval import Uncertain
from earwitness.ledger import Ledger, schema, sites, system_tests
from earwitness.ledger.system_tests import FiledTest
from earwitness.plant.assessment import Quantity, rounded
from earwitness.plant.site import Site, identity
from earwitness.programme.posterior import Reconciliation, reconcile
from earwitness.report.format import SPACE, Unit, counted, when, with_interval
from earwitness.sentence import Sentence, say
from earwitness.work.fill import AIR_NAMES
from earwitness.work.size import REFERENCE

MOST = 5000  # leaks in one reconciliation
LOSING = frozenset({"open", "scheduled", "reopened"})


@dataclass(frozen=True)
class Reconciled:
    """One test: what it measured, how many leaks were open, and what the two say together."""

    test: FiledTest
    leaks: int
    unsized: int
    found: Reconciliation | None
    notes: tuple[Sentence, ...] = ()

    def as_json(self) -> dict[str, Any]:
        t = self.test
        measured = Uncertain(t.flow_m3_s, t.sigma_ln).interval()
        out: dict[str, Any] = {
            "day": t.day.isoformat(),
            "kind": t.kind,
            "system_measured": Quantity(measured, "m3/s", t.kind, REFERENCE).as_json(),
            "leaks_open": self.leaks,
            "leaks_without_flow": self.unsized,
            "notes": [n.as_json() for n in (*self.notes, *(self.found.notes if self.found else ()))],
        }
        if self.found is not None:
            f = self.found
            for name, interval in (("found", f.found), ("not_found", f.not_found)):
                if interval is not None:
                    out[name] = Quantity(interval, "m3/s", "reconciled", REFERENCE).as_json()
            if f.share_found is not None:
                out["share_found"] = Quantity(f.share_found, "1", "reconciled").as_json()
        return out


def file_system_test(
    ledger: Ledger, site: str | None, found: SystemLeakage, given: Mapping[str, Any], day: date
) -> FiledTest:
    """Keep a system test; the same one twice is one."""
    with ledger.writing() as connection:
        home = sites.site_of(connection, site)
        words = json.dumps(dict(given), sort_keys=True, ensure_ascii=False)
        known = identity("system-test", str(home.id), day.isoformat(), found.method, words)
        test = FiledTest(known, home.id, day, found.method, given, found.flow.median, found.flow.sigma)
        system_tests.keep_system_test(connection, test)
    return test


def history(connection: Connection, site: Site, *, seed: int = 0) -> list[Reconciled]:
    """Every system test of the site, in order of time."""
    tests = system_tests.system_tests(connection, site.id)
    if not tests:
        return []
    lives = _lives(connection, site.id)
    flows = _flows(connection, [opened for opened, _ in lives.values()])
    return [_on_day(test, lives, flows, site.zone, seed) for test in tests]


def _on_day(
    test: FiledTest,
    lives: Mapping[uuid.UUID, tuple[uuid.UUID, Sequence[tuple[datetime, str]]]],
    flows: Mapping[uuid.UUID, Uncertain | None],
    zone: tzinfo,
    seed: int,
) -> Reconciled:
    """The leaks open at the end of the test's day: what a round of that day found counts."""
    evening = datetime.combine(test.day, time(23, 59, 59), zone)
    open_then = []
    for opened_by, steps in lives.values():
        state = next((s for at, s in reversed(steps) if at <= evening), None)
        if state in LOSING and opened_by in flows:
            open_then.append(flows[opened_by])
    sized = [f for f in open_then if f is not None and f.median > 0][:MOST]
    unsized = len(open_then) - len(sized)
    if not sized:
        text = "No leak with a flow was open on that day; all of the leakage is still to be found."
        return Reconciled(test, len(open_then), unsized, None, (say("nothing-to-reconcile", text),))
    try:
        found = reconcile(sized, Uncertain(test.flow_m3_s, test.sigma_ln), seed=seed)
    except InputError as error:
        text = "The leaks and the test contradict each other: {error}."
        said = say("test-contradicts", text, error=str(error))
        return Reconciled(test, len(open_then), unsized, None, (said,))
    notes: tuple[Sentence, ...] = ()
    if unsized:
        text = "{n} more leaks were open whose flow is not known; they are part of what was not found."
        notes = (say("leaks-without-flow", text, n=unsized),)
    return Reconciled(test, len(open_then), unsized, found, notes)


def _lives(connection: Connection, site_id: uuid.UUID) -> dict[uuid.UUID, tuple[uuid.UUID, list[tuple[datetime, str]]]]:
    """Of each leak the reading that opened it, and its states in order of time."""
    f, s = schema.finding.c, schema.finding_step.c
    asked = (
        select(f.id, f.opened_by, s.at, s.state)
        .select_from(schema.finding.join(schema.finding_step, s.finding_id == f.id))
        .where(f.site_id == site_id, f.kind == "leak")
        .order_by(f.id, s.number)
    )
    out: dict[uuid.UUID, tuple[uuid.UUID, list[tuple[datetime, str]]]] = {}
    for row in connection.execute(asked):
        out.setdefault(row.id, (row.opened_by, []))[1].append((row.at, row.state))
    return out


def _flows(connection: Connection, reading_ids: Sequence[uuid.UUID]) -> dict[uuid.UUID, Uncertain | None]:
    """Volume flow [m3/s] by reading, of leaks of air; None where none is known."""
    a, out = schema.assessment.c, dict[uuid.UUID, Uncertain | None]()
    ids = sorted(reading_ids)
    for first in range(0, len(ids), 500):
        asked = select(a.reading_id, a.result).where(a.reading_id.in_(ids[first : first + 500]), a.current)
        for row in connection.execute(asked):
            medium = row.result.get("medium")
            if medium is None or medium.casefold().strip() in AIR_NAMES:
                out[row.reading_id] = flow_of(row.result)
    return out


def flow_of(result: Mapping[str, Any]) -> Uncertain | None:
    """The flow of an assessed reading as it was filed."""
    quantity = (result.get("quantities") or {}).get("volume_flow")
    if not quantity:
        return None
    spread = result.get("spread") or {}
    return Uncertain(float(quantity["value"]), float(spread.get("own", 0.0)), dict(spread.get("shared", {})))


def told(reconciled: Sequence[Reconciled]) -> list[str]:
    """The tests in plain lines."""
    lines = []
    for r in reconciled:
        leakage = Uncertain(r.test.flow_m3_s, r.test.sigma_ln).interval()
        measured = with_interval({"value": leakage.value, "low": leakage.low, "high": leakage.high}, FLOW)
        share = r.found.share_found if r.found else None
        said = f"; {100 * share.value:.0f}{SPACE}% of that was found" if share else ""
        open_ = f"with {counted(r.leaks, 'leak')} known to be open"
        lines.append(f"{when(r.test.day.isoformat())}, {r.test.kind} test: {measured} leaked, {open_}{said}")
    return lines


FLOW = Unit("m³/min", "m3/min")


def change_between(tests: Sequence[FiledTest]) -> dict[str, float] | None:
    """What the last test measured less than the first [m3/s]; None with fewer than two."""
    if len(tests) < 2:
        return None
    return {"first": rounded(tests[0].flow_m3_s), "last": rounded(tests[-1].flow_m3_s)}
