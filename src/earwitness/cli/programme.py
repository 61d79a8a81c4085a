"""earwitness programme: the whole at a glance."""

from __future__ import annotations

import json
from pathlib import Path

import click

from earwitness.cli.ledger_options import ledger_options, opened, site_option

EPILOG = """\b
Example:
  earwitness programme --ledger plant.db --json
"""


@click.command("programme", epilog=EPILOG)
@ledger_options
@site_option
@click.option("--at", type=click.DateTime(["%Y-%m-%d"]), help="Day from which ages are counted; today if not stated.")
@click.option("--json", "as_json", is_flag=True, help="Print the view as JSON.")
def command(ledger: str, recordings: Path | None, site: str | None, at: object, as_json: bool) -> None:
    """Found, repaired, verified, reopened; the backlog and its age; saving verified against promised; how much a round
    overlooks; fitters' answers; system tests over time."""
    from datetime import UTC, datetime

    from earwitness.ledger import sites
    from earwitness.work import programme as view

    when = view.moment(at.date() if isinstance(at, datetime) else None, datetime.now(UTC))
    with opened(ledger, recordings) as book, book.reading() as c:
        found = view.programme(c, sites.site_of(c, site), at=when)
    if as_json:
        click.echo(json.dumps(found.as_json(), ensure_ascii=False, indent=1, allow_nan=False))
        return
    for line in view.told(found):
        click.echo(line)
