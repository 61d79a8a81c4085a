"""A leak that somebody saw is a leak, whatever its sound says: listed, filed, warned of, and told as seen."""

from __future__ import annotations

from pathlib import Path

import pytest

from earwitness.ledger import open_ledger
from earwitness.ledger.findings import ranked
from earwitness.ledger.sites import site_of
from earwitness.report.wording import headline
from earwitness.work.survey_into_ledger import survey_into_ledger

TOML = '[survey]\ntitle = "t"\nsite = "s"\ndate = 2026-11-20\ninspector = "i"\n'
HEAD = "reading,kind,point,medium,pressure,level_db,background_db,confirmed\n"


def filed(folder: Path, row: str) -> tuple[dict, list]:
    folder.mkdir()
    (folder / "survey.toml").write_text(TOML)
    (folder / "readings.csv").write_text(HEAD + row + "\n")
    result, _ = survey_into_ledger(folder, folder / "out", folder / "l.db", reports="none")
    ledger = open_ledger(folder / "l.db")
    with ledger.reading() as connection:
        found = ranked(connection, site_of(connection, "s").id)
    ledger.close()
    return result.findings["readings"][0], list(found)


@pytest.mark.parametrize("how", ["soap", "meter", "opened"])
def test_a_leak_that_was_seen_is_listed_and_filed_though_its_level_decides_nothing(how, tmp_path):
    reading, found = filed(tmp_path / "s", f"L,leak,P,LPG,1 bar(g),41,40,{how}")
    assert reading["verdict"] == "inconclusive" and reading["fault"] == "leak" and reading["urgent"]
    assert headline(reading).startswith("LPG leak, seen") and reading["next_step"]["code"] == "next-hazardous-leak"
    assert len(found) == 1


def test_one_that_was_looked_for_and_not_found_is_none(tmp_path):
    reading, found = filed(tmp_path / "s", "L,leak,P,air,7 bar(g),60,40,not-found")
    assert "rank" not in reading and not found


def test_one_that_was_neither_heard_nor_seen_is_none(tmp_path):
    reading, found = filed(tmp_path / "s", "L,leak,P,air,7 bar(g),41,40,")
    assert reading["verdict"] == "inconclusive" and "fault" not in reading and not found


@pytest.mark.parametrize("gas", ["natural gas", "ammonia", "nitrogen", "a gas of our own"])
def test_not_found_clears_nothing_of_a_gas_that_burns_poisons_or_suffocates(gas, tmp_path):
    """Ultrasound alone never clears such a leak, and missing data never lowers a word (the contract)."""
    heard, _ = filed(tmp_path / "heard", f"L,leak,P,{gas},2 bar(g),60,40,")
    reading, found = filed(tmp_path / "s", f"L,leak,P,{gas},2 bar(g),60,40,not-found")
    assert reading["hazards"] and reading["hazards"] == heard["hazards"]
    assert reading["next_step"]["code"] == "next-hazardous-leak" and len(found) == 1
    assert not reading["counts_in_totals"]["yes"]
