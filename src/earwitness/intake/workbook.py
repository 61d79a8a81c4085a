"""The sheets of a workbook as tables of texts, refused in one plain line where the reader would run out of memory."""

from __future__ import annotations

import io
import re
import zipfile
from datetime import date, datetime, time, timedelta
from typing import Any

from earwitness.errors import EarwitnessError

_MOST_CELLS = 5_000_000  # in the rectangle that holds a sheet's cells: the reader fills all of it
_MOST_BYTES = 1_000_000_000  # unpacked
_BLOCK = 1 << 20
_FILLED = re.compile(rb'<(?:\w+:)?c\s[^<>]*?\br="([A-Za-z]{1,3})(\d{1,7})"[^<>]*(?<!/)>')


def workbook_rows(name: str, data: bytes) -> list[tuple[str, list[list[str]]]]:
    """Title and rows of each sheet.

    Raises
    ------
    EarwitnessError : it is no workbook that can be read
    """
    import python_calamine

    try:
        _refuse_what_does_not_fit(name, data)
        book = python_calamine.load_workbook(io.BytesIO(data))
        return [
            (title, [[_text(v) for v in row] for row in book.get_sheet_by_name(title).to_python(skip_empty_area=False)])
            for title in book.sheet_names
        ]
    except (EarwitnessError, KeyboardInterrupt, SystemExit, MemoryError):
        raise
    except BaseException as error:  # the reader's own panics are no Exceptions
        raise EarwitnessError(
            f"{name} cannot be read as a workbook; saving it again as .xlsx or as CSV would do"
        ) from error


def _refuse_what_does_not_fit(name: str, data: bytes) -> None:
    """One stray cell at the far end of a sheet makes the reader ask for the memory of all cells before it."""
    if not data.startswith(b"PK"):
        return  # the old format ends at 65,536 rows of 256 cells
    with zipfile.ZipFile(io.BytesIO(data)) as parts:
        if sum(part.file_size for part in parts.infolist()) > _MOST_BYTES:
            raise EarwitnessError(f"{name} unpacks to more than {_MOST_BYTES / 1e9:.0f} GB; CSV would do")
        sheets = [part for part in parts.infolist() if re.match(r"xl/worksheets/[^/]+\.xml$", part.filename, re.I)]
        if not sheets:
            raise EarwitnessError(f"{name} is no .xlsx workbook; saving it again as .xlsx or as CSV would do")
        for sheet in sheets:
            with parts.open(sheet) as file:
                _check_extent(name, file)


def _check_extent(name: str, file: Any) -> None:
    rows = columns = 0
    first_row = first_column = 1 << 30
    tail = b""
    while block := file.read(_BLOCK):
        text = tail + block
        for letters, digits in _FILLED.findall(text):
            row, column = int(digits), _column_number(letters)
            first_row, first_column = min(first_row, row), min(first_column, column)
            rows, columns = max(rows, row), max(columns, column)
            if (rows - first_row + 1) * (columns - first_column + 1) > _MOST_CELLS:
                cell = letters.decode().upper() + digits.decode()
                raise EarwitnessError(
                    f"{name}: the cell {cell} stands so far from the others that the sheet cannot be read; "
                    "deleting the stray cells would do"
                )
        tail = text[-300:]


def _column_number(letters: bytes) -> int:
    number = 0
    for letter in letters.upper():
        number = number * 26 + letter - 64
    return number


def _text(value: Any) -> str:
    """A workbook's cell as a person would have typed it: ISO dates, numbers without a needless '.0'."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime):
        midnight = (value.hour, value.minute, value.second, value.microsecond) == (0, 0, 0, 0)
        return value.date().isoformat() if midnight else value.replace(microsecond=0).isoformat()
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, timedelta):
        seconds = round(value.total_seconds())
        return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"
    return str(value).replace("\x00", "")
