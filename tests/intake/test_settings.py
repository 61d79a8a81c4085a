"""survey.toml: only [survey] is needed; a wrong or missing part is named with its line and what was expected."""

from __future__ import annotations

import re

import pytest

from earwitness.errors import EarwitnessError
from earwitness.intake import read_survey
from earwitness.intake.toml_lines import read_parts
from tests.intake.survey_folder import TOML, codes, folder, of

SHEET = "reading,kind\nA-1,leak\n"
FULL = (
    TOML
    + """
qualification = "ISO 18436-8 category II"
[instrument]
receiver = "R1"
serial = 1234
centre_khz = 40
last_check = 2026-05-02
level_ref = "0 dB = 20 uPa"
[site]
mains_hz = 50
temperature = "20 degC"
humidity = "55 %"
ambient_pressure = "1013.25 mbar"
timezone = "Europe/Berlin"
[energy]
price = "0.20 EUR/kWh"
carbon = "0.3 kg/kWh"
[air]
pressure = "7 bar"
hours_per_year = 8000
average_load = 0.7
specific_power = "6.2 kW/(m3/min)"
control = "load-unload"
[air.leak_test]
kind = "load-unload"
on_load = "8 min"
off_load = "48 min"
capacity = "900 cfm"
[[compressor]]
name = "K1"
capacity = "12 m3/min"
rated_power = "75 kW"
control = "variable speed"
storage = "2 m3"
[[compressor]]
name = "K2"
specific_power = "18 kW/100 cfm"
[[gas]]
name = "nitrogen"
price = "0.5 EUR/Nm3"
[[gas]]
name = "methane"
price = "36 EUR/MWh"
[[gas]]
name = "argon"
price = "1.2 EUR"
per = "kg"
"""
)


def survey_of(tmp_path, toml):
    return read_survey(folder(tmp_path, SHEET, toml))


def test_everything_in_si(tmp_path):
    survey = survey_of(tmp_path, FULL)
    assert codes(survey) == []
    assert (survey.title, survey.site, survey.date, survey.inspector) == (
        "Hall 3",
        "Example works",
        "2026-11-20",
        "A. Name",
    )
    assert survey.qualification == "ISO 18436-8 category II"
    assert (survey.instrument.centre_hz, survey.instrument.serial, survey.instrument.last_check) == (
        40_000, "1234", "2026-05-02",
    )  # fmt: skip
    site = survey.conditions
    assert (site.mains_hz, site.temperature_k, site.ambient_pressure_abs) == (50, 293.15, 101_325)
    assert site.humidity == pytest.approx(0.55) and site.timezone == "Europe/Berlin"
    assert (survey.energy.price.value, survey.energy.price.currency, survey.energy.price.per) == (0.2, "EUR", "kWh")
    air = survey.air
    assert (air.pressure_abs, air.hours_per_year, air.average_load, air.control) == (801_325, 8000, 0.7, "load-unload")
    assert air.specific_power_j_m3 == pytest.approx(372_000)
    assert air.leak_test.values == {
        "on_load_s": 480,
        "off_load_s": 2880,
        "capacity_m3_s": pytest.approx(0.424753, rel=1e-5),
    }
    first, second = air.compressors
    assert (first.name, first.capacity_m3_s, first.rated_power_w, first.control, first.storage_m3) == (
        "K1", 0.2, 75_000, "variable-speed", 2,
    )  # fmt: skip
    assert second.specific_power_j_m3 == pytest.approx(6.357 * 60_000, rel=1e-4)
    prices = {name: (price.value, price.per) for name, price in survey.gas_prices.items()}
    assert prices["argon"] == (1.2, "kg") and prices["methane"] == (pytest.approx(1e-8), "J")
    assert prices["nitrogen"] == (pytest.approx(0.5 * 273.15 / 293.15), "m3")


def test_only_survey_is_needed(tmp_path):
    survey = survey_of(tmp_path, TOML)
    assert codes(survey) == [] and survey.energy.price is None and survey.air.pressure_abs is None


