"""What all pages share: the ledger, uploads, jobs, who may come in, and how names and times are shown."""

from __future__ import annotations

import getpass
import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property

from sqlalchemy import select

from earwitness.ledger import schema
from earwitness.ledger.database import Ledger
from earwitness.plant.tag import tag_of
from earwitness.server.ask import SiteHere, Who
from earwitness.server.tables import make_tables
from earwitness.server.uploads import Uploads
from earwitness.server.users import Gate


@dataclass
class House:
    """`accounts` False: on loopback, whoever sits at this machine may do everything, under the name of its own user."""

    ledger: Ledger
    accounts: bool = False
    port: int | None = None
    hosts: tuple[str, ...] = ("localhost", "127.0.0.1", "::1")  # names this server answers to where nobody signs in
    judging_processes: int = 1
    wake: Callable[[], None] = field(default=lambda: None)  # tells the worker that there is a job
    uploads: Uploads = field(init=False)
    gate: Gate = field(init=False)

    def __post_init__(self) -> None:
        make_tables(self.ledger)
        self.uploads, self.gate = Uploads(self.ledger), Gate(self.ledger)

    @cached_property
    def _whose_machine(self) -> str:
        try:
            return getpass.getuser()
        except (OSError, KeyError):
            return "this machine"

    def at_this_machine(self, name: str | None) -> Who:
        return Who(name or self._whose_machine, {None: "administer"}, account=False)

    def sites(self, who: Who) -> tuple[SiteHere, ...]:
        """The sites that somebody may see, by name."""
        s = schema.site
        with self.ledger.reading() as connection:
            rows = connection.execute(select(s.c.id, s.c.name, s.c.timezone).order_by(s.c.name)).all()
        return tuple(SiteHere(i, name, tag_of(i), zone) for i, name, zone in rows if who.sees(i))

    @staticmethod
    def by_tag(sites: tuple[SiteHere, ...], tag: str) -> SiteHere | None:
        return next((site for site in sites if site.tag == tag.upper()), None)

    @staticmethod
    def by_id(sites: tuple[SiteHere, ...], of: uuid.UUID) -> SiteHere | None:
        return next((site for site in sites if site.id == of), None)
