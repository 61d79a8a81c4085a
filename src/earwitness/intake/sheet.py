"""The sheet of readings as a table of texts, from CSV or a workbook as real people keep them."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from earwitness.errors import EarwitnessError
from earwitness.given_file import WORKBOOKS, other_kind, refuse_no_file
from earwitness.intake.columns import recognised
from earwitness.intake.text import decoded
from earwitness.intake.workbook import workbook_rows
from earwitness.plant.reading import Problem
from earwitness.sentence import Sentence, say

_SEPARATORS = (";", ",", "\t", "|")
_HEADER_WITHIN = 30  # rows in which the header is looked for


@dataclass(frozen=True)
class Sheet:
    """Header and rows as texts; `rows` carry the number that a person sees beside them."""

    file: str
    header_row: int
    header: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    decimal: str | None = None
    is_grid: bool = False  # a workbook, where no cell can run over into the next
    notes: tuple[Sentence, ...] = ()
    problems: tuple[Problem, ...] = ()


def read_sheet_named(path: Path, head: str) -> Sheet:
    """The sheet that somebody names, as a command does; `head` is a header row that would do.

    Raises
    ------
    EarwitnessError : there is no file, or nothing in it can be read as a table
    """
    refuse_no_file(path, _would_do(head))
    return read_sheet(path, head=head)


def read_sheet(path: Path, *, head: str = "reading,point,kind,recording") -> Sheet:
    """The sheet at `path`; `head` is a header row that would do, for who gave another file.

    Raises
    ------
    EarwitnessError : nothing in it can be read as a table
    """
    would_do = _would_do(head)
    data = path.read_bytes()
    if not data.strip(b"\x00 \t\r\n"):
        raise EarwitnessError(f"{path.name} is empty; {would_do}")
    kind = other_kind(path)
    if kind in WORKBOOKS:
        return _from_workbook(path.name, data, would_do)
    if kind:
        raise EarwitnessError(f"{path.name} is {kind}, not a sheet; {would_do}")
    return _from_text(path.name, data, would_do)


def _would_do(head: str) -> str:
    return f"a CSV or XLSX sheet with a first row such as '{head}' would do"


# --- text ---------------------------------------------------------------------------------------------------------


def _from_text(name: str, data: bytes, would_do: str) -> Sheet:
    text, encoding = decoded(data)
    notes: list[Sentence] = []
    if encoding != "utf-8":
        notes.append(say("sheet-encoding", "{file} is read as {encoding}.", file=name, encoding=encoding))
    stated = re.match(r"sep=(.)\r?\n", text, re.IGNORECASE)
    first = 1
    if stated:
        text, first = text[stated.end() :], 2
    separators = (stated[1],) if stated else _SEPARATORS
    score, rows, at, broken, separator = _best(text, separators)
    if not score:  # each line quoted as a whole, as some exports do
        score, rows, at, broken, separator = _best("\n".join(row[0] if row else "" for row in rows), separators)
    if not score:
        raise EarwitnessError(f"{name}: no row has the names of the columns; {would_do}")
    problems: tuple[Problem, ...] = ()
    if broken:
        problems = (
            Problem(None, None, say("quotes-broken", "{file}: a quotation mark is opened and not closed; each line "
                                    "is read by itself.", file=name), name),
        )  # fmt: skip
    if separator != ",":
        word = {"\t": "a tab", ";": "a semicolon"}.get(separator, separator)
        notes.append(
            say("sheet-separator", "{file} is read with {separator} between cells.", file=name, separator=word)
        )
    return _sheet(name, rows, at, first, notes, problems)


def _best(text: str, separators: Sequence[str]) -> tuple[int, list[list[str]], int, bool, str]:
    """The text as rows by the separator under which most columns are known: how many are, the rows, which of them is
    the header, and whether its quotes are broken."""
    best: tuple[int, int] = (-1, -1)
    found: tuple[int, list[list[str]], int, bool, str] | None = None
    for separator in separators:
        rows, broken = _rows(text, separator)
        at, score = _header_at(rows)
        width = len(rows[at]) if rows else 0
        if (score, width) > best:
            best, found = (score, width), (score, rows, at, broken, separator)
    assert found is not None
    return found


def _rows(text: str, separator: str) -> tuple[list[list[str]], bool]:
    """Rows of cells, blank ones too; true where the quotes do not close and each line is read by itself."""
    limit = max(131_072, len(text) + 1)
    if csv.field_size_limit() < limit:
        csv.field_size_limit(limit)
    try:
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)), False
    except csv.Error:
        return [_line(line, separator) for line in re.split(r"\r\n|\r|\n", text)], True


def _line(line: str, separator: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=separator, strict=True), [])
    except csv.Error:
        return line.split(separator)


# --- workbook -----------------------------------------------------------------------------------------------------


def _from_workbook(name: str, data: bytes, would_do: str) -> Sheet:
    sheets = workbook_rows(name, data)
    headers = [_header_at(rows) for _, rows in sheets]
    number = max(range(len(sheets)), key=lambda n: (headers[n][1], -n), default=None)
    if number is None or not headers[number][1]:
        raise EarwitnessError(f"{name}: no sheet has a row with the names of the columns; {would_do}")
    title, rows = sheets[number]
    notes = []
    if len(sheets) > 1:
        notes.append(
            say("sheet-taken", "{file}: the readings are taken from the sheet '{sheet}' of {count}.",
                file=name, sheet=title, count=len(sheets))
        )  # fmt: skip
    return replace(_sheet(name, rows, headers[number][0], 1, notes, ()), is_grid=True)


# --- both ---------------------------------------------------------------------------------------------------------


def _header_at(rows: Sequence[Sequence[str]]) -> tuple[int, int]:
    """Which row holds the names of the columns, and how many of them are known."""
    best, score = 0, 0
    for index, row in enumerate(rows[:_HEADER_WITHIN]):
        known = {name for cell in row if (name := recognised(cell))}
        if len(known) > score:
            best, score = index, len(known)
    return best, score


def _sheet(
    name: str, rows: list[list[str]], at: int, first: int, notes: list[Sentence], problems: tuple[Problem, ...]
) -> Sheet:
    header = [cell.strip() for cell in rows[at]]
    while header and not header[-1]:
        header.pop()
    if at:
        notes.append(say("header-row", "{file}: the names of the columns are in row {row}.", file=name, row=at + first))
    body = tuple(
        (number, tuple(cell.strip() for cell in row))
        for number, row in enumerate(rows[at + 1 :], start=at + 1 + first)
        if any(cell.strip() for cell in row)
    )
    return Sheet(name, at + first, tuple(header), body, _decimal(body), notes=tuple(notes), problems=problems)


def _decimal(rows: Sequence[tuple[int, tuple[str, ...]]]) -> str | None:
    """The decimal sign that the sheet itself shows, None where it shows none or both."""
    commas = points = False
    for _, cells in rows:
        for cell in cells:
            if re.match(r"^[+\-−]?\d+,(?:\d{1,2}|\d{4,})(?!\d|[.,])", cell):
                commas = True
            elif re.match(r"^[+\-−]?\d+\.(?:\d{1,2}|\d{4,})(?![\d.,])", cell):
                points = True
    return None if commas == points else ("," if commas else ".")
