"""What comes first. The rule, in order:

1. urgent: what must be acted on from the floor stands before and outside the list;
2. signal word: WARNING, CAUTION, NOTICE, none;
3. machines and electrical findings whose severity says act;
4. expected loss avoided per hour of repair (where no repair time is stated, the default below);
5. findings without money: by severity, then by level over background;
6. the reading's name, so that the order of rows changes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from earwitness.plant.assessment import Assessment

DEFAULT_REPAIR_HOURS = 1.0  # common practice: a small leak or a bearing's grease takes about an hour with access
FAULTS = frozenset(
    {
        "leak",
        "passage",
        *("outer-race", "inner-race", "rolling-element", "cage", "irregular", "friction"),
        *("tooth", "wear"),
        *("corona", "tracking", "arcing", "mains-hum"),
        "passing",
        *("blowing", "blocked"),
    }
)
WORDS = {"DANGER": 0, "WARNING": 1, "CAUTION": 2, "NOTICE": 3, None: 4}
SEVERITIES = {"act": 0, "severe": 0, "watch": 1, "serious": 1}


def is_finding(assessment: Assessment) -> bool:
    """Something wrong was heard or seen, and nobody has said that it is meant, gone or mended."""
    reading = assessment.reading
    return (
        assessment.finding is not None
        and reading.cause != "deliberate"
        and reading.confirmed != "not-found"
        and not reading.repair.fixed_now
    )


def loss_per_hour(assessment: Assessment) -> float | None:
    """Expected loss avoided [currency a year] for each hour of repair; None where no money is known."""
    money = assessment.quantities.get("saving_per_year") or assessment.quantities.get("cost_per_year")
    if money is None:
        return None
    return money.interval.mean / (assessment.reading.repair.hours or DEFAULT_REPAIR_HOURS)


def ranked(assessments: Sequence[Assessment]) -> tuple[list[str], list[Assessment]]:
    """The urgent readings' names in order, and all assessments with `rank` filled in for the findings on the list."""
    urgent = sorted((a for a in assessments if a.urgent), key=_key)
    listed = sorted((a for a in assessments if is_finding(a) and not a.urgent), key=_key)
    rank = {a.reading.reading: number for number, a in enumerate(listed, 1)}
    return (
        [a.reading.reading for a in urgent],
        [replace(a, rank=rank.get(a.reading.reading)) for a in assessments],
    )


def _key(a: Assessment) -> tuple[object, ...]:
    severity = SEVERITIES.get(a.severity.code, 2) if a.severity else 2
    money = loss_per_hour(a)
    r = a.reading
    over = (r.level_db or 0.0) - (r.background_db or 0.0)
    return (
        WORDS[a.signal_word],
        0 if severity == 0 else 1,
        -money if money is not None else 0.0,
        severity,
        -over,
        r.reading,
    )
