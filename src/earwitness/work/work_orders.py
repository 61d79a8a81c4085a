"""Work orders of a plan: rows in the columns that the plant's own system wants, cards to take along, a calendar."""

from __future__ import annotations

import io
import json
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from importlib.resources import files
from pathlib import Path

from earwitness.errors import InputError
from earwitness.report.sheets import Cell, Sheet, as_csv, guarded
from earwitness.work.before_work import before_work
from earwitness.work.calendar import Event, calendar
from earwitness.work.desk_plan import spot, what
from earwitness.work.plan import Job, Plan
from earwitness.work.tags import qr_svg

PART = "work_orders"  # of the site's settings
FIELDS: Mapping[str, str] = {
    "order": "number in the list, from 1",
    "week": "week of the plan, from 1",
    "start": "first day of that week",
    "end": "last working day of that week",
    "what": "what was found, in words",
    "where": "area, point and location",
    "area": "area",
    "point": "name of the point",
    "location": "exact spot",
    "tag": "tag that this program prints",
    "plant tag": "the plant's own number there",
    "craft": "who mends it",
    "hours": "hours without set-ups",
    "cost": "parts and help",
    "isolation": "what must be isolated",
    "access": "what it takes to get there",
    "parts": "parts",
    "shutdown": "yes where it needs one",
    "saving": "what mending is expected to avoid in a year",
    "saving low": "lower end of its interval, 95 %",
    "saving high": "upper end",
    "currency": "currency of the saving",
    "probability": "how sure it is that it is there",
    "finding": "identifier of the finding",
}
USUAL = "\n".join(
    f"{name} = {name}" for name in ("start", "what", "where", "plant tag", "craft", "hours", "parts", "finding")
)
ENDINGS = {b"\xff\xd8\xff": "jpg", b"\x89PNG": "png"}


@dataclass(frozen=True)
class Column:
    """A column of the plant's system: its head there, and a field of ours or a fixed text in quotes."""

    head: str
    gives: str


def columns_of(mapping: str) -> list[Column]:
    """A mapping in lines, `THEIR COLUMN = field` or `THEIR COLUMN = "a fixed text"`.

    >>> columns_of('Kurztext = what\\nWerk = "0100"')
    [Column(head='Kurztext', gives='what'), Column(head='Werk', gives='"0100"')]
    """
    out = []
    for line in filter(None, (part.strip() for part in mapping.splitlines())):
        head, equals, gives = (p.strip() for p in line.partition("="))
        fixed = len(gives) >= 2 and gives[0] == gives[-1] == '"'
        if not head or not equals or not (fixed or gives in FIELDS):
            raise InputError("columns", line[:80], "a line THEIR COLUMN = field, with one of: " + ", ".join(FIELDS))
        out.append(Column(head, gives))
    if not 1 <= len(out) <= 60:
        raise InputError("columns", f"{len(out)} lines", "1 to 60 lines")
    return out


def orders(made: Plan, columns: Sequence[Column], first: date) -> Sheet:
    lines = []
    for number, (week, job) in enumerate(jobs_in_order(made), 1):
        row = _fields(job, number, week, first)
        lines.append(tuple(c.gives[1:-1] if c.gives.startswith('"') else row[c.gives] for c in columns))
    return Sheet(tuple(c.head for c in columns), tuple(lines))


def jobs_in_order(made: Plan) -> list[tuple[int, Job]]:
    return [(w, j) for w in range(1, made.offer.weeks + 1) for j in made.in_week(w)]


def _fields(job: Job, number: int, week: int, first: date) -> dict[str, Cell]:
    x, shared = job.listed, dict(b.split(": ", 1) for b in job.task.bundles)
    start = first + timedelta(weeks=week - 1)
    return {
        "order": number, "week": week, "start": start.isoformat(), "end": (start + timedelta(days=4)).isoformat(),
        "what": what(job), "where": spot(job), "area": x.area, "point": x.point, "location": x.location, "tag": x.tag,
        "plant tag": x.plant_tag, "craft": job.task.craft, "hours": job.task.hours, "cost": _cost(job),
        "isolation": shared.get("isolation"), "access": shared.get("access"), "parts": shared.get("parts"),
        "shutdown": "yes" if job.task.needs_shutdown else "no", **_saving(job),
        "currency": job.currency or None,
        "probability": None if job.probability is None else round(job.probability, 2), "finding": str(x.finding.id),
    }  # fmt: skip


