"""A report from what is filed: of one survey, or of a period with the last word on each point.

What it says comes from the judgements as they are filed; sums, reconciliation, pictures and files are made by the code
that makes those of `earwitness survey`.
"""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, tzinfo
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, func, select

from earwitness import __version__
from earwitness.ledger import Ledger, readings, schema
from earwitness.ledger import findings as ledger_findings
from earwitness.ledger.answers import said
from earwitness.ledger.readings import WITHDRAWN, FiledReading
from earwitness.plant.site import Site
from earwitness.plant.survey import Survey
from earwitness.report.exhibit import Exhibit
from earwitness.sentence import Sentence, say
from earwitness.work.answers import record_of_told
from earwitness.work.as_filed import amounts_as_filed, settings_as_filed
from earwitness.work.desk_exhibits import MOST, photo_of, pictured, with_block
from earwitness.work.desk_settings import SEED
from earwitness.work.economy import economy_of
from earwitness.work.output import replacing
from earwitness.work.programme import programme, told
from earwitness.work.rank import merit_of_result
from earwitness.work.survey import SCHEMA, Progress, write_outputs
from earwitness.work.survey_into_ledger import taught
from earwitness.work.totals import totals

MOST_SURVEYS = 200


@dataclass(frozen=True)
class About:
    """What a report is made of: surveys of a site, the latest first; `stamp` changes whenever the report would."""

    surveys: Sequence[Any]  # rows of the table of surveys
    title: str
    readings: int
    stamp: str

    @property
    def several(self) -> bool:
        return len(self.surveys) > 1


@dataclass(frozen=True)
class Content:
    """What `report.write` takes: findings in the contract's shape, and what is shown beside a reading."""

    findings: Mapping[str, Any]
    exhibits: Mapping[str, Exhibit]


Told = Mapping[str, tuple[uuid.UUID, FiledReading]]  # by its name in the report, the survey and the reading


def of_survey(connection: Connection, site: Site, survey_id: uuid.UUID) -> About | None:
    """None where the site has no such survey."""
    s = schema.survey
    row = connection.execute(select(s).where(s.c.id == survey_id, s.c.site_id == site.id)).first()
    return None if row is None else _about(connection, site, [row], str(row.title))


def of_period(connection: Connection, site: Site, first: date, last: date) -> About | None:
    """Of each point the latest reading of the period; None where no survey falls into it."""
    s = schema.survey
    asked = select(s).where(s.c.site_id == site.id, s.c.day.between(first, last)).order_by(s.c.day.desc(), s.c.id)
    rows = connection.execute(asked.limit(MOST_SURVEYS)).all()
    return _about(connection, site, rows, f"{first.isoformat()} to {last.isoformat()}") if rows else None


def _about(connection: Connection, site: Site, rows: Sequence[Any], title: str) -> About:
    r, a, f, t = schema.reading.c, schema.assessment.c, schema.finding.c, schema.finding_step.c
    of = [row.id for row in rows]
    judged = schema.assessment.join(schema.reading, r.id == a.reading_id)
    count, last = connection.execute(
        select(func.count(), func.max(a.made_at))
        .select_from(judged)
        .where(r.survey_id.in_(of), a.current, r.status != WITHDRAWN)
    ).one()
    steps = schema.finding_step.join(schema.finding, f.id == t.finding_id)
    step = connection.execute(select(func.count(), func.max(t.at)).select_from(steps).where(f.site_id == site.id)).one()
    inputs = [(str(row.id), row.inputs_sha256, row.settings_toml) for row in rows]
    here = select(schema.site.c.settings, schema.site.c.timezone).where(schema.site.c.id == site.id)
    settings, zone = connection.execute(here).one()
    stamp = repr(
        (__version__, title, inputs, count, str(last), *map(str, step), said(connection, site.id), settings, zone)
    )
    return About(rows, title, count, hashlib.sha256(stamp.encode()).hexdigest()[:32])


def in_words(ledger: Ledger, site: Site, about: About) -> Content:
    """All that the report says, with photos and without what must be made from recordings."""
    findings, of = _content(ledger, site, about)
    photos = {name: photo for name, (_, r) in of.items() if (photo := photo_of(ledger, r)) is not None}
    listed = with_block(findings)[:MOST]
    return Content(findings, {name: Exhibit(photo=photos[name]) for name in listed if name in photos})


def whole(ledger: Ledger, site: Site, about: About, *, jobs: int = 1, progress: Progress | None = None) -> Content:
    """With the pictures that show the reasons, and the sound."""
    findings, of = _content(ledger, site, about)
    wanted = with_block(findings)
    shown = [name for name in wanted[:MOST] if name in of]
    by_survey: dict[uuid.UUID, list[str]] = {}
    for name in shown:
        by_survey.setdefault(of[name][0], []).append(name)
    exhibits: dict[str, Exhibit] = {}
    for survey_id, names in by_survey.items():
        before = len(exhibits)
        step = (lambda done, _, before=before: progress(before + done, len(shown))) if progress else None
        made = pictured(ledger, survey_id, [of[n][1] for n in names], jobs=jobs, progress=step)
        exhibits |= {name: made[of[name][1].name] for name in names}
    if len(wanted) > MOST:
        findings["notes"] = [*findings["notes"], _first_only(MOST, len(wanted)).as_json()]
    return Content(findings, exhibits)


