"""Plans are made beside the pages: a large one takes seconds, and nobody waits for it without being told how far it is.

Each is made once for all that it rests on, by one thread at a time, and kept while it holds.
"""

from __future__ import annotations

import logging
import threading
import time
from collections import OrderedDict
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import Connection, func, select

from earwitness.errors import EarwitnessError
from earwitness.ledger import Ledger, schema
from earwitness.ledger.answers import said
from earwitness.plant.site import Site
from earwitness.work.plan import Offer, Plan, plan

SECONDS = 2.0  # spent on finding a better plan; how far from the best it may be is said
AT_ONCE_S = 0.8  # a small plan is there before anybody notices
PATIENCE_S = 120.0  # of who asks for papers: they need the plan itself
MOST = 8  # plans that are kept


@dataclass
class Making:
    """A plan that is being made: since when, and of how many repairs once they are read."""

    since: float
    done: threading.Event
    repairs: int | None = None
    error: EarwitnessError | None = None

    @property
    def seconds(self) -> float:
        return time.monotonic() - self.since


class Maker:
    def __init__(self) -> None:
        self._kept: OrderedDict[Any, Plan] = OrderedDict()
        self._making: dict[Any, Making] = {}
        self._lock, self._one = threading.Lock(), threading.Lock()

    def of(self, ledger: Ledger, connection: Connection, site: Site, offer: Offer, wait_s: float) -> Plan | Making:
        """The plan, if it is there within so many seconds; else how far it is. What the plan was refused for is raised
        once here."""
        key = (str(ledger.store.folder), site.id, repr(offer), _stamp(connection, site))
        with self._lock:
            found, making = self._kept.get(key), self._making.get(key)
            if found is None and making is None:
                making = self._making[key] = Making(time.monotonic(), threading.Event())
                asked = (key, making, ledger, site, offer)
                threading.Thread(target=self._make, args=asked, name="earwitness-plan", daemon=True).start()
        if found is None and making is not None:
            making.done.wait(wait_s)
            with self._lock:
                found = self._kept.get(key)
            if making.error is not None:
                raise making.error
        if found is not None:
            return replace(found, site=site)
        return making or Making(time.monotonic(), threading.Event())

    def _make(self, key: Any, making: Making, ledger: Ledger, site: Site, offer: Offer) -> None:
        try:
            with self._one, ledger.reading() as connection:
                made = plan(connection, site, offer, seconds=SECONDS, told=making)
            with self._lock:
                self._kept[key] = made
                while len(self._kept) > MOST:
                    self._kept.popitem(last=False)
        except EarwitnessError as error:
            making.error = error
        except Exception as error:
            logging.getLogger("earwitness").exception("a plan was not made")
            making.error = EarwitnessError("the plan could not be made; the reason is in the server's log")
            making.error.__cause__ = error
        finally:
            with self._lock:
                self._making.pop(key, None)
            making.done.set()


def _stamp(connection: Connection, site: Site) -> tuple[Any, ...]:
    """Another one whenever something was filed, judged anew, told, answered, taken back or stepped on."""
    s, a = schema.finding_step.c, schema.assessment.c
    steps = connection.execute(select(func.count(), func.max(s.at)).where(s.site_id == site.id)).one()
    judged = connection.execute(select(func.max(a.made_at)).where(a.site_id == site.id)).scalar()
    return (*steps, judged, said(connection, site.id))


maker = Maker()
