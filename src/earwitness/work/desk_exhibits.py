"""What a report shows beside the words of filed readings: pictures of the reason, a piece of the sound, the photo.

Pictures and sound are made from the recordings as they were filed, by the code that judges a survey.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path, PurePosixPath
from typing import Any

from earwitness.ledger import Ledger, readings, surveys
from earwitness.ledger.readings import FiledReading
from earwitness.report.exhibit import Exhibit
from earwitness.report.summary import is_listed
from earwitness.report.wording import is_undecided
from earwitness.work.file_survey import SHEETS
from earwitness.work.reassess import laid_out
from earwitness.work.stand_in import read_at_site
from earwitness.work.survey import Progress, judge_survey

MOST = 120  # readings with pictures and sound in one report: about 20 MB of HTML


def with_block(findings: Mapping[str, Any]) -> list[str]:
    """The readings that a report tells of in a block of their own, in its order."""
    urgent = {str(name): n for n, name in enumerate(findings["urgent"])}
    told = [r for r in findings["readings"] if is_listed(r, frozenset(urgent)) or is_undecided(r)]
    told.sort(key=lambda r: (urgent.get(str(r["reading"]), len(urgent)), r.get("rank") or 1 << 30, str(r["reading"])))
    return [str(r["reading"]) for r in told]


def pictured(
    ledger: Ledger,
    survey_id: uuid.UUID,
    filed: Sequence[FiledReading],
    *,
    jobs: int = 1,
    progress: Progress | None = None,
) -> dict[str, Exhibit]:
    """Pictures, sound and photo of these readings of one survey, by their names in its sheet."""
    shown = {r.name: r for r in filed}
    with ledger.reading() as connection:
        files = surveys.survey_files(connection, survey_id)
        alike = {r.recording_sha256 for r in filed if r.recording_sha256}  # a recording may stand at two readings
        needed = [r for r in readings.readings_of_survey(connection, survey_id) if r.recording_sha256 in alike]
    wanted = {sha for r in (*needed, *filed) for sha in (r.recording_sha256, r.background_sha256) if sha}
    names = {r.name for r in needed} | set(shown)
    sheets = [f for f in files if "/" not in f.path and PurePosixPath(f.path).suffix.casefold() in SHEETS]
    with laid_out(ledger, [*sheets, *(f for f in files if f.sha256 in wanted and f not in sheets)]) as folder:
        survey = read_at_site(ledger, folder)
        few = replace(survey, readings=tuple(r for r in survey.readings if r.reading in names))
        made = judge_survey(few, jobs=jobs, exhibits=True, progress=progress).exhibits
    return {name: replace(made.get(name, Exhibit()), photo=photo_of(ledger, r)) for name, r in shown.items()}


def photo_of(ledger: Ledger, reading: FiledReading) -> Path | None:
    return ledger.store.path(reading.photo_sha256) if reading.photo_sha256 else None
