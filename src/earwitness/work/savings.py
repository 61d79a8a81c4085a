"""What repairs promised, proved and lost again, and what is still to be had, as it stands now, each with its interval.

Each amount is spread as the reading that last heard its fault has it; sums are drawn as those of a plan, so that what
readings share moves together. A fault is taken as there, however sure it is.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Connection, select

from earwitness.interval import Interval
from earwitness.ledger import findings as stored
from earwitness.ledger import schema
from earwitness.ledger.findings import ACCOUNTS
from earwitness.work.avoided import Avoided, if_there, together
from earwitness.work.last_heard import latest_judgements

PROMISED = "promised"
NOTHING = Interval(0.0, 0.0, 0.0, 0.0)
MOST = 500  # amounts of a sum that are drawn: of more, the largest say how far it is spread
Sums = dict[str, dict[str, Interval]]  # by currency, then by account [currency a year]
Each = dict[uuid.UUID, float]  # by finding


def sums(connection: Connection, site_id: uuid.UUID) -> Sums:
    """Of each currency what was promised, and the last of the sums over time, with 95 % intervals."""
    each: dict[str, dict[str, Each]] = {}
    for finding_id, currency, value in stored.promised_each(connection, site_id):
        each.setdefault(currency, {}).setdefault(PROMISED, {})[finding_id] = value
    for finding_id, (currency, account, value) in stored.saved_each(connection, site_id).items():
        each.setdefault(currency, {}).setdefault(account, {})[finding_id] = value
    drawn = {i for accounts in each.values() for amounts in accounts.values() for i in _largest(amounts)}
    heard = latest_judgements(connection, _opened_by(connection, sorted(drawn)))
    return {
        currency: {name: _sum(accounts.get(name, {}), currency, heard) for name in (PROMISED, *ACCOUNTS)}
        for currency, accounts in sorted(each.items())
    }


def _largest(amounts: Each) -> list[uuid.UUID]:
    return sorted(amounts, key=lambda i: (-amounts[i], i))[:MOST]


def _sum(amounts: Each, currency: str, heard: Mapping[uuid.UUID, Mapping[str, Any]]) -> Interval:
    whole = sum(amounts.values())
    if not whole:
        return NOTHING
    spread = {
        str(i): (currency, Avoided(if_there(amounts[i], heard.get(i, {}), "saving_per_year", currency)), 1.0)
        for i in _largest(amounts)
    }
    told = together(spread)[currency]
    return told.scaled(whole / told.mean)


def _opened_by(connection: Connection, ids: Sequence[uuid.UUID]) -> dict[uuid.UUID, uuid.UUID]:
    f, found = schema.finding.c, dict[uuid.UUID, uuid.UUID]()
    for first in range(0, len(ids), MOST):
        asked = select(f.id, f.opened_by).where(f.id.in_(ids[first : first + MOST]))
        found |= {r.id: r.opened_by for r in connection.execute(asked)}
    return found
