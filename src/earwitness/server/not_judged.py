"""What was brought and is not judged: why, and how it is begun again or thrown away.

Files that came up stay on the disk until somebody says so: what was accepted is not lost by a failure.
"""

from __future__ import annotations

import shutil
import tomllib
import uuid
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from sqlalchemy import delete, func, select, update

from earwitness.report.format import counted
from earwitness.sentence import say
from earwitness.server.ask import Ask, Went
from earwitness.server.entrance import JUDGE, inside, may_bring, may_file_at
from earwitness.server.house import House
from earwitness.server.jobs import JobState, state_of
from earwitness.server.page import Page
from earwitness.server.refusal import Refusal, not_found
from earwitness.server.tables import job, upload, upload_file

page = Page("not-judged", title="Not judged", under="surveys")
QUIET = timedelta(minutes=2)  # an upload to which nothing was added for so long is not coming up any more
MOST = 20


@dataclass(frozen=True)
class NotJudged:
    """Something that waits for a person. `again` and `away` are the addresses of the two deeds."""

    what: str
    at: datetime
    who: str
    why: str
    again: str
    away: str


def not_judged(ask: Ask, kinds: Collection[str]) -> list[NotJudged]:
    """Failed jobs of these kinds, and uploads that were cut off, of whoever asks; of everybody for who administers."""
    everybody = ask.who.may("administer", None)
    site = ask.site_here.id if ask.site_here else None
    j, u = job.c, upload.c
    failed = select(job, u.id.label("upload")).select_from(job.outerjoin(upload, u.job_id == j.id))
    failed = failed.where(j.state == "failed", j.kind.in_(kinds), (j.site_id == site) | j.site_id.is_(None))
    open_ = select(upload, func.count(upload_file.c.path).label("files"))
    open_ = open_.join(upload_file, upload_file.c.upload_id == u.id).where(u.job_id.is_(None)).group_by(*upload.c)
    if not everybody:
        failed, open_ = failed.where(j.who == ask.who.name), open_.where(u.who == ask.who.name)
    with ask.ledger.reading() as connection:
        rows = connection.execute(failed.order_by(j.asked_at.desc()).limit(MOST)).all()
        cut_off = connection.execute(open_.order_by(u.begun_at.desc()).limit(MOST)).all()
    found = [
        NotJudged(
            _title(ask.house, r.upload) if r.upload else "A correction", r.asked_at, r.who,
            _sentence(str((r.error or {}).get("text", ""))), f"/job/{r.id}/again", f"/job/{r.id}/leave",
        )
        for r in rows
    ]  # fmt: skip
    for r in cut_off:
        if not _quiet(ask.house, r.id):
            continue
        text = "{files} came up and then nothing more: the upload was cut off, or its window was closed."
        why = say("upload-cut-off", text, files=counted(r.files, "file")).text
        title = _title(ask.house, r.id)
        found.append(NotJudged(title, r.begun_at, r.who, why, f"/upload/{r.id}/again", f"/upload/{r.id}/leave"))
    return found


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")


def _title(house: House, of: uuid.UUID) -> str:
    """As its survey.toml calls it."""
    try:
        text = (house.uploads.survey_folder(of) / "survey.toml").read_text("utf-8", errors="replace")
        title = tomllib.loads(text).get("survey", {}).get("title")
    except (OSError, tomllib.TOMLDecodeError, AttributeError):
        title = None
    return str(title)[:120] if title else "An upload without a title"


def _quiet(house: House, of: uuid.UUID) -> bool:
    folder = house.uploads.survey_folder(of).parent
    try:
        last = max(p.stat().st_mtime for p in (folder, folder / "survey"))
    except OSError:
        return True
    return datetime.now(UTC) - datetime.fromtimestamp(last, UTC) > QUIET


@dataclass(frozen=True)
class Back:
    """The page to go back to."""

    to: str = "/"


@page.deed("/job/{id}/again", role="inspect")
def job_again(ask: Ask, given: Back) -> Went:
    """Begin work that failed again, from its start."""
    of = _failed(ask)
    with ask.ledger.writing() as connection:
        here, now = (job.c.id == of.id) & (job.c.state == "failed"), datetime.now(UTC)
        afresh = {"state": "waiting", "asked_at": now, "beat_at": now, "tries": 0, "done": 0, "of": 0, "error": None}
        connection.execute(update(job).where(here).values(**afresh))
    ask.house.wake()
    return Went(f"{inside(given.to)}?job={of.id}", str(of.id), "It is begun again.")


@page.deed("/job/{id}/leave", role="inspect")
def job_left(ask: Ask, given: Back) -> Went:
    """Give up work that failed; the files of its upload are thrown away."""
    of = _failed(ask)
    with ask.ledger.writing() as connection:
        uploads = connection.scalars(select(upload.c.id).where(upload.c.job_id == of.id)).all()
        connection.execute(delete(upload).where(upload.c.job_id == of.id))
        connection.execute(delete(job).where(job.c.id == of.id, job.c.state == "failed"))
    _throw_away(ask.house, uploads)
    return Went(inside(given.to), str(of.id), "It is thrown away.")


@page.deed("/upload/{id}/again", role="inspect")
def upload_again(ask: Ask, given: Back) -> Went:
    """Judge what came up of an upload that was cut off."""
    of, who = _cut_off(ask)
    made = ask.house.uploads.close(of, who, JUDGE, may_file_at(ask))
    ask.house.wake()
    return Went(f"{inside(given.to)}?job={made}", str(made), "It is being judged.")


@page.deed("/upload/{id}/leave", role="inspect")
def upload_left(ask: Ask, given: Back) -> Went:
    """Throw away what came up of an upload that was cut off."""
    of, _ = _cut_off(ask)
    with ask.ledger.writing() as connection:
        connection.execute(delete(upload).where(upload.c.id == of, upload.c.job_id.is_(None)))
    _throw_away(ask.house, [of])
    return Went(inside(given.to), str(of), "It is thrown away.")


def _failed(ask: Ask) -> JobState:
    may_bring(ask)
    found = state_of(ask.ledger, ask.id(what="job"))
    if found.who != ask.who.name and not ask.who.may("administer", None):
        raise not_found("job")
    if found.state != "failed":
        raise Refusal(409, "job-not-failed", "This was begun again already, or it is done; load the page anew.")
    return found


def _cut_off(ask: Ask) -> tuple[uuid.UUID, str]:
    may_bring(ask)
    of = ask.id(what="upload")
    with ask.ledger.reading() as connection:
        found = connection.execute(select(upload).where(upload.c.id == of)).first()
    if found is None or (found.who != ask.who.name and not ask.who.may("administer", None)):
        raise not_found("upload")
    if found.job_id is not None:
        raise Refusal(409, "upload-closed", "This upload is being judged already; load the page anew.")
    return of, found.who


def _throw_away(house: House, uploads: Sequence[uuid.UUID]) -> None:
    for of in uploads:
        shutil.rmtree(house.uploads.folder / str(of), ignore_errors=True)
