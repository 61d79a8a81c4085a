"""What a scanned tag leads to: the point it hangs at, and what is to be answered there."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass

from earwitness.ledger import findings, points
from earwitness.plant.finding import STANDING
from earwitness.server import Ask, Page, Refusal
from earwitness.work.desk_findings import FindingStory, story_of

page = Page("tag", title="Tag", under="points")


@dataclass(frozen=True)
class Hangs:
    """A point that has this tag, and the findings that stand there."""

    site: str
    address: str
    point_id: uuid.UUID
    point: str
    tag: str
    spot: str
    standing: Sequence[FindingStory]
    may_answer: bool


@dataclass(frozen=True)
class TagShown:
    tag: str
    hangs: Sequence[Hangs]


@page.view("/tag/{tag}")
def show(ask: Ask) -> TagShown:
    """The point of a tag, at whichever site that one may see, with what stands there to be answered."""
    tag, found = ask.path["tag"][:40], []
    with ask.ledger.reading() as connection:
        for site in ask.sites:
            point = points.point_by_tag(connection, site.id, tag)
            if point is None:
                continue
            there = [f for f in findings.findings_at(connection, point.id) if f.state in STANDING]
            stories = [story_of(connection, f, site.now()) for f in there]
            spot = ", ".join(x for x in (point.component, point.location) if x)
            may = ask.who.may("inspect", site.id)
            found.append(Hangs(site.name, site.path, point.id, point.name, point.tag, spot, stories, may))
    if not found:
        text = "No point here has the tag “{tag}”. Read it once more, or find the point by its name."
        raise Refusal(404, "no-such-tag", text, tag=tag)
    return TagShown(tag, found)
