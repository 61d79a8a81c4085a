"""The repair list as CSV and XLSX: the same lines, numbers as numbers with their unit in the head, and nothing that a
spreadsheet would take for a formula."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from earwitness.report import blocks, wording

Cell = str | float | int | None
Reading = Mapping[str, Any]
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")
NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?")
VOLUME_HEAD = "escapes [l/min free air or gas, 20 °C]"
EPOCH = datetime(2000, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Sheet:
    head: tuple[str, ...]
    lines: tuple[tuple[Cell, ...], ...]


def repair_list(findings: Mapping[str, Any]) -> Sheet:
    """Urgent readings first, outside the ranking, then the ranked ones; their own columns at the end."""
    readings: Sequence[Reading] = findings.get("readings") or ()
    named = {str(r.get("reading")): r for r in readings}
    urgent = [str(n) for n in findings.get("urgent") or () if str(n) in named]
    ranked = [r for r in readings if r.get("rank") is not None and str(r.get("reading")) not in urgent]
    ranked.sort(key=lambda r: (r["rank"], str(r.get("reading"))))
    chosen = [*(named[n] for n in urgent), *ranked]
    return _sheet(findings, chosen, frozenset(urgent))


def all_readings(findings: Mapping[str, Any]) -> Sheet:
    urgent = frozenset(str(n) for n in findings.get("urgent") or ())
    return _sheet(findings, list(findings.get("readings") or ()), urgent)


def problems(findings: Mapping[str, Any]) -> Sheet:
    rows = findings.get("problems") or ()
    lines = tuple((p.get("row"), _cell(p.get("column")), _cell(p.get("file")), blocks.text(p)) for p in rows)
    return Sheet(("row", "column", "file", "problem"), lines)


def _sheet(findings: Mapping[str, Any], chosen: Sequence[Reading], urgent: frozenset[str]) -> Sheet:
    columns = _columns(findings, urgent)
    extras = list(dict.fromkeys(str(k) for r in findings.get("readings") or () for k in r.get("extra") or {}))
    taken = {name for name, _ in columns}
    heads = [f"{name} (their column)" if name in taken else name for name in extras]
    lines = tuple(
        (*(_cell(get(r)) for _, get in columns), *(_cell((r.get("extra") or {}).get(name)) for name in extras))
        for r in chosen
    )
    return Sheet((*(name for name, _ in columns), *heads), lines)


def _columns(findings: Mapping[str, Any], urgent: frozenset[str]) -> list[tuple[str, Callable[[Reading], Any]]]:
    currencies = _currencies(findings)
    several = len(currencies) > 1
    money = currencies[0] if len(currencies) == 1 else "currency"
    return [
        ("rank", lambda r: r.get("rank")),
        ("act now", lambda r: "yes" if str(r.get("reading")) in urgent else "no"),
        ("signal word", blocks.word),
        *[(name, _field(name)) for name in ("reading", "tag", "area", "point", "component", "location", "kind")],
        ("status", lambda r: r.get("status", "read")),
        ("finding", wording.headline),
        ("verdict", _field("verdict")),
        ("probability", _field("probability")),
        ("severity", blocks.severity),
        *_with_bounds(VOLUME_HEAD, "volume_flow", 60_000.0),
        *_with_bounds("escapes [g/s]", "mass_flow", 1000.0),
        *([("currency", _currency_of)] if several else []),
        *_with_bounds(f"wastes [{money} a year]", "cost_per_year"),
        *_with_bounds(f"would come back [{money} a year]", "saving_per_year"),
        ("energy [kWh a year]", _amount("energy_per_year", "value")),
        ("carbon dioxide [kg a year]", _amount("carbon_per_year", "value")),
        ("repair [h]", _repair("hours")),
        ("repair cost", _repair("cost")),
        *([("repair cost, currency", _repair("cost_currency"))] if several else []),
        *[(n, _repair(n)) for n in ("craft", "access", "isolation", "shutdown", "parts")],
        ("next step", lambda r: blocks.text(r.get("next_step"))),
        ("dangers", lambda r: " ".join(f"{d.word}: {d.text} {' '.join(d.first)}".strip() for d in blocks.dangers(r))),
        ("cautions", lambda r: " ".join(blocks.texts(r.get("cautions")))),
        ("reported", blocks.reported),
        ("note", _field("note")),
    ]


def _currencies(findings: Mapping[str, Any]) -> list[str]:
    """Those in which the readings' money is told, each once; of a survey mostly one."""
    return list(dict.fromkeys(c for r in findings.get("readings") or () if (c := _currency_of(r))))


