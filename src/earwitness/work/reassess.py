"""Judge what is filed anew, from the files as they were filed, with the present version.

The folder of each survey is laid out again from the store, every file checked against its hash, and judged as it was
the first time. The same version gives the same result; a newer one stands beside the older judgement.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from earwitness import __version__
from earwitness.errors import EarwitnessError
from earwitness.ledger import Ledger, readings, sites, surveys
from earwitness.ledger.surveys import FiledSurvey
from earwitness.sentence import Sentence, say
from earwitness.work.file_survey import file_survey
from earwitness.work.findings import Event
from earwitness.work.stand_in import read_at_site
from earwitness.work.survey import SurveyResult, judge_survey

PAGE = 100
Judge = Callable[[Path, int], SurveyResult]


@dataclass(frozen=True)
class Turned:
    """A reading that is now judged otherwise."""

    survey: str
    reading: str
    before: str | None
    after: str | None


@dataclass(frozen=True)
class Reassessed:
    surveys: int
    same: int  # judgements that came out as they were filed, by the same version
    anew: int  # judgements by another version than before
    differing: int  # by the same version, from the same files, and yet different
    turned: tuple[Turned, ...]
    events: tuple[Event, ...]
    failed: tuple[Sentence, ...]

    @property
    def sentence(self) -> Sentence:
        return say(
            "reassessed",
            "Judged anew by version {version}: surveys: {surveys}, not judged: {failed}; readings: {same} the same, "
            "{anew} with a new judgement, {turned} with another verdict, {differing} differing without cause.",
            surveys=self.surveys,
            version=__version__,
            same=self.same,
            anew=self.anew,
            turned=len(self.turned),
            differing=self.differing,
            failed=len(self.failed),
        )


def reassess(ledger: Ledger, site: str | None = None, *, jobs: int = 1, judge: Judge | None = None) -> Reassessed:
    """Every survey of the site, or of all sites, in the order of their days."""
    judge = judge or partial(_judge, ledger, jobs)
    counts: dict[str, int] = {"surveys": 0, "same": 0, "anew": 0, "differing": 0}
    turned: list[Turned] = []
    events: list[Event] = []
    failed: list[Sentence] = []
    for survey in _surveys(ledger, site):
        try:
            found, news = _one(ledger, survey, judge, counts)
        except EarwitnessError as error:
            text = "{survey} of {day} could not be judged: {why}"
            failed.append(say("survey-not-judged", text, survey=survey.title, day=str(survey.day), why=str(error)))
            continue
        counts["surveys"] += 1
        turned += found
        events += news
    return Reassessed(**counts, turned=tuple(turned), events=tuple(events), failed=tuple(failed))


def _judge(ledger: Ledger, jobs: int, folder: Path, seed: int) -> SurveyResult:
    return judge_survey(read_at_site(ledger, folder), jobs=jobs, seed=seed, exhibits=False)


def _surveys(ledger: Ledger, site: str | None) -> list[FiledSurvey]:
    with ledger.reading() as c:
        wanted = [sites.site_of(c, site)] if site else sites.sites(c)
        found: list[FiledSurvey] = []
        for home in wanted:
            page = surveys.surveys(c, home.id, limit=PAGE)
            while page:
                found += page
                page = surveys.surveys(c, home.id, limit=PAGE, offset=len([f for f in found if f.site_id == home.id]))
    return sorted(found, key=lambda s: (s.day, s.title, s.id))


def _one(
    ledger: Ledger, survey: FiledSurvey, judge: Judge, counts: dict[str, int]
) -> tuple[list[Turned], tuple[Event, ...]]:
    with ledger.reading() as c:
        filed = readings.readings_of_survey(c, survey.id)
        before = readings.current_judgements(c, [r.id for r in filed])
        seeds: set[Any] = {j.settings.get("seed", 0) for j in before.values()}
        files = surveys.survey_files(c, survey.id)
    with laid_out(ledger, files) as folder:
        result = judge(folder, int(min(seeds, default=0)))
        done = file_survey(ledger, result, only_judgements=True)
    with ledger.reading() as c:
        after = readings.current_judgements(c, [r.id for r in filed])
    names = {r.id: r.name for r in filed}
    turned = []
    for key, now in after.items():
        was = before.get(key)
        if was is not None and was.id == now.id:
            counts["same"] += 1
            continue
        counts["anew"] += 1
        if was is not None and was.version == now.version and was.inputs_sha256 == now.inputs_sha256:
            counts["differing"] += 1
        if was is not None and was.verdict != now.verdict:
            turned.append(Turned(survey.title, names[key], was.verdict, now.verdict))
    return turned, done.events


@contextmanager
def laid_out(ledger: Ledger, files: list[surveys.FiledFile]) -> Iterator[Path]:
    """A folder with these files as they were, their dates too; gone at the end."""
    with tempfile.TemporaryDirectory(prefix="earwitness-") as name:
        for file in files:
            target = Path(name) / file.path
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(ledger.store.verified(file.sha256), target)
            if file.modified_at is not None:
                moment = file.modified_at.timestamp()
                os.utime(target, (moment, moment))
        yield Path(name)
