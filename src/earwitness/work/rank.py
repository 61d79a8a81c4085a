"""What comes first. The rule, in order:

1. urgent: what must be acted on from the floor stands before and outside the list;
2. signal word: WARNING, CAUTION, NOTICE, none;
3. machines and electrical findings whose severity says act;
4. expected loss avoided per hour of repair (where no repair time is stated, the default below);
5. findings without money: by severity, then by level over background;
6. the reading's name, so that the order of rows changes nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from earwitness.plant.assessment import Assessment
from earwitness.work.warn import looked_for_in_vain

DEFAULT_REPAIR_HOURS = 1.0  # common practice: a small leak or a bearing's grease takes about an hour with access
WORDS = {"DANGER": 0, "WARNING": 1, "CAUTION": 2, "NOTICE": 3, None: 4}
SEVERITIES = {"act": 0, "severe": 0, "watch": 1, "serious": 1}
UNGRADED = 2


def is_finding(assessment: Assessment) -> bool:
    """Something wrong was heard or seen, and nobody has said that it is meant, gone or mended."""
    reading = assessment.reading
    return (
        assessment.finding is not None
        and reading.cause != "deliberate"
        and not looked_for_in_vain(reading)
        and not reading.repair.fixed_now
    )


@dataclass(frozen=True)
class Merit:
    """What a reading is ranked by; the rule above stands in `key` and nowhere else."""

    urgent: bool
    word: int  # of WORDS
    severity: int  # of SEVERITIES, else UNGRADED
    loss_per_hour: float | None  # currency a year for each hour of repair; None where no money is known
    over_db: float  # level over background
    name: str

    @property
    def acts(self) -> int:
        """0 where the severity says act, else 1."""
        return 0 if self.severity == 0 else 1

    @property
    def key(self) -> tuple[object, ...]:
        return self.word, self.acts, -(self.loss_per_hour or 0.0), self.severity, -self.over_db, self.name


def merit(assessment: Assessment) -> Merit:
    r, money = assessment.reading, assessment.quantities
    worth = money.get("saving_per_year") or money.get("cost_per_year")
    return Merit(
        assessment.urgent,
        WORDS[assessment.signal_word],
        SEVERITIES.get(assessment.severity.code, UNGRADED) if assessment.severity else UNGRADED,
        None if worth is None else worth.interval.mean / (r.repair.hours or DEFAULT_REPAIR_HOURS),
        (r.level_db or 0.0) - (r.background_db or 0.0),
        r.reading,
    )


def merit_of_result(result: Mapping[str, Any]) -> Merit:
    """The same from one element of `readings` of findings.json, as a ledger keeps it."""
    money, given = result.get("quantities") or {}, result.get("conditions") or {}
    worth = money.get("saving_per_year") or money.get("cost_per_year")
    hours = (result.get("repair") or {}).get("hours") or DEFAULT_REPAIR_HOURS
    level, background = (float((given.get(name) or {}).get("value", 0.0)) for name in ("level_db", "background_db"))
    return Merit(
        bool(result.get("urgent")),
        WORDS[result.get("signal_word")],
        SEVERITIES.get(str((result.get("severity") or {}).get("word")), UNGRADED),
        None if worth is None else float(worth["mean"]) / float(hours),
        level - background,
        str(result["reading"]),
    )


def ranked(assessments: Sequence[Assessment]) -> tuple[list[str], list[Assessment]]:
    """The urgent readings' names in order, and all assessments with `rank` filled in for the findings on the list."""
    order = sorted(assessments, key=lambda a: merit(a).key)
    listed = [a.reading.reading for a in order if is_finding(a) and not a.urgent]
    rank = {name: number for number, name in enumerate(listed, 1)}
    return (
        [a.reading.reading for a in order if a.urgent],
        [replace(a, rank=rank.get(a.reading.reading)) for a in assessments],
    )
