"""Reports: of a survey or a period; looked at here in words, made with pictures and sound, and taken away."""

from __future__ import annotations

import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

from starlette.responses import FileResponse, Response

from earwitness.ledger import Ledger, surveys
from earwitness.report import sheets
from earwitness.report.build import build
from earwitness.report.format import counted
from earwitness.server import Ask, House, Page, Refusal, Went, jobs
from earwitness.server.guard import FILE_POLICY
from earwitness.server.page import Progress
from earwitness.server.refusal import not_found
from earwitness.work import desk_reports
from earwitness.work.desk_reports import About
from earwitness.work.desk_settings import site_with

page = Page("reports", title="Reports", order=70)
SHOWN = 200
MAKE = "make-report"
LOOKED_AT = 120  # readings whose report is shown without being asked: in words, well under 1 MB
KEPT = 20  # reports that stay made
PDF, HTML = "application/pdf", "text/html; charset=utf-8"


@dataclass(frozen=True)
class SurveyChoice:
    id: UUID
    title: str
    day: date
    inspector: str


@dataclass(frozen=True)
class File:
    """A file to take away; `bytes` where it is made already."""

    name: str
    address: str
    bytes: int | None = None


@dataclass(frozen=True)
class Reports:
    """What a report can be made of, and the one that is chosen."""

    heading: str
    surveys: Sequence[SurveyChoice]
    chosen: str = ""  # a survey's id, or empty
    first: str = ""  # of the period, or empty
    last: str = ""
    about: str = ""
    files: Sequence[File] = ()
    made: bool = False  # with pictures and sound
    preview: str = ""  # address of the report in words, or empty
    readings: int = 0
    job: jobs.JobState | None = None

    @property
    def at_once(self) -> bool:
        """Whether the preview is short enough to be shown unasked."""
        return self.readings <= LOOKED_AT


@dataclass(frozen=True)
class Wanted:
    """A survey, or a period."""

    survey: str = ""
    first: str = ""
    last: str = ""


@page.view("/site/{site}/reports")
def show(ask: Ask) -> Reports:
    """Choose a survey or a period; look at its report."""
    with ask.ledger.reading() as connection:
        filed = surveys.surveys(connection, ask.site.id, limit=SHOWN)
    lines = [SurveyChoice(s.id, s.title, s.day, s.inspector) for s in filed]
    chosen, first, last = (ask.query.get(k, "").strip() for k in ("survey", "from", "to"))
    if not filed:
        return Reports("No survey is filed yet: there is nothing to report", ())
    if first or last:
        first, last = (d.isoformat() for d in _period(first, last))
        chosen = ""
    else:
        chosen = chosen or str(filed[0].id)
    about = _about(ask.ledger, ask.site.id, chosen, first, last)
    if about is None and chosen:
        raise not_found("survey")
    if about is None:
        return Reports("No survey falls into this period", lines, chosen, first, last)
    return _shown(ask, about, lines, chosen, first, last)


def _shown(ask: Ask, about: About, lines: Sequence[SurveyChoice], chosen: str, first: str, last: str) -> Reports:
    base = f"{ask.site.path}/reports/" + (f"survey/{chosen}" if chosen else f"period/{first}/{last}")
    title = about.title if chosen else f"{counted(len(about.surveys), 'survey')} from {first} to {last}"
    sheet_files = [File("Repair list as XLSX", f"{base}/repair-list.xlsx"),
                   File("Repair list as CSV", f"{base}/repair-list.csv")]  # fmt: skip
    made = [(name, _folder(ask.ledger, about) / f"report.{end}", f"{base}/whole.{end}")
            for name, end in (("HTML, to send", "html"), ("PDF, to print", "pdf"))]  # fmt: skip
    there = all(path.is_file() for _, path, _ in made)
    files = [File(name, address, path.stat().st_size) for name, path, address in made] if there else []
    job = jobs.asked_for(ask.ledger, ask.query.get("job"))
    return Reports(f"The report on {title}", lines, chosen, first, last, title, [*files, *sheet_files], there,
                   f"{base}/report.html", about.readings, job)  # fmt: skip


def _about(ledger: Ledger, site_id: UUID, survey: str, first: str, last: str) -> About | None:
    with ledger.reading() as connection:
        site = site_with(connection, site_id)
        if not survey:
            return desk_reports.of_period(connection, site, date.fromisoformat(first), date.fromisoformat(last))
        try:
            return desk_reports.of_survey(connection, site, UUID(survey))
        except ValueError:
            return None


def _folder(ledger: Ledger, about: About) -> Path:
    """Where the files of this report lie, once made; another word of the ledger gives another folder."""
    return ledger.store.folder.with_suffix(".reports") / about.stamp


def _period(first: str, last: str) -> tuple[date, date]:
    today = datetime.now(UTC).date()
    try:
        end = date.fromisoformat(last) if last else today
        begin = date.fromisoformat(first) if first else end - timedelta(days=365)
    except ValueError:
        raise Refusal(422, "period-wrong", "A period goes from one date to another, such as 2026-01-01.") from None
    if begin > end:
        raise Refusal(422, "period-wrong", "The period ends before it begins; put its first day first.")
    return begin, end


