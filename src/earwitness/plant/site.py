"""The lasting nouns: a site, its areas, assets and points, and the instruments that listen there.

Every one has a UUID made where the thing is made, so that phones and servers never collide; all belong to a site.
"""

from __future__ import annotations

import unicodedata
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, tzinfo
from typing import Any
from zoneinfo import ZoneInfo

from earwitness.plant.reading import Machine

NAMESPACE = uuid.UUID("6f1d1f0a-6d1c-5b52-9a3e-3f0f3f5d7c11")


def identity(*parts: str) -> uuid.UUID:
    """A UUID that the same parts always give: for things that come from a sheet and have no identity of their own."""
    return uuid.uuid5(NAMESPACE, "\x1f".join(parts))


def name_key(name: str) -> str:
    """A name as it is compared: width, case and spaces do not matter.

    >>> name_key("  Line 1  Capper ")
    'line 1 capper'
    """
    return " ".join(unicodedata.normalize("NFKC", name.replace("\x00", "")).casefold().split())


def zone_of(timezone: str | None) -> tzinfo:
    """The clock of a site by the name of its zone; UTC where none is stated."""
    return ZoneInfo(timezone) if timezone else UTC


@dataclass(frozen=True)
class Site:
    id: uuid.UUID
    name: str
    timezone: str | None = None
    settings: Mapping[str, Any] = field(default_factory=dict)  # energy, air, gases, priors: as survey.toml has them

    @property
    def zone(self) -> tzinfo:
        return zone_of(self.timezone)


@dataclass(frozen=True)
class Area:
    id: uuid.UUID
    site_id: uuid.UUID
    name: str


@dataclass(frozen=True)
class Point:
    """Where one listens: what is there, how to listen, what is dangerous, what is normal."""

    id: uuid.UUID
    site_id: uuid.UUID
    name: str
    kind: str
    tag: str  # see plant.tag
    area_id: uuid.UUID | None = None
    asset_id: uuid.UUID | None = None
    plant_tag: str | None = None  # the number that the plant itself hung there
    component: str | None = None
    location: str | None = None
    medium: str | None = None
    pressure_abs: float | None = None  # Pa
    machine: Machine = field(default_factory=Machine)
    baseline_db: float | None = None
    watch_db: float | None = None
    act_db: float | None = None
    how_to_listen: str | None = None
    dangers: str | None = None
    plan_x: float | None = None  # position on the area's drawing, fractions of its width and height
    plan_y: float | None = None


@dataclass(frozen=True)
class SensitivityCheck:
    """One minute on a fixed source: what the instrument showed, and what it showed when new."""

    day: date
    level_db: float
    expected_db: float
    tolerance_db: float = 3.0

    @property
    def passed(self) -> bool:
        return abs(self.level_db - self.expected_db) <= self.tolerance_db