@pytest.mark.parametrize("data", [
    b"\xef\xbb\xbf" + FULL.encode(), FULL.encode("utf-16"), FULL.replace("\n", "\r\n").encode(),
    FULL.replace("Hall 3", "Hällé 3").encode("cp1252"),
])  # fmt: skip
def test_saved_by_any_editor(tmp_path, data):
    survey = survey_of(tmp_path, data)
    assert codes(survey) == [] and survey.title in ("Hall 3", "Hällé 3") and survey.energy.price.value == 0.2


@pytest.mark.parametrize(("was", "now", "at", "code", "says"), [
    ('price = "0.20 EUR/kWh"', "price = 0.20 EUR/kWh", None, "toml-line", "quotes"),
    ('price = "0.20 EUR/kWh"', "price = 0.20", None, "not-a-price", "EUR/kWh"),
    ('price = "0.20 EUR/kWh"', "price = [1]", None, "not-a-price", "EUR/kWh"),
    ('pressure = "7 bar"', "pressure = 7", None, "no-unit", "bar(g)"),
    ('pressure = "7 bar"', "pressure = true", None, "part-wrong", "bar(g)"),
    ('temperature = "20 degC"', 'temperature = "20 bar"', None, "unknown-unit", "degC"),
    ("average_load = 0.7", "average_load = 70", None, "no-unit", "70 %"),
    ("average_load = 0.7", "load_profile = [nan]", None, "part-wrong", "fractions"),
    ('per = "kg"', "composition = {methane = inf}", None, "part-wrong", "fractions"),
    ('control = "variable speed"', "part_load = [[0, 0.2], [1, inf]]", None, "part-wrong", "fractions"),
    ("hours_per_year = 8000", "hours_per_year = 9000", None, "out-of-range", "8784"),
    ('control = "load-unload"', 'control = "none"', None, "not-one-of", "start-stop"),
    ('timezone = "Europe/Berlin"', 'timezone = "Berlin time"', None, "part-wrong", "IANA"),
    ('on_load = "8 min"', "", "[air.leak_test]", "leak-test-incomplete", "on_load"),
    ('humidity = "55 %"', 'humidity = "155 %"', None, "out-of-range", "0 to 1"),
    ('inspector = "A. Name"', "inspector = 2020-01-01T", None, "toml-line", "quotes"),
    ('site = "Example works"', "", "[survey]", "part-missing", "site"),
    ('name = "nitrogen"', "", "[[gas]]", "part-missing", "name"),
    ("centre_khz = 40", 'centre_kz = 40', None, "part-unknown-near", "centre_khz"),
])  # fmt: skip
def test_a_wrong_part_is_named_with_its_line_and_what_would_do(tmp_path, was, now, at, code, says):
    assert FULL.count(was) == 1
    survey = survey_of(tmp_path, FULL.replace(was, now))
    problem = next(p for p in survey.problems if p.sentence.code == code)
    line = FULL[: FULL.index(at or was)].count("\n") + 1
    assert re.search(rf"line {line}\b", problem.sentence.text) and says in problem.sentence.text
    assert problem.file == "survey.toml" and survey.readings[0].reading == "A-1"
    others = survey.energy.carbon_kg_per_kwh, survey.conditions.mains_hz
    assert others == (0.3, 50)  # the rest goes on


def test_an_unknown_part_is_noted(tmp_path):
    survey = survey_of(tmp_path, TOML + 'colour = "red"\n[weather]\nrain = true\n')
    assert codes(survey) == []
    assert len([note for note in survey.notes if note.code == "part-unknown"]) == 2


def test_an_unknown_level_reference_is_none(tmp_path):
    survey = survey_of(tmp_path, TOML + '[instrument]\nlevel_ref = "unknown"\n')
    assert survey.instrument.level_ref is None


def test_a_name_may_carry_its_unit(tmp_path):
    survey = survey_of(
        tmp_path, TOML + "[site]\ntemperature_c = 20\n[[compressor]]\nrated_power_kw = 75\nstorage_l = 500\n"
    )
    assert codes(survey) == [] and survey.conditions.temperature_k == 293.15
    assert survey.air.compressors[0].rated_power_w == 75_000 and survey.air.compressors[0].storage_m3 == 0.5


