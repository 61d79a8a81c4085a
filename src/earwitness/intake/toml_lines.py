"""survey.toml with the line of each part, and what can be read of a file that is not quite TOML."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from earwitness.given_file import EMPTY, other_kind
from earwitness.intake.text import decoded
from earwitness.plant.reading import Problem
from earwitness.sentence import say

_HEADER = re.compile(r"^\s*\[{1,2}\s*([^\]]+?)\s*\]{1,2}\s*(?:#.*)?$")
_KEY = re.compile(r"^\s*([A-Za-z0-9_\-.\"']+)\s*=")
_MOST_REPAIRS = 40


@dataclass(frozen=True)
class Parts:
    """The file as nested tables; `lines` maps a table ("air", "compressor 2") and key to the line it stands in;
    `from_site` are the parts ("[air] pressure") that the site's settings gave, as they stand there."""

    file: str
    tables: dict[str, Any]
    lines: dict[tuple[str, str], int] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()
    from_site: Mapping[str, str] = field(default_factory=dict)

    def line(self, table: str, key: str = "") -> int | None:
        return self.lines.get((table, key)) or self.lines.get((table, ""))

    def place(self, table: str, key: str = "") -> str:
        """Where a part stands, as a message names it: "survey.toml, line 9, [air] pressure"."""
        if (part := f"[{table.split(' ')[0]}] {key}") in self.from_site:
            return f"the site's settings, {part}"
        line = self.line(table, key)
        at = f", line {line}" if line else ""
        return f"{self.file}{at}, [{table.split(' ')[0]}]" + (f" {key}" if key else "")


def parts_in(path: Path) -> Parts:
    """The parts of the file at `path`; of one of another kind (a PDF, a workbook) none, with one problem."""
    kind = other_kind(path)
    if kind is None or kind == EMPTY:
        return read_parts(path.name, decoded(path.read_bytes())[0])
    problem = say("toml-other-kind", "{file} is {kind}, not a text file; nothing of it is read.", file=path.name,
                  kind=kind)  # fmt: skip
    return Parts(path.name, {}, problems=(Problem(None, None, problem, path.name),))


def read_parts(file: str, text: str) -> Parts:
    """The parts of the file. A line that is not TOML is left out with a problem, and the rest is read; of a faulty
    table header the whole table is left out."""
    original = re.split(r"\r\n|\r|\n", text)
    lines = list(original)
    left_out: list[list[int]] = []
    for _ in range(_MOST_REPAIRS):
        tables, at = _parsed(lines)
        if tables is None and at is not None:
            left_out.append(_leave_out(lines, at))
            continue
        for block in sorted(left_out):
            tables = _restored(block, lines, original) or tables
        problems = tuple(_not_toml(file, b[0], original[b[0]]) for b in sorted(left_out) if not lines[b[0]].strip())
        return Parts(file, tables or {}, _lines(original), problems)
    problem = Problem(None, None, say("toml-unreadable", "{file} cannot be read as TOML.", file=file), file)
    return Parts(file, {}, {}, (problem,))


def _parsed(lines: list[str]) -> tuple[dict[str, Any] | None, int | None]:
    """The tables; or the line that the parser stumbled over, the last before it that holds anything."""
    try:
        return tomllib.loads("\n".join(lines)), None
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        match = re.search(r"at line (\d+)", str(error))
    at = min(int(match[1]) if match else len(lines), len(lines)) - 1
    while at >= 0 and not lines[at].strip():
        at -= 1
    return (None, at) if at >= 0 else ({}, None)


def _restored(block: list[int], lines: list[str], original: list[str]) -> dict[str, Any] | None:
    """The tables with a block put back, None where it was rightly left out: a quote that never closes drags the
    lines after it along."""
    headers = [n for n in range(block[0]) if re.match(r"^\s*\[", original[n])]
    if headers and not lines[headers[-1]].strip():
        return None  # it would fall into another table
    for n in block:
        lines[n] = original[n]
    tables, _ = _parsed(lines)
    if tables is None:
        for n in block:
            lines[n] = ""
    return tables


def _not_toml(file: str, at: int, line: str) -> Problem:
    shown = " ".join(line.split())[:60]
    return Problem(
        None, None,
        say("toml-line", '{file}, line {line}: \'{given}\' cannot be read; a name, = and a value in quotes would do, '
            'for example price = "0.20 EUR/kWh".', file=file, line=at + 1, given=shown), file,
    )  # fmt: skip


def _leave_out(lines: list[str], at: int) -> list[int]:
    """Blanks a line, with a table's header its whole table; which lines those were."""
    header = bool(re.match(r"^\s*\[", lines[at])) and "=" not in lines[at].split("#")[0]
    block = [at]
    while header and block[-1] + 1 < len(lines) and not re.match(r"^\s*\[", lines[block[-1] + 1]):
        block.append(block[-1] + 1)
    for n in block:
        lines[n] = ""
    return block


def _lines(lines: list[str]) -> dict[tuple[str, str], int]:
    found: dict[tuple[str, str], int] = {}
    table, seen = "", {}  # type: ignore[var-annotated]
    for number, line in enumerate(lines, start=1):
        if match := _HEADER.match(line):
            table = match[1].replace('"', "").replace(" ", "")
            if line.lstrip().startswith("[["):
                seen[table] = seen.get(table, 0) + 1
                table = f"{table} {seen[table]}"
            found.setdefault((table, ""), number)
        elif match := _KEY.match(line):
            found.setdefault((table, match[1].strip("\"'")), number)
    return found
