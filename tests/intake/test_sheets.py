"""Sheets as real people keep them: each is read, none is refused for one habit (CONTRACT: a survey folder)."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from earwitness.errors import EarwitnessError
from earwitness.intake import read_survey
from tests.intake.survey_folder import codes, folder, of, workbook

PLAIN = "reading,point,kind,pressure,distance_m,level_db\nA-1,P 1,leak,7 bar(g),0.5,46.5\n"


def the_reading(survey):
    (reading,) = survey.readings
    return reading


def assert_is_the_plain_one(survey):
    reading = the_reading(survey)
    assert (reading.reading, reading.point, reading.kind, reading.row) == ("A-1", "P 1", "leak", 2)
    assert (reading.pressure_abs, reading.distance_m, reading.level_db) == (801_325.0, 0.5, 46.5)
    assert codes(survey) == []


@pytest.mark.parametrize("sheet", [
    PLAIN,
    PLAIN.replace(",", ";"),
    PLAIN.replace(",", "\t"),
    PLAIN.replace(",", ";").replace("0.5", "0,5").replace("46.5", "46,5"),
    PLAIN.replace("0.5", '"0,5"').replace("46.5", '"46,5"'),
    PLAIN.replace("\n", "\r\n"),
    PLAIN.replace("\n", "\r"),
    PLAIN + "\n\n,,,,,\n ,,,, ,\n",
    "sep=;\r\n" + PLAIN.replace(",", ";"),
    b"\xef\xbb\xbf" + PLAIN.encode(),
    PLAIN.encode("utf-16"),
    PLAIN.encode("utf-16-le"),
    PLAIN.encode("utf-16-be"),
    "Reading,Point,Kind,Pressure [bar(g)],Distance (cm),Level dB\nA-1,P 1,Leak,7,50,46.5\n",
    "READING ; POINT ; KIND ; PRESSURE (bar g) ; DISTANCE_CM ; LEVEL\nA-1 ; P 1 ; LEAK ; 7,0 ; 50 ; 46,5\n",
    "reading,point,type,line pressure,distance_m,level\nA-1,P 1,air leak,7 barg,50 cm,46.5 dB\n",
    '"reading","point","kind","pressure","distance_m","level_db"\n"A-1","P 1","leaks","7 bar(g)","1.64042 ft","46.5"\n',
    "".join(f'"{line}"\n' for line in PLAIN.splitlines()),
    "level_db,distance_m,pressure,kind,point,reading\n46.5,0.5,700 kPa(g),leak,P 1,A-1\n",
])  # fmt: skip
def test_one_sheet_in_many_habits(tmp_path, sheet):
    survey = read_survey(folder(tmp_path, sheet))
    if isinstance(sheet, str) and sheet.startswith("sep="):
        assert the_reading(survey).row == 3 and the_reading(survey).pressure_abs == 801_325.0
    elif isinstance(sheet, str) and "ft" in sheet:
        assert the_reading(survey).distance_m == pytest.approx(0.5)
    else:
        assert_is_the_plain_one(survey)


def test_german_excel_in_cp1252(tmp_path):
    sheet = (
        "reading;point;kind;location;pressure [bar(g)];Bemerkung\r\nA-1;Halle 3;leak;Ölpumpe über Tür;7,5;schön €\r\n"
    )
    survey = read_survey(folder(tmp_path, sheet.encode("cp1252")))
    reading = the_reading(survey)
    assert reading.location == "Ölpumpe über Tür" and reading.extra == {"Bemerkung": "schön €"}
    assert reading.pressure_abs == pytest.approx(101_325 + 750_000)
    assert codes(survey) == [] and "sheet-encoding" in [note.code for note in survey.notes]


def test_a_title_above_the_header_and_rows_as_a_person_counts_them(tmp_path):
    sheet = "Leak survey hall 3\n\nreading,kind\n\nA-1,leak\n,\nA-2,leek\n"
    survey = read_survey(folder(tmp_path, sheet))
    assert [r.row for r in survey.readings] == [5, 7]
    assert of(survey, "not-one-of").row == 7


def test_quoted_cells_may_hold_separators_quotes_and_lines(tmp_path):
    sheet = 'reading,kind,note\nA-1,leak,"hose 3/4"", by the door\nsecond line"\nA-2,leak,x\n'
    survey = read_survey(folder(tmp_path, sheet))
    assert survey.readings[0].note == 'hose 3/4", by the door\nsecond line'
    assert survey.readings[1].reading == "A-2" and codes(survey) == []


def test_an_unclosed_quote_loses_one_cell_not_the_sheet(tmp_path):
    survey = read_survey(folder(tmp_path, 'reading,kind,note\nA-1,leak,"open\nA-2,leak,b\nA-3,leak,c\n'))
    assert [r.reading for r in survey.readings] == ["A-1", "A-2", "A-3"]
    assert of(survey, "quotes-broken")


def test_extra_columns_are_kept_in_order(tmp_path):
    survey = read_survey(folder(tmp_path, "Cost centre,kind,Photo?,reading,Übergabe\n4711,leak,,A-1,no\n"))
    assert list(the_reading(survey).extra.items()) == [("Cost centre", "4711"), ("Photo?", ""), ("Übergabe", "no")]


def test_two_columns_of_one_name_are_a_problem_and_both_kept(tmp_path):
    survey = read_survey(folder(tmp_path, "reading,kind,level_db,Level,kind\nA-1,leak,46,50,\n"))
    reading = the_reading(survey)
    assert reading.level_db == 46 and reading.extra["Level"] == "50"
    assert of(survey, "column-twice").column == "Level"


def test_without_a_kind_column_every_row_is_other_and_said_so(tmp_path):
    survey = read_survey(folder(tmp_path, "reading,point,level_db\nA-1,P,46\nA-2,P,47\n"))
    assert [(r.kind, r.status) for r in survey.readings] == [("other", "read")] * 2
    assert codes(survey) == ["kind-column-missing"]


def test_a_sheet_with_its_own_words_for_kind_is_not_refused_for_them(tmp_path):
    survey = read_survey(folder(tmp_path, "reading,kind,level_db\nA-1,motor,46\nA-2,pump,47\nA-3,fan,48\n"))
    assert [(r.kind, r.status) for r in survey.readings] == [("other", "read")] * 3
    assert sorted(codes(survey)) == ["kinds-not-known"] + ["not-one-of"] * 3


def test_a_workbook_with_dates_numbers_and_yes_no(tmp_path):
    rows = [
        ["Reading", "Kind", "Pressure [bar(g)]", "taken_at", "speed_rpm", "Fixed now", "Tag", "Own"],
        ["A-1", "leak", 7, datetime(2026, 11, 20, 10, 42), None, True, 12, 0.1],
        [None, None, None, None],
        ["A-2", "bearing", None, date(2026, 3, 4), 1480.5, False, "T-9", "text"],
    ]
    data = workbook({"Notes": [["anything"], [1, 2, 3]], "Field": rows, "Empty": []})
    survey = read_survey(folder(tmp_path, data, name="readings.xlsx"))
    leak, bearing = survey.readings
    assert (leak.row, bearing.row) == (2, 4) and codes(survey) == []
    assert leak.taken_at == datetime(2026, 11, 20, 10, 42) and leak.pressure_abs == 801_325.0
    assert leak.tag == "12" and leak.repair.fixed_now is True and leak.extra == {"Own": "0.1"}
    assert bearing.taken_at == datetime(2026, 3, 4) and bearing.machine.speed_hz == pytest.approx(1480.5 / 60)
    assert "sheet-taken" in [note.code for note in survey.notes]


def test_csv_and_workbook_give_the_same_readings(tmp_path):
    rows = [line.split(",") for line in PLAIN.splitlines()]
    one = read_survey(folder(tmp_path / "csv", PLAIN))
    two = read_survey(folder(tmp_path / "xlsx", workbook({"S": rows}), name="readings.xlsx"))
    assert one.readings[0].pressure_abs == two.readings[0].pressure_abs
    assert the_reading(one).conditions == the_reading(two).conditions


def test_a_workbook_named_csv_is_still_a_workbook(tmp_path):
    data = workbook({"S": [line.split(",") for line in PLAIN.splitlines()]})
    assert_is_the_plain_one(read_survey(folder(tmp_path, data)))


@pytest.mark.parametrize("name", ["Readings.CSV", "readings.tsv", "readings.txt"])
def test_the_sheet_may_be_spelled_otherwise(tmp_path, name):
    assert_is_the_plain_one(read_survey(folder(tmp_path, PLAIN, name=name)))


def test_the_only_sheet_under_another_name_is_read_and_said(tmp_path):
    survey = read_survey(folder(tmp_path, PLAIN, name="hall-3.csv"))
    assert the_reading(survey).reading == "A-1" and codes(survey) == ["sheet-renamed"]


def test_two_sheets_are_a_problem(tmp_path):
    folder(tmp_path, PLAIN)
    survey = read_survey(folder(tmp_path, workbook({"S": [["kind"], ["leak"]]}), name="readings.xlsx"))
    assert of(survey, "second-sheet").file == "readings.xlsx"


@pytest.mark.parametrize("sheet", [b"", b"\r\n\r\n", b"\x00\x00", b"PK\x03\x04 not a zip", b"some words\nand others\n",
                                   b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1 no workbook"])  # fmt: skip
def test_what_is_no_sheet_at_all_is_one_plain_line(tmp_path, sheet):
    with pytest.raises(EarwitnessError) as caught:
        read_survey(folder(tmp_path, sheet))
    assert "\n" not in str(caught.value) and "would do" in str(caught.value)


def test_a_header_without_rows_is_a_problem(tmp_path):
    assert codes(read_survey(folder(tmp_path, "reading,kind\n"))) == ["sheet-without-rows"]


def test_a_stray_cell_at_the_end_of_the_sheet_is_one_plain_line(tmp_path):
    """The workbook reader would ask for the memory of every cell before it, and die."""
    import io

    import xlsxwriter

    out = io.BytesIO()
    book = xlsxwriter.Workbook(out)
    sheet = book.add_worksheet()
    sheet.write_row(0, 0, ["reading", "kind"])
    sheet.write_row(1, 0, ["A-1", "leak"])
    sheet.write_blank(1_048_575, 16_383, None, book.add_format({"bold": True}))  # formatted, empty: harmless
    sheet.write(900_000, 16_000, "x")
    book.close()
    with pytest.raises(EarwitnessError, match="WQK900001"):
        read_survey(folder(tmp_path, out.getvalue(), name="readings.xlsx"))


def test_a_percent_cell_and_an_error_cell_of_a_workbook(tmp_path):
    import io

    import xlsxwriter

    out = io.BytesIO()
    book = xlsxwriter.Workbook(out)
    sheet = book.add_worksheet()
    sheet.write_row(0, 0, ["reading", "kind", "load_percent", "level_db"])
    sheet.write_row(1, 0, ["A-1", "leak"])
    sheet.write(1, 2, 0.7, book.add_format({"num_format": "0%"}))
    sheet.write_formula(1, 3, "=NA()", None, "#N/A")
    book.close()
    survey = read_survey(folder(tmp_path, out.getvalue(), name="readings.xlsx"))
    assert codes(survey) == ["percent-or-fraction"] and the_reading(survey).level_db is None
