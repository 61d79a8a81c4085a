"""How many readings there are, judged and to act on: counted in one way for command line, page and report."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from earwitness.report.format import counted


@dataclass(frozen=True)
class Counts:
    readings: int
    judged: int  # with a verdict that decides
    listed: int  # to act on, at once or by the repair list
    urgent: int  # of these at once

    def words(self, problems: int) -> str:
        """
        >>> Counts(27, 25, 17, 4).words(1).replace("\\u00a0", " ")
        '27 readings: 25 judged, 17 to act on (4 at once), 1 problem'
        """
        at_once = f" ({self.urgent} at once)" if self.urgent else ""
        said = f"{counted(self.readings, 'reading')}: {self.judged} judged, {self.listed} to act on{at_once}"
        return f"{said}, {counted(problems, 'problem')}"


def counts(rows: Iterable[tuple[str | None, bool, bool]]) -> Counts:
    """Of readings, each once: (verdict, whether it has a rank, whether it is urgent)."""
    given = list(rows)
    return Counts(
        len(given),
        sum(verdict not in (None, "inconclusive") for verdict, _, _ in given),
        sum(ranked or urgent for _, ranked, urgent in given),
        sum(urgent for _, _, urgent in given),
    )


def each_once(readings: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Without the rows that repeat another in every cell; among the problems they are told."""
    return [r for r in readings if all(p.get("code") != "duplicate-row" for p in r.get("problems") or ())]
