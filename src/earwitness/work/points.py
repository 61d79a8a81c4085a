"""Points from a spreadsheet and back: the columns of the field sheet, and a few that only a point has."""

from __future__ import annotations

import math
import uuid
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from earwitness import units
from earwitness.errors import InputError
from earwitness.intake.headings import layout
from earwitness.intake.row import RowContext, read_row
from earwitness.intake.sheet import read_sheet_named
from earwitness.ledger import Ledger, points, sites
from earwitness.ledger.rows import line_up
from earwitness.plant.reading import Machine, Problem, Reading
from earwitness.plant.site import Point, identity, name_key
from earwitness.plant.tag import read_tag
from earwitness.report.sheets import Cell, Sheet, guarded
from earwitness.sentence import Sentence, say
from earwitness.units import UnitError
from earwitness.work.ledger_match import Match, match_points

OWN_TEXTS = ("how_to_listen", "dangers")
OWN_NUMBERS = ("watch_db", "act_db", "plan_x", "plan_y")
TAKEN = ("location", "medium", "pressure_abs", "baseline_db", "component")  # as a row of the field sheet has them
MACHINE: tuple[tuple[str, str, float], ...] = (  # field, column, its unit in SI
    ("speed_hz", "speed_rpm", 1 / 60),
    ("bearing", "bearing", 1),
    ("rolling_elements", "rolling_elements", 1),
    ("element_m", "element_mm", 1e-3),
    ("pitch_m", "pitch_mm", 1e-3),
    ("contact_angle_rad", "contact_angle_deg", math.pi / 180),
    ("bore_m", "bore_mm", 1e-3),
    ("outside_m", "outside_mm", 1e-3),
    ("width_m", "width_mm", 1e-3),
    ("teeth", "teeth", 1),
    ("mate_teeth", "mate_teeth", 1),
)


@dataclass(frozen=True)
class PointsRead:
    """Each row as a reading would have it, named by its row, and its cells that only a point has."""

    rows: tuple[tuple[Reading, dict[str, str]], ...]
    problems: tuple[Problem, ...]


@dataclass(frozen=True)
class PointsImported:
    site: str
    made: int
    changed: int
    same: int
    doubts: tuple[Sentence, ...]
    problems: tuple[Problem, ...]

    @property
    def sentence(self) -> Sentence:
        return say(
            "points-imported",
            "{site}: points: {made} made, {changed} changed, {same} unchanged, {doubts} in doubt; problems: "
            "{problems}.",
            site=self.site,
            made=self.made,
            changed=self.changed,
            same=self.same,
            doubts=len(self.doubts),
            problems=len(self.problems),
        )


def import_points(ledger: Ledger, sheet: PointsRead, site: str | None = None) -> PointsImported:
    """The points of a sheet, one a row: new ones are made, known ones take over what the sheet says of them. An empty
    cell changes nothing. Importing the same sheet twice changes nothing."""
    rows = sheet.rows
    with ledger.writing() as c:
        named = site.strip() if site else sites.site_of(c, None).name
        site_id = identity("site", name_key(named))
        line_up(c, site_id)
        home = sites.keep_site(c, named)
        areas = sites.keep_areas(c, home.id, [r.area.strip() for r, _ in rows if r.area])
        printed = {p.tag for p in points.points_tagged(c, home.id, {o["printed_tag"] for _, o in rows})}
        asked = [replace(r, tag=o["printed_tag"]) if o["printed_tag"] in printed else r for r, o in rows]
        matches, made, _ = match_points(c, home.id, asked, areas)
        given: dict[uuid.UUID, dict[str, Any]] = {}
        for reading, own in rows:
            match = matches[reading.reading]
            if match.point is not None:
                given[match.point.id] = _own(reading, own, match)
                if own.get("asset_name"):
                    area_id = match.point.area_id or (areas[name_key(reading.area)] if reading.area else None)
                    asset = sites.keep_asset(c, home.id, area_id, own["asset_name"])
                    given[match.point.id]["asset_id"] = asset
        points.keep_points(c, [replace(p, **given.get(p.id, {})) for p in made])
        fresh = {p.id for p in made}
        changed = 0
        for known in points.points_by_id(c, set(given) - fresh):
            values = {name: v for name, v in given[known.id].items() if name != "tag"}
            news = {name: v for name, v in values.items() if getattr(known, name) != v}
            if news:
                points.change_point(c, known.id, **news)
                changed += 1
    doubts = tuple(m.doubt for m in matches.values() if m.doubt is not None)
    return PointsImported(named, len(made), changed, len(given) - len(made) - changed, doubts, sheet.problems)