def make(
    ledger: Ledger, site: Site, about: About, out: Path, *, jobs: int = 1, progress: Progress | None = None
) -> None:
    """The files of `earwitness survey` into `out`, from the ledger."""
    content = whole(ledger, site, about, jobs=jobs, progress=progress)
    with replacing(out) as staging:
        write_outputs(content.findings, content.exhibits, staging, "all")


def _first_only(most: int, of: int) -> Sentence:
    text = "Pictures and sound stand at the first {most} of {of} findings; those of the others at each in the ledger."
    return say("first-with-pictures", text, most=most, of=of)


def _content(ledger: Ledger, site: Site, about: About) -> tuple[dict[str, Any], Told]:
    rows, several = about.surveys, about.several
    survey = settings_as_filed(ledger, rows[0].settings_toml)
    with ledger.reading() as connection:
        results, of = _last_words(connection, rows, several, site.zone)
        at = datetime.combine(max(row.day for row in rows), time.max, UTC)
        view = programme(connection, site, at=at)
    order = sorted(results, key=lambda r: merit_of_result(r).key)
    if several:
        place = {r["reading"]: n for n, r in enumerate((r for r in order if r.get("rank")), 1)}
        results = [{**r, "rank": place.get(r["reading"])} for r in results]
    economy = economy_of(survey)
    summed = totals([amounts_as_filed(r, survey, economy) for r in results], survey, economy, SEED)
    findings = {
        "schema": SCHEMA,
        "made": {
            "version": __version__, "at": max(row.filed_at for row in rows).strftime("%Y-%m-%dT%H:%M:%SZ"),
            "seed": SEED, "inputs_sha256": "" if several else rows[0].inputs_sha256,
            "settings": {part: f"{given} (from: site settings)" for part, given in survey.from_site.items()},
        },
        "survey": _heading(survey, about),
        "urgent": [str(r["reading"]) for r in order if r.get("urgent")],
        "readings": results,
        "problems": [p for row in rows for p in row.problems],
        "notes": [s.as_json() for s in (_NOTE, *survey.notes, *economy.notes, *summed.notes)],
        "totals": {name: q.as_json() for name, q in summed.quantities.items()},
        "programme": {**view.as_json(), "told": told(view)},
    }  # fmt: skip
    if summed.reconciliation is not None:
        findings["reconciliation"] = summed.reconciliation
    return taught(findings, ledger, site.name), of


_NOTE = say("report-from-ledger", "Made from the judgements as they are filed in the ledger.")


def _last_words(
    connection: Connection, rows: Sequence[Any], several: bool, zone: tzinfo
) -> tuple[list[dict[str, Any]], dict[str, tuple[uuid.UUID, FiledReading]]]:
    """What each reading was judged to be; of several surveys only the latest reading of each point and kind."""
    seen = set[tuple[Any, str]]()
    results: list[dict[str, Any]] = []
    of: dict[str, tuple[uuid.UUID, FiledReading]] = {}
    for row in rows:
        filed = [r for r in readings.readings_of_survey(connection, row.id) if r.status != WITHDRAWN]
        judged = readings.current_judgements(connection, [r.id for r in filed])
        for r in filed:
            if r.id not in judged or (several and r.point_id is not None and (r.point_id, r.kind) in seen):
                continue
            name = f"{row.day.isoformat()} {r.name}" if several else r.name
            results.append({**_reported(connection, judged[r.id].result, r, zone), "reading": name})
            of[name] = (row.id, r)
        seen |= {(r.point_id, r.kind) for r in filed}
    return results, of


def _reported(
    connection: Connection, result: Mapping[str, Any], reading: FiledReading, zone: tzinfo
) -> Mapping[str, Any]:
    """With whom the ledger says was told of a danger last, and when at the site, where the sheet names nobody."""
    repair = result.get("repair") or {}
    if not result.get("urgent") or repair.get("reported_to"):
        return result
    of = (ledger_findings.finding(connection, each) for each in ledger_findings.stepped_by(connection, reading.id))
    told = sorted((one for finding in of for one in record_of_told(connection, finding)), key=lambda one: one["at"])
    if not told:
        return result
    at = _at_site(told[-1]["at"], zone)
    return {**result, "repair": {**repair, "reported_to": told[-1]["who"], "reported_at": at}}


def _at_site(at: str, zone: tzinfo) -> str:
    """A moment by the site's clock; what is none, or is of no stated zone, stays as it is."""
    try:
        moment = datetime.fromisoformat(at)
    except ValueError:
        return at
    return moment.astimezone(zone).isoformat(timespec="minutes") if moment.tzinfo else at


def _heading(survey: Survey, about: About) -> dict[str, Any]:
    i, c = survey.instrument, survey.conditions
    days = sorted({row.day.isoformat() for row in about.surveys})
    return {
        "title": about.title,
        "site": survey.site,
        "date": f"{days[0]} to {days[-1]}" if about.several else days[0],
        "inspector": ", ".join(dict.fromkeys(str(row.inspector) for row in about.surveys)),
        "qualification": survey.qualification,
        "instrument": {n: getattr(i, n) for n in i.__dataclass_fields__},
        "conditions": {n: getattr(c, n) for n in ("mains_hz", "temperature_k", "humidity", "ambient_pressure_abs")},
    }
