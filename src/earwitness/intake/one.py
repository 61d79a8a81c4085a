"""Parts of a survey folder on their own: one reading from its cells, a sheet of readings, the site's settings."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from earwitness import units
from earwitness.errors import EarwitnessError
from earwitness.given_file import other_kind, refuse_no_file
from earwitness.intake.columns import heading
from earwitness.intake.headings import layout
from earwitness.intake.row import RowContext, read_row
from earwitness.intake.settings import read_settings
from earwitness.intake.sheet import read_sheet_named
from earwitness.intake.toml_lines import parts_in
from earwitness.plant.reading import Problem, Reading
from earwitness.plant.survey import Survey


def reading_of(cells: Mapping[str, str]) -> Reading:
    """The reading that these cells make; `cells` maps columns of the sheet to text. Its problems are kept with it."""
    known = [(found, text) for name, text in cells.items() if (found := heading(name)) is not None]
    extra = {name: text for name, text in cells.items() if heading(name) is None}
    return read_row(1, known, extra, RowContext(file="given", alone=True))


def readings_of(
    path: Path, kind: str, head: str, ambient_abs: float = units.ATMOSPHERE
) -> tuple[list[Reading], list[Problem]]:
    """The readings of a sheet of one kind, by itself: the columns of the field sheet, those of `head` before all."""
    sheet = read_sheet_named(path, head)
    found = layout(sheet)
    context = RowContext(file=sheet.file, ambient_abs=ambient_abs, decimal=sheet.decimal)
    name = heading("kind")
    assert name is not None
    readings = [
        read_row(number, [(name, kind), *(c for c in found.cells(cells) if c[0].column.name != "kind")], {}, context)
        for number, cells in sheet.rows
    ]
    return readings, [*sheet.problems, *found.problems, *(p for r in readings for p in r.problems)]


def site_of(folder: Path) -> Survey:
    """What survey.toml says of the site, without any reading."""
    toml = folder / "survey.toml" if folder.is_dir() else folder
    would_do = "a survey folder or its survey.toml would do"
    refuse_no_file(toml, would_do)
    parts = parts_in(toml)
    if not parts.tables:
        raise EarwitnessError(f"{toml} is {other_kind(toml) or 'another file'}, not a survey.toml; {would_do}")
    s = read_settings(parts, toml.resolve().parent.name)
    return Survey(
        folder=toml.parent,
        title=s.title,
        site=s.site,
        date=s.date,
        inspector=s.inspector,
        instrument=s.instrument,
        conditions=s.conditions,
        energy=s.energy,
        air=s.air,
        gas_prices=s.gas_prices,
        gas_compositions=s.gas_compositions,
        problems=tuple(s.problems),
        notes=tuple(s.notes),
    )