def read_points(path: Path) -> PointsRead:
    """The points of a CSV or XLSX sheet.

    Raises
    ------
    EarwitnessError : nothing in it can be read as a table
    """
    sheet = read_sheet_named(path, "point,kind,area")
    found = layout(sheet)
    context = RowContext(file=sheet.file, decimal=sheet.decimal)
    problems = [*sheet.problems, *found.problems]
    rows = []
    for number, cells in sheet.rows:
        cells = tuple(_unguarded(c) for c in cells)
        reading = replace(read_row(number, found.cells(cells), {}, context), reading=f"row {number}")
        problems += reading.problems
        if reading.status == "unreadable":
            continue
        if not (reading.point or reading.tag):
            text = "row {row}: the point has no name; write one under 'point'."
            problems.append(Problem(number, "point", say("point-nameless", text, row=number), sheet.file))
            continue
        own = {_title(title): text.strip() for title, text in found.extra(cells).items()}
        own["printed_tag"] = own.get("printed_tag", "").upper()
        for name in [n for n in OWN_NUMBERS if own.get(n)]:
            try:
                units.number(own[name], where=f"row {number}, {name}", decimal=sheet.decimal)
            except UnitError as error:
                problems.append(Problem(number, name, error.sentence, sheet.file))
                del own[name]
        rows.append((reading, own))
    return PointsRead(tuple(rows), tuple(problems))


def _title(title: str) -> str:
    return "_".join(title.casefold().split())


def _own(r: Reading, own: Mapping[str, str], match: Match) -> dict[str, Any]:
    """What the row says of its point."""
    values: dict[str, Any] = {name: getattr(r, name) for name in TAKEN if getattr(r, name) is not None}
    if any(v is not None for v in asdict(r.machine).values()):
        before = match.point.machine if match.point else Machine()
        stated = {k: v for k, v in asdict(r.machine).items() if v is not None}
        values["machine"] = replace(before, **stated)
    if r.tag:
        values["plant_tag"] = r.tag
    for name in OWN_TEXTS:
        if own.get(name):
            values[name] = own[name]
    for name in OWN_NUMBERS:
        if own.get(name):
            values[name] = units.number(own[name], where=f"{r.reading}, {name}")
    if printed := own.get("printed_tag"):
        with suppress(InputError):
            values["tag"] = read_tag(printed)
    return values


def _unguarded(text: str) -> str:
    """Without the apostrophe that keeps a spreadsheet from running a text as a formula."""
    return text[1:] if text.startswith("'") and guarded(text[1:]) == text else text


def sheet_of_points(listed: list[Point], areas: Mapping[uuid.UUID, str], assets: Mapping[uuid.UUID, str]) -> Sheet:
    """Points as a sheet that `import_points` reads."""
    head = (
        *("printed_tag", "tag", "point", "area", "asset_name", "kind", "component", "location", "medium", "pressure"),
        *(column for _, column, _ in MACHINE),
        *("baseline_db", "watch_db", "act_db", "how_to_listen", "dangers", "plan_x", "plan_y"),
    )
    lines = []
    for p in listed:
        cells: dict[str, Cell] = {
            "printed_tag": p.tag,
            "tag": p.plant_tag,
            "point": p.name,
            "area": areas.get(p.area_id) if p.area_id else None,
            "asset_name": assets.get(p.asset_id) if p.asset_id else None,
            "pressure": None if p.pressure_abs is None else f"{p.pressure_abs!r} Pa(a)",
        }
        for name in (
            "kind",
            "component",
            "location",
            "medium",
            "baseline_db",
            *OWN_NUMBERS,
            "how_to_listen",
            "dangers",
        ):
            cells[name] = getattr(p, name)
        for field, column, scale in MACHINE:
            value = getattr(p.machine, field)
            cells[column] = float(f"{value / scale:.12g}") if isinstance(value, float) and scale != 1 else value
        lines.append(tuple(cells[name] for name in head))
    return Sheet(head, tuple(lines))
