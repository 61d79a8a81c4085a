"""A leak that somebody saw is a leak, whatever its sound says: listed, filed, warned of, and told as seen."""

from __future__ import annotations

from pathlib import Path

import pytest

from earwitness.ledger import open_ledger
from earwitness.ledger.findings import ranked
from earwitness.ledger.sites import site_of
from earwitness.plant.reading import Reading
from earwitness.plant.survey import Survey
from earwitness.report.blocks import block
from earwitness.report.sheets import VOLUME_HEAD, all_readings
from earwitness.report.wording import headline
from earwitness.work.economy import Economy
from earwitness.work.size import size
from earwitness.work.survey_into_ledger import survey_into_ledger

TOML = '[survey]\ntitle = "t"\nsite = "s"\ndate = 2026-11-20\ninspector = "i"\n'
NO_ECONOMY = Economy(None, None, None, (), None, None, None, None, None)
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


def test_without_sound_or_level_there_is_no_probability(tmp_path):
    """A prior is no probability of this reading: where nothing was weighed none is told, nor counted by the plan."""
    reading, _ = filed(tmp_path / "s", "L,leak,P,air,7 bar(g),,,soap")
    assert reading["verdict"] == "inconclusive" and not reading["evidence"]
    assert not {"probability", "probabilities", "probability_basis"} & set(reading)


def test_what_the_sound_said_instead_is_no_probability_of_a_leak_that_was_seen(tmp_path):
    """At 40.5 dB over 40 the level speaks for no leak; soap showed it all the same: the plan counts it whole, and a
    fitter's answer on it teaches nothing about the detector."""
    from datetime import UTC, datetime

    from earwitness.work.answers import answer, local_rates
    from earwitness.work.plan import Offer, plan

    reading, _ = filed(tmp_path / "s", "L,leak,P,air,7 bar(g),40.5,40,soap")
    assert reading["evidence"] and reading["probability"] > 0 and reading["fault"] == "leak"
    ledger = open_ledger(tmp_path / "s" / "l.db")
    answered = answer(ledger, None, "L", who="Fitter", at=datetime(2026, 11, 21, tzinfo=UTC), found=True)
    with ledger.reading() as connection:
        site = site_of(connection, "s")
        (job,) = plan(connection, site, Offer(2, {"fitter": 8})).jobs.values()
        rates = local_rates(connection, site.id)
    ledger.close()
    assert job.probability is None and answered.answer.probability is None and not rates


@pytest.mark.parametrize(("kind", "medium"), [("leak", "steam"), ("leak", "live steam"), ("trap", None)])
def test_steam_is_told_by_its_mass_whether_its_name_is_noted_or_not(kind, medium):
    """Napier's rule gives 2.8 kg/h through 1 mm at 7 bar(g): at 20 degC it is no gas that has a volume."""
    reading = Reading("T", 2, kind, medium=medium, pressure_abs=801_325.0, opening_m=1e-3)
    sized = size(reading, Survey(Path(), "", "", "", ""), NO_ECONOMY, None)
    assert sized.quantities["mass_flow"].interval.value * 3600 == pytest.approx(2.8, rel=0.15)
    told = {"status": "read", "kind": kind, "medium": medium, "verdict": "blowing" if kind == "trap" else "leak"}
    told["quantities"] = {name: q.as_json() for name, q in sized.quantities.items()}
    assert "kg/h" in headline(told) and "l/min" not in headline(told)
    assert not any("volume" in amount.name for amount in block(told, None).amounts)
    sheet = all_readings({"readings": [told]})
    line = dict(zip(sheet.head, sheet.lines[0], strict=True))
    assert line["escapes [g/s]"] and line[VOLUME_HEAD] is None


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
