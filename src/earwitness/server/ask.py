"""What is asked of a page: by whom, at which site, with what; and the answer that leads somewhere else."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING

from earwitness.plant.site import zone_of
from earwitness.report.format import when
from earwitness.server.page import ROLES, Role
from earwitness.server.refusal import Refusal, not_found

if TYPE_CHECKING:
    from earwitness.ledger.database import Ledger
    from earwitness.server.house import House


@dataclass(frozen=True)
class Who:
    """Who asks. `roles` maps a site's id (None: every site) to the role there."""

    name: str
    roles: Mapping[uuid.UUID | None, Role] = field(default_factory=dict)
    account: bool = True  # False on loopback, where nobody signs in

    def may(self, role: Role, site: uuid.UUID | None) -> bool:
        held = [self.roles[s] for s in (None, site) if s in self.roles]
        return any(ROLES.index(r) >= ROLES.index(role) for r in held)

    def sees(self, site: uuid.UUID) -> bool:
        return self.may("look", site)


NOBODY = Who("")


@dataclass(frozen=True)
class SiteHere:
    id: uuid.UUID
    name: str
    tag: str
    timezone: str | None = None

    @property
    def path(self) -> str:
        return f"/site/{self.tag}"

    @property
    def zone(self) -> tzinfo:
        """In which its days are counted; UTC where it is not known."""
        return zone_of(self.timezone)

    def now(self) -> datetime:
        return datetime.now(self.zone)

    def day(self, at: datetime) -> str:
        """The day at the site, in words."""
        return when(at.astimezone(self.zone).date().isoformat())

    def moment(self, at: datetime | str) -> str:
        """Day and hour at the site, in words; what is no moment stays as it is."""
        try:
            moment = datetime.fromisoformat(at) if isinstance(at, str) else at
        except ValueError:
            return str(at)
        if moment.tzinfo is None:
            return when(str(at))
        local = moment.astimezone(self.zone)
        return when(f"{local:%Y-%m-%dT%H:%M}" + ("" if self.timezone else "Z"))


@dataclass(frozen=True)
class Went:
    """A deed that is done: where a browser goes next; `what` is its id where it made something."""

    to: str
    what: str | None = None
    text: str = "done"


@dataclass(frozen=True)
class Ask:
    house: House
    who: Who
    site_here: SiteHere | None
    sites: tuple[SiteHere, ...]  # those that this person may see
    path: Mapping[str, str]
    query: Mapping[str, str]
    cookies: Mapping[str, str] = field(default_factory=dict)
    scheme: str = "http"
    host: str = ""  # name and port under which whoever asks has come

    @property
    def ledger(self) -> Ledger:
        return self.house.ledger

    @property
    def site(self) -> SiteHere:
        if self.site_here is None:
            raise not_found("site")
        return self.site_here

    def id(self, name: str = "id", what: str | None = None) -> uuid.UUID:
        """An identifier from the address; one that cannot be is not there."""
        try:
            return uuid.UUID(self.path[name])
        except ValueError:
            raise not_found(what or name) from None

    def number(self, name: str, default: float, low: float, high: float) -> float:
        """A number from the query, within what is allowed."""
        given = self.query.get(name)
        if given is None or given == "":
            return default
        try:
            value = float(given)
        except ValueError:
            value = float("nan")
        if not low <= value <= high:
            text = "'{field}' cannot be '{given}'; a number from {low:g} to {high:g} would do."
            raise Refusal(422, "number-wrong", text, field=name, given=given[:40], low=low, high=high)
        return value

    def may(self, role: Role) -> bool:
        """For templates: whether to offer a deed. The frame itself refuses what a role may not."""
        return self.who.may(role, self.site_here.id if self.site_here else None)
