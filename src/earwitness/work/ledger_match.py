"""Which point of the ledger a row of a sheet belongs to: by printed tag, by the plant's own number, by name.

A match is made where it is beyond doubt. Where it is not, the row is kept without a point and the doubt is listed with
the points that it could be; writing the printed tag of the right one into the row's `tag` settles it.
"""

from __future__ import annotations

import re
import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from difflib import SequenceMatcher

from sqlalchemy import Connection

from earwitness.errors import InputError
from earwitness.ledger import points as stored
from earwitness.plant.reading import Reading
from earwitness.plant.site import Point, identity, name_key
from earwitness.plant.tag import read_tag, tag_of
from earwitness.sentence import Sentence, say

SIMILAR = 0.75  # of two words, by their common letters: common practice for one slip of the finger
SHORTEST = 4  # letters of a word that may be misspelt: "inlet" for "inlets", never "A" for "B"


@dataclass(frozen=True)
class Match:
    point: Point | None = None
    new: bool = False
    doubt: Sentence | None = None


@dataclass
class _Known:
    """The points of one site that the rows could mean, with those made on the way."""

    connection: Connection
    site_id: uuid.UUID
    areas: Mapping[str, uuid.UUID]
    fresh: dict[uuid.UUID, Point] = field(default_factory=dict)
    by_name: dict[tuple[str, str], list[Point]] = field(default_factory=lambda: defaultdict(list))
    by_tag: dict[str, list[Point]] = field(default_factory=lambda: defaultdict(list))
    tagged: dict[uuid.UUID, Point] = field(default_factory=dict)  # points that get the plant's number with this filing
    names: dict[str, dict[tuple[str, ...], list[tuple[uuid.UUID, str, uuid.UUID | None]]]] = field(default_factory=dict)

    def add(self, points: Iterable[Point]) -> None:
        for p in points:
            same = self.by_name[p.kind, name_key(p.name)]
            if all(q.id != p.id for q in same):
                same.append(p)
                self.by_tag[p.tag].append(p)
                if p.plant_tag:
                    self.by_tag[name_key(p.plant_tag)].append(p)

    def similar(self, kind: str, key: str) -> list[uuid.UUID]:
        """Points of that kind whose name is nearly this one; those made on the way are meant to differ."""
        if kind not in self.names:
            grouped: dict[tuple[str, ...], list[tuple[uuid.UUID, str, uuid.UUID | None]]] = defaultdict(list)
            for row in stored.point_names(self.connection, self.site_id, kind):
                grouped[_digits(row[1])].append(row)
            self.names[kind] = grouped
        return [row[0] for row in self.names[kind].get(_digits(key), ()) if nearly(row[1], key)]


def match_points(
    connection: Connection, site_id: uuid.UUID, readings: Sequence[Reading], areas: Mapping[str, uuid.UUID]
) -> tuple[dict[str, Match], list[Point], list[Point]]:
    """The match of each reading by its name; the points to be made; those that get the plant's own number."""
    known = _Known(connection, site_id, areas)
    known.add(stored.points_named(connection, site_id, {r.point or r.tag or "" for r in readings}))
    known.add(stored.points_tagged(connection, site_id, {t for r in readings if (t := r.tag)}))
    found: dict[str, Match] = {}
    for reading in sorted(readings, key=lambda r: (r.verifies is not None, r.row)):
        target = _target(reading, readings, found) if reading.verifies else None
        found[reading.reading] = _match(reading, known, target)
    return found, list(known.fresh.values()), list(known.tagged.values())


def nearly(one: str, other: str) -> bool:
    """Whether two different names are perhaps the same: only signs differ, or single letters in long words.

    >>> nearly("line-1 capper", "line 1 capper"), nearly("line 1 caper", "line 1 capper")
    (True, True)
    >>> nearly("line 2 capper", "line 1 capper"), nearly("pump a inlet", "pump b inlet"), nearly("x", "x")
    (False, False, False)
    """
    if one == other or _digits(one) != _digits(other):
        return False
    if re.sub(r"\W+", "", one) == re.sub(r"\W+", "", other):
        return True
    left, right = re.findall(r"\w+", one), re.findall(r"\w+", other)
    return len(left) == len(right) and all(a == b or _slip(a, b) for a, b in zip(left, right, strict=True))


def _slip(a: str, b: str) -> bool:
    return min(len(a), len(b)) >= SHORTEST and SequenceMatcher(None, a, b).ratio() >= SIMILAR


def _digits(key: str) -> tuple[str, ...]:
    return tuple(re.findall(r"\d+", key))


