"""One recording, judged as a reading of a survey would be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from earwitness.errors import EarwitnessError
from earwitness.intake import reading_of
from earwitness.plant.assessment import Assessment
from earwitness.plant.survey import Energy, Instrument, SiteConditions, Survey
from earwitness.work.assess import assess
from earwitness.work.economy import economy_of
from earwitness.work.judge import judge_reading


def diagnose(file: Path, cells: Mapping[str, str]) -> Assessment:
    """Judge one file; `cells` are columns of the field sheet with their text, as `{"kind": "bearing"}`."""
    if not file.is_file():
        raise EarwitnessError(f"there is no file {file}; name a recording (WAV, FLAC, OGG, MP3, AIFF)")
    reading = reading_of({"reading": file.stem, "kind": "other", **cells})
    if reading.problems:
        raise EarwitnessError("; ".join(p.sentence.text.rstrip(".") for p in reading.problems))
    survey = Survey(
        folder=file.parent,
        title="one recording",
        site="",
        date="",
        inspector="",
        instrument=Instrument(level_ref=cells.get("level_ref")),
        conditions=SiteConditions(mains_hz=reading.mains_hz),
        energy=Energy(),
    )
    reading = replace(reading, recording=file.name)
    return assess(reading, judge_reading(reading, survey, exhibits=False), survey, economy_of(survey))
