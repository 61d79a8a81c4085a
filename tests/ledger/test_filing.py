"""Filing surveys: twice the same, corrected, doubtful, out of order."""

from __future__ import annotations

import pytest

from earwitness.errors import EarwitnessError
from earwitness.ledger import findings, points, readings, sites, surveys
from earwitness.work.file_survey import file_survey
from earwitness.work.ledger_sheets import sheets_of
from tests.ledger.surveys import everything, folder, judged, row

ROWS = [row("A-1", "leak"), row("A-2", "no-leak-heard"), row("A-3", "leak", tag="T-9")]


def test_filing_the_same_folder_twice_changes_nothing(ledger, tmp_path):
    path = folder(tmp_path / "s", ROWS)
    first = file_survey(ledger, judged(path))
    assert (first.new, first.points_made, first.count("open")) == (3, 3, 2)
    before = everything(ledger)
    again = file_survey(ledger, judged(path))
    assert (again.new, again.changed, again.same, again.points_made, again.events) == (0, 0, 3, 0, ())
    assert everything(ledger) == before


def test_files_are_kept_byte_for_byte(ledger, tmp_path):
    path = folder(tmp_path / "s", ROWS)
    filed = file_survey(ledger, judged(path))
    with ledger.reading() as c:
        kept = surveys.survey_files(c, filed.survey_id)
    assert [f.path for f in kept] == ["readings.csv", *(f"recordings/A-{n}.wav" for n in (1, 2, 3)), "survey.toml"]
    for file in kept:
        assert ledger.store.verified(file.sha256).read_bytes() == (path / file.path).read_bytes()


def test_a_corrected_sheet_changes_what_was_corrected_and_keeps_what_stood_before(ledger, tmp_path):
    path = folder(tmp_path / "s", ROWS)
    file_survey(ledger, judged(path))
    before = {r["name"]: r for r in everything(ledger)["reading"]}
    folder(path, [ROWS[1], row("A-1", "leak", level_db="61"), ROWS[2]])  # one corrected, two change places
    filed = file_survey(ledger, judged(path))
    assert (filed.new, filed.changed, filed.same) == (0, 1, 2)
    after = {r["name"]: r for r in everything(ledger)["reading"]}
    assert after["A-1"]["level_db"] == 61 and after["A-1"]["revision"] == 2
    assert after["A-2"] == before["A-2"] | {"row": 2} and after["A-3"] == before["A-3"]
    with ledger.reading() as c:
        (earlier,) = readings.revisions(c, after["A-1"]["id"])
        judgements = readings.judgements(c, after["A-1"]["id"])
    assert earlier.cells["level_db"] == 58 and earlier.revision == 1
    assert [j.current for j in judgements] == [True, False]
    sheets = [f for f in everything(ledger)["survey_file"] if f["path"] == "readings.csv"]
    assert sorted(f["current"] for f in sheets) == [False, True]


def test_a_row_taken_out_of_the_sheet_is_withdrawn_and_not_lost(ledger, tmp_path):
    path = folder(tmp_path / "s", ROWS)
    file_survey(ledger, judged(path))
    folder(path, ROWS[:2])
    filed = file_survey(ledger, judged(path))
    assert (filed.withdrawn, filed.same) == (1, 2)
    gone = next(r for r in everything(ledger)["reading"] if r["name"] == "A-3")
    assert gone["status"] == "withdrawn" and gone["cells"]["level_db"] == 58
    with ledger.reading() as c:
        assert readings.listens(c, gone["point_id"]) == []
        assert not any(j.current for j in readings.judgements(c, gone["id"]))
    before = everything(ledger)
    assert file_survey(ledger, judged(path)).withdrawn == 0
    assert everything(ledger) == before


def test_two_machines_give_the_same_identities(ledger, other_place, tmp_path):
    path = folder(tmp_path / "s", ROWS)
    file_survey(ledger, judged(path))
    other = other_place.open()
    file_survey(other, judged(path))
    for table in ("site", "area", "point", "survey", "reading", "assessment", "finding", "finding_step", "recording"):
        key = "sha256" if table == "recording" else "id"
        assert {r[key] for r in everything(ledger)[table]} == {r[key] for r in everything(other)[table]}, table
    other.close()


def test_another_survey_under_the_same_title_is_refused(ledger, tmp_path):
    file_survey(ledger, judged(folder(tmp_path / "s", ROWS)))
    before = everything(ledger)
    with pytest.raises(EarwitnessError, match="title of its own"):
        file_survey(ledger, judged(folder(tmp_path / "t", [row("B-7", "leak")])))
    assert everything(ledger) == before


def test_two_inspectors_of_one_round_are_two_surveys(ledger, tmp_path):
    file_survey(ledger, judged(folder(tmp_path / "s", ROWS)))
    filed = file_survey(ledger, judged(folder(tmp_path / "t", ROWS, inspector="B. Other")))
    assert (filed.new, filed.points_made) == (3, 0)


