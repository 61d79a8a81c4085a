"""Out and in again without loss; sheets that no spreadsheet runs; points there and back."""

from __future__ import annotations

import csv
import json
import shutil
from datetime import UTC, datetime

import pytest
from python_calamine import load_workbook

from earwitness.errors import EarwitnessError
from earwitness.ledger import findings, points, sites
from earwitness.plant.reading import Machine
from earwitness.work.exchange import beside, export_json, import_json, read_export
from earwitness.work.file_survey import file_survey
from earwitness.work.findings import step_finding
from earwitness.work.ledger_sheets import export_csv, export_xlsx
from earwitness.work.points import import_points, read_points
from tests.ledger.surveys import everything, folder, judged, row


@pytest.fixture
def lived(ledger, tmp_path):
    """A ledger with a life: two surveys, a correction, a repair, a reopened leak, a note that is a formula."""
    rows = [row("A-1", "leak", note="=1+1"), row("A-2", "leak", location="50 % of the way, \u00e4 \u4e2d \U0001f50a")]
    path = folder(tmp_path / "1", rows)
    file_survey(ledger, judged(path))
    folder(path, [row("A-1", "leak", note="=1+2"), rows[1]])
    file_survey(ledger, judged(path))
    with ledger.reading() as c:
        first = findings.ranked(c, sites.site_of(c, None).id)[0].finding
    step_finding(ledger, first.id, "repaired", who="F", why="=cmd", at=datetime(2026, 2, 1, 1, 2, 3, 456, tzinfo=UTC))
    file_survey(ledger, judged(folder(tmp_path / "2", [row("A-1", "leak"), row("A-2", "leak")], day="2026-03-01")))
    return ledger


def test_export_and_import_give_an_equal_export(lived, other_place, tmp_path):
    counts = export_json(lived, tmp_path / "out.json", recordings=True)
    assert counts["reading"] == 4 and counts["reading_revision"] == 1 and counts["finding_step"] > 4
    other = other_place.open()
    assert import_json(other, read_export(tmp_path / "out.json"))["files"] == counts["recording"]
    export_json(other, tmp_path / "again.json")
    assert (tmp_path / "again.json").read_bytes() == (tmp_path / "out.json").read_bytes()
    assert everything(other) == everything(lived)
    for kept in everything(other)["recording"]:
        other.store.verified(kept["sha256"])
    other.close()


def test_both_databases_export_the_same(lived, tmp_path):
    """The same life on either gives the same rows but for the moments and identities of what people did."""
    export_json(lived, tmp_path / "out.json")
    tables = json.loads((tmp_path / "out.json").read_text("utf-8"))["tables"]
    cells = next(r["cells"] for r in tables["reading"] if r["revision"] == 2)
    assert cells["conditions"]["pressure"] == {
        "given": "7 bar(g)", "value": 801325.0, "unit": "Pa absolute", "from": "row",
    }  # fmt: skip
    assert list(cells)[:3] == ["reading", "kind", "status"], "the order in which cells were written"


def test_recordings_in_a_zip_serve_as_well(lived, other_place, tmp_path):
    out = tmp_path / "out.json"
    export_json(lived, out, recordings=True)
    shutil.make_archive(str(beside(out)), "zip", beside(out))
    shutil.rmtree(beside(out))
    other = other_place.open()
    counts = import_json(other, read_export(out))
    assert counts["files"] == counts["recording"]
    other.close()


def test_a_damaged_recording_is_refused_and_nothing_filed(lived, other_place, tmp_path):
    out = tmp_path / "out.json"
    export_json(lived, out, recordings=True)
    next(beside(out).iterdir()).write_bytes(b"not what was filed")
    other = other_place.open()
    with pytest.raises(EarwitnessError, match="damaged"):
        import_json(other, read_export(out))
    assert not everything(other)["site"]
    other.close()
    swept = other_place.open()  # what was kept before the damage was met goes at the next start
    assert not [p for p in other_place.recordings.glob("??/*") if p.is_file()]
    swept.close()


def test_what_is_no_export_or_there_already_is_refused_in_one_line(lived, tmp_path):
    export_json(lived, tmp_path / "out.json")
    before = everything(lived)
    with pytest.raises(EarwitnessError, match="already"):
        import_json(lived, read_export(tmp_path / "out.json"))
    for text, says in (("{}", "no exported"), ("[1]", "no exported"), ("{", "no exported"), ("", "is empty, not")):
        (tmp_path / "bad.json").write_text(text)
        with pytest.raises(EarwitnessError, match=says):
            import_json(lived, read_export(tmp_path / "bad.json"))
    data = json.loads((tmp_path / "out.json").read_text("utf-8"))
    (tmp_path / "newer.json").write_text(json.dumps(data | {"revision": "9999"}))
    with pytest.raises(EarwitnessError, match="newer"):
        import_json(lived, read_export(tmp_path / "newer.json"))
    assert everything(lived) == before


