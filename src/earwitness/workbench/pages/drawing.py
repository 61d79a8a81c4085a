"""A plan drawing with pins: shape and word say a point's state; placed by drag, click or arrow keys."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from starlette.responses import FileResponse, Response

from earwitness.ledger import points, sites
from earwitness.server import Ask, Page, Refusal, Went
from earwitness.server.content import picture_type
from earwitness.server.guard import FILE_POLICY
from earwitness.server.refusal import not_found
from earwitness.work.desk_points import STATES, PointRow, leaves, on_drawing
from earwitness.work.drawings import DrawingRow, drawings, image_of, keep_drawing, place
from earwitness.workbench.pages.points import worse_points

page = Page("drawing", title="Drawing", under="points")
MOST_PINS, MOST_CHOICES = 1000, 200


@dataclass(frozen=True)
class Drawing:
    """The drawing, the points that have a pin, and those that could be given one."""

    drawing: DrawingRow
    pins: Sequence[PointRow]
    unplaced: Sequence[PointRow]
    words: str
    states: Mapping[str, str]
    may_place: bool


@dataclass(frozen=True)
class New:
    """An image that lies in an upload."""

    upload: uuid.UUID
    path: str
    name: str
    area: uuid.UUID | None = None


@dataclass(frozen=True)
class Placed:
    """Where a pin is: fractions of the drawing's width and height; both empty take it away."""

    point: uuid.UUID
    x: float | None = None
    y: float | None = None


def drawing_here(ask: Ask) -> DrawingRow:
    of = ask.id(what="drawing")
    with ask.ledger.reading() as connection:
        found = next((d for d in drawings(connection, ask.site.id) if d.id == of), None)
    if found is None:
        raise not_found("drawing")
    return found


@page.view("/site/{site}/drawing/{id}")
def show(ask: Ask) -> Drawing:
    """The drawing with its pins; `words` finds a point to place."""
    found, worse = drawing_here(ask), worse_points(ask)
    words = ask.query.get("words", "").strip()[:80]
    with ask.ledger.reading() as connection:
        pins = on_drawing(connection, ask.site.id, found, worse, MOST_PINS)
        if words or found.area_id is None:
            others = leaves(connection, ask.site.id, None, worse, words=words or " ", limit=MOST_CHOICES)
        else:
            others = leaves(connection, ask.site.id, found.area_id, worse, limit=MOST_CHOICES)
    here = {r.id for r in pins}
    unplaced = [r for r in others if r.id not in here]
    return Drawing(found, pins, unplaced, words, STATES, ask.may("plan"))


@page.deed("/site/{site}/drawing", role="plan")
def keep(ask: Ask, given: New) -> Went:
    """Keep an uploaded image as a drawing of an area, or of the whole site."""
    state = ask.house.uploads.state(given.upload, ask.who.name)
    file = next((f for f in state.files if f.path == given.path), None)
    if file is None or file.kind != "picture":
        raise Refusal(415, "no-picture", "A drawing is a picture: JPEG, PNG or WebP.")
    with ask.ledger.reading() as connection:
        if given.area is not None and given.area not in {a.id for a in sites.areas(connection, ask.site.id)}:
            raise not_found("area")
    name = given.name.strip()[:80] or "Plan"
    image = ask.house.uploads.survey_folder(given.upload) / file.path
    if not image.is_file():
        raise not_found("upload")
    made = keep_drawing(ask.ledger, ask.site.id, name, given.area, image)
    image.unlink(missing_ok=True)  # the ledger's store has it now
    return Went(f"{ask.site.path}/drawing/{made}", str(made))


@page.deed("/site/{site}/drawing/{id}/place", role="plan")
def placed(ask: Ask, given: Placed) -> Went:
    """Put a pin somewhere, or take it away."""
    found = drawing_here(ask)
    with ask.ledger.reading() as connection:
        there = points.points_by_id(connection, [given.point])
    if not there or there[0].site_id != ask.site.id:
        raise not_found("point")
    place(ask.ledger, ask.site.id, found, given.point, given.x, given.y)
    return Went(f"{ask.site.path}/drawing/{found.id}", str(given.point))


@page.raw("/site/{site}/drawing/{id}/image")
def image(ask: Ask) -> Response:
    """The drawing's image."""
    found = drawing_here(ask)
    with ask.ledger.reading() as connection:
        path = ask.ledger.store.path(image_of(connection, found.id))
    if not path.is_file():
        raise not_found("image")
    with path.open("rb") as file:
        kind = picture_type(file.read(64))
    if kind is None:
        raise not_found("image")
    return FileResponse(path, media_type=kind, headers={"Content-Security-Policy": FILE_POLICY})