def _saving(job: Job) -> dict[str, Cell]:
    """Two digits each; nothing where no reading says what it costs."""
    x = job.avoids.over(1.0) if job.has_money else None
    ends = {"saving": x.mean, "saving low": x.low, "saving high": x.high} if x else {}
    return {name: float(f"{ends[name]:.2g}") if ends else None for name in ("saving", "saving low", "saving high")}


def _cost(job: Job) -> Cell:
    """A number in the plan's currency, else with the currency that it is noted in."""
    repair = job.listed.finding.repair
    if job.task.cost or not repair.get("cost"):
        return job.task.cost or None
    return f"{repair['cost']:g} {repair.get('cost_currency') or ''}".strip()


def orders_csv(sheet: Sheet) -> bytes:
    return as_csv(sheet)


def orders_xlsx(sheet: Sheet, made: datetime) -> bytes:
    """One sheet; no cell becomes a formula or a link."""
    import xlsxwriter

    buffer = io.BytesIO()
    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False, "in_memory": True}
    book = xlsxwriter.Workbook(buffer, options)
    book.set_properties({"title": "Work orders", "created": made.replace(tzinfo=None)})
    page = book.add_worksheet("Work orders")
    bold = book.add_format({"bold": True})
    for column, head in enumerate(sheet.head):
        page.write_string(0, column, str(guarded(head)), bold)
    for row, line in enumerate(sheet.lines, 1):
        for column, value in enumerate(line):
            cell = guarded(value)
            if isinstance(cell, str):
                page.write_string(row, column, cell)
            elif cell is not None:
                page.write_number(row, column, cell)
    page.freeze_panes(1, 0)
    book.close()
    return buffer.getvalue()


def orders_ics(made: Plan, first: date, at: datetime) -> bytes:
    """One event a repair, Monday to Friday of its week; the same repair keeps its UID when it moves."""
    events = []
    for week, job in jobs_in_order(made):
        start = first + timedelta(weeks=week - 1)
        lines = [f"{job.task.craft}, {job.task.hours:g} h", *job.task.bundles, f"Tag {job.listed.tag or 'none'}"]
        uid = f"{job.listed.finding.id}@earwitness"
        said = f"{what(job)}: {job.listed.point}"
        events.append(Event(uid, start, start + timedelta(days=5), said, "\n".join(lines), spot(job)))
    return calendar(events, at)


def cards_pdf(made: Plan, first: date, photos: Mapping[str, Path], link: str) -> bytes:
    """Two cards a page, in the order of the plan: week, tag as a QR code, exact spot, photo, what it takes."""
    import typst

    with tempfile.TemporaryDirectory(prefix="earwitness-orders-") as name:
        folder, cards = Path(name), []
        for number, (week, job) in enumerate(jobs_in_order(made)):
            x = job.listed
            if x.tag:
                (folder / f"{number}.svg").write_text(qr_svg(link + x.tag), "utf-8")
            cards.append({
                "number": number, "tag": x.tag or "", "plant_tag": x.plant_tag or "", "what": what(job),
                "where": spot(job), "week": f"Week {week}, from {first + timedelta(weeks=week - 1):%d %B %Y}",
                "work": ", ".join([f"{job.task.craft} {job.task.hours:g} h", *job.task.bundles]),
                **before_work(job.heard), "photo": _photo(folder, number, photos.get(str(x.finding.id))),
            })  # fmt: skip
        (folder / "orders.json").write_text(json.dumps(cards, ensure_ascii=False), "utf-8")
        template = folder / "work_orders.typ"
        template.write_text(files("earwitness.work").joinpath("work_orders.typ").read_text("utf-8"), "utf-8")
        done = typst.Compiler(input=str(template), root=str(folder)).compile(format="pdf", timestamp=0)
    assert isinstance(done, bytes)
    return done


def _photo(folder: Path, number: int, photo: Path | None) -> str:
    """The photo's name beside the template; one that is neither JPEG nor PNG is left out."""
    if photo is None or not photo.is_file():
        return ""
    data = photo.read_bytes()
    ending = next((e for magic, e in ENDINGS.items() if data.startswith(magic)), None)
    if ending is None:
        return ""
    (folder / f"photo-{number}.{ending}").write_bytes(data)
    return f"photo-{number}.{ending}"
