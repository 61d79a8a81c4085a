"""How long the server takes for its pages on a large ledger; bar: p95 under 150 ms, no page over 1 MB.

python benchmarks/ledger.py --keep FOLDER        (makes 100,000 points and 1,000,000 readings)
python benchmarks/workbench.py FOLDER/bench.db
python benchmarks/workbench.py SOME.ledger --survey 50000     (copies a survey's readings into one of so many, and asks
                                                               for that survey's page)
"""

from __future__ import annotations

import argparse
import sys
import time
import uuid
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from sqlalchemy import LABEL_STYLE_TABLENAME_PLUS_COL, Connection, func, insert, select
from starlette.testclient import TestClient

from earwitness.ledger import open_ledger, schema
from earwitness.server import House
from earwitness.server.app import make_app, settle
from earwitness.workbench import STATIC, TEMPLATES, all_pages

TIMES = 60
BAR_MS, BAR_BYTES = 150.0, 1_000_000


def addresses(house: House, rng: np.random.Generator) -> dict[str, list[str]]:
    """For each page, addresses at the largest site."""
    site = max(house.sites(house.at_this_machine(None)), key=lambda s: _count(house, schema.point, s.id))
    some = {}
    for name, table in (("reading", schema.reading), ("point", schema.point), ("finding", schema.finding)):
        with house.ledger.reading() as connection:
            asked = select(table.c.id).where(table.c.site_id == site.id).limit(20_000)
            ids = [row.id for row in connection.execute(asked)]
        some[name] = [f"{site.path}/{name}/{ids[i]}" for i in rng.integers(0, len(ids), TIMES)]
    whole = {name: [f"{site.path}/{name}"] * TIMES for name in ("today", "surveys", "points", "findings")}
    return whole | some


def large_survey(house: House, count: int) -> str:
    """The address of a survey with so many readings, copies of those of the ledger's first survey."""
    title = f"{count} readings"
    s, r, a = schema.survey, schema.reading, schema.assessment
    with house.ledger.writing() as connection:
        first = connection.execute(select(s).order_by(s.c.filed_at).limit(1)).mappings().one()
        known = uuid.uuid5(first["id"], title)
        if connection.execute(select(s.c.id).where(s.c.id == known)).first() is None:
            connection.execute(insert(s).values({**first, "id": known, "title": title}))
            asked = select(r, a).join(a, a.c.reading_id == r.c.id).where(r.c.survey_id == first["id"], a.c.current)
            models = connection.execute(asked.set_label_style(LABEL_STYLE_TABLENAME_PLUS_COL)).mappings().all()
            for start in range(0, count, 1000):
                _copy(connection, models, known, range(start, min(count, start + 1000)))
    tag = next(t for t in house.sites(house.at_this_machine(None)) if t.id == first["site_id"])
    return f"{tag.path}/survey/{known}"


def _copy(connection: Connection, models: Sequence[Mapping[str, Any]], survey_id: uuid.UUID, numbers: range) -> None:
    listens, judged = [], []
    for number in numbers:
        model = models[number % len(models)]
        own, name = uuid.uuid5(survey_id, str(number)), f"L-{number:05}"
        listen = {c.name: model[f"reading_{c.name}"] for c in schema.reading.columns}
        listens.append({**listen, "id": own, "survey_id": survey_id, "name": name, "row": number + 2})
        found = {c.name: model[f"assessment_{c.name}"] for c in schema.assessment.columns}
        rank = number + 1 if found["result"].get("rank") else None
        result = {**found["result"], "reading": name, "rank": rank}
        judged.append({**found, "id": uuid.uuid5(own, "judged"), "reading_id": own, "result": result})
    connection.execute(insert(schema.reading), listens)
    connection.execute(insert(schema.assessment), judged)


def _count(house: House, table: object, site_id: object) -> int:
    with house.ledger.reading() as connection:
        asked = select(func.count()).select_from(table).where(table.c.site_id == site_id)  # type: ignore[attr-defined]
        return int(connection.execute(asked).scalar_one())


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("ledger")
    parser.add_argument("--survey", type=int, help="readings of one survey, made in the ledger if it is not there")
    given = parser.parse_args()
    house = House(open_ledger(given.ledger))
    app = make_app(house, all_pages(), templates=[TEMPLATES], static=STATIC)
    met = True
    settle()
    client = TestClient(app, base_url="http://localhost")  # without its life: no job runs beside the measurement
    rng = np.random.default_rng(1)
    if given.survey:
        one = large_survey(house, given.survey)
        several = {f"{one}?from={200 * int(page)}": None for page in rng.integers(0, given.survey // 200, TIMES)}
        asked_of = {
            "survey": [one] * TIMES,
            "its pages": list(several),
            "surveys": [one.split("/survey/")[0] + "/surveys"],
        }
    else:
        asked_of = addresses(house, rng)
    for name, asked in asked_of.items():
        first = client.get(asked[0])
        if first.status_code == 404:
            print(f"{name:10} there is no such page yet")
            continue
        took, busy, size = [], [], 0
        for address in asked:
            start = time.perf_counter(), time.process_time()
            answer = client.get(address)
            took.append(1000 * (time.perf_counter() - start[0]))
            busy.append(1000 * (time.process_time() - start[1]))
            size = max(size, len(answer.content))
            assert answer.status_code == 200, (address, answer.text[:500])
        p95 = float(np.quantile(took, 0.95))
        met &= p95 < BAR_MS and size < BAR_BYTES
        own = float(np.quantile(busy, 0.95))
        said = f"p95 {p95:6.1f} ms (of the processor {own:6.1f} ms)   largest {size / 1000:6.1f} kB"
        print(f"{name:10} median {np.median(took):6.1f} ms   {said}", flush=True)
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
