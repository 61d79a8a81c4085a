"""The repair list as sheets: the same lines in both, numbers as numbers, and no formula that anyone smuggled in."""

from __future__ import annotations

import csv
import io
import zipfile

import pytest
from python_calamine import CalamineWorkbook

from earwitness.report import sheets
from tests.report import site

FORMULAS = ("=1+1", "+cmd|' /C calc'!A0", "-2+3", "@SUM(A1)", "\t=1", "\r=1", "|x", "%x")


def read_csv(data: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline="")))


def read_xlsx(data: bytes, name: str = "repair list") -> list[list]:
    return CalamineWorkbook.from_filelike(io.BytesIO(data)).get_sheet_by_name(name).to_python()


@pytest.fixture
def findings():
    return site.findings()


def test_the_same_survey_gives_the_same_bytes_whenever_it_is_judged(findings):
    later = {**findings, "made": {**findings["made"], "at": "2031-05-06T07:08:09Z"}}
    assert sheets.as_xlsx(later) == sheets.as_xlsx(findings)


def test_csv_and_xlsx_hold_the_same_list(findings):
    text = read_csv(sheets.as_csv(sheets.repair_list(findings)))
    book = read_xlsx(sheets.as_xlsx(findings))
    assert text[0] == book[0]
    assert len(text) == len(book) == 1 + 8
    for line, row in zip(text[1:], book[1:], strict=True):
        for seen, cell in zip(line, row, strict=True):
            assert (float(seen) if isinstance(cell, float) and seen else seen) == (cell if cell is not None else "")


def test_urgent_first_without_rank_then_by_rank(findings):
    rows = read_csv(sheets.as_csv(sheets.repair_list(findings)))
    head = rows[0]
    names = [r[head.index("reading")] for r in rows[1:]]
    ranks = [r[head.index("rank")] for r in rows[1:]]
    assert names == ["R-007", "R-009", "R-012", "R-002", "R-003", "R-017", "R-015", "R-013"]
    assert ranks == ["", "", "1", "2", "3", "4", "5", "6"]
    assert [r[head.index("act now")] for r in rows[1:3]] == ["yes", "yes"]


def test_numbers_are_numbers_in_the_unit_of_the_head(findings):
    rows = read_xlsx(sheets.as_xlsx(findings))
    head = rows[0]
    leak = next(r for r in rows if r[head.index("reading")] == "R-002")
    given = next(r for r in findings["readings"] if r["reading"] == "R-002")["quantities"]
    flow = leak[head.index("escapes [l/min free air or gas, 20 °C]")]
    assert flow == pytest.approx(given["volume_flow"]["value"] * 60_000, rel=1e-3)
    assert leak[head.index("wastes, low [EUR a year]")] == pytest.approx(given["cost_per_year"]["low"], rel=1e-3)


def test_their_own_columns_are_carried_through(findings):
    findings["readings"][0]["extra"] = {"cost centre": "4410", "note": "theirs", "inventory no.": "00123"}
    rows = read_csv(sheets.as_csv(sheets.repair_list(findings)))
    line = dict(zip(rows[0], next(r for r in rows if "R-002" in r), strict=True))
    assert line["cost centre"] == "4410"
    assert line["note (their column)"] == "theirs"
    assert line["inventory no."] == "00123"
    assert {"R-020", "R-025"} <= {
        str(cell) for row in read_xlsx(sheets.as_xlsx(findings), "all readings") for cell in row
    }


def test_no_text_becomes_a_formula(findings):
    for number, text in enumerate(FORMULAS):
        findings["readings"][0].setdefault("extra", {})[f"x{number}"] = text
        findings["readings"][0]["extra"][text] = "head"
    findings["readings"][0]["point"] = "=HYPERLINK(A1)"
    for row in read_csv(sheets.as_csv(sheets.repair_list(findings))):
        for cell in row:
            number = sheets.NUMBER.fullmatch(cell) or cell.replace(".", "").replace("-", "").isdigit()
            assert number or not cell.startswith(sheets.FORMULA_STARTS), cell
    with zipfile.ZipFile(io.BytesIO(sheets.as_xlsx(findings))) as book:
        for name in book.namelist():
            if name.startswith("xl/worksheets/"):
                assert b"<f>" not in book.read(name) and b"<hyperlink" not in book.read(name)


def test_negative_numbers_stay_numbers():
    assert sheets.guarded(-3.5) == -3.5 and sheets.guarded("-3.5") == "-3.5"


def test_the_head_is_frozen_and_problems_have_their_sheet(findings):
    with zipfile.ZipFile(io.BytesIO(sheets.as_xlsx(findings))) as book:
        assert b'state="frozen"' in book.read("xl/worksheets/sheet1.xml")
    rows = read_xlsx(sheets.as_xlsx(findings), "problems")
    assert len(rows) == 1 + len(findings["problems"])
    assert rows[1][3] == findings["problems"][0]["text"]
