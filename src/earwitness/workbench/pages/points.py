"""What is listened to, and how each point is: the site as a tree whose branches load when they are opened."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from earwitness.ledger import sites, surveys
from earwitness.report.format import counted
from earwitness.server import Ask, Page
from earwitness.server.refusal import not_found
from earwitness.work.desk_points import STATES, Branch, PointRow, branches, leaves
from earwitness.work.drawings import DrawingRow, drawings
from earwitness.workbench.watch import worse_since

page = Page("points", title="Points", order=30)
SHOWN = 100


@dataclass(frozen=True)
class Points:
    """The trunk of the tree; what is asked for by words; the drawings."""

    heading: str
    branches: Sequence[Branch]
    words: str
    found: Sequence[PointRow]
    drawings: Sequence[DrawingRow]
    states: Mapping[str, str]
    may_place: bool
    of: Branch | None = None  # the one that is asked for by itself: what a browser without scripts shows of the tree
    number: int = 1
    more: bool = False


@dataclass(frozen=True)
class Leaves:
    """A page of one branch."""

    area: str
    rows: Sequence[PointRow]
    number: int
    more: bool


def worse_points(ask: Ask) -> set[uuid.UUID]:
    """Those that the last survey showed getting worse; none while that is being worked out."""
    with ask.ledger.reading() as connection:
        last = next(iter(surveys.surveys(connection, ask.site.id, limit=1)), None)
    return {w.point_id for w in worse_since(ask.house, last) or ()}


@page.view("/site/{site}/points")
def show(ask: Ask) -> Points:
    """The areas with how many points each has; with `words`, the points that hold them; with `area`, those of one."""
    words = ask.query.get("words", "").strip()[:80]
    asked, number = "" if words else ask.query.get("area", ""), int(ask.number("page", 1, 1, 100_000))
    worse = worse_points(ask) if words or asked else set()
    with ask.ledger.reading() as connection:
        trunk = branches(connection, ask.site.id)
        of = next((b for b in trunk if asked == str(b.area_id or "none")), None)
        found = leaves(connection, ask.site.id, None, worse, words=words, limit=SHOWN) if words else []
        if of is not None:
            start = SHOWN * (number - 1)
            found = leaves(connection, ask.site.id, of.area_id, worse, limit=SHOWN + 1, offset=start)
        plans = drawings(connection, ask.site.id)
    count = sum(b.points for b in trunk)
    heading = f"{counted(count, 'point')} in {counted(len(trunk), 'area')}" if count else "No point is known here yet"
    return Points(
        heading, trunk, words, found[:SHOWN], plans, STATES, ask.may("plan"), of, number, len(found) > SHOWN
    )  # fmt: skip


@page.view("/site/{site}/points/area/{area}", template="points_leaves.html.j2")
def branch(ask: Ask) -> Leaves:
    """The points of one area (`none`: of none), page by page, each with its state."""
    area = None if ask.path["area"] == "none" else ask.id("area")
    number = int(ask.number("page", 1, 1, 100_000))
    worse = worse_points(ask)
    with ask.ledger.reading() as connection:
        if area is not None and area not in {a.id for a in sites.areas(connection, ask.site.id)}:
            raise not_found("area")
        rows = leaves(connection, ask.site.id, area, worse, limit=SHOWN + 1, offset=SHOWN * (number - 1))
    return Leaves(ask.path["area"], rows[:SHOWN], number, len(rows) > SHOWN)