def _currency_of(reading: Reading) -> str:
    quantities = reading.get("quantities") or {}
    units = (str((quantities.get(name) or {}).get("unit") or "") for name in ("cost_per_year", "saving_per_year"))
    return re.split(r"[,/ ]", next((u for u in units if u), ""))[0]


def _field(name: str) -> Callable[[Reading], Any]:
    return lambda r: r.get(name)


def _repair(name: str) -> Callable[[Reading], Any]:
    return lambda r: (r.get("repair") or {}).get(name)


def _amount(name: str, part: str, factor: float = 1.0) -> Callable[[Reading], float | None]:
    def get(reading: Reading) -> float | None:
        value = ((reading.get("quantities") or {}).get(name) or {}).get(part)
        return float(f"{value * factor:.4g}") if isinstance(value, int | float) else None

    return get


def _with_bounds(head: str, name: str, factor: float = 1.0) -> list[tuple[str, Callable[[Reading], Any]]]:
    short = head.partition(" [")
    return [
        (head, _amount(name, "value", factor)),
        (f"{short[0]}, low [{short[2]}", _amount(name, "low", factor)),
        (f"{short[0]}, high [{short[2]}", _amount(name, "high", factor)),
    ]


def _cell(value: Any) -> Cell:
    if value is None or value == "":
        return None
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return value
    return str(value).replace("\u00a0", " ")


def guarded(cell: Cell) -> Cell:
    """A text that a spreadsheet would run as a formula gets an apostrophe before it; numbers stay numbers.

    >>> guarded("=1+1"), guarded("-3,5"), guarded(-3.5)
    ("'=1+1", '-3,5', -3.5)
    """
    if isinstance(cell, str) and cell.startswith(FORMULA_STARTS) and not NUMBER.fullmatch(cell):
        return "'" + cell
    return cell


def as_csv(sheet: Sheet) -> bytes:
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow([guarded(h) for h in sheet.head])
    for line in sheet.lines:
        writer.writerow(["" if (cell := guarded(c)) is None else cell for c in line])
    return buffer.getvalue().encode("utf-8-sig")


def as_xlsx(findings: Mapping[str, Any]) -> bytes:
    """Three sheets: the repair list, all readings, the problems. Dates come from the survey's own, so that the same
    findings give the same bytes."""
    import xlsxwriter

    buffer = io.BytesIO()
    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False, "in_memory": True}
    book = xlsxwriter.Workbook(buffer, options)
    title = str((findings.get("survey") or {}).get("title") or "Repair list")
    book.set_properties({"title": title[:200], "created": _surveyed_at(findings)})
    head = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bg_color": "#e8e6de", "bottom": 1})
    body = book.add_format({"text_wrap": True, "valign": "top"})
    for name, sheet in (
        ("repair list", repair_list(findings)),
        ("all readings", all_readings(findings)),
        ("problems", problems(findings)),
    ):
        _put(book.add_worksheet(name), sheet, head, body)
    book.close()
    return buffer.getvalue()


def _put(page: Any, sheet: Sheet, head: Any, body: Any) -> None:
    for column, name in enumerate(sheet.head):
        page.write_string(0, column, name, head)
        longest = max((len(str(line[column] or "")) for line in sheet.lines), default=0)
        page.set_column(column, column, min(44, max(9, 0.6 * len(name), longest + 2)))
    for row, line in enumerate(sheet.lines, 1):
        for column, cell in enumerate(line):
            if isinstance(cell, str):
                page.write_string(row, column, cell[:32_000], body)
            elif cell is not None:
                page.write_number(row, column, cell, body)
    page.freeze_panes(1, 4 if len(sheet.head) > 10 else 0)
    if sheet.lines:
        page.autofilter(0, 0, len(sheet.lines), len(sheet.head) - 1)
    page.set_landscape()
    page.repeat_rows(0)


def _surveyed_at(findings: Mapping[str, Any]) -> datetime:
    try:
        return datetime.fromisoformat(str((findings.get("survey") or {}).get("date")))
    except ValueError:
        return EPOCH
