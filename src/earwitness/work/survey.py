"""The main job: a survey folder in; findings, a ranked repair list and the report out."""

from __future__ import annotations

import json
import os
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import partial
from multiprocessing import get_context, parent_process
from pathlib import Path
from typing import Any

from earwitness import __version__
from earwitness.plant.assessment import Assessment
from earwitness.plant.reading import Problem, Reading
from earwitness.plant.survey import Survey
from earwitness.report.counts import counts
from earwitness.report.exhibit import Exhibit
from earwitness.report.format import SPACE
from earwitness.work.assess import assess
from earwitness.work.calibrate import calibration_of
from earwitness.work.economy import economy_of
from earwitness.work.fill import filled
from earwitness.work.judge import Judged, judge_reading, unjudged, withhold_duplicates
from earwitness.work.output import replacing
from earwitness.work.rank import ranked
from earwitness.work.totals import counted, shared_out, totals

SCHEMA = "earwitness.survey/1"
Progress = Callable[[int, int], None]  # readings done, readings in all
FEW = 8  # so few recordings are judged in this process: a pool would take longer to start


@dataclass(frozen=True)
class SurveyResult:
    """What a survey was judged to be: the contract's file as a dictionary, and what the report shows beside it."""

    survey: Survey
    assessments: tuple[Assessment, ...]
    findings: Mapping[str, Any]
    exhibits: Mapping[str, Exhibit]

    @property
    def problems(self) -> int:
        return len(self.findings["problems"])


def judge_survey(
    survey: Survey, *, jobs: int = 1, seed: int = 0, exhibits: bool = True, progress: Progress | None = None
) -> SurveyResult:
    """Judge every reading of a survey that was read, and rank them."""
    survey = replace(survey, readings=tuple(filled(r, survey) for r in survey.readings))
    listens = [r for r in survey.readings if r.status == "read"]
    context = replace(survey, readings=(), problems=())
    judged = dict(zip((r.row for r in listens), _judge_all(listens, context, jobs, exhibits, progress), strict=True))
    judged = withhold_duplicates(survey.readings, judged)
    economy = economy_of(survey)
    site = calibration_of(survey)
    fitted = site.calibration if site else None
    assessments = counted([assess(r, judged.get(r.row), survey, economy, fitted) for r in survey.readings])
    summed = totals(assessments, survey, economy, seed)
    urgent, assessments = ranked(shared_out(assessments, summed.given_back))
    shown = {r.reading: _exhibit(judged[r.row], r, survey) for r in listens} if exhibits else {}
    problems = [
        *survey.problems,
        *(site.problems if site else ()),
        *(p for a in assessments for p in (*a.reading.problems, *a.problems)),
    ]
    findings = {
        "schema": SCHEMA,
        "made": {
            "version": __version__,
            "at": datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
            "seed": seed,
            "inputs_sha256": survey.inputs_sha256,
            "settings": {part: f"{given} (from: site settings)" for part, given in survey.from_site.items()},
        },
        "survey": _about(survey),
        "urgent": urgent,
        "readings": [a.as_json() for a in assessments],
        "problems": _each_once(problems),
        "notes": [s.as_json() for s in (*survey.notes, *economy.notes, *summed.notes)],
        "totals": {name: q.as_json() for name, q in summed.quantities.items()},
    }
    if summed.reconciliation is not None:
        findings["reconciliation"] = summed.reconciliation
    return SurveyResult(survey, tuple(assessments), findings, shown)


def run_survey(
    folder: str | os.PathLike[str],
    out: str | os.PathLike[str],
    *,
    reports: str = "all",
    jobs: int = 1,
    seed: int = 0,
    progress: Progress | None = None,
) -> SurveyResult:
    """`earwitness survey`: read the folder, judge it, write the outputs whole into `out`."""
    from earwitness.intake import read_survey

    result = judge_survey(
        read_survey(Path(folder)), jobs=jobs, seed=seed, exhibits=reports != "none", progress=progress
    )
    with replacing(Path(out)) as staging:
        write_outputs(result.findings, result.exhibits, staging, reports)
    return result


