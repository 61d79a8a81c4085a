"""The ledger's points, readings and findings as sheets: for people, and points for import again."""

from __future__ import annotations

import io
from pathlib import Path

from sqlalchemy import Connection, and_, select

from earwitness.errors import EarwitnessError
from earwitness.ledger import Ledger, points, schema, sites
from earwitness.plant.site import Point, Site
from earwitness.report.sheets import Sheet, as_csv, guarded
from earwitness.work.points import sheet_of_points

Line = tuple[str | float | int | None, ...]
PAGE = 5000
MOST_ROWS = 1_048_575  # under the head of a sheet
READING = (
    *(
        "site",
        "survey",
        "date",
        "inspector",
        "reading",
        "point",
        "printed_tag",
        "kind",
        "status",
        "taken_at",
        "level_db",
    ),
    *("background_db", "verdict", "probability", "signal_word", "cost_per_year", "saving_per_year", "distance_m"),
    *("gain_db", "pressure", "verifies", "note", "revision", "recording"),
)
FINDING = (
    *(
        "site",
        "finding",
        "state",
        "verdict",
        "kind",
        "point",
        "printed_tag",
        "area",
        "act_now",
        "opened_at",
        "closed_at",
    ),
    *("cost_per_year", "saving_per_year", "step", "step_state", "step_at", "who", "why", "step_saving_per_year"),
)


def sheets_of(ledger: Ledger, site: str | None = None) -> dict[str, Sheet]:
    """By their names; of one site or of all."""
    with ledger.reading() as c:
        homes = [sites.site_of(c, site)] if site else sites.sites(c)
        all_points = [_points(c, home) for home in homes]
        lines = tuple((home.name, *line) for home, s in zip(homes, all_points, strict=True) for line in s.lines)
        head = ("site", *sheet_of_points([], {}, {}).head)
        return {
            "points": Sheet(head, lines),
            "readings": Sheet(READING, tuple(line for home in homes for line in _readings(c, home))),
            "findings": Sheet(FINDING, tuple(line for home in homes for line in _findings(c, home))),
        }


def export_csv(ledger: Ledger, folder: Path, site: str | None = None) -> list[Path]:
    """points.csv, readings.csv and findings.csv."""
    folder.mkdir(parents=True, exist_ok=True)
    out = []
    for name, sheet in sheets_of(ledger, site).items():
        part = folder / f".{name}.csv.part"
        part.write_bytes(as_csv(sheet))
        out.append(part.replace(folder / f"{name}.csv"))
    return out


def export_xlsx(ledger: Ledger, out: Path, site: str | None = None) -> None:
    import xlsxwriter

    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False, "in_memory": True}
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer, options)
    bold = book.add_format({"bold": True})
    for name, sheet in sheets_of(ledger, site).items():
        if len(sheet.lines) > MOST_ROWS:
            raise EarwitnessError(f"{len(sheet.lines)} {name} are more than a workbook holds; a folder of CSV would do")
        page = book.add_worksheet(name)
        for row, line in enumerate((sheet.head, *sheet.lines)):
            for column, cell in enumerate(line):
                if isinstance(cell, str):
                    page.write_string(row, column, str(guarded(cell))[:32_000], bold if row == 0 else None)
                elif cell is not None:
                    page.write_number(row, column, cell)
        page.freeze_panes(1, 0)
    book.close()
    part = out.with_name(out.name + ".part")
    part.write_bytes(buffer.getvalue())
    part.replace(out)


def _points(c: Connection, home: Site) -> Sheet:
    areas = {a.id: a.name for a in sites.areas(c, home.id)}
    named = select(schema.asset.c.id, schema.asset.c.name).where(schema.asset.c.site_id == home.id)
    assets = {row.id: row.name for row in c.execute(named)}
    listed: list[Point] = []
    while page := points.points(c, home.id, limit=PAGE, offset=len(listed)):
        listed += page
    return sheet_of_points(listed, areas, assets)


def _readings(c: Connection, home: Site) -> list[Line]:
    r, s, p, a = schema.reading.c, schema.survey.c, schema.point.c, schema.assessment.c
    judged = schema.reading.outerjoin(schema.assessment, and_(a.reading_id == r.id, a.current))
    placed = judged.join(schema.survey, s.id == r.survey_id).outerjoin(schema.point, p.id == r.point_id)
    asked = select(
        *(s.title, s.day, s.inspector, r.name, p.name.label("point"), p.tag, r.kind, r.status, r.taken_at, r.level_db),
        *(r.background_db, a.verdict, a.probability, a.signal_word, a.cost_per_year, a.saving_per_year, r.cells),
        *(r.revision, r.recording_sha256),
    )
    lines: list[Line] = []
    for x in c.execute(asked.select_from(placed).where(r.site_id == home.id).order_by(s.day, s.id, r.row, r.id)):
        given = {name: about["given"] for name, about in (x.cells.get("conditions") or {}).items()}
        cells = (x.cells.get("distance_m"), x.cells.get("gain_db"), given.get("pressure"))
        lines.append((
            home.name, x.title, x.day.isoformat(), x.inspector, x.name, x.point or x.cells.get("point"), x.tag, x.kind,
            x.status, x.taken_at.isoformat(), x.level_db, x.background_db, x.verdict, x.probability, x.signal_word,
            x.cost_per_year, x.saving_per_year, *cells, x.cells.get("verifies"), x.cells.get("note"), x.revision,
            x.recording_sha256,
        ))  # fmt: skip
    return lines


def _findings(c: Connection, home: Site) -> list[Line]:
    """One line a step, so that the history is in the sheet too; the place of one at a point in doubt as the row has it
    that opened it."""
    f, t, p, a, r = schema.finding.c, schema.finding_step.c, schema.point.c, schema.area.c, schema.reading.c
    placed = schema.finding.join(schema.finding_step, t.finding_id == f.id)
    placed = placed.outerjoin(schema.point, p.id == f.point_id).outerjoin(schema.area, a.id == p.area_id)
    placed = placed.outerjoin(schema.reading, and_(r.id == f.opened_by, f.point_id.is_(None)))
    asked = select(
        *(f.id, f.state, f.verdict, f.kind, p.name.label("point"), p.tag, a.name.label("area"), f.urgent),
        *(f.opened_at, f.closed_at, f.cost_per_year, f.saving_per_year, t.number, t.state.label("step_state"), t.at),
        *(t.who, t.why, t.saving_per_year.label("step_saving"), r.cells.label("noted")),
    )
    asked = asked.select_from(placed).where(f.site_id == home.id).order_by(f.opened_at, f.id, t.number)
    return [
        (
            home.name, str(x.id), x.state, x.verdict, x.kind, x.point or (x.noted or {}).get("point"), x.tag,
            x.area or (x.noted or {}).get("area"), "yes" if x.urgent else "no",
            x.opened_at.isoformat(), x.closed_at.isoformat() if x.closed_at else None, x.cost_per_year,
            x.saving_per_year, x.number, x.step_state, x.at.isoformat(), x.who, x.why, x.step_saving,
        )
        for x in c.execute(asked)
    ]  # fmt: skip
