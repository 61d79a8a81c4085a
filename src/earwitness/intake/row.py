"""One row of the sheet as a reading: a bad cell is a problem and the rest of the row goes on."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from earwitness import units
from earwitness.intake.choices import choice, yes_or_no
from earwitness.intake.columns import Heading
from earwitness.intake.dates import is_clock, moment
from earwitness.plant.reading import Given, Machine, MeasuredFlow, Problem, Reading, Repair
from earwitness.sentence import Sentence, say
from earwitness.units import UnitError

_NOTHING = frozenset(("", "-", "–", "—", "--", "n/a", "n.a.", "?", "null", "#n/a"))
_UNKNOWN = _NOTHING | {"na", "none", "unknown", "k.a.", "not known", "not measured"}


@dataclass(frozen=True)
class RowContext:
    """What holds for every row of the sheet."""

    file: str
    ambient_abs: float = units.ATMOSPHERE
    zone: ZoneInfo | None = None
    day: date | None = None
    currency: str | None = None
    decimal: str | None = None
    has_kind: bool = True
    alone: bool = False  # not of a sheet: nobody counts its row


@dataclass
class _Row:
    """A row while it is read."""

    number: int
    context: RowContext
    vacuum: bool
    fields: dict[str, Any] = field(default_factory=dict)
    conditions: dict[str, Given] = field(default_factory=dict)
    notes: list[Sentence] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    def problem(self, column: str | None, sentence: Sentence) -> None:
        self.problems.append(Problem(self.number, column, sentence, self.context.file))

    def where(self, column: str) -> str:
        return column if self.context.alone else f"row {self.number}, {column}"


def read_row(
    number: int, cells: Sequence[tuple[Heading, str]], extra: Mapping[str, str], context: RowContext
) -> Reading:
    """The reading of a row; `extra` is carried through. Paths are as written: the folder resolves them."""
    medium = next((text.strip() for heading, text in cells if heading.column.name == "medium"), "")
    row = _Row(number, context, medium.casefold() in ("vacuum", "vac", "vacuum air"))
    if row.vacuum:
        row.fields["medium"] = "vacuum"
    for heading, text in cells:
        text = text.strip()
        empty = _NOTHING if heading.column.holds == "choice" else _UNKNOWN
        if heading.column.holds in ("text", "path"):
            if text and heading.column.field not in row.fields:
                row.fields[heading.column.field] = text
        elif text.casefold() not in empty:
            try:
                _CELLS[heading.column.holds](row, heading, text)
            except UnitError as error:
                row.problem(heading.column.name, error.sentence)
    return _reading(row, cells, extra)


def unreadable(number: int, why: Sentence, cells: Mapping[str, str], context: RowContext, reading: str = "") -> Reading:
    """A row that cannot be read, with its cells as they were."""
    problem = Problem(number, None, why, context.file)
    return Reading(reading, number, "other", "unreadable", problems=(problem,), extra=dict(cells))


def _reading(row: _Row, cells: Sequence[tuple[Heading, str]], extra: Mapping[str, str]) -> Reading:
    fields, kept = row.fields, dict(extra)
    if "kind" not in fields:
        fields["kind"] = "other"
        if row.context.has_kind:
            fields["status"] = "unreadable"
            kept = {heading.column.name: text for heading, text in cells} | kept
            if not any(problem.column == "kind" for problem in row.problems):
                row.problem("kind", say("kind-missing", "{where}: the kind of reading is empty; write for example "
                                        "leak, bearing or electrical.", where=row.where("kind")))  # fmt: skip
    parts: dict[str, dict[str, Any]] = {"machine": {}, "repair": {}}
    plain: dict[str, Any] = {}
    for name, value in fields.items():
        part, _, inner = name.rpartition(".")
        (parts[part] if part else plain)[inner] = value
    return Reading(
        reading=plain.pop("reading", ""),
        row=row.number,
        machine=Machine(**parts["machine"]),
        repair=Repair(**parts["repair"]),
        conditions=row.conditions,
        notes=tuple(row.notes),
        problems=tuple(row.problems),
        extra=kept,
        **plain,
    )


# --- cells by what they hold ----------------------------------------------------------------------------------------


def _quantity(row: _Row, heading: Heading, text: str) -> None:
    column = heading.column
    dimension = "vacuum pressure" if row.vacuum and column.dimension == "pressure" else column.dimension
    read = units.read(
        text, dimension, where=row.where(column.name), unit=heading.unit, ambient_abs=row.context.ambient_abs,
        decimal=row.context.decimal,
    )  # fmt: skip
    if column.name == "load_percent" and 0 < read.value <= 1 and "%" not in text:
        raise UnitError(
            say("percent-or-fraction", "{where}: '{given}' could be {small:g} % or {large:g} %; write it with its %.",
                where=row.where(column.name), given=text, small=read.value, large=read.value * 100)
        )  # fmt: skip
    _bounded(row, heading, read.value, read.given, read.unit)
    row.fields[column.field] = read.value
    row.conditions[column.name] = Given(read.given, read.value, read.unit)
    row.notes.extend(read.notes)


def _bounded(row: _Row, heading: Heading, value: float, given: str, unit: str) -> None:
    column = heading.column
    if not column.low <= value <= column.high:
        raise UnitError(
            say("out-of-range", "{where}: '{given}' is outside {low:g} to {high:g} {unit}.",
                where=row.where(column.name), given=given, low=column.low, high=column.high, unit=unit)
        )  # fmt: skip


def _count(row: _Row, heading: Heading, text: str) -> None:
    column = heading.column
    value = units.number(text, where=row.where(column.name), decimal=row.context.decimal)
    if value != int(value):
        raise UnitError(
            say("not-whole", "{where}: '{given}' is not a whole number.", where=row.where(column.name), given=text)
        )
    _bounded(row, heading, value, text, "pieces")
    row.fields[column.field] = int(value)
    row.conditions[column.name] = Given(text, value, "1")


def _choice(row: _Row, heading: Heading, text: str) -> None:
    name = heading.column.name
    try:
        row.fields[name] = choice(name, text, where=row.where(name))
    except UnitError as error:
        if name != "status":
            raise
        row.problem(
            name,
            say("status-not-known", "{why} The row is taken as read; if the thing was not running or not under "
                "pressure, what was not heard means nothing.", why=error.sentence.text)
        )  # fmt: skip


def _yes_no(row: _Row, heading: Heading, text: str) -> None:
    row.fields[heading.column.field] = yes_or_no(text, where=row.where(heading.column.name))


def _time(row: _Row, heading: Heading, text: str) -> None:
    name = heading.column.name
    when, timed = moment(text, where=row.where(name), zone=row.context.zone, day=row.context.day)
    if name == "reported_at":
        row.fields[heading.column.field] = when.isoformat() if timed else when.date().isoformat()
        return
    row.fields[heading.column.field] = when
    if not timed:
        row.notes.append(
            say("time-of-day-missing", "{where}: '{given}' has no time of day.", where=row.where(name), given=text)
        )
    elif is_clock(text):
        row.notes.append(
            say("time-dated-by-survey", "{where}: '{given}' is dated {date}, the survey's date.",
                where=row.where(name), given=text, date=when.date().isoformat())
        )  # fmt: skip


def _marks(row: _Row, heading: Heading, text: str) -> None:
    where = row.where(heading.column.name)
    marks: list[tuple[float, float]] = []
    for part in re.split(r"[\s;]+", re.sub(r"\s*:\s*", ":", text).strip(" ;,")):
        seconds, colon, metres = part.strip(",").partition(":")
        try:
            if not colon:
                raise UnitError(say("", ""))
            mark = (
                units.number(seconds, where=where, decimal=row.context.decimal),
                units.number(metres, where=where, decimal=row.context.decimal),
            )
        except UnitError:
            raise UnitError(
                say("not-a-mark", "{where}: '{given}' is no mark; write seconds:metres, for example '0:0 4.2:1.3'.",
                    where=where, given=part[:40])
            ) from None  # fmt: skip
        if mark[0] < 0 or (marks and mark[0] <= marks[-1][0]):
            raise UnitError(
                say("marks-out-of-order", "{where}: the seconds must grow from mark to mark, not so at '{given}'.",
                    where=where, given=part[:40])
            )  # fmt: skip
        marks.append(mark)
    row.fields["sweep_marks"] = tuple(marks)


def _flow(row: _Row, heading: Heading, text: str) -> None:
    name = heading.column.name
    read = units.flow(text, where=row.where(name), unit=heading.unit, decimal=row.context.decimal)
    row.fields["flow"] = MeasuredFlow(
        read.value, read.unit, read.given, read.temperature_k, read.pressure_abs, read.reference
    )
    row.conditions[name] = Given(read.given, read.value, read.unit)
    row.notes.extend(read.notes)


def _money(row: _Row, heading: Heading, text: str) -> None:
    name = heading.column.name
    currency = heading.unit or row.context.currency
    where = row.where(name)
    amount, found = units.money(f"{text} {heading.unit}" if heading.unit and text[-1:].isdigit() else text,
                                where=where, currency=row.context.currency, decimal=row.context.decimal)  # fmt: skip
    row.fields["repair.cost"], row.fields["repair.cost_currency"] = amount, found
    row.conditions[name] = Given(text, amount, found)
    if currency and not heading.unit and re.fullmatch(r"[\d.,\s]+", text):
        row.notes.append(
            say("money-in-survey-currency", "{where}: '{given}' is read in {currency}, as the energy price is.",
                where=where, given=text, currency=found)
        )  # fmt: skip


_CELLS: Mapping[str, Callable[[_Row, Heading, str], None]] = {
    "quantity": _quantity, "count": _count, "choice": _choice, "yes-no": _yes_no, "time": _time, "marks": _marks,
    "flow": _flow, "money": _money,
}  # fmt: skip