def test_a_date_that_could_be_two_is_a_problem(tmp_path):
    survey = survey_of(tmp_path, TOML.replace("2026-11-20", "03/04/2026"))
    assert of(survey, "date-could-be-two").sentence.text.startswith("survey.toml, line 4, [survey] date")


@pytest.mark.parametrize(("test", "kind", "name", "value"), [
    ('volume = "629 ft3"\npressure_from = "100 psig"\npressure_to = "50 psig"\nduration = "3 min"', "bleed-down",
     "volume_m3", 17.811),
    ('flow = "900 l/min"', "metered", "flow_m3_s", 0.015),
    ('kind = "Load/Unload"\nloaded = "8 min"\nunloaded = "48 min"', "load-unload", "off_load_s", 2880),
])  # fmt: skip
def test_kinds_of_leak_test(tmp_path, test, kind, name, value):
    survey = survey_of(tmp_path, TOML + "[air.leak_test]\n" + test + "\n")
    assert codes(survey) == [] and survey.air.leak_test.kind == kind
    assert survey.air.leak_test.values[name] == pytest.approx(value, rel=1e-4)


def test_without_survey_the_rest_goes_on_under_the_folders_name(tmp_path):
    survey = survey_of(tmp_path / "hall-3", "[site]\nmains_hz = 50\n")
    assert survey.title == "hall-3" and survey.conditions.mains_hz == 50
    assert "inspector = " in of(survey, "survey-missing").sentence.text


def test_without_the_file_the_lines_that_would_do_are_shown(tmp_path):
    with pytest.raises(EarwitnessError) as caught:
        read_survey(folder(tmp_path, SHEET, None))
    assert "[survey]" in str(caught.value) and "inspector" in str(caught.value) and "\n" not in str(caught.value)


def test_no_folder(tmp_path):
    with pytest.raises(EarwitnessError, match="no folder"):
        read_survey(tmp_path / "nowhere")


@pytest.mark.parametrize("data", [b"\x89PNG\r\n\x1a\n" + bytes(range(256)), b"%PDF-1.7\n1 0 obj\n<</Type/Page>>\n"])
def test_a_file_that_is_no_toml_at_all_is_one_problem(data, tmp_path):
    survey = survey_of(tmp_path, data)
    assert [c for c in codes(survey) if c.startswith("toml")] == ["toml-other-kind"]
    assert "survey-missing" in codes(survey) and survey.readings[0].reading == "A-1"


BASE = '[survey]\ntitle = "a"\n[site]\nmains_hz = 50\n[air]\npressure = "7 bar"\n'
AFTER = 'hours_per_year = 8000\n[energy]\nprice = "1 EUR/kWh"\n'


@pytest.mark.parametrize("faulty", [
    'pressure = "8 bar"', 'control = "load-unload', 'control = """load-unload', "x = [1,2", "average_load = 0,7",
    "average_load: 0.7", "control = “load-unload”", 'control = "C:\\users"', "date = 20.11.2026", "load 70 %",
])  # fmt: skip
def test_one_line_that_is_not_toml_loses_only_itself(faulty):
    parts = read_parts("survey.toml", BASE + faulty + "\n" + AFTER)
    assert parts.tables == read_parts("survey.toml", BASE + AFTER).tables
    (problem,) = parts.problems
    assert "line 7:" in problem.sentence.text


@pytest.mark.parametrize("header", ["[site]", "[weather", "[[air]]"])
def test_a_faulty_header_takes_its_table_along_and_no_other(header):
    parts = read_parts("survey.toml", BASE + AFTER + header + '\nmains_hz = 60\n[gas]\nname = "a"\n')
    assert parts.tables["site"] == {"mains_hz": 50} and parts.tables["air"]["hours_per_year"] == 8000
    assert parts.tables["gas"] == {"name": "a"} and len(parts.problems) == 1
