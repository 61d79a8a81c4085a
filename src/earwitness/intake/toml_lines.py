"""survey.toml with the line of each part, and what can be read of a file that is not quite TOML."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from typing import Any

from earwitness.plant.reading import Problem
from earwitness.sentence import say

_HEADER = re.compile(r"^\s*\[{1,2}\s*([^\]]+?)\s*\]{1,2}\s*(?:#.*)?$")
_KEY = re.compile(r"^\s*([A-Za-z0-9_\-.\"']+)\s*=")
_MOST_REPAIRS = 40


@dataclass(frozen=True)
class Parts:
    """The file as nested tables; `lines` maps a table ("air", "compressor 2") and key to the line it stands in."""

    file: str
    tables: dict[str, Any]
    lines: dict[tuple[str, str], int] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()

    def line(self, table: str, key: str = "") -> int | None:
        return self.lines.get((table, key)) or self.lines.get((table, ""))

    def place(self, table: str, key: str = "") -> str:
        """Where a part stands, as a message names it: "survey.toml, line 9, [air] pressure"."""
        line = self.line(table, key)
        at = f", line {line}" if line else ""
        return f"{self.file}{at}, [{table.split(' ')[0]}]" + (f" {key}" if key else "")


def read_parts(file: str, text: str) -> Parts:
    """The parts of the file. A line that is not TOML is left out with a problem, and the rest is read; of a faulty
    table header the whole table is left out."""
    lines = re.split(r"\r\n|\r|\n", text)
    original = list(lines)
    problems: list[Problem] = []
    for _ in range(_MOST_REPAIRS):
        try:
            tables = tomllib.loads("\n".join(lines))
        except (tomllib.TOMLDecodeError, RecursionError) as error:
            at = _faulty(str(error), lines)
            if at is None:
                break
            problems.append(_not_toml(file, at, original[at]))
            _leave_out(lines, at)
        else:
            return Parts(file, tables, _lines(original), tuple(problems))
    problems.append(Problem(None, None, say("toml-unreadable", "{file} cannot be read as TOML.", file=file), file))
    return Parts(file, {}, {}, tuple(problems))


def _not_toml(file: str, at: int, line: str) -> Problem:
    shown = " ".join(line.split())[:60]
    return Problem(
        None, None,
        say("toml-line", '{file}, line {line}: \'{given}\' cannot be read; a name, = and a value in quotes would do, '
            'for example price = "0.20 EUR/kWh".', file=file, line=at + 1, given=shown), file,
    )  # fmt: skip


def _faulty(message: str, lines: list[str]) -> int | None:
    """The line that the parser stumbled over: the named one, or the last before it that holds anything."""
    match = re.search(r"at line (\d+)", message)
    at = min(int(match[1]) - 1 if match else len(lines) - 1, len(lines) - 1)
    while at >= 0 and not lines[at].strip():
        at -= 1
    return at if at >= 0 else None


def _leave_out(lines: list[str], at: int) -> None:
    header = bool(re.match(r"^\s*\[", lines[at])) and "=" not in lines[at].split("#")[0]
    lines[at] = ""
    while header and at + 1 < len(lines) and not re.match(r"^\s*\[", lines[at + 1]):
        at += 1
        lines[at] = ""


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
