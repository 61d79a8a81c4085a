"""Cells: units in cell or header, bare numbers, dates, choices; a bad one is a problem and the rest goes on."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from earwitness.intake import read_survey
from tests.intake.survey_folder import TOML, codes, folder, of

BERLIN = TOML + '[site]\ntimezone = "Europe/Berlin"\n'


def one(tmp_path, toml=TOML, recordings=(), **cells):
    """The survey of a single row with these cells."""
    cells = {"reading": "A-1", "kind": "leak"} | cells
    sheet = "\t".join(cells) + "\n" + "\t".join(cells.values()) + "\n"
    survey = read_survey(folder(tmp_path, sheet, toml, recordings))
    return survey, survey.readings[0]


def test_each_quantity_of_the_contract_in_si(tmp_path):
    _, r = one(
        tmp_path, centre_khz="40", gain_db="10", level_db="46", background_db="30", baseline_db="20", reference_db="80",
        distance_m="25 cm", load_percent="70", temperature_c="68 °F", opening_mm="1", hours_per_year="8000",
        flow="60 l/min",
        speed_rpm="1480", rolling_elements="9", element_mm="7.94", pitch_mm="39.04", contact_angle_deg="15",
        bore_mm="25",
        outside_mm="52", width_mm="15", teeth="20", mate_teeth="41", mains_hz="50", voltage_v="11 kV", upstream_db="50",
        downstream_db="40", beyond_db="30", upstream_c="150", downstream_c="60", sweep_length_m="2", room_m3="100",
        ventilation="500 m3/h", repair_hours="45 min", repair_cost="120 EUR", level_after_db="20",
        sweep_marks="0:0 4.2:1.3",
    )  # fmt: skip
    assert (r.centre_hz, r.gain_db, r.level_db, r.distance_m, r.load_percent) == (40_000, 10, 46, 0.25, 70)
    assert (r.background_db, r.baseline_db, r.reference_db, r.hours_per_year) == (30, 20, 80, 8000)
    assert r.temperature_k == pytest.approx(293.15) and r.opening_m == 0.001 and r.room_m3 == 100
    assert (r.flow.value, r.flow.unit, r.flow.reference_temperature_k) == (0.001, "m3/s", 293.15)
    m = r.machine
    assert m.speed_hz == pytest.approx(24.6667, rel=1e-4) and m.contact_angle_rad == pytest.approx(0.261799, rel=1e-5)
    assert (m.rolling_elements, m.element_m, m.pitch_m, m.teeth, m.mate_teeth) == (9, 0.00794, 0.03904, 20, 41)
    assert (m.bore_m, m.outside_m, m.width_m) == (0.025, 0.052, 0.015)
    assert (r.mains_hz, r.voltage_v, r.upstream_db, r.downstream_db, r.beyond_db) == (50, 11_000, 50, 40, 30)
    assert (r.upstream_k, r.downstream_k, r.sweep_length_m) == (pytest.approx(423.15), pytest.approx(333.15), 2)
    assert r.ventilation_m3_s == pytest.approx(500 / 3600) and r.repair.hours == 0.75
    assert (r.repair.cost, r.repair.cost_currency, r.repair.level_after_db) == (120, "EUR", 20)
    assert r.sweep_marks == ((0.0, 0.0), (4.2, 1.3)) and r.problems == ()


def test_a_condition_keeps_what_was_given(tmp_path):
    _, reading = one(tmp_path, pressure="7 bar")
    assert reading.conditions["pressure"].as_json() == {
        "given": "7 bar", "value": 801_325.0, "unit": "Pa absolute", "from": "row",
    }  # fmt: skip
    assert [note.code for note in reading.notes] == ["pressure-read-as-gauge"]


@pytest.mark.parametrize(("column", "cell", "code"), [
    ("pressure", "7", "no-unit"), ("pressure", "7 bananas", "unknown-unit"), ("flow", "60", "no-unit"),
    ("ventilation", "500", "no-unit"), ("distance_m", "half a metre", "not-a-number"),
    ("level_db", "loud", "not-a-number"),
    ("distance_m", "-1", "negative"), ("hours_per_year", "9000", "out-of-range"),
    ("rolling_elements", "9.5", "not-whole"),
    ("rolling_elements", "0", "out-of-range"), ("load_percent", "0.7", "percent-or-fraction"),
    ("temperature_c", "-300", "negative"), ("place", "roof", "not-one-of"), ("sensor", "ear", "not-one-of"),
    ("fixed_now", "maybe", "not-yes-or-no"), ("taken_at", "yesterday", "not-a-date"),
    ("taken_at", "03/04/2026", "date-could-be-two"), ("taken_at", "3.4.2026", "date-could-be-two"),
    ("taken_at", "20.11.26", "date-could-be-two"), ("reported_at", "04/05/2026", "date-could-be-two"),
    ("taken_at", "2026-13-01", "not-a-date"), ("sweep_marks", "0 4.2", "not-a-mark"),
    ("sweep_marks", "0:0 0:1", "marks-out-of-order"), ("repair_cost", "120", "not-money"),
    ("hazardous_area", "3", "not-one-of"),
    ("voltage_v", "400 A", "unknown-unit"), ("pressure", "1,200 mbar", "comma-could-be-two-numbers"),
])  # fmt: skip
def test_a_bad_cell_is_a_problem_and_the_row_goes_on(tmp_path, column, cell, code):
    survey, reading = one(tmp_path, note="kept", **{column: cell})
    problem = of(survey, code)
    assert (problem.row, problem.column) == (2, column) and reading.problems == (problem,)
    assert "row 2" in problem.sentence.text and any(part in problem.sentence.text for part in cell.split(" "))
    assert (reading.status, reading.kind, reading.note) == ("read", "leak", "kept")
    assert column not in reading.conditions


def test_the_pressure_of_a_vacuum_is_not_guessed(tmp_path):
    survey, reading = one(tmp_path / "a", medium="Vacuum", pressure="-0.6 bar")
    assert codes(survey) == ["vacuum-needs-reference"] and reading.pressure_abs is None
    _, reading = one(tmp_path / "b", medium="vacuum", pressure="-0.6 bar(g)")
    assert reading.pressure_abs == pytest.approx(41_325) and reading.medium == "vacuum"
    survey, _ = one(tmp_path / "c", medium="vacuum", **{"pressure [mbar]": "400"})
    assert codes(survey) == ["vacuum-needs-reference"]


def test_gauge_stands_on_the_sites_ambient_pressure(tmp_path):
    _, reading = one(tmp_path, TOML + '[site]\nambient_pressure = "800 mbar"\n', pressure="7 bar(g)")
    assert reading.pressure_abs == 780_000


@pytest.mark.parametrize(("text", "expected"), [
    ("2026-11-20T10:42", "2026-11-20T10:42:00+01:00"), ("2026-11-20 10:42:30", "2026-11-20T10:42:30+01:00"),
    ("2026-11-20T09:42Z", "2026-11-20T09:42:00+00:00"), ("2026-07-20 10:42", "2026-07-20T10:42:00+02:00"),
    ("20/11/2026 10:42", "2026-11-20T10:42:00+01:00"), ("11/20/2026 10:42", "2026-11-20T10:42:00+01:00"),
    ("20.11.2026 10:42", "2026-11-20T10:42:00+01:00"), ("20 Nov 2026 10:42", "2026-11-20T10:42:00+01:00"),
    ("Nov 20, 2026 2:42 PM", "2026-11-20T14:42:00+01:00"), ("10:42", "2026-11-20T10:42:00+01:00"),
    ("04.04.2026 10:42", "2026-04-04T10:42:00+02:00"),
    ("2026-11-20T10:42:00.5-05:00", "2026-11-20T10:42:00.500000-05:00"),
])  # fmt: skip
def test_dates_that_can_be_one_day_only(tmp_path, text, expected):
    survey, reading = one(tmp_path, BERLIN, taken_at=text)
    assert reading.taken_at.isoformat() == expected and codes(survey) == []


@pytest.mark.parametrize(
    ("text", "what"), [("2026-10-25 02:30", "comes twice"), ("2026-03-29 02:30", "does not exist")]
)
def test_an_hour_that_the_clocks_repeat_or_skip_is_a_problem(tmp_path, text, what):
    survey, reading = one(tmp_path, BERLIN, taken_at=text)
    assert what in of(survey, "clock-change").sentence.text and reading.taken_at is None
    assert ZoneInfo("Europe/Berlin").utcoffset(datetime(2026, 10, 25, 4)) == timedelta(hours=1)


def test_date_and_time_in_two_columns(tmp_path):
    survey = read_survey(folder(tmp_path, "reading,kind,Date,Time\nA-1,leak,2026-11-20,10:42\n"))
    assert survey.readings[0].taken_at == datetime(2026, 11, 20, 10, 42)
    assert survey.readings[0].extra == {} and codes(survey) == []


@pytest.mark.parametrize(("column", "cell", "field", "value"), [
    ("kind", " LEAK ", "kind", "leak"), ("kind", "Steam trap", "kind", "trap"),
    ("status", "Not Running", "status", "not-running"),
    ("status", "not pressurized", "status", "not-pressurised"), ("place", "Indoor", "place", "indoors"),
    ("place", "confined space", "place", "confined"), ("hazardous_area", "Zone 1", "hazardous_area", "1"),
    ("hazardous_area", "none", "hazardous_area", "no"), ("position_commanded", "shut", "position_commanded", "closed"),
    ("supply", "VFD", "supply", "inverter"), ("trap_type", "Inverted bucket", "trap_type", "bucket"),
    ("signal", "Heterodyne", "signal", "heterodyned"), ("confirmed", "not found", "confirmed", "not-found"),
    ("status", "", "status", "read"), ("level_db", "n/a", "level_db", None), ("place", "-", "place", None),
])  # fmt: skip
def test_words_in_any_case_and_spacing(tmp_path, column, cell, field, value):
    survey, reading = one(tmp_path, **{column: cell})
    assert getattr(reading, field) == value and codes(survey) == []


@pytest.mark.parametrize(
    ("cell", "value"), [("Yes", True), ("x", True), ("0", False), ("NO", False), ("", None), ("ja", True)]
)
def test_yes_and_no(tmp_path, cell, value):
    _, reading = one(tmp_path, shutdown=cell)
    assert reading.repair.shutdown is value


@pytest.mark.parametrize(("kind", "code"), [("", "kind-missing"), ("leek", "not-one-of"), ("pump", "not-one-of")])
def test_a_row_without_its_kind_is_unreadable_and_stays(tmp_path, kind, code):
    survey = read_survey(folder(tmp_path, f"reading,kind,level_db,own\nA-1,{kind},46,mine\nA-2,leak,50,x\n"))
    bad, good = survey.readings
    assert (bad.reading, bad.status, good.status) == ("A-1", "unreadable", "read")
    assert bad.extra == {"reading": "A-1", "kind": kind, "level_db": "46", "own": "mine"}
    assert of(survey, code).row == 2
    if kind == "leek":
        assert "did you mean 'leak'?" in of(survey, code).sentence.text


def test_an_unknown_status_is_said_and_the_row_taken_as_read(tmp_path):
    survey, reading = one(tmp_path, status="weird")
    assert codes(survey) == ["status-not-known"] and reading.status == "read"


def test_a_row_with_a_loose_comma_is_unreadable_with_its_cells(tmp_path):
    survey = read_survey(folder(tmp_path, "reading,kind,level_db,note\nA-1,leak,46,5,by the door\nA-2,leak,46,x\n"))
    bad, good = survey.readings
    assert of(survey, "row-too-long").row == 2 and good.level_db == 46
    assert bad.reading == "A-1" and list(bad.extra.values()) == ["A-1", "leak", "46", "5", "by the door"]


def test_identifiers_are_unique_and_made_where_missing(tmp_path):
    sheet = "reading,kind,point,taken_at\nA-1,leak,P1,\nA-1,leak,P2,\n,leak,P3,2026-11-20T10:00\n,leak,,\n,leak,P1,\n"
    survey = read_survey(folder(tmp_path, sheet))
    names = [r.reading for r in survey.readings]
    assert len(set(names)) == 5 and names[0] == "A-1" and of(survey, "duplicate-reading").row == 3
    assert all(name.startswith("r-") for name in names[2:])


def test_made_identifiers_do_not_depend_on_the_order_of_rows(tmp_path):
    head, rows = "reading,kind,point,taken_at\n", [",leak,P3,2026-11-20T10:00\n", ",leak,P4,\n", ",bearing,,\n"]
    one_way = read_survey(folder(tmp_path / "a", head + "".join(rows)))
    other = read_survey(folder(tmp_path / "b", head + "".join(reversed(rows))))
    assert {r.reading: r.point for r in one_way.readings} == {r.reading: r.point for r in other.readings}


def test_a_row_that_repeats_another_is_said(tmp_path):
    survey = read_survey(folder(tmp_path, "reading,kind,level_db\nA-1,leak,46\nA-2,leak,46\nA-1,leak,46\n"))
    assert of(survey, "duplicate-row").row == 4 and "row 2" in of(survey, "duplicate-row").sentence.text
    assert len({r.reading for r in survey.readings}) == 3


def test_a_verification_points_at_another_row(tmp_path):
    sheet = "reading,tag,kind,verifies\nA-1,T-1,leak,\nA-2,,leak,t-1\nA-3,,leak,A-1\nA-4,,leak,T-9\nA-5,,leak,A-5\n"
    survey = read_survey(folder(tmp_path, sheet))
    assert [p.row for p in survey.problems if p.sentence.code == "verifies-nothing"] == [5, 6]


def test_cost_in_the_currency_of_the_survey(tmp_path):
    survey, reading = one(tmp_path, TOML + '[energy]\nprice = "0.20 CHF/kWh"\n', repair_cost="120")
    assert (reading.repair.cost, reading.repair.cost_currency) == (120, "CHF") and codes(survey) == []
    assert [note.code for note in reading.notes] == ["money-in-survey-currency"]
