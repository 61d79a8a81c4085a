"""How long the server takes for its pages on a large ledger; bar: p95 under 150 ms, no page over 1 MB.

python benchmarks/ledger.py --keep FOLDER        (makes 100,000 points and 1,000,000 readings)
python benchmarks/workbench.py FOLDER/bench.db
"""

from __future__ import annotations

import argparse
import sys
import time

import numpy as np
from sqlalchemy import func, select
from starlette.testclient import TestClient

from earwitness.ledger import open_ledger, schema
from earwitness.server import House
from earwitness.server.app import make_app
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


def _count(house: House, table: object, site_id: object) -> int:
    with house.ledger.reading() as connection:
        asked = select(func.count()).select_from(table).where(table.c.site_id == site_id)  # type: ignore[attr-defined]
        return int(connection.execute(asked).scalar_one())


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("ledger")
    house = House(open_ledger(parser.parse_args().ledger))
    app = make_app(house, all_pages(), templates=[TEMPLATES], static=STATIC)
    met = True
    client = TestClient(app, base_url="http://localhost")  # without its life: no job runs beside the measurement
    for name, asked in addresses(house, np.random.default_rng(1)).items():
        first = client.get(asked[0])
        if first.status_code == 404:
            print(f"{name:10} there is no such page yet")
            continue
        took, size = [], 0
        for address in asked:
            start = time.perf_counter()
            answer = client.get(address)
            took.append(1000 * (time.perf_counter() - start))
            size = max(size, len(answer.content))
            assert answer.status_code == 200, (address, answer.text[:500])
        p95 = float(np.quantile(took, 0.95))
        met &= p95 < BAR_MS and size < BAR_BYTES
        print(f"{name:10} median {np.median(took):6.1f} ms   p95 {p95:6.1f} ms   largest {size / 1000:6.1f} kB")
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
