"""What the leaks of a survey come to together: sums of draws that keep what they share, and what is counted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from earwitness.interval import Sampler, summary
from earwitness.plant.assessment import Assessment, Quantity

SUMMED = ("volume_flow", "energy_per_year", "cost_per_year", "saving_per_year", "carbon_per_year")


def sums(assessments: Sequence[Assessment], seed: int) -> dict[str, Quantity]:
    """Each quantity summed over the readings that count, as draws: what readings share does not average out."""
    sampler = Sampler(seed)
    counted = sorted((a for a in assessments if a.counts), key=lambda a: a.reading.reading)
    out: dict[str, Quantity] = {}
    for name in SUMMED:
        having = [a for a in counted if name in a.amounts]
        if not having:
            continue
        total = sum(a.amounts[name].draws(sampler, a.reading.reading) for a in having)
        first = having[0].quantities[name]
        out[name] = Quantity(summary(total), first.unit, "sum of readings", first.reference)  # type: ignore[arg-type]
    return out


def counted(assessments: Sequence[Assessment]) -> list[Assessment]:
    """The assessments, each with whether its amounts go into the totals."""
    out: list[Assessment] = []
    for assessment in assessments:
        yes, why = _why(assessment, out)
        out.append(replace(assessment, counts=yes, counts_why=why) if assessment.verdict or yes else assessment)
    return out


def _why(assessment: Assessment, earlier: Sequence[Assessment]) -> tuple[bool, str]:
    r = assessment.reading
    if not assessment.amounts:
        return False, "no amount is known"
    if r.verifies:
        return False, "a verification after a repair"
    if r.cause == "deliberate":
        return False, "blows on purpose"
    if r.confirmed == "not-found":
        return False, "looked for and not found"
    if r.repair.fixed_now:
        return False, "mended on the spot"
    same = [e for e in earlier if e.counts and r.point and (e.reading.point, e.reading.kind) == (r.point, r.kind)]
    if same and (same[0].reading.component, same[0].reading.location) == (r.component, r.location):
        return False, f"a repeat of {same[0].reading.reading}"
    return True, "a leak that was heard and is open"


def as_json(totals: dict[str, Quantity]) -> dict[str, Any]:
    return {name: q.as_json() for name, q in totals.items()}
