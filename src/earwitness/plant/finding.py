"""A finding: something wrong at a point, from the reading that opened it to the one that closes it.

open → scheduled → repaired → verified; verified or repaired → reopened; open, scheduled or reopened → dismissed. Heard
again, a finding stays in its state with a step of its own. Each step is kept with who, when and why; nothing is
overwritten.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from earwitness.errors import InputError
from earwitness.plant.site import identity

STATES = ("open", "scheduled", "repaired", "verified", "reopened", "dismissed")
ALLOWED: dict[str | None, frozenset[str]] = {
    None: frozenset({"open"}),
    "open": frozenset({"open", "scheduled", "repaired", "verified", "dismissed"}),
    "scheduled": frozenset({"open", "scheduled", "repaired", "verified", "dismissed"}),
    "repaired": frozenset({"verified", "reopened"}),
    "verified": frozenset({"reopened"}),
    "reopened": frozenset({"reopened", "scheduled", "repaired", "verified", "dismissed"}),
    "dismissed": frozenset({"reopened"}),
}
CLOSED = frozenset({"verified", "dismissed"})
STANDING = frozenset({"open", "scheduled", "reopened"})  # on the list of what is to be repaired
ACT_NOW_CLASS = 100  # classes of rank below it are to be acted on from the floor


@dataclass(frozen=True)
class Figures:
    """What a finding is ranked by, as its latest reading has it; money in `currency`."""

    urgent: bool = False
    word_order: int = 4  # 0 DANGER … 3 NOTICE, 4 none
    loss_per_hour: float | None = None  # currency a year for each hour of repair
    cost_per_year: float | None = None
    saving_per_year: float | None = None
    currency: str | None = None
    rank_class: int = 0
    rank_loss: float = 0.0
    rank_rest: float = 0.0


@dataclass(frozen=True)
class Finding:
    id: uuid.UUID
    site_id: uuid.UUID
    point_id: uuid.UUID | None
    kind: str
    verdict: str
    state: str
    opened_at: datetime
    opened_by: uuid.UUID
    closed_at: datetime | None = None
    repair: Mapping[str, Any] = field(default_factory=dict)  # hours, cost, craft, parts … as the reading states them
    figures: Figures = Figures()


@dataclass(frozen=True)
class Step:
    """One line of a finding's history."""

    state: str
    at: datetime
    who: str
    why: str
    reading_id: uuid.UUID | None = None
    data: Mapping[str, Any] = field(default_factory=dict)
    saving_per_year: float | None = None
    currency: str | None = None

    def identity(self, finding_id: uuid.UUID, number: int) -> uuid.UUID:
        """The same for a step that a reading decided, wherever it is filed; a person's step has one of its own."""
        if self.reading_id is None:
            return uuid.uuid4()
        return identity("step", str(finding_id), str(number), self.state, str(self.reading_id))


def check_step(history: Sequence[Step], state: str, why: str) -> None:
    """Raises InputError where a finding with this history may not take that step."""
    now = history[-1].state if history else None
    if state not in ALLOWED[now]:
        raise InputError("state", state, f"one of {', '.join(sorted(ALLOWED[now]))} after {now or 'nothing'}")
    if state == "dismissed" and not why.strip():
        raise InputError("why", "empty", "a reason; a finding is not dismissed without one")
