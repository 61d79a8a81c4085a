"""One recording, or one array of samples, judged as a reading of a survey would be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike

from earwitness.audio import refuse_no_sound
from earwitness.errors import EarwitnessError
from earwitness.given_file import refuse_no_file
from earwitness.hearing.evidence import Judgement
from earwitness.hearing.heard import Heard
from earwitness.intake import reading_of
from earwitness.plant.assessment import Assessment
from earwitness.plant.reading import Reading
from earwitness.plant.survey import Energy, Instrument, SiteConditions, Survey
from earwitness.work.assess import assess
from earwitness.work.detectors import judge_sound
from earwitness.work.economy import economy_of
from earwitness.work.judge import judge_reading


def diagnose(file: Path, cells: Mapping[str, str]) -> Assessment:
    """Judge one file; `cells` are columns of the field sheet with their text, as `{"kind": "bearing"}`."""
    refuse_no_file(file, "name a recording (WAV, FLAC, OGG, MP3, AIFF)")
    refuse_no_sound(file)
    reading = reading_of({"reading": file.stem, "kind": "other", **cells})
    _refuse(reading)
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


def judge(samples: ArrayLike, rate_hz: float, kind: str = "other", **cells: str) -> Judgement:
    """Judge an array of samples (n,), full scale 1, at `rate_hz` [Hz]; `cells` are columns of the field sheet.

    Examples
    --------
    >>> import numpy as np
    >>> hall = 0.001 * np.random.default_rng(1).standard_normal(96_000)
    >>> judge(30 * hall, 48_000, "leak", level_db="62", background_db="34").verdict
    'leak'
    """
    reading = reading_of({"reading": "array", "kind": kind, **cells})
    _refuse(reading)
    heard = Heard(
        np.ascontiguousarray(samples, dtype=np.float32),
        float(rate_hz),
        signal="direct" if reading.signal == "direct" else "heterodyned",
        level_db=reading.level_db,
        background_db=reading.background_db,
        baseline_db=reading.baseline_db,
        reference_db=reading.reference_db,
    )
    return judge_sound(heard, reading, Survey(Path(), "array", "", "", ""))


def _refuse(reading: Reading) -> None:
    if reading.problems:
        raise EarwitnessError("; ".join(p.sentence.text.rstrip(".") for p in reading.problems))