def _match(r: Reading, known: _Known, target: Point | None) -> Match:
    tag = (r.tag or "").strip()
    if r.status == "unreadable" or not (r.point or tag or target):
        return Match()
    printed = known.by_tag.get(_printed(tag), []) if tag else []
    if printed:
        right = [p for p in printed if p.kind == r.kind]
        return Match(right[0]) if right else Match(doubt=_doubt("point-kind", r, printed))
    if target is not None and target.kind == r.kind and (not r.point or name_key(r.point) == name_key(target.name)):
        return Match(target)
    tagged = [p for p in known.by_tag.get(name_key(tag), ()) if p.kind == r.kind] if tag else []
    named = [p for p in known.by_name.get((r.kind, name_key(r.point)), ()) if _agrees(p, r, known)] if r.point else []
    if tagged:
        return _by_tag(r, tagged, named)
    if tag and named:
        return _tag_is_new(r, tag, named, known)
    if named:
        exact = [p for p in named if _exactly(p, r, known)]
        sure = named if len(named) == 1 else exact
        return Match(sure[0]) if len(sure) == 1 else Match(doubt=_doubt("point-several", r, named))
    near = known.similar(r.kind, name_key(r.point)) if r.point else []
    near_points = [p for p in stored.points_by_id(known.connection, near) if _agrees(p, r, known)]
    return Match(doubt=_doubt("point-similar", r, near_points)) if near_points else _made(r, tag, known)


def _by_tag(r: Reading, tagged: list[Point], named: list[Point]) -> Match:
    both = [p for p in tagged if any(p.id == q.id for q in named)] if r.point else tagged
    if len(both) == 1:
        return Match(both[0])
    return Match(doubt=_doubt("point-tag-moved" if not both else "point-several", r, both or tagged))


def _tag_is_new(r: Reading, tag: str, named: list[Point], known: _Known) -> Match:
    """The name is known and the plant's number is not: a number hung on later, or another leak at the same place."""
    bare = [p for p in named if p.plant_tag is None]
    if len(bare) == 1 and len(named) == 1:
        numbered = replace(bare[0], plant_tag=tag)
        if numbered.id in known.fresh:
            known.fresh[numbered.id] = numbered
        else:
            known.tagged[numbered.id] = numbered
        same = known.by_name[r.kind, name_key(numbered.name)]
        same[:] = [numbered if p.id == numbered.id else p for p in same]
        known.by_tag[name_key(tag)].append(numbered)
        return Match(numbered, new=numbered.id in known.fresh)
    if all(p.id in known.fresh for p in named):
        return _made(r, tag, known)
    return Match(doubt=_doubt("point-tag-new", r, named))


def _made(r: Reading, tag: str, known: _Known) -> Match:
    """A new point, of the same identity wherever the same sheet is filed."""
    name = (r.point or tag).strip()
    area = known.areas.get(name_key(r.area)) if r.area else None
    parts = (name_key(r.area or ""), name_key(name), name_key(r.component or ""), r.kind, name_key(tag))
    made = identity("point", str(known.site_id), *parts)
    if (there := stored.points_by_id(known.connection, [made])) or made in known.fresh:
        return Match(known.fresh.get(made) or there[0])
    point = Point(
        id=made,
        site_id=known.site_id,
        name=name,
        kind=r.kind,
        tag=tag_of(made),
        area_id=area,
        plant_tag=tag or None,
        component=r.component,
        location=r.location,
        medium=r.medium,
        pressure_abs=r.pressure_abs,
        machine=r.machine,
        baseline_db=r.baseline_db,
    )
    known.fresh[made] = point
    known.add([point])
    return Match(point, new=True)


def _target(reading: Reading, readings: Sequence[Reading], found: Mapping[str, Match]) -> Point | None:
    """The point of the row that this one verifies, where it is in the same sheet."""
    wanted = name_key(reading.verifies or "")
    for other in readings:
        if other.reading != reading.reading and wanted in (name_key(other.reading), name_key(other.tag or "")):
            match = found.get(other.reading)
            if match is not None and match.point is not None:
                return match.point
    return None


def _agrees(p: Point, r: Reading, known: _Known) -> bool:
    """Neither area nor component contradict."""
    area = known.areas.get(name_key(r.area)) if r.area else None
    if area is not None and p.area_id is not None and area != p.area_id:
        return False
    return not (r.component and p.component) or name_key(r.component) == name_key(p.component)


def _exactly(p: Point, r: Reading, known: _Known) -> bool:
    area = known.areas.get(name_key(r.area)) if r.area else None
    return area == p.area_id and name_key(r.component or "") == name_key(p.component or "")


def _printed(tag: str) -> str:
    try:
        return read_tag(tag)
    except InputError:
        return ""


DOUBTS = {
    "point-kind": "{reading}: the tag {tag} hangs at a point of another kind than {kind}.",
    "point-several": "{reading}: '{point}' could be more than one point.",
    "point-similar": "{reading}: there is no point '{point}', but one of nearly that name.",
    "point-tag-moved": "{reading}: the tag {tag} hangs at another point than '{point}'.",
    "point-tag-new": "{reading}: '{point}' is known under another tag than {tag}: a new tag, or another leak there?",
}


def _doubt(code: str, r: Reading, candidates: Sequence[Point]) -> Sentence:
    listed = "; ".join(f"{p.tag} {p.name}" for p in sorted(candidates, key=lambda p: (p.name, p.tag))[:5])
    text = DOUBTS[code] + " It is kept without a point; write the printed tag of the right one into its row: {listed}."
    return say(code, text, reading=r.reading, tag=r.tag or "", point=r.point or "", kind=r.kind, listed=listed)
