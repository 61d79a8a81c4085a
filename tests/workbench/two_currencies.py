"""A ledger whose one site is told in two currencies: air by a price of energy in EUR, nitrogen by its own in USD."""

from __future__ import annotations

from pathlib import Path

from earwitness.ledger import Ledger
from earwitness.work.file_survey import file_survey
from earwitness.work.stand_in import read_at_site
from earwitness.work.survey import judge_survey

from .planner_ledgers import TOML

GAS = '[[gas]]\nname = "nitrogen"\nprice = "0.40 USD"\nper = "m3"\n'
HEAD = "reading,kind,point,area,tag,medium,pressure,confirmed,opening_mm,place,repair_hours,repair_cost\n"
ROWS = {
    "A-1": "leak,Line 1,Hall,T-1,air,7 bar(g),soap,1.2,,1,40 EUR",
    "A-2": "leak,Line 2,Hall,T-2,air,7 bar(g),soap,0.8,,2,",
    "N-1": "leak,Line 3,Hall,T-3,nitrogen,6 bar(g),soap,1.0,outdoors,1,30 USD",
    "N-2": "leak,Line 4,Hall,T-4,nitrogen,6 bar(g),soap,0.6,outdoors,1,",
}


def file_two_currencies(ledger: Ledger, where: Path, day: str = "2026-11-20") -> None:
    where.mkdir(parents=True)
    text = TOML.format(title="Mixed round", site="Two tills", day=day, zone="Europe/Berlin", price="0.19 EUR/kWh",
                       capacity=24)  # fmt: skip
    (where / "survey.toml").write_text(text + GAS, "utf-8")
    (where / "readings.csv").write_text(HEAD + "".join(f"{n},{row}\n" for n, row in ROWS.items()), "utf-8")
    file_survey(ledger, judge_survey(read_at_site(ledger, where), exhibits=False))
