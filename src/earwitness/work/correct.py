"""Cells put right after a survey was filed: the folder as the ledger keeps it, the corrected sheet, judged again."""

from __future__ import annotations

import csv
import io
import os
import shutil
import tempfile
import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath
from typing import Any

from earwitness.errors import InputError
from earwitness.intake.files import AUDIO
from earwitness.intake.headings import layout
from earwitness.intake.sheet import Sheet, read_sheet
from earwitness.ledger import Ledger, readings, surveys
from earwitness.ledger.surveys import FiledFile
from earwitness.plant.assessment import Assessment
from earwitness.plant.survey import Survey
from earwitness.work.assess import assess
from earwitness.work.calibrate import NAMES, calibration_of
from earwitness.work.economy import economy_of
from earwitness.work.file_survey import Filed, file_survey
from earwitness.work.fill import filled
from earwitness.work.judge import Judged, judge_reading
from earwitness.work.stand_in import read_at_site
from earwitness.work.survey import judge_survey

SHEETS = (".csv", ".xlsx", ".xlsm", ".xls", ".ods", ".tsv", ".txt")
FILES = {"recording": "recording_sha256", "background_recording": "background_sha256", "photo": "photo_sha256"}
Cells = Mapping[tuple[int, str], str]  # (row as a person counts it, column of the field sheet): text


@dataclass(frozen=True)
class Sheets:
    """The sheet of a filed survey, and the recordings that none of its rows has."""

    file: str | None
    sheet: Sheet | None
    columns: Mapping[str, int]  # known column: its place
    free_recordings: tuple[str, ...]

    def text(self, row: int | None, column: str | None) -> str | None:
        """What stands in a cell; None where there is no such cell."""
        if self.sheet is None or row is None or column is None:
            return None
        cells = next((cells for number, cells in self.sheet.rows if number == row), None)
        place = self.columns.get(column)
        if cells is None or place is None:
            return "" if cells is not None else None
        return cells[place] if place < len(cells) else ""


def sheets_of(ledger: Ledger, survey_id: uuid.UUID) -> Sheets:
    with ledger.reading() as connection:
        files = surveys.survey_files(connection, survey_id)
        used = readings.sounds_of_survey(connection, survey_id)
    sounds = [f for f in files if PurePosixPath(f.path).suffix.casefold() in AUDIO]
    free = tuple(f.path.removeprefix("recordings/") for f in sounds if f.sha256 not in used)
    chosen = _sheet_among(files)
    if chosen is None:
        return Sheets(None, None, {}, free)
    sheet = replace(read_sheet(ledger.store.path(chosen.sha256)), file=chosen.path)
    return Sheets(chosen.path, sheet, {found.column.name: at for at, found in layout(sheet).known}, free)


def _sheet_among(files: Sequence[FiledFile]) -> FiledFile | None:
    """As a survey folder is read: readings.* first, else the only sheet."""
    top = [f for f in files if "/" not in f.path and PurePosixPath(f.path).suffix.casefold() in SHEETS]
    top.sort(key=lambda f: (SHEETS.index(PurePosixPath(f.path).suffix.casefold()), f.path))
    called = [f for f in top if PurePosixPath(f.path).stem.casefold() == "readings"]
    return next(iter(called or top), None)


