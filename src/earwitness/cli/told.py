"""earwitness told: who was told of a danger, and when."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import click

from earwitness.cli.ledger_options import at_option, ledger_options, opened, site_option

EPILOG = """\b
Examples:
  earwitness told T-105 --who "shift lead" --by "A. Name" --ledger plant.db
  earwitness told T-105 --ledger plant.db
  earwitness told T-105 --take-back --by "A. Name" --ledger plant.db
"""


@click.command("told", epilog=EPILOG)
@click.argument("tag")
@ledger_options
@site_option
@click.option("--who", help="Who was told; without it the record is shown.")
@click.option("--by", help="Who told, or takes it back.")
@click.option("--take-back", "back", is_flag=True, help="Take back the last line of the record: it was a mistake.")
@click.option("--words", default="", help="What was said.")
@at_option
@click.option("--json", "as_json", is_flag=True, help="Print the record as JSON.")
def command(
    tag: str, ledger: str, recordings: Path | None, site: str | None, who: str | None, by: str | None, back: bool,
    words: str, at: datetime, as_json: bool,
) -> None:  # fmt: skip
    """The record of who was told of what was found at TAG; with --who a line is added to it."""
    from earwitness.errors import EarwitnessError
    from earwitness.ledger import sites
    from earwitness.work.answers import answered_finding, record_of_told, tell
    from earwitness.work.take_back import take_back_told

    if back and (who is not None or not by):
        raise EarwitnessError("--take-back needs --by NAME, who takes it back, and goes without --who")
    with opened(ledger, recordings) as book:
        if back:
            with book.reading() as c:
                finding = answered_finding(c, sites.site_of(c, site).id, tag)
            take_back_told(book, finding, None, who=by or "", at=at)
        if who is not None:
            tell(book, site, tag, who=who, by=by or "", at=at, words=words)
        with book.reading() as c:
            finding = answered_finding(c, sites.site_of(c, site).id, tag)
            record = record_of_told(c, finding)
    if as_json:
        click.echo(json.dumps({"finding": str(finding.id), "told": record}, ensure_ascii=False, indent=1))
        return
    for line in record:
        click.echo(f"{line['at']}  {line['who']}, told by {line['by']}: {line['text']}")
    if not record:
        click.echo(f"Nobody is recorded as told of this ({finding.verdict}).")
