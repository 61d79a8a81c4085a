"""Where one finding stands: its danger, its history, what the fitter answers, its repair, its card."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import Literal

from starlette.responses import Response

from earwitness.ledger import findings
from earwitness.plant.finding import ALLOWED, Finding
from earwitness.report import wording
from earwitness.server import Ask, Page, Refusal, Went
from earwitness.server.guard import FILE_POLICY
from earwitness.server.refusal import not_found
from earwitness.work import answers
from earwitness.work.desk_card import card_pdf
from earwitness.work.desk_findings import FindingStory, schedule, story_of
from earwitness.work.findings import step_finding
from earwitness.work.tags import qr_svg
from earwitness.work.take_back import take_back_answer, take_back_told
from earwitness.workbench.tag_link import tag_link

page = Page("finding", title="Finding", under="findings")
STEPPED = {
    "scheduled": "Scheduled.",
    "repaired": "Repaired; a later reading verifies it.",
    "dismissed": "Dismissed.",
    "reopened": "Reopened; it is on the list again.",
}


@dataclass(frozen=True)
class FindingShown:
    """A finding, and what whoever asks may do with it."""

    story: FindingStory
    may_inspect: bool
    may_plan: bool


@dataclass(frozen=True)
class Given:
    """What the fitter found at the tag."""

    answer: Literal["found", "not-found", "other"]
    what: str = ""
    fixed: bool = False
    before_db: float | None = None
    after_db: float | None = None


@dataclass(frozen=True)
class Stepped:
    """A step that a person takes."""

    state: Literal["scheduled", "repaired", "dismissed", "reopened"]
    why: str = ""
    due: date | None = None


@dataclass(frozen=True)
class ToldOf:
    who: str
    words: str = ""


@dataclass(frozen=True)
class TakenBack:
    """What was a mistake: an answer, or that somebody was told."""

    what: Literal["answer", "told"]
    of: uuid.UUID


def finding_here(ask: Ask) -> Finding:
    of = ask.id(what="finding")
    with ask.ledger.reading() as connection:
        try:
            found = findings.finding(connection, of)
        except ValueError:
            raise not_found("finding") from None
    if found.site_id != ask.site.id:
        raise not_found("finding")
    return found


@page.view("/site/{site}/finding/{id}")
def show(ask: Ask) -> FindingShown:
    """From first heard to verified."""
    found = finding_here(ask)
    with ask.ledger.reading() as connection:
        story = story_of(connection, found, ask.site.now())
    return FindingShown(story, ask.may("inspect"), ask.may("plan"))


@page.deed("/site/{site}/finding/{id}/answer", role="inspect")
def answered(ask: Ask, given: Given) -> Went:
    """Keep what the fitter found; what is fixed on the spot is repaired, and a later reading verifies it."""
    found = finding_here(ask)
    what = given.what.strip()
    if given.answer == "other" and not what:
        raise Refusal(422, "what-needed", "What was it? Write it in “What it was”, then answer again.", field="what")
    if given.fixed and given.answer != "found":
        text = "What was not found cannot be fixed: take the tick away, or answer “Found”."
        raise Refusal(422, "fixed-not-found", text, field="fixed")
    came = answers.answer(
        ask.ledger, ask.site.name, str(found.id), who=ask.who.name, at=datetime.now(UTC),
        found=given.answer == "found", what=what or None, fixed=given.fixed, before_db=given.before_db,
        after_db=given.after_db,
    )  # fmt: skip
    return Went(f"{ask.site.path}/finding/{found.id}#answers", str(came.answer.id), wording.capital(came.sentence.text))


@page.deed("/site/{site}/finding/{id}/step", role="inspect")
def stepped(ask: Ask, given: Stepped) -> Went:
    """Take the next step: schedule (with a day), repaired, dismiss (with a reason), reopen."""
    found, now = finding_here(ask), datetime.now(UTC)
    if given.state not in ALLOWED[found.state]:
        raise _meanwhile(ask, found)
    if given.state == "scheduled":
        if not ask.may("plan"):
            raise Refusal(403, "role-missing", "This needs the role “{role}”.", role="plan")
        if given.due is None:
            raise Refusal(422, "due-needed", "By which day is it to be done? State the day.", field="due")
        due = datetime.combine(given.due, time(23, 59), ask.site.zone)
        schedule(ask.ledger, found.id, who=ask.who.name, why=given.why.strip(), at=now, due=due)
    else:
        if given.state == "dismissed" and found.figures.urgent and not ask.may("plan"):
            text = "This must be acted on at once; to dismiss it needs the role “{role}” at {site}."
            raise Refusal(403, "role-missing", text, role="plan", site=ask.site.name)
        step_finding(ask.ledger, found.id, given.state, who=ask.who.name, why=given.why, at=now)
    return Went(f"{ask.site.path}/finding/{found.id}#history", str(found.id), STEPPED[given.state])


def _meanwhile(ask: Ask, found: Finding) -> Refusal:
    """Somebody else was quicker than whoever still looks at the page as it was."""
    with ask.ledger.reading() as connection:
        last = findings.history(connection, found.id)[-1]
    text = "Meanwhile this is {state} ({who}, {at}). Nothing was changed; load the page anew to see where it stands."
    return Refusal(409, "stands-otherwise", text, state=found.state, who=last.who, at=ask.site.moment(last.at))


@page.deed("/site/{site}/finding/{id}/tell", role="inspect")
def told(ask: Ask, given: ToldOf) -> Went:
    """Keep that somebody was told of the danger."""
    found = finding_here(ask)
    if not given.who.strip():
        raise Refusal(422, "who-needed", "Who was told? Write the name.", field="who")
    answers.tell(
        ask.ledger, ask.site.name, str(found.id), who=given.who, by=ask.who.name, at=datetime.now(UTC),
        words=given.words,
    )  # fmt: skip
    return Went(f"{ask.site.path}/finding/{found.id}", str(found.id), f"It is kept that {given.who.strip()} was told.")


@page.deed("/site/{site}/finding/{id}/take-back", role="inspect")
def taken_back(ask: Ask, given: TakenBack) -> Went:
    """Take back what was said by mistake; it stays to be read, and counts no more."""
    found, now = finding_here(ask), datetime.now(UTC)
    if given.what == "told":
        sentence = take_back_told(ask.ledger, found, given.of, who=ask.who.name, at=now)
    else:
        _, sentence = take_back_answer(ask.ledger, found, given.of, who=ask.who.name, at=now)
    where = "#answers" if given.what == "answer" else ""
    return Went(f"{ask.site.path}/finding/{found.id}{where}", str(found.id), sentence.text)


@page.raw("/site/{site}/finding/{id}/card")
def card(ask: Ask) -> Response:
    """The card for the fitter, A6 as PDF; its QR code leads to this tag as the settings say, else holds the tag."""
    found = finding_here(ask)
    with ask.ledger.reading() as connection:
        story = story_of(connection, found, ask.site.now())
    photo = _photo(ask, story.photo_of)
    made = card_pdf(story, ask.site.name, tag_link(ask) + story.tag if story.tag else "", photo)
    name = f'inline; filename="card-{story.tag or str(found.id)[:8]}.pdf"'
    return Response(made, media_type="application/pdf", headers={"Content-Disposition": name})


@page.raw("/site/{site}/finding/{id}/qr")
def qr(ask: Ask) -> Response:
    """The point's tag as a QR code, SVG."""
    found = finding_here(ask)
    with ask.ledger.reading() as connection:
        tag = story_of(connection, found, ask.site.now()).tag
    if tag is None:
        raise not_found("tag")
    return Response(
        qr_svg(tag_link(ask) + tag), media_type="image/svg+xml", headers={"Content-Security-Policy": FILE_POLICY}
    )


def _photo(ask: Ask, reading_id: uuid.UUID | None) -> bytes | None:
    from earwitness.ledger import readings

    if reading_id is None:
        return None
    with ask.ledger.reading() as connection:
        sha256 = readings.reading(connection, reading_id).photo_sha256
    path = ask.ledger.store.path(sha256) if sha256 else None
    return path.read_bytes() if path is not None and path.is_file() else None