def correct(
    ledger: Ledger,
    survey_id: uuid.UUID,
    cells: Cells,
    *,
    jobs: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> Filed:
    """Write these cells into the survey's sheet, judge it again and file it; what stood before is kept."""
    with _folder(ledger, survey_id) as folder:
        found = sheets_of(ledger, survey_id)
        if found.sheet is None or found.file is None:
            raise InputError("survey", survey_id, "a survey that has a sheet")
        (folder / found.file).unlink()
        target = folder / PurePosixPath(found.file).with_suffix(".csv").name
        target.write_text(corrected(found.sheet, found.columns, cells), encoding="utf-8", newline="")
        result = judge_survey(read_at_site(ledger, folder), jobs=jobs, exhibits=False, progress=progress)
        return file_survey(ledger, result)


def corrected(sheet: Sheet, columns: Mapping[str, int], cells: Cells) -> str:
    """The sheet as CSV with these cells in it; every row keeps its number."""
    header, places = list(sheet.header), dict(columns)
    for _, column in cells:
        if column not in places:
            places[column] = len(header)
            header.append(column)
    rows = {number: list(row) for number, row in sheet.rows}
    for (row, column), text in cells.items():
        if row not in rows:
            raise InputError("row", row, "a row of the sheet")
        rows[row] += [""] * (len(header) - len(rows[row]))
        rows[row][places[column]] = text
    out = io.StringIO()
    writer = csv.writer(out, delimiter=";" if sheet.decimal == "," else ",", lineterminator="\n")
    for number in range(1, max(rows, default=sheet.header_row) + 1):
        writer.writerow(header if number == sheet.header_row else rows.get(number, []))
    return out.getvalue()


@contextmanager
def _folder(ledger: Ledger, survey_id: uuid.UUID, only: set[str] | None = None) -> Iterator[Path]:
    """The survey folder as it was filed, or of it the files of these hashes; gone afterwards."""
    with ledger.reading() as connection:
        files = surveys.survey_files(connection, survey_id)
    with tempfile.TemporaryDirectory(prefix="earwitness-") as made:
        folder = Path(made)
        for file in files:
            if only is not None and file.sha256 not in only:
                continue
            target = folder / file.path
            target.parent.mkdir(parents=True, exist_ok=True)
            _put(ledger.store.path(file.sha256), target)
            if file.modified_at is not None:
                os.utime(target, (file.modified_at.timestamp(),) * 2)
        yield folder


def _put(kept: Path, target: Path) -> None:
    """A copy, so that nothing done to the folder reaches the store."""
    shutil.copyfile(kept, target)


@dataclass(frozen=True)
class Tried:
    """One filed reading judged with other cells, without filing that."""

    assessment: Assessment
    judged: Judged | None
    survey: Survey


def try_reading(ledger: Ledger, reading_id: uuid.UUID, changes: Mapping[str, str]) -> Tried:
    """Judge one reading as the survey would be if these cells of its row were changed."""
    with ledger.reading() as connection:
        filed = readings.reading(connection, reading_id)
        files = surveys.survey_files(connection, filed.survey_id)
    by_hash = {f.sha256: f.path for f in files}
    own = {name: sha for name, field in FILES.items() if (sha := getattr(filed, field))}
    toml = {f.sha256 for f in files if f.path.casefold() in ("survey.toml", *NAMES)}
    with _folder(ledger, filed.survey_id, toml | set(own.values())) as folder:
        row = {name: by_hash[sha] for name, sha in own.items() if sha in by_hash}
        text = _row_alone(sheets_of(ledger, filed.survey_id), filed.row, row | dict(changes), filed.name)
        (folder / "readings.csv").write_text(text, encoding="utf-8", newline="")
        survey = read_at_site(ledger, folder)
        if not survey.readings:
            raise InputError("row", filed.row, "a row that can be read")
        reading = filled(survey.readings[0], survey)
        judged = judge_reading(reading, survey) if reading.status == "read" else None
        site = calibration_of(survey)
        fitted = site.calibration if site else None
        assessment = assess(reading, judged, replace(survey, readings=()), economy_of(survey), fitted)
    return Tried(assessment, judged, survey)


def _row_alone(found: Sheets, row: int, changes: Mapping[str, str], name: str) -> str:
    """A sheet of this one row; where there is none, of what is known of the recording alone."""
    if found.sheet is None:
        cells: dict[str, Any] = {"reading": name, "kind": "other", **changes}
        out = io.StringIO()
        csv.writer(out, lineterminator="\n").writerows([list(cells), list(cells.values())])
        return out.getvalue()
    alone = replace(found.sheet, rows=tuple(r for r in found.sheet.rows if r[0] == row))
    return corrected(alone, found.columns, {(row, column): text for column, text in changes.items()})
