"""What decided, as the detectors name it: read with tolerance, said in words for the label, the table and the alt text.

A mark is a mapping. It stands at a time (`at_s`, or `from_s` to `to_s`), at a frequency (`hz` with `tolerance_hz`,
or `low_hz` to `high_hz`), at a phase of the mains (`deg`), or at a height (`level_db`, `threshold`, `amplitude`).
`name` (or `kind`) says what it is, `found` whether the sound shows it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

NBSP = "\u00a0"  # a number and its unit stay on one line
SPELLINGS = {
    "at_s": ("at_s", "time_s", "t_s"),
    "from_s": ("from_s", "start_s"),
    "to_s": ("to_s", "end_s"),
    "at_m": ("at_m",),
    "hz": ("hz", "freq_hz", "at_hz"),
    "tolerance_hz": ("tolerance_hz", "width_hz"),
    "low_hz": ("low_hz", "from_hz"),
    "high_hz": ("high_hz", "to_hz"),
    "deg": ("deg", "phase_deg", "at_deg"),
    "height": ("level_db", "threshold", "amplitude", "height"),
}


@dataclass(frozen=True)
class Mark:
    name: str
    at_s: float | None = None
    from_s: float | None = None
    to_s: float | None = None
    at_m: float | None = None
    hz: float | None = None
    tolerance_hz: float | None = None
    low_hz: float | None = None
    high_hz: float | None = None
    deg: float | None = None
    height: float | None = None
    found: bool | None = None

    @property
    def where(self) -> str:
        """Where it stands, in words."""
        if self.from_s is not None and self.to_s is not None:
            place = f"{self.from_s:.1f} to {self.to_s:.1f} s"
        elif self.at_s is not None:
            place = f"{self.at_s:.1f} s" + (f" ({self.at_m:.2f} m)" if self.at_m is not None else "")
        elif self.hz is not None:
            place = f"{in_hz(self.hz)}"
            if self.tolerance_hz:
                place += f" ±{NBSP}{in_hz(float(f'{self.tolerance_hz:.2g}'))}"
        elif self.low_hz is not None and self.high_hz is not None:
            place = f"{in_hz(self.low_hz)} to {in_hz(self.high_hz)}"
        elif self.deg is not None:
            place = f"{self.deg:.0f}°"
        else:
            place = ""
        return place

    @property
    def shown(self) -> str:
        return "" if self.found is None else ("found" if self.found else "not found")


def in_hz(hz: float) -> str:
    return f"{hz / 1000:.3g}{NBSP}kHz" if hz >= 1000 else f"{hz:.4g}{NBSP}Hz"


def _number(raw: Mapping[str, Any], names: Iterable[str]) -> float | None:
    for name in names:
        value = raw.get(name)
        if isinstance(value, bool) or value is None:
            continue
        try:
            number = float(value)
        except (TypeError, ValueError):
            continue
        if math.isfinite(number):
            return number
    return None


def read(raw: Iterable[Mapping[str, Any]]) -> tuple[Mark, ...]:
    """The marks in words and numbers. One without a name is called by its kind, counted where there are several;
    one that has neither and stands nowhere is none."""
    given = list(raw)
    kinds = Counter(str(one.get("kind")) for one in given)
    seen: Counter[str] = Counter()
    marks = []
    for one in given:
        kind = str(one.get("kind"))
        seen[kind] += 1
        name = one.get("name") or one.get("text") or one.get("label")
        if not name and one.get("kind"):
            name = f"{kind} {seen[kind]}" if kinds[kind] > 1 else kind
        values = {field: _number(one, names) for field, names in SPELLINGS.items()}
        if not name and all(value is None for value in values.values()):
            continue
        found = one.get("found")
        marks.append(Mark(str(name or "mark"), **values, found=bool(found) if found is not None else None))
    return tuple(marks)


def spoken(marks: tuple[Mark, ...], most: int = 6) -> str:
    """The marks as the end of an alt text."""
    if not marks:
        return ""
    parts = []
    for mark in marks[:most]:
        text = mark.name + (f" at {mark.where}" if mark.where else "")
        parts.append(text + (f", {mark.shown}" if mark.shown else ""))
    more = f"; and {len(marks) - most} more" if len(marks) > most else ""
    return " Marked: " + "; ".join(parts) + more + "."


def rows_without_overlap(positions: list[float], widths: list[float], rows: int) -> list[int]:
    """For labels centred at `positions` (sorted), the lowest row in which each does not touch its neighbour; -1
    where no row is free (the table below the picture carries it)."""
    ends = [-math.inf] * rows
    taken = []
    for position, width in zip(positions, widths, strict=True):
        free = next((row for row in range(rows) if position - width / 2 >= ends[row]), -1)
        if free >= 0:
            ends[free] = position + width / 2
        taken.append(free)
    return taken
