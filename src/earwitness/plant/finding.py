"""A finding: something wrong at a point, from the reading that opened it to the one that closes it.

open → scheduled → repaired → verified; verified or repaired → reopened; open, scheduled or reopened → dismissed.
Each step is kept with who, when and why; nothing is overwritten.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from earwitness.errors import InputError

STATES = ("open", "scheduled", "repaired", "verified", "reopened", "dismissed")
ALLOWED: dict[str | None, frozenset[str]] = {
    None: frozenset({"open"}),
    "open": frozenset({"scheduled", "repaired", "verified", "dismissed"}),
    "scheduled": frozenset({"open", "scheduled", "repaired", "verified", "dismissed"}),
    "repaired": frozenset({"verified", "reopened"}),
    "verified": frozenset({"reopened"}),
    "reopened": frozenset({"scheduled", "repaired", "verified", "dismissed"}),
    "dismissed": frozenset({"reopened"}),
}
CLOSED = frozenset({"verified", "dismissed"})


@dataclass(frozen=True)
class Step:
    """One line of a finding's history."""

    state: str
    at: datetime
    who: str
    why: str
    reading_id: uuid.UUID | None = None
    data: dict[str, Any] = field(default_factory=dict)


def check_step(history: Sequence[Step], state: str, why: str) -> None:
    """Raises InputError where a finding with this history may not take that step."""
    now = history[-1].state if history else None
    if state not in ALLOWED[now]:
        raise InputError("state", state, f"one of {', '.join(sorted(ALLOWED[now]))} after {now or 'nothing'}")
    if state == "dismissed" and not why.strip():
        raise InputError("why", "empty", "a reason; a finding is not dismissed without one")
