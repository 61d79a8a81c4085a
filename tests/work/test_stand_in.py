"""The site's settings reach the judging of a survey that is filed later, where the survey says nothing itself."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path
from uuid import uuid4

import pytest
from sqlalchemy import insert

from earwitness.intake import read_survey
from earwitness.ledger import open_ledger, readings, schema, sites
from earwitness.plant.site import SensitivityCheck, Site
from earwitness.work.desk_settings import change_default
from earwitness.work.file_survey import file_survey
from earwitness.work.reassess import reassess
from earwitness.work.sensor_checks import record_check
from earwitness.work.stand_in import read_at_site, without_site_parts
from earwitness.work.survey import judge_survey

NOW = datetime(2026, 11, 21, 9, tzinfo=UTC)
HEAD = '[survey]\ntitle = "{title}"\nsite = "Example works"\ndate = "{day}"\ninspector = "A. Name"\n'
SHEET = "reading,point,kind,medium,pressure,opening_mm,cause,confirmed,level_db,distance_m\n"
OPEN = SHEET + "A-1,Valve island,leak,,,1,fault,soap,40,0.5\n"
SIZED = '[air]\nspecific_power = "6.2 kW/(m3/min)"\n'


def folder(tmp_path: Path, name: str, toml: str, sheet: str = OPEN, day: str = "2026-11-20") -> Path:
    made = tmp_path / name
    made.mkdir()
    (made / "survey.toml").write_text(HEAD.format(title=name, day=day) + toml, "utf-8")
    (made / "readings.csv").write_text(sheet, "utf-8")
    return made


@pytest.fixture
def ledger(tmp_path):
    made = open_ledger(tmp_path / "site.ledger")
    yield made
    made.close()


@pytest.fixture
def at_desk(ledger, tmp_path):
    """Change a default of the site, which a first survey has made known."""
    bare = folder(tmp_path, "First", "", day="2026-11-01")
    file_survey(ledger, judge_survey(read_at_site(ledger, bare), exhibits=False))
    with ledger.reading() as connection:
        site = sites.site_of(connection, None)

    def change(table: str, key: str, text: str) -> Site:
        change_default(ledger, site.id, table, key, text, who="planner", why="test", at=NOW)
        with ledger.reading() as connection:
            return sites.site_of(connection, None)

    return change


def test_the_sites_settings_stand_in_and_say_so(ledger, at_desk, tmp_path):
    for table, key, text in (
        ("energy", "price", "0.25 EUR/kWh"), ("air", "pressure", "6 bar(g)"), ("air", "hours_per_year", "6000"),
        ("air", "specific_power", "6.5 kW/(m3/min)"),
    ):  # fmt: skip
        at_desk(table, key, text)
    bare, stated = folder(tmp_path, "Bare", ""), folder(
        tmp_path, "Stated", '[energy]\nprice = "0.25 EUR/kWh"\n[air]\npressure = "6 bar(g)"\nhours_per_year = 6000\n'
        'specific_power = "6.5 kW/(m3/min)"\n',
    )  # fmt: skip
    (one,) = judge_survey(read_at_site(ledger, bare), exhibits=False).findings["readings"]
    (other,) = judge_survey(read_survey(stated), exhibits=False).findings["readings"]
    assert one["quantities"]["cost_per_year"] == other["quantities"]["cost_per_year"]  # as if it stood in the file
    assert one["conditions"]["pressure"]["from"] == "site settings"
    assert one["conditions"]["pressure"]["value"] == pytest.approx(701_325)
    assert other["conditions"]["pressure"]["from"] == "survey"
    (nothing,) = judge_survey(read_survey(bare), exhibits=False).findings["readings"]
    assert "cost_per_year" not in nothing.get("quantities", {})


def test_the_surveys_own_word_wins_in_whatever_unit_it_stands(ledger, at_desk, tmp_path):
    at_desk("air", "pressure", "6 bar(g)")
    at_desk("energy", "price", "0.25 EUR/kWh")
    at_desk("air", "specific_power", "6.5 kW/(m3/min)")
    own = folder(
        tmp_path, "Own",
        '[energy]\nprice = "0.10 EUR/kWh"\n[air]\npressure_kpa = 400\n[[compressor]]\nname = "K1"\n'
        'capacity = "10 m3/min"\nspecific_power = "7 kW/(m3/min)"\n',
    )  # fmt: skip
    survey = read_at_site(ledger, own)
    assert survey.from_site == {}
    assert survey == read_survey(own)


def test_a_wrong_value_of_the_surveys_own_stays_a_problem(ledger, at_desk, tmp_path):
    at_desk("energy", "price", "0.25 EUR/kWh")
    survey = read_at_site(ledger, folder(tmp_path, "Wrong", '[energy]\nprice = "dear"\n'))
    assert survey.energy.price is None
    assert any(p.column == "[energy] price" for p in survey.problems)


def test_the_sites_pressure_of_the_air_reads_the_gauges(ledger, at_desk, tmp_path):
    at_desk("site", "ambient_pressure", "850 hPa")
    gauge = SHEET + "A-1,Valve island,leak,,5 bar(g),1,fault,soap,40,0.5\n"
    survey = read_at_site(ledger, folder(tmp_path, "High up", "", gauge))
    assert survey.readings[0].pressure_abs == pytest.approx(585_000)


def test_a_price_of_a_gas_stands_in_beside_what_is_stated_of_it(ledger, at_desk, tmp_path):
    at_desk("gas", "nitrogen", "0.28 EUR/m3")
    at_desk("gas", "argon", "2 EUR/m3")
    toml = '[[gas]]\nname = "Nitrogen"\n[[gas]]\nname = "argon"\nprice = "1 EUR/m3"\n'
    survey = read_at_site(ledger, folder(tmp_path, "Gases", toml))
    assert {n: p.value for n, p in survey.gas_prices.items()} == {"Nitrogen": 0.28, "argon": 1.0}
    assert dict(survey.from_site) == {"[gas] nitrogen": "0.28 EUR/m3"}


def test_calibration_leaks_are_used_from_the_third_on(ledger, at_desk, tmp_path):
    site = at_desk("energy", "price", "0.25 EUR/kWh")
    heard = SHEET + "A-1,Valve island,leak,air,6 bar(g),,fault,soap,52,0.5\n"
    where = folder(tmp_path, "Heard", "", heard)
    methods = []
    for level, flow in ((44.0, 2e-4), (52.0, 1e-3), (60.0, 5e-3)):
        row = {"id": uuid4(), "site_id": site.id, "day": date(2026, 11, 1), "level_db": level, "distance_m": 0.5}
        row |= {"pressure_abs": 701_325.0, "flow_m3_s": flow}
        with ledger.writing() as connection:
            connection.execute(insert(schema.calibration_leak).values(**row))
        (reading,) = judge_survey(read_at_site(ledger, where), exhibits=False).findings["readings"]
        methods.append(reading.get("quantities", {}).get("volume_flow"))
    assert methods[:2] == [None, None]  # what the displayed dB refers to is not known
    assert "calibration" in methods[2]["method"]
    assert methods[2]["value"] == pytest.approx(1e-3, rel=0.5)  # the middle leak's own flow, heard as it was
    sheet = "reading,level_db,distance_m,pressure,flow\nK-1,60,0.5,6 bar(g),12 l/min\n"
    (where / "calibration.csv").write_text(sheet, "utf-8")
    assert read_at_site(ledger, where).known_leaks == ()  # the folder's own sheet wins


def test_the_instruments_last_check_stands_in_and_a_failed_one_is_said(ledger, tmp_path):
    named = '[instrument]\nreceiver = "UX"\nserial = "4711"\n'
    file_survey(ledger, judge_survey(read_at_site(ledger, folder(tmp_path, "First", named, day="2026-11-01"))))
    record_check(ledger, None, "4711", SensitivityCheck(date(2026, 11, 10), 45.0, 52.0))
    record_check(ledger, None, "4711", SensitivityCheck(date(2026, 12, 1), 52.0, 52.0))
    survey = read_at_site(ledger, folder(tmp_path, "Next", ""))
    assert survey.instrument.serial == "4711"
    assert survey.instrument.last_check == "2026-11-10, 45.0 dB, 52.0 dB when new, not passed"
    assert any(n.code == "survey-sensor-failed" for n in survey.notes)


def test_another_price_is_another_judgement_when_judged_anew(ledger, at_desk, tmp_path):
    for key, text in (("pressure", "6 bar(g)"), ("hours_per_year", "6000"), ("specific_power", "6.5 kW/(m3/min)")):
        at_desk("air", key, text)
    at_desk("energy", "price", "0.20 EUR/kWh")
    filed = file_survey(ledger, judge_survey(read_at_site(ledger, folder(tmp_path, "Later", "")), exhibits=False))
    at_desk("energy", "price", "0.40 EUR/kWh")
    again = reassess(ledger)
    assert again.differing == 0
    with ledger.reading() as connection:
        (row,) = readings.readings_of_survey(connection, filed.survey_id)
        now = readings.current_judgements(connection, [row.id])[row.id]
    assert now.settings["[energy] price"] == "0.40 EUR/kWh (from: site settings)"
    assert json.loads(json.dumps(now.settings)) == now.settings
    assert reassess(ledger).anew == 0


def test_a_round_typed_in_takes_over_only_what_the_site_does_not_say():
    toml = (
        '[survey]\ntitle = "x"\n[energy]\nprice = "0.1 EUR/kWh"\ncarbon = "0.3 kg/kWh"\n[air]\npressure = "7 bar(g)"\n'
    )
    left = without_site_parts(toml, Site(uuid4(), "Example works", None, {"energy": {"price": "0.2 EUR/kWh"}}))
    assert left == toml.replace('price = "0.1 EUR/kWh"\n', "")
