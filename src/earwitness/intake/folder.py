"""A survey folder in: survey.toml, the sheet of readings, the recordings and photos that they name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path, PurePosixPath

from earwitness import units
from earwitness.errors import EarwitnessError
from earwitness.intake.choices import choice
from earwitness.intake.files import AUDIO, Files, Progress, hashed, inputs_sha256
from earwitness.intake.headings import Layout, layout
from earwitness.intake.identity import check_verifications, with_identifiers
from earwitness.intake.matching import match_unnamed
from earwitness.intake.row import RowContext, read_row, unreadable
from earwitness.intake.settings import FIVE_LINES, Settings, read_settings
from earwitness.intake.sheet import Sheet, read_sheet
from earwitness.intake.stand_in import SiteSettings, standing_in
from earwitness.intake.toml_lines import parts_in
from earwitness.plant.reading import KINDS, Problem, Reading
from earwitness.plant.survey import Survey
from earwitness.sentence import Sentence, say
from earwitness.units import UnitError

_SHEETS = (".csv", ".xlsx", ".xlsm", ".xls", ".ods", ".tsv", ".txt")
_OWN_WORDS = 3  # from so many rows on, kinds of which none is known are a habit and no slip
_LARGEST_SHEET = 200_000_000  # bytes


def read_survey(folder: Path, *, progress: Progress | None = None, site_settings: SiteSettings | None = None) -> Survey:
    """The survey in `folder`, every problem kept: those of a row both with its reading and in the survey's list.

    Parameters
    ----------
    folder : holds survey.toml, readings.csv or readings.xlsx, recordings/ and perhaps photos/
    progress : called with what is being done, how many of it are done and of how many
    site_settings : what the site says, by its name, where survey.toml does not

    Raises
    ------
    EarwitnessError : nothing can be read: no such folder, no survey.toml, or neither a sheet nor a recording
    """
    folder = Path(folder)
    if not folder.is_dir():
        what = f"{folder} is a file, no folder" if folder.exists() else f"there is no folder {folder}"
        raise EarwitnessError(f"{what}; a folder with survey.toml, readings.csv and recordings/ would do")
    files = Files.below_folder(folder, "recordings")
    toml = _named(files, "survey.toml")
    if toml is None:
        raise EarwitnessError(f"{folder.name} has no survey.toml; a file with these five lines would do: {FIVE_LINES}")
    parts = parts_in(folder / toml)
    if site_settings is not None:
        parts = standing_in(parts, site_settings)
    settings = read_settings(parts, folder.resolve().name)
    sheet_path, doubts = _sheet_path(files)
    if sheet_path is None:
        readings, problems, notes = _only_recordings(files)
        used = [toml]
    else:
        if (folder / sheet_path).stat().st_size > _LARGEST_SHEET:
            raise EarwitnessError(f"{sheet_path} is over {_LARGEST_SHEET / 1e6:.0f} MB; split it into smaller sheets")
        sheet = read_sheet(folder / sheet_path)
        readings, problems = _rows(sheet, settings, files)
        problems = [*doubts, *problems]
        notes = list(sheet.notes)
        used = [toml, sheet_path]
    unused = _unused(readings, files)
    problems += unused
    problems += [problem for reading in readings for problem in reading.problems]
    named = [path for r in readings for path in (r.recording, r.background_recording, r.photo) if path in files.paths]
    return Survey(
        folder=folder,
        title=settings.title,
        site=settings.site,
        date=settings.date,
        inspector=settings.inspector,
        qualification=settings.qualification,
        instrument=settings.instrument,
        conditions=settings.conditions,
        energy=settings.energy,
        air=settings.air,
        gas_prices=settings.gas_prices,
        gas_compositions=settings.gas_compositions,
        from_site=parts.from_site,
        readings=tuple(readings),
        problems=tuple(settings.problems + _in_order(problems)),
        notes=tuple(settings.notes + notes),
        inputs_sha256=inputs_sha256(folder, [*used, *(path for path in named if path)], progress),
    )


def _in_order(problems: Sequence[Problem]) -> list[Problem]:
    return sorted(problems, key=lambda problem: (problem.row is None, problem.row or 0))


def _named(files: Files, name: str) -> str | None:
    if name in files.paths:
        return name
    return next((path for path in files.paths if path.casefold() == name), None)


def _sheet_path(files: Files) -> tuple[str | None, list[Problem]]:
    """The sheet of readings: readings.csv or readings.xlsx, else the only sheet there is."""
    top = [path for path in files.paths if "/" not in path and PurePosixPath(path).suffix.casefold() in _SHEETS]
    top = [path for path in top if not path.startswith("~$")]
    top.sort(key=lambda path: (_SHEETS.index(PurePosixPath(path).suffix.casefold()), path))
    called = [path for path in top if PurePosixPath(path).stem.casefold() == "readings"]
    others = [path for path in top if PurePosixPath(path).suffix.casefold() != ".txt"]
    if called:
        problems = []
        for other in called[1:]:
            problems.append(Problem(None, None, say(
                "second-sheet", "{used} is read; {file} beside it is not. Keep one of the two.",
                used=called[0], file=other,
            ), other))  # fmt: skip
        return called[0], problems
    if len(others) == 1:
        return others[0], [Problem(None, None, say(
            "sheet-renamed", "There is no readings.csv or readings.xlsx; {file}, the only sheet, is read.",
            file=others[0],
        ), others[0])]  # fmt: skip
    if len(others) > 1:
        raise EarwitnessError(
            "there is no readings.csv or readings.xlsx, and " + ", ".join(others[:5]) + " could all be it; "
            "name one of them readings.csv"
        )
    return None, []


def _only_recordings(files: Files) -> tuple[list[Reading], list[Problem], list[Sentence]]:
    """Each recording as a reading of kind `other`, where there is no sheet."""
    audio = [path for path in files.inside or files.paths if PurePosixPath(path).suffix.casefold() in AUDIO]
    if not audio:
        raise EarwitnessError(
            "there is no readings.csv or readings.xlsx and no recording; a sheet with the columns "
            "reading, point, kind, recording would do"
        )
    problem = Problem(None, None, say(
        "sheet-missing", "There is no readings.csv or readings.xlsx; each of the {count} recordings is taken as a "
        "reading of kind 'other'. A sheet with the columns reading, point, kind, recording would do.",
        count=len(audio),
    ))  # fmt: skip
    readings = [
        Reading("r-" + hashed([path, "", ""]), row, "other", recording=path) for row, path in enumerate(audio, start=2)
    ]
    return readings, [problem], []


def _context(sheet: Sheet, settings: Settings, found: Layout) -> RowContext:
    return RowContext(
        file=sheet.file,
        ambient_abs=settings.conditions.ambient_pressure_abs or units.ATMOSPHERE,
        zone=settings.zone,
        day=settings.day,
        currency=settings.energy.price.currency if settings.energy.price else None,
        decimal=sheet.decimal,
        has_kind=found.has_kind and _kinds_are_known(sheet, found),
    )


def _kinds_are_known(sheet: Sheet, found: Layout) -> bool:
    """Whether any row's kind is a word that is known; of a sheet with words of its own no row is refused for them."""
    words = [text for _, row in sheet.rows for heading, text in found.cells(row) if heading.column.name == "kind"]
    for word in set(words):
        try:
            choice("kind", word, where="")
        except UnitError:
            continue
        return True
    return len(words) < _OWN_WORDS