@pytest.mark.parametrize(
    ("cells", "doubt"),
    [
        ({"point": "Line 1 caper"}, "point-similar"),
        ({"point": "line-1 capper"}, "point-similar"),
        ({"point": "Line 3 capper", "tag": "T-77"}, "point-tag-new"),
        ({"point": "Line 1 capper", "tag": "T-9"}, "point-tag-moved"),
        ({"point": "Line 1 CAPPER "}, None),
        ({"point": "", "tag": "T-9"}, None),
        ({"point": "", "tag": "t-9"}, None),
        ({"point": "Line 1 capper", "tag": "T-50"}, None),  # a number hung on since
        ({"point": "Line 4 capper"}, None),
        ({"point": "Line 1 capper", "area": "Hall 2"}, None),
    ],
)
def test_a_doubtful_match_is_listed_and_never_guessed(ledger, tmp_path, cells, doubt):
    file_survey(ledger, judged(folder(tmp_path / "s", ROWS)))
    filed = file_survey(ledger, judged(folder(tmp_path / "t", [row("B-1", "leak", **cells)], day="2026-02-10")))
    found = next(r for r in everything(ledger)["reading"] if r["name"] == "B-1")
    assert [s.code for s in filed.doubts] == ([doubt] if doubt else [])
    assert (found["point_id"] is None) == bool(doubt)
    assert any(e.finding_id for e in filed.events), "a fault is not lost because its point is in doubt"
    for name in ("readings", "findings"):  # nor its place in a sheet
        sheet = sheets_of(ledger)[name]
        assert all(line[sheet.head.index("point")] for line in sheet.lines)
        assert doubt is None or cells["point"] in {line[sheet.head.index("point")] for line in sheet.lines}


def test_the_printed_tag_settles_a_doubt(ledger, tmp_path):
    file_survey(ledger, judged(folder(tmp_path / "s", ROWS)))
    path = folder(tmp_path / "t", [row("B-1", "leak", point="Line 1 caper")], day="2026-02-10")
    file_survey(ledger, judged(path))
    with ledger.reading() as c:
        site = sites.site_of(c, "oat  WORKS")
        (right,) = points.points(c, site.id, words="line 1")
    folder(path, [row("B-1", "leak", point="Line 1 caper", tag=right.tag.lower().replace("-", " "))], day="2026-02-10")
    filed = file_survey(ledger, judged(path))
    assert (filed.changed, filed.doubts) == (1, ())
    found = next(r for r in everything(ledger)["reading"] if r["name"] == "B-1")
    assert found["point_id"] == right.id
    with ledger.reading() as c:
        (heard,) = {findings.finding(c, i).point_id for i in findings.stepped_by(c, found["id"])} - {None}
    assert heard == right.id


def test_one_leak_beside_another_has_a_point_of_its_own(ledger, tmp_path):
    rows = [row("A-1", "leak", tag="T-1"), row("B-1", "leak", tag="T-2")]  # the same point, two numbers
    filed = file_survey(ledger, judged(folder(tmp_path / "s", rows)))
    assert (filed.points_made, filed.count("open"), filed.doubts) == (2, 2, ())


def test_what_a_database_would_refuse_is_filed_alike(ledger, tmp_path):
    """NUL and a lone surrogate in a text; NaN in a number: SQLite takes them, PostgreSQL does not."""
    from earwitness.ledger.column_types import as_stored
    from earwitness.ledger.schema import point

    assert as_stored({"a\x00": ["b\x00\ud800", float("nan"), float("inf"), 1.5]}) == {"a": ["b?", None, None, 1.5]}
    file_survey(ledger, judged(folder(tmp_path / "s", ROWS)))
    with ledger.writing() as c:
        known = points.points(c, sites.site_of(c, None).id)[0]
        points.change_point(c, known.id, location="left\x00 of \ud800 it", baseline_db=float("nan"))
        c.execute(point.update().where(point.c.id == known.id).values(machine={"x": float("nan"), "y": "\x00z"}))
    with ledger.reading() as c:
        row_ = c.execute(point.select().where(point.c.id == known.id)).one()
    assert (row_.location, row_.baseline_db, row_.machine) == ("left of ? it", None, {"x": None, "y": "z"})


def test_a_survey_without_a_date_is_refused_in_one_line(ledger, tmp_path):
    path = folder(tmp_path / "s", ROWS)
    (path / "survey.toml").write_text('[survey]\ntitle = "x"\nsite = "y"\ninspector = "z"\n')
    with pytest.raises(EarwitnessError, match="date"):
        file_survey(ledger, judged(path))
    assert not everything(ledger)["survey"]
