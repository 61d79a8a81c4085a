"""In which order a survey's readings are shown, and how many of each sort there are: worked out once while nothing new
is filed, since a large survey's order takes a second and a page of it shows a few hundred."""

from __future__ import annotations

import threading
import time
import uuid
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from sqlalchemy import Connection, and_, case, func, select

from earwitness import __version__
from earwitness.ledger import Ledger, readings, schema
from earwitness.ledger.surveys import FiledSurvey
from earwitness.report.counts import Counts, counts
from earwitness.work.rank import WORDS

MOST = 16  # surveys that are remembered
TRUSTED_S = 5.0  # what another process may have judged anew in the meantime is looked for no more often


@dataclass(frozen=True)
class Order:
    ids: Sequence[uuid.UUID]
    counts: Counts
    judged_at: datetime | None  # the latest judgement of the site: a later one says that something was judged anew
    looked_at: float


class Orders:
    def __init__(self) -> None:
        self._kept: OrderedDict[tuple[str, uuid.UUID, str, str], Order] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, ledger: Ledger, survey: FiledSurvey) -> Order:
        key = (str(ledger.store.folder), survey.id, survey.inputs_sha256, __version__)
        with self._lock:
            known = self._kept.get(key)
        now, a = time.monotonic(), schema.assessment.c
        if known is not None and now - known.looked_at < TRUSTED_S:
            return known
        with ledger.reading() as connection:
            last = connection.scalar(select(func.max(a.made_at)).where(a.site_id == survey.site_id))
            same = known is not None and known.judged_at == last
            found = replace(known, looked_at=now) if known and same else _worked_out(connection, survey.id, last, now)
        with self._lock:
            self._kept[key] = found
            self._kept.move_to_end(key)
            while len(self._kept) > MOST:
                self._kept.popitem(last=False)
        return found


def _worked_out(connection: Connection, survey_id: uuid.UUID, judged_at: datetime | None, now: float) -> Order:
    """Urgent by signal word, then by rank, the undecided, the rest."""
    r, a = schema.reading.c, schema.assessment.c
    rank = a.result["rank"].as_integer().label("rank")
    word = case({name: order for name, order in WORDS.items() if name}, value=a.signal_word, else_=4).label("word")
    asked = (
        select(r.id, r.row, rank, word, a.urgent, a.verdict)
        .select_from(schema.reading.outerjoin(schema.assessment, and_(a.reading_id == r.id, a.current)))
        .where(r.survey_id == survey_id, r.status != readings.WITHDRAWN)
    )
    rows = connection.execute(asked).all()

    def place(row: tuple[uuid.UUID, int, int | None, int, bool | None, str | None]) -> tuple[int, int, int]:
        _, number, ranked, said, urgent, verdict = row
        if urgent:
            return said, 0, number
        if ranked is not None:
            return 10, ranked, number
        return (13 if verdict is None else 11 if verdict == "inconclusive" else 12), 0, number

    ordered = sorted((tuple(row) for row in rows), key=place)
    said = counts((verdict, ranked is not None, bool(urgent)) for _, _, ranked, _, urgent, verdict in ordered)
    return Order([row[0] for row in ordered], said, judged_at, now)


orders = Orders()