def write_outputs(findings: Mapping[str, Any], exhibits: Mapping[str, Exhibit], folder: Path, reports: str) -> None:
    """findings.json, the repair list and the reports asked for, into a folder."""
    from earwitness.report.write import write

    text = json.dumps(findings, ensure_ascii=False, indent=1, allow_nan=False)
    (folder / "findings.json").write_text(text + "\n", encoding="utf-8")
    write(findings, exhibits, folder, reports)  # type: ignore[arg-type]


def _judge_all(
    readings: Sequence[Reading], survey: Survey, jobs: int, exhibits: bool, progress: Progress | None
) -> Iterator[Judged]:
    """Judged readings in order; recordings are decoded and judged in other processes where there are many."""
    work = partial(judge_reading, survey=survey, exhibits=exhibits)
    found = _in_pool(work, readings, jobs) if jobs > 1 and len(readings) > FEW else map(work, readings)
    for done, judged in enumerate(found, 1):
        if progress:
            progress(done, len(readings))
        yield judged


def _in_pool(work: Callable[[Reading], Judged], readings: Sequence[Reading], jobs: int) -> Iterator[Judged]:
    """A recording that kills its process costs only its own judgement: the others are judged again one by one."""
    pool = ProcessPoolExecutor(jobs, mp_context=get_context("spawn"), initializer=_hush)
    done = 0
    try:
        for judged in pool.map(work, readings, chunksize=max(1, min(8, len(readings) // (4 * jobs)))):
            yield judged
            done += 1
    except BrokenProcessPool:
        for reading in readings[done:]:
            with ProcessPoolExecutor(1, mp_context=get_context("spawn"), initializer=_hush) as alone:
                try:
                    yield alone.submit(work, reading).result()
                except BrokenProcessPool:
                    yield unjudged(reading)
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def _hush() -> None:
    """Decoders write remarks of their own to stderr; what matters comes back as a problem. And where the process that
    asked is killed, nobody waits for an answer: then this one ends too."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _exhibit(judged: Judged, reading: Reading, survey: Survey) -> Exhibit:
    traces = judged.judgement.traces if judged.judgement else ()
    photo = survey.folder / reading.photo if reading.photo else None
    if judged.excerpt is None:
        return Exhibit(traces, photo=photo)
    return Exhibit(traces, judged.excerpt.data, judged.excerpt.mime, photo)


def _about(survey: Survey) -> dict[str, Any]:
    i, c = survey.instrument, survey.conditions
    return {
        "title": survey.title,
        "site": survey.site,
        "date": survey.date,
        "inspector": survey.inspector,
        "qualification": survey.qualification,
        "instrument": {
            "receiver": i.receiver,
            "serial": i.serial,
            "sensor": i.sensor,
            "centre_hz": i.centre_hz,
            "last_check": i.last_check,
            "level_ref": i.level_ref,
        },
        "conditions": {
            "mains_hz": c.mains_hz,
            "temperature_k": c.temperature_k,
            "humidity": c.humidity,
            "ambient_pressure_abs": c.ambient_pressure_abs,
        },
    }


def _each_once(problems: Sequence[Problem]) -> list[dict[str, Any]]:
    """Problems in the order of the sheet, none twice."""
    unique = {(p.row, p.column, p.sentence.text): p for p in problems}
    return [p.as_json() for p in sorted(unique.values(), key=lambda p: (p.row is not None, p.row or 0))]


def closing_line(result: SurveyResult) -> str:
    """What the command says last, on stderr."""
    urgent = result.findings["urgent"]
    rows = ((a.verdict, a.rank is not None, a.reading.reading in urgent)
            for a in result.assessments if a.reading.repeats is None)  # fmt: skip
    return counts(rows).words(result.problems).replace(SPACE, " ") + "."