def _here(ask: Ask) -> About:
    if "id" in ask.path:
        found = _about(ask.ledger, ask.site.id, str(ask.id(what="survey")), "", "")
    else:
        first, last = (d.isoformat() for d in _period(ask.path["first"], ask.path["last"]))
        found = _about(ask.ledger, ask.site.id, "", first, last)
    if found is None:
        raise not_found("survey")
    return found


def _in_words(ask: Ask) -> desk_reports.Content:
    about = _here(ask)
    with ask.ledger.reading() as connection:
        site = site_with(connection, ask.site.id)
    return desk_reports.in_words(ask.ledger, site, about)


@page.deed("/site/{site}/reports/make", role="look")
def make(ask: Ask, given: Wanted) -> Went:
    """Make the HTML and the PDF with pictures and sound, in the background; made once, they stay."""
    first, last = given.first, given.last
    if not given.survey:
        first, last = (d.isoformat() for d in _period(first, last))
    about = _about(ask.ledger, ask.site.id, given.survey, first, last)
    if about is None:
        raise not_found("survey")
    to = f"{ask.site.path}/reports?" + (f"survey={given.survey}" if given.survey else f"from={first}&to={last}")
    if (_folder(ask.ledger, about) / "report.pdf").is_file():
        return Went(to)
    asked = {"site": str(ask.site.id), "survey": given.survey, "first": first, "last": last, "address": to}
    with ask.ledger.writing() as connection:
        job = jobs.enqueue(connection, MAKE, ask.who.name, asked, ask.site.id)
    ask.house.wake()
    return Went(f"{to}&job={job}", str(job))


@page.job(MAKE)
def make_report(house: House, asked: Mapping[str, Any], progress: Progress) -> Mapping[str, Any]:
    site_id = UUID(asked["site"])
    about = _about(house.ledger, site_id, asked["survey"], asked["first"], asked["last"])
    if about is None:
        raise not_found("survey")
    with house.ledger.reading() as connection:
        site = site_with(connection, site_id)
    folder = _folder(house.ledger, about)
    desk_reports.make(house.ledger, site, about, folder, jobs=house.judging_processes, progress=progress)
    _forget(folder.parent)
    return {"address": asked["address"]}


def _forget(folder: Path) -> None:
    """All but the latest reports."""
    made = sorted((p for p in folder.iterdir() if p.is_dir()), key=lambda p: p.stat().st_mtime, reverse=True)
    for old in made[KEPT:]:
        shutil.rmtree(old, ignore_errors=True)


def _headers(kind: str, name: str, take: bool) -> dict[str, str]:
    headers = {"Content-Disposition": f'{"attachment" if take else "inline"}; filename="{name}"'}
    if kind == HTML:  # shown in a frame of this server's own page, without scripts
        headers |= {"Content-Security-Policy": FILE_POLICY, "X-Frame-Options": "SAMEORIGIN"}
    return headers


def _made(ask: Ask, name: str, kind: str, take: bool) -> Response:
    path = _folder(ask.ledger, _here(ask)) / name
    if not path.is_file():
        text = "This report is not made yet, or something was filed since; make it on the page of reports."
        raise Refusal(409, "report-not-made", text)
    return FileResponse(path, media_type=kind, headers=_headers(kind, name, take))


@page.raw("/site/{site}/reports/survey/{id}/report.html")
@page.raw("/site/{site}/reports/period/{first}/{last}/report.html")
def in_words(ask: Ask) -> Response:
    """The report in words and photos, to look at."""
    from earwitness.report.html import html

    found = _in_words(ask)
    data = html(build(found.findings, found.exhibits)).encode("utf-8")
    return Response(data, media_type=HTML, headers=_headers(HTML, "report.html", take=False))


@page.raw("/site/{site}/reports/survey/{id}/whole.html")
@page.raw("/site/{site}/reports/period/{first}/{last}/whole.html")
def as_html(ask: Ask) -> Response:
    """The report as one HTML file with pictures and sound, once it is made."""
    return _made(ask, "report.html", HTML, ask.query.get("look") != "yes")


@page.raw("/site/{site}/reports/survey/{id}/whole.pdf")
@page.raw("/site/{site}/reports/period/{first}/{last}/whole.pdf")
def as_pdf(ask: Ask) -> Response:
    """The report as PDF with pictures, once it is made."""
    return _made(ask, "report.pdf", PDF, take=True)


@page.raw("/site/{site}/reports/survey/{id}/repair-list.csv")
@page.raw("/site/{site}/reports/period/{first}/{last}/repair-list.csv")
def as_csv(ask: Ask) -> Response:
    """The repair list as CSV."""
    kind = "text/csv; charset=utf-8"
    data = sheets.as_csv(sheets.repair_list(_in_words(ask).findings))
    return Response(data, media_type=kind, headers=_headers(kind, "repair-list.csv", take=True))


@page.raw("/site/{site}/reports/survey/{id}/repair-list.xlsx")
@page.raw("/site/{site}/reports/period/{first}/{last}/repair-list.xlsx")
def as_xlsx(ask: Ask) -> Response:
    """The repair list, all readings and the problems as a workbook."""
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    data = sheets.as_xlsx(_in_words(ask).findings)
    return Response(data, media_type=kind, headers=_headers(kind, "repair-list.xlsx", take=True))