@pytest.mark.parametrize("held", [b"\xff\xfe{", b"[1]", b'{"schema": ', b"tag,name\n"])
def test_what_is_no_export_is_told_what_would_do(tmp_path, held):
    (tmp_path / "plant.json").write_bytes(held)
    with pytest.raises(
        EarwitnessError, match=r"plant\.json is no exported ledger.* would do \(.*points import"
    ) as told:
        read_export(tmp_path / "plant.json")
    assert "codec" not in str(told.value) and "line 1" not in str(told.value)


def test_no_cell_of_a_sheet_is_a_formula(lived, tmp_path):
    export_xlsx(lived, tmp_path / "out.xlsx")
    export_csv(lived, tmp_path / "csv")
    book = load_workbook(tmp_path / "out.xlsx")
    assert book.sheet_names == ["points", "readings", "findings"]
    texts = [c for name in book.sheet_names for r in book.get_sheet_by_name(name).to_python() for c in r]
    for path in (tmp_path / "csv").iterdir():
        with path.open(encoding="utf-8-sig", newline="") as file:
            texts += [c for line in csv.reader(file) for c in line]
    assert "'=1+2" in texts and "'=cmd" in texts
    assert not [t for t in texts if isinstance(t, str) and t[:1] in ("=", "@", "+")]


def test_points_there_and_back(ledger, other_place, tmp_path):
    sheet = tmp_path / "points.csv"
    sheet.write_text(
        "point,kind,area,tag,asset_name,pressure,speed_rpm,bearing,element_mm,watch_db,act_db,dangers,plan_x\n"
        "Fan 1 drive end,bearing,Hall 1,T-1,Fan 1,,1480,6205,7.94,30,36,=turning,0.25\n"
        "Dryer,leak,Hall 1,,,6.5 bar(g),,,,,,hot pipe,\n"
        "No kind,,Hall 1,,,,,,,,,,\n"
        "Mixer,leak,Hall 2,,,,,,,thirty,,,\n"
    )
    done = import_points(ledger, read_points(sheet), "Oat works")
    assert (done.made, done.changed, done.same) == (3, 0, 0)
    assert sorted(p.sentence.code for p in done.problems) == ["kind-missing", "not-a-number"]
    again = import_points(ledger, read_points(sheet))
    assert (again.made, again.changed, again.same) == (0, 0, 3)
    export_csv(ledger, tmp_path / "csv")
    other = other_place.open()
    import_points(other, read_points(tmp_path / "csv" / "points.csv"), "Oat works")
    with ledger.reading() as c, other.reading() as d:
        site = sites.site_of(c, None).id
        mine, theirs = points.points(c, site), points.points(d, site)
    assert [p.tag for p in mine] == [p.tag for p in theirs] and len(mine) == 3
    fan = theirs[1]
    assert fan.machine == Machine(speed_hz=pytest.approx(1480 / 60), bearing="6205", element_m=pytest.approx(7.94e-3))
    assert (fan.watch_db, fan.act_db, fan.plan_x, fan.dangers, fan.plant_tag) == (30, 36, 0.25, "=turning", "T-1")
    assert theirs[0].pressure_abs == 750_000 + 1325
    export_csv(other, tmp_path / "again")
    assert (tmp_path / "again" / "points.csv").read_bytes() == (tmp_path / "csv" / "points.csv").read_bytes()
    other.close()


def test_a_points_sheet_changes_what_it_says_and_nothing_else(ledger, tmp_path):
    sheet = tmp_path / "points.csv"
    sheet.write_text("point,kind,area,watch_db,dangers\nFan,bearing,Hall,30,belt\n")
    import_points(ledger, read_points(sheet), "Oat works")
    sheet.write_text("point,kind,area,watch_db,dangers\nFan,bearing,Hall,32,\n")
    done = import_points(ledger, read_points(sheet))
    assert (done.made, done.changed) == (0, 1)
    with ledger.reading() as c:
        (fan,) = points.points(c, sites.site_of(c, None).id)
    assert (fan.watch_db, fan.dangers) == (32, "belt")
