"""What was found, proven and lost again over time: three sums as steps, in the picture that all line charts have."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta, tzinfo

from markupsafe import Markup

from earwitness.ledger.findings import Savings
from earwitness.workbench.line_chart import Curve, Scale, line_chart

SUMS = (("verified", "verified", "line"), ("found, not yet verified", "estimated", "dashed"),
        ("lost again", "lost_again", "dotted"))  # fmt: skip


def savings_chart(course: Sequence[Savings], now: datetime, zone: tzinfo) -> Markup:
    """Of one currency; the last sums stand until now. Empty where nothing was found yet."""
    if not course:
        return Markup("")
    currency = course[0].currency
    days = [_at_site(s.at, zone) for s in course]
    ends = max(_at_site(now, zone), days[0] + timedelta(days=1).total_seconds())
    top = max(getattr(s, name) for s in course for _, name, _ in SUMS) or 1.0
    curves = [Curve(said, [getattr(s, name) for s in course], currency, look, steps=True, digits=2)
              for said, name, look in SUMS]  # fmt: skip
    title = f"Savings over time in {currency} a year: verified, found and not yet verified, lost again"
    across, up = Scale(days[0], ends, "", "", dates=True), Scale(0.0, 1.08 * top, "saving a year", currency)
    return line_chart(f"savings-{currency.lower()}", title, days, across, up, curves)


def _at_site(at: datetime, zone: tzinfo) -> float:
    """Seconds of the clock that hangs at the site, so that a day is a day there."""
    return at.astimezone(zone).replace(tzinfo=UTC).timestamp()
