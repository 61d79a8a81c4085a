"""earwitness trend: one point over time."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from earwitness.cli.ledger_options import ledger_options, opened, site_option
from earwitness.cli.number import LEVEL_DB

if TYPE_CHECKING:
    from earwitness.work.trends import PointTrend

EPILOG = """\b
Examples:
  earwitness trend "Exhauster 2, drive end" --ledger plant.db
  earwitness trend K7M4-R9TC --ledger plant.db --baseline-db 23 --json
"""


@click.command("trend", epilog=EPILOG)
@click.argument("point")
@ledger_options
@site_option
@click.option("--baseline-db", type=LEVEL_DB, help="Level of the point when good, instead of that of its first visits.")
@click.option("--json", "as_json", is_flag=True, help="Print the trend as JSON.")
def command(
    point: str, ledger: str, recordings: Path | None, site: str | None, baseline_db: float | None, as_json: bool
) -> None:
    """What is normal at POINT (its tag or name), whether it has changed, and how soon an alarm is to be expected."""
    from earwitness.ledger import sites
    from earwitness.work.trends import point_of, trend_of

    with opened(ledger, recordings) as book, book.reading() as c:
        found = trend_of(c, point_of(c, sites.site_of(c, site).id, point), baseline_db=baseline_db)
    if as_json:
        click.echo(json.dumps(found.as_json(), ensure_ascii=False, indent=1, allow_nan=False))
        return
    for line in told(found):
        click.echo(line)


def told(found: PointTrend) -> list[str]:
    """The trend in plain lines."""
    p = found.point
    lines = [f"{p.name} ({p.tag}, {p.kind}): " + (f"{found.state}" if found.state else "nothing to compare yet")]
    lines += [
        f"  {v.at:%Y-%m-%d}  {v.level_db:5.1f} dB  {v.state:<5}  {v.verdict or ''}"
        + (f"  (median of {len(v.levels_db)})" if len(v.levels_db) > 1 else "")
        for v in found.visits
    ]
    said = [found.baseline_basis, found.alarms.basis if found.alarms else None]
    said += [found.change.sentence if found.change else None, found.false_alarm]
    lines += [s.text for s in said if s]
    if found.slope:
        low, value, high = (x * 365.25 for x in (found.slope.low, found.slope.per_day, found.slope.high))
        lines.append(f"Slope: {value:.1f} dB a year ({low:.1f} to {high:.1f})")
    for name, forecast in (("Watch", found.to_watch), ("Act", found.to_act)):
        if forecast:
            lines.append(f"{name}: {forecast.sentence.text}")
    if found.like and found.like.basis not in said:
        lines.append(found.like.basis.text)
    lines += [f"Left out: {x.name} of {x.taken_at:%Y-%m-%d}. {why.text}" for x, why in found.left_out]
    return lines + [f"Note: {n.text}" for n in found.notes]