def _rows(sheet: Sheet, settings: Settings, files: Files) -> tuple[list[Reading], list[Problem]]:
    """The readings of the sheet, and the problems that belong to no one row."""
    found = layout(sheet)
    context = _context(sheet, settings, found)
    problems = [*sheet.problems, *found.problems]
    if not sheet.rows:
        problems.append(Problem(None, None, say("sheet-without-rows", "{file} has a header and no readings.",
                                                file=sheet.file), sheet.file))  # fmt: skip
    if not found.has_kind:
        problems.append(Problem(sheet.header_row, "kind", say(
            "kind-column-missing", "{file} has no column 'kind'; each row is judged as 'other', the likeliest of all "
            "kinds.", file=sheet.file,
        ), sheet.file))  # fmt: skip
    elif not context.has_kind:
        problems.append(Problem(sheet.header_row, "kind", say(
            "kinds-not-known", "{file}: no row's kind is one of {allowed}; each row is judged as 'other', the "
            "likeliest of all kinds.", file=sheet.file, allowed=", ".join(KINDS),
        ), sheet.file))  # fmt: skip
    readings = []
    for number, cells in sheet.rows:
        if not sheet.is_grid and any(cells[len(sheet.header) :]):
            why = say("row-too-long", "row {row} has {cells} cells under {columns} column names; a cell that holds the "
                      "separator needs quotation marks around it.",
                      row=number, cells=len(cells), columns=len(sheet.header))  # fmt: skip
            first = found.known[0] if found.known else None
            sure = first is not None and first[0] == 0 and first[1].column.name == "reading"
            named = cells[0] if sure else ""
            readings.append(unreadable(number, why, found.all_cells(cells), context, named))
            continue
        reading = read_row(number, found.cells(cells), found.extra(cells), context)
        if reading.status == "unreadable":
            reading = replace(reading, extra=found.all_cells(cells))
        readings.append(_with_files(reading, files, context))
    readings, unmatched = match_unnamed(
        readings, files.folder, _unused_paths(readings, files), settings.zone, sheet.file
    )
    problems += [problem for problem in unmatched if problem.row is None]
    by_row = {number: cells for number, cells in sheet.rows}
    readings = check_verifications(with_identifiers(readings, by_row, sheet.file), sheet.file)
    return readings, problems


def _with_files(reading: Reading, files: Files, context: RowContext) -> Reading:
    """The reading with the paths of the files that it names; one that is not there is a problem."""
    photos = replace(files, below="photos")
    changed: dict[str, str | None] = {}
    problems = list(reading.problems)
    extra = dict(reading.extra)
    wanted: Mapping[str, tuple[str | None, Files]] = {
        "recording": (reading.recording, files),
        "background_recording": (reading.background_recording, files),
        "photo": (reading.photo, photos),
    }
    for column, (given, where) in wanted.items():
        if given is None:
            continue
        try:
            changed[column] = where.named(given, where=f"row {reading.row}, {column}")
        except UnitError as error:
            changed[column] = None
            problems.append(Problem(reading.row, column, error.sentence, context.file))
            extra.setdefault(column, given)
    return replace(reading, problems=tuple(problems), extra=extra, **changed) if changed else reading  # type: ignore[arg-type]


def _unused_paths(readings: Sequence[Reading], files: Files) -> list[str]:
    used = {path for r in readings for path in (r.recording, r.background_recording, r.photo)}
    return [path for path in files.inside if path not in used]


def _unused(readings: Sequence[Reading], files: Files) -> list[Problem]:
    odd = [
        Problem(
            None, None, say("file-name-unreadable", "The name of {file} is not text; rename the file.", file=name), name
        )
        for name in files.odd
    ]
    return odd + [
        Problem(None, "recording", say("file-unused", "{file} is named by no row.", file=path), path)
        for path in _unused_paths(readings, files)
    ]
