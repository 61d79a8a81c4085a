"""One reading made whole: what was heard, how much escapes, what it can do, what comes next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from earwitness.danger.hazard import SIGNAL_WORDS
from earwitness.gas.calibration import Calibration
from earwitness.hearing.evidence import Judgement, Place
from earwitness.plant.assessment import FAULTS, Assessment, Warned
from earwitness.plant.reading import Reading
from earwitness.plant.site import identity
from earwitness.plant.survey import Survey
from earwitness.work.advise import next_step
from earwitness.work.economy import Economy
from earwitness.work.judge import Judged
from earwitness.work.size import Sized, size, would_have_been_heard
from earwitness.work.warn import hazards_of, looked_for_in_vain, standing_cautions

GAS_LOSSES = frozenset({"leak", "passing", "blowing"})


def assess(
    reading: Reading,
    judged: Judged | None,
    survey: Survey,
    economy: Economy,
    calibration: Calibration | None = None,
) -> Assessment:
    """The assessment of a reading; without a judgement (not run, not reached, unreadable) its status and cautions."""
    if judged is None:
        return Assessment(
            reading,
            next_step=next_step(reading, None),
            cautions=standing_cautions(reading, None),
        )
    judgement = judged.judgement
    verdict = judgement.verdict if judgement else None
    lost = _loses_gas(reading, verdict)
    sized = size(reading, survey, economy, judged.level_db, calibration) if lost else Sized()
    if judged.shared:
        hazards = _hazards_of_any(judged, survey, economy, calibration)
    else:
        hazards = hazards_of(reading, verdict, sized, survey, judgement)
    notes = (*judged.notes, *(judgement.notes if judgement else ()), *sized.notes)
    if verdict == "no-leak-heard":
        notes += would_have_been_heard(reading, survey, judged.background_db)
    assessment = Assessment(
        reading,
        finding=_finding_id(reading, survey) if verdict in FAULTS or lost else None,
        recording=judged.recording,
        fit=judged.fit,
        fitness=judged.fitness,
        quantities=sized.quantities,
        spread=sized.mass_flow,
        amounts=sized.amounts,
        currency=sized.currency,
        of_air=sized.gas is not None and sized.gas.name == "air",
        hazards=hazards,
        next_step=next_step(reading, judgement, hazards=hazards),
        cautions=standing_cautions(reading, verdict),
        notes=notes,
        problems=judged.problems,
    )
    return assessment if judgement is None else _told(assessment, judgement)


def _told(assessment: Assessment, judgement: Judgement) -> Assessment:
    """With what the detector said; where it had nothing to weigh, its prior is no probability of this reading."""
    seconds = assessment.recording.seconds if assessment.recording else 0.0
    weighed = bool(judgement.evidence)
    return replace(
        assessment,
        verdict=judgement.verdict,
        probability=judgement.probability if weighed else None,
        probabilities=judgement.probabilities if weighed else {},
        detector=judgement.detector,
        detector_version=judgement.detector_version,
        severity=judgement.severity,
        evidence=judgement.evidence,
        places=judgement.places,
        places_m=metres_of(judgement.places, assessment.reading, seconds),
    )


def _hazards_of_any(
    judged: Judged, survey: Survey, economy: Economy, calibration: Calibration | None
) -> tuple[Warned, ...]:
    """Whose the sound is cannot be told: what it would do at any of the rows that name it, worst first."""
    heard = {r.kind: j.judgement for r, j in judged.shared if j.judgement and j.judgement.verdict in FAULTS}
    found: list[Warned] = []
    for reading, alone in judged.shared:
        judgement = alone.judgement
        if judgement is None or judgement.verdict not in FAULTS:
            judgement = heard.get(reading.kind, judgement)
        verdict = judgement.verdict if judgement else None
        lost = _loses_gas(reading, verdict)
        sized = size(reading, survey, economy, alone.level_db, calibration) if lost else Sized()
        found += hazards_of(reading, verdict, sized, survey, judgement)
    worst: dict[str, Warned] = {}
    for hazard in sorted(found, key=lambda h: (SIGNAL_WORDS.index(h.signal_word), not h.urgent)):
        worst.setdefault(hazard.code, hazard)
    return tuple(worst.values())


def _loses_gas(reading: Reading, verdict: str | None) -> bool:
    """A leak that was heard, or one that somebody has seen whatever was heard."""
    if looked_for_in_vain(reading):
        return False
    return verdict in GAS_LOSSES or reading.seen


def _finding_id(reading: Reading, survey: Survey) -> str:
    """The same reading of the same survey always opens the same finding."""
    return str(identity("finding", survey.site, survey.date, reading.point or "", reading.kind, reading.reading))


def metres_of(places: Sequence[Place], reading: Reading, seconds: float) -> tuple[float | None, ...]:
    """Metres along the sweep of each place: between its marks, else evenly over its length; None where not known."""
    if len(reading.sweep_marks) >= 2:
        times, metres = np.array(sorted(reading.sweep_marks), dtype=float).T
        return tuple(float(np.interp(p.at_s, times, metres)) for p in places)
    if reading.sweep_length_m is not None and seconds > 0:
        return tuple(reading.sweep_length_m * p.at_s / seconds for p in places)
    return tuple(None for _ in places)
