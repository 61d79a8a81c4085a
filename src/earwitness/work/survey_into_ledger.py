"""`earwitness survey --ledger`: judge a folder, file it, and write its outputs with what filing did.

The ledger keeps what the sound alone says; in the outputs the probabilities are those that this site's fitters have
taught (their answers so far), and say so.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

from earwitness.intake import read_survey
from earwitness.ledger import Ledger, open_ledger
from earwitness.ledger.sites import site_of
from earwitness.plant.survey import Survey
from earwitness.work.answers import at_this_site, local_rates
from earwitness.work.file_survey import Filed, file_survey, fit_to_file
from earwitness.work.output import replacing
from earwitness.work.programme import programme, told
from earwitness.work.stand_in import read_at_site
from earwitness.work.survey import Progress, SurveyResult, judge_survey, write_outputs


def survey_into_ledger(
    folder: Path,
    out: Path,
    where: str | Path,
    recordings: Path | None = None,
    *,
    reports: str = "all",
    jobs: int = 1,
    seed: int = 0,
    progress: Progress | None = None,
) -> tuple[SurveyResult, Filed]:
    is_new = "://" not in str(where) and not Path(where).exists()
    survey = read_survey(folder) if is_new else None  # a ledger is made for a survey that can be filed alone
    if survey is not None:
        fit_to_file(survey)
    ledger = open_ledger(where, recordings)  # a ledger that cannot be opened is said before an hour of judging
    try:
        survey = survey or read_at_site(ledger, folder)
        fit_to_file(survey)
        result = judge_survey(survey, jobs=jobs, seed=seed, exhibits=reports != "none", progress=progress)
        with replacing(out) as staging:
            filed = file_survey(ledger, result)
            findings = taught(result.findings, ledger, survey.site)
            findings |= {"ledger": filed.as_json(), "programme": _programme_so_far(ledger, survey)}
            write_outputs(findings, result.exhibits, staging, reports)
    finally:
        ledger.close()
    return result, filed


def taught(findings: Mapping[str, Any], ledger: Ledger, site: str) -> dict[str, Any]:
    """findings.json with each verdict's probability moved by the answers of this site's fitters, if any."""
    with ledger.reading() as connection:
        rates = local_rates(connection, site_of(connection, site).id)
    return {**findings, "readings": [at_this_site(rates, reading) for reading in findings["readings"]]}


def _programme_so_far(ledger: Ledger, survey: Survey) -> dict[str, Any]:
    """The programme's figures on the day of the survey, and the same in sentences for the report."""
    at = datetime.combine(date.fromisoformat(survey.date), time.max, UTC)
    with ledger.reading() as connection:
        view = programme(connection, site_of(connection, survey.site), at=at)
    return {**view.as_json(), "told": told(view)}
