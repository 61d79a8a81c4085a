"""Reports: of a survey or a period; looked at here, taken away as HTML, PDF and sheets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from uuid import UUID

from starlette.responses import Response

from earwitness.ledger import surveys
from earwitness.report import sheets
from earwitness.report.build import build
from earwitness.report.format import counted
from earwitness.server import Ask, Page, Refusal
from earwitness.server.guard import FILE_POLICY
from earwitness.server.refusal import not_found
from earwitness.work import desk_reports
from earwitness.work.desk_reports import Content
from earwitness.work.desk_settings import site_with

page = Page("reports", title="Reports", order=70)
SHOWN = 200


@dataclass(frozen=True)
class SurveyChoice:
    id: UUID
    title: str
    day: date
    inspector: str


@dataclass(frozen=True)
class File:
    name: str
    address: str


@dataclass(frozen=True)
class Reports:
    """What a report can be made of, and the one that is chosen."""

    heading: str
    surveys: Sequence[SurveyChoice]
    chosen: str  # a survey's id, or empty
    first: str  # of the period, or empty
    last: str
    about: str
    files: Sequence[File]
    preview: str  # address of the report to look at, or empty


@page.view("/site/{site}/reports")
def show(ask: Ask) -> Reports:
    """Choose a survey or a period; look at its report."""
    with ask.ledger.reading() as connection:
        filed = surveys.surveys(connection, ask.site.id, limit=SHOWN)
    lines = [SurveyChoice(s.id, s.title, s.day, s.inspector) for s in filed]
    chosen, first, last = (ask.query.get(k, "").strip() for k in ("survey", "from", "to"))
    if not filed:
        return Reports("No survey is filed yet: there is nothing to report", (), "", "", "", "", (), "")
    if first or last:
        period = _period(first, last)
        return _shown(ask, lines, "", *(d.isoformat() for d in period))
    return _shown(ask, lines, chosen or str(filed[0].id), "", "")


def _shown(ask: Ask, lines: Sequence[SurveyChoice], chosen: str, first: str, last: str) -> Reports:
    base = f"{ask.site.path}/reports/" + (f"survey/{chosen}" if chosen else f"period/{first}/{last}")
    if chosen and all(str(s.id) != chosen for s in lines):
        raise not_found("survey")
    among = [s for s in lines if str(s.id) == chosen or (first and first <= s.day.isoformat() <= last)]
    if not among:
        return Reports("No survey falls into this period", lines, chosen, first, last, "", (), "")
    about = among[0].title if chosen else f"{counted(len(among), 'survey')} from {first} to {last}"
    files = [File("HTML, to send", f"{base}/report.html?take=yes"), File("PDF, to print", f"{base}/report.pdf"),
             File("Repair list as XLSX", f"{base}/repair-list.xlsx"),
             File("Repair list as CSV", f"{base}/repair-list.csv")]  # fmt: skip
    return Reports(f"The report on {about}", lines, chosen, first, last, about, files, f"{base}/report.html")


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


def _content(ask: Ask) -> Content:
    with ask.ledger.reading() as connection:
        site = site_with(connection, ask.site.id)
    if "id" in ask.path:
        found = desk_reports.of_survey(ask.ledger, site, ask.id(what="survey"))
    else:
        found = desk_reports.of_period(ask.ledger, site, *_period(ask.path["first"], ask.path["last"]))
    if found is None:
        raise not_found("survey")
    return found


def _file(data: bytes, kind: str, name: str, take: bool = True) -> Response:
    headers = {"Content-Disposition": f'{"attachment" if take else "inline"}; filename="{name}"'}
    if kind.startswith("text/html"):  # shown in a frame of this server's own page, without scripts
        headers |= {"Content-Security-Policy": FILE_POLICY, "X-Frame-Options": "SAMEORIGIN"}
    return Response(data, media_type=kind, headers=headers)


@page.raw("/site/{site}/reports/survey/{id}/report.html")
@page.raw("/site/{site}/reports/period/{first}/{last}/report.html")
def as_html(ask: Ask) -> Response:
    """The report as one HTML file."""
    from earwitness.report.html import html

    found = _content(ask)
    data = html(build(found.findings, found.exhibits)).encode("utf-8")
    return _file(data, "text/html; charset=utf-8", "report.html", ask.query.get("take") == "yes")


@page.raw("/site/{site}/reports/survey/{id}/report.pdf")
@page.raw("/site/{site}/reports/period/{first}/{last}/report.pdf")
def as_pdf(ask: Ask) -> Response:
    """The report as PDF."""
    from earwitness.report.pdf import pdf

    found = _content(ask)
    return _file(pdf(build(found.findings, found.exhibits)), "application/pdf", "report.pdf")


@page.raw("/site/{site}/reports/survey/{id}/repair-list.csv")
@page.raw("/site/{site}/reports/period/{first}/{last}/repair-list.csv")
def as_csv(ask: Ask) -> Response:
    """The repair list as CSV."""
    data = sheets.as_csv(sheets.repair_list(_content(ask).findings))
    return _file(data, "text/csv; charset=utf-8", "repair-list.csv")


@page.raw("/site/{site}/reports/survey/{id}/repair-list.xlsx")
@page.raw("/site/{site}/reports/period/{first}/{last}/repair-list.xlsx")
def as_xlsx(ask: Ask) -> Response:
    """The repair list, all readings and the problems as a workbook."""
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
    return _file(sheets.as_xlsx(_content(ask).findings), kind, "repair-list.xlsx")
