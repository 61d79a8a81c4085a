"""Ledgers as a planner may find them: nothing yet, one repair, hundreds at two sites with two currencies.

The leaks were seen with soap and have openings of a known size, so that no sound is needed to size and price them.
"""

from __future__ import annotations

import csv
from pathlib import Path
from random import Random

from earwitness.ledger import Ledger
from earwitness.work.file_survey import file_survey
from earwitness.work.stand_in import read_at_site
from earwitness.work.survey import judge_survey

TOML = """[survey]
title = "{title}"
site = "{site}"
date = "{day}"
inspector = "A. Name"
[site]
timezone = "{zone}"
[energy]
price = "{price}"
[air]
pressure = "7 bar(g)"
hours_per_year = 6000
average_load = 0.7
[[compressor]]
name = "K1"
capacity = "{capacity} m3/min"
specific_power = "6.4 kW/(m3/min)"
control = "load-unload"
storage = "5 m3"
"""
BARE = '[survey]\ntitle = "{title}"\nsite = "{site}"\ndate = "{day}"\ninspector = "A. Name"\n'
AREAS = (
    "Filling hall",
    "Mill floor, upper gallery",
    "Boiler house",
    "Dispatch",
    "Utility corridor east of column row C",
)
CRAFTS = ("fitter", "Fitter", "millwright", "greaser", "instrument technician (contractor)", "electrician", "")
SPOTS = ("behind the guard, reach from the walkway", "drain side", "", "above the light, lift needed")


def leak(number: int, chance: Random) -> dict[str, str]:
    return {
        "reading": f"A-{number:03d}", "kind": "leak", "point": f"{chance.choice(('Line', 'Column', 'Press'))} {number}",
        "area": chance.choice(AREAS), "tag": f"T-{number:03d}", "confirmed": "soap", "cause": "fault",
        "opening_mm": f"{chance.uniform(0.3, 2.0):.1f}", "location": chance.choice(SPOTS),
        "craft": chance.choice(CRAFTS), "repair_hours": chance.choice(("", "0.5", "1", "2", "4")),
        "repair_cost": chance.choice(("", "", "40", "250")), "shutdown": chance.choice(("", "", "", "yes")),
        "isolation": chance.choice(("", "", "ring main north", "receiver 2")),
        "access": chance.choice(("", "", "", "lift")), "parts": chance.choice(("", "", "hose 8 mm", "coupling G1/2")),
    }  # fmt: skip


def file_leaks(
    ledger: Ledger, where: Path, count: int, *, site: str = "Quillmark oat works", zone: str = "Europe/Berlin",
    price: str = "0.19 EUR/kWh", day: str = "2026-11-20", toml: str = TOML,
) -> None:  # fmt: skip
    """File a round of so many leaks; the same arguments give the same ledger."""
    where.mkdir(parents=True)
    text = toml.format(title="Autumn round", site=site, day=day, zone=zone, price=price, capacity=20 + count)
    (where / "survey.toml").write_text(text, "utf-8")
    chance = Random(f"{site} {count}")
    rows = [leak(n, chance) for n in range(1, count + 1)] or [{"reading": "A-1", "kind": "leak", "point": "Line 1",
                                                              "confirmed": "not-found"}]  # fmt: skip
    with (where / "readings.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(dict.fromkeys(k for r in rows for k in r)), restval="")
        writer.writeheader()
        writer.writerows(rows)
    file_survey(ledger, judge_survey(read_at_site(ledger, where), exhibits=False))
