"""What tells readings apart: identifiers, rows that repeat others, and what a verification points at."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from earwitness.intake.files import hashed
from earwitness.plant.reading import Problem, Reading
from earwitness.sentence import Sentence, say


def with_identifiers(readings: Sequence[Reading], cells: Mapping[int, Sequence[str]], file: str) -> list[Reading]:
    """Readings with an identifier each: their own, or one made from a hash of recording, point and time (of the whole
    row where all three are empty). One that is used twice keeps it the first time and is a problem the second."""
    taken: dict[str, int] = {}
    seen: dict[tuple[str, ...], int] = {}
    out = []
    own = {reading.reading for reading in readings if reading.reading}
    for reading in readings:
        given = bool(reading.reading)
        name = reading.reading or made_identifier(reading, cells[reading.row], own)
        problems: list[Sentence] = []
        row = tuple(cells[reading.row])
        if row in seen:
            problems.append(say("duplicate-row", "row {row} repeats row {first} in every cell; it counts once.",
                                row=reading.row, first=seen[row]))  # fmt: skip
        elif given and name in taken:
            problems.append(
                say("duplicate-reading", "row {row}, reading: '{reading}' is already the name of row {first}; this "
                    "row is called '{new}'.", row=reading.row, reading=name, first=taken[name],
                    new=_free(name, taken, own))
            )  # fmt: skip
        seen.setdefault(row, reading.row)
        if name in taken:
            name = _free(name, taken, own)
        taken[name] = reading.row
        found = tuple(Problem(reading.row, "reading", sentence, file) for sentence in problems)
        out.append(replace(reading, reading=name, problems=(*reading.problems, *found)))
    return out


def made_identifier(reading: Reading, cells: Sequence[str], own: set[str]) -> str:
    """An identifier from what the reading is, so that it stays when rows change places."""
    when = reading.taken_at.isoformat() if reading.taken_at else ""
    parts = [reading.recording or "", reading.point or "", when]
    name = "r-" + hashed(parts if any(parts) else cells)
    return name if name not in own else "r-" + hashed(cells)


def _free(name: str, taken: Mapping[str, int], own: set[str]) -> str:
    number = 2
    while f"{name}~{number}" in taken or f"{name}~{number}" in own:
        number += 1
    return f"{name}~{number}"


def check_verifications(readings: Sequence[Reading], file: str) -> list[Reading]:
    """A problem for each verification that points at no other row's tag or reading."""
    rows: dict[str, set[int]] = {}
    for reading in readings:
        for name in (reading.reading, reading.tag):
            if name:
                rows.setdefault(name.casefold(), set()).add(reading.row)
    out = []
    for reading in readings:
        if reading.verifies and not rows.get(reading.verifies.casefold(), set()) - {reading.row}:
            problem = Problem(
                reading.row, "verifies",
                say("verifies-nothing", "row {row}, verifies: no other row has the tag or reading '{given}'; if it is "
                    "in an earlier survey, compare with that survey.", row=reading.row, given=reading.verifies[:60]),
                file,
            )  # fmt: skip
            reading = replace(reading, problems=(*reading.problems, problem))
        out.append(reading)
    return out
