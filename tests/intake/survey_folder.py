"""Makes survey folders for the tests: what people write, byte for byte."""

from __future__ import annotations

import io
from pathlib import Path

TOML = '[survey]\ntitle = "Hall 3"\nsite = "Example works"\ndate = "2026-11-20"\ninspector = "A. Name"\n'


def folder(
    path: Path, sheet: str | bytes | None = None, toml: str | bytes | None = TOML, recordings=(), name="readings.csv"
) -> Path:
    """A survey folder; a recording is a name, or a name and its bytes."""
    path.mkdir(parents=True, exist_ok=True)
    for file, content in ((name, sheet), ("survey.toml", toml)):
        if content is not None:
            (path / file).write_bytes(content.encode() if isinstance(content, str) else content)
    for recording in recordings:
        title, content = recording if isinstance(recording, tuple) else (recording, recording.encode())
        target = path / "recordings" / title
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
    return path


def workbook(sheets: dict[str, list[list[object]]]) -> bytes:
    """An .xlsx; dates are written as Excel's own."""
    import xlsxwriter

    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True, "default_date_format": "yyyy-mm-dd hh:mm"})
    for title, rows in sheets.items():
        sheet = book.add_worksheet(title)
        for r, row in enumerate(rows):
            for c, value in enumerate(row):
                if value is not None:
                    sheet.write(r, c, value)
    book.close()
    return out.getvalue()


def codes(survey) -> list[str]:
    return [problem.sentence.code for problem in survey.problems]


def of(survey, code: str):
    """The one problem of this code."""
    (found,) = [problem for problem in survey.problems if problem.sentence.code == code]
    return found
