"""The header of the sheet: which of its columns are known, which are their own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from earwitness.intake.columns import BY_NAME, Heading, heading, normal
from earwitness.intake.sheet import Sheet
from earwitness.plant.reading import Problem
from earwitness.sentence import say


@dataclass(frozen=True)
class Layout:
    """Where each known column stands, what the others are headed, and where a date and a time stand apart."""

    known: tuple[tuple[int, Heading], ...]
    own: tuple[tuple[int, str], ...]
    titles: tuple[str, ...]
    clock: int | None = None  # the column of a time of day beside one of dates
    problems: tuple[Problem, ...] = ()

    @property
    def has_kind(self) -> bool:
        return any(found.column is BY_NAME["kind"] for _, found in self.known)

    def cells(self, row: Sequence[str]) -> list[tuple[Heading, str]]:
        """The known cells of a row; a date and a time in two columns are joined."""
        cells = []
        for index, found in self.known:
            text = row[index] if index < len(row) else ""
            if self.clock is not None and found.column.name == "taken_at" and self.clock < len(row):
                text = f"{text} {row[self.clock]}".strip()
            cells.append((found, text))
        return cells

    def extra(self, row: Sequence[str]) -> dict[str, str]:
        extra = {title: row[index] if index < len(row) else "" for index, title in self.own}
        for index in range(len(self.titles), len(row)):
            if row[index]:
                extra[f"column {index + 1}"] = row[index]
        return extra

    def all_cells(self, row: Sequence[str]) -> dict[str, str]:
        titled = {title: row[index] if index < len(row) else "" for index, title in enumerate(self.titles)}
        return titled | {f"column {i + 1}": row[i] for i in range(len(self.titles), len(row))}


def layout(sheet: Sheet) -> Layout:
    """What the columns of the sheet are. The exact name goes before another word for it; of two columns of one name
    the first that holds anything is used and the other kept as the sheet's own, with a problem."""
    found = [heading(title) for title in sheet.header]
    filled = [any(index < len(row) and row[index] for _, row in sheet.rows) for index in range(len(sheet.header))]
    taken: dict[str, int] = {}
    for index, one in enumerate(found):
        if one is None:
            continue
        before = taken.get(one.column.name)
        rank = (filled[index], one.exact)
        if before is None or rank > (filled[before], found[before].exact):  # type: ignore[union-attr]
            taken[one.column.name] = index
    titles = _titles(sheet.header)
    clock = _clock(sheet.header, taken)
    problems = []
    for index, one in enumerate(found):
        if one is not None and taken[one.column.name] != index and index != clock and filled[index]:
            problems.append(
                Problem(sheet.header_row, sheet.header[index],
                        say("column-twice", "row {row}: the columns '{used}' and '{title}' both stand for {name}; the "
                            "first of the two named is used, the other is kept as a column of its own.",
                            row=sheet.header_row, used=sheet.header[taken[one.column.name]],
                            title=sheet.header[index], name=one.column.name), sheet.file)
            )  # fmt: skip
    used = set(taken.values()) | ({clock} if clock is not None else set())
    known = tuple(
        (index, one) for index, one in enumerate(found) if one is not None and taken[one.column.name] == index
    )
    own = tuple(
        (index, title) for index, title in enumerate(titles)
        if index not in used and (sheet.header[index] or filled[index])
    )  # fmt: skip
    return Layout(known, own, titles, clock, tuple(problems))


def _titles(header: Sequence[str]) -> tuple[str, ...]:
    """A title of its own for each column, as it was headed."""
    titles: list[str] = []
    for index, title in enumerate(header):
        name = title or f"column {index + 1}"
        candidate, number = name, 2
        while candidate in titles:
            candidate, number = f"{name} ({number})", number + 1
        titles.append(candidate)
    return tuple(titles)


def _clock(header: Sequence[str], taken: dict[str, int]) -> int | None:
    """The column of times where dates stand in another, and the taken_at is the date's."""
    names = [normal(title) for title in header]
    if "date" in names and "time" in names and taken.get("taken_at") in (names.index("date"), names.index("time")):
        taken["taken_at"] = names.index("date")
        return names.index("time")
    return None
