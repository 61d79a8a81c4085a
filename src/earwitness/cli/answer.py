"""earwitness answer: what the fitter found."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import click

from earwitness.cli.ledger_options import at_option, ledger_options, opened, site_option
from earwitness.cli.number import LEVEL_DB

EPILOG = """\b
Examples:
  earwitness answer T-101 --found --what "worn seal" --fixed --before-db 62 --after-db 35 \\
      --who "A. Name" --ledger plant.db
  earwitness answer K7M4-R9TC --not-found --who "A. Name" --ledger plant.db
"""


@click.command("answer", epilog=EPILOG)
@click.argument("tag")
@ledger_options
@site_option
@click.option("--found/--not-found", "found", default=None, help="Whether what was heard was there.")
@click.option("--what", help="What it was, in words.")
@click.option("--fixed", is_flag=True, help="Mended on the spot.")
@click.option("--before-db", type=LEVEL_DB, help="Level before.")
@click.option("--after-db", type=LEVEL_DB, help="Level after.")
@click.option("--who", required=True, help="Who answers.")
@at_option
@click.option("--json", "as_json", is_flag=True, help="Print the answer as JSON.")
def command(
    tag: str, ledger: str, recordings: Path | None, site: str | None, found: bool | None, what: str | None,
    fixed: bool, before_db: float | None, after_db: float | None, who: str, at: datetime, as_json: bool,
) -> None:  # fmt: skip
    """File what a fitter found at TAG (the printed tag, the plant's own number, a reading's name or the beginning of a
    finding's identity). Answers correct the probabilities of this site."""
    from earwitness.errors import EarwitnessError
    from earwitness.work.answers import answer

    if found is None:
        raise EarwitnessError("was it there? state --found or --not-found")
    with opened(ledger, recordings) as book:
        filed = answer(
            book, site, tag, who=who, at=at, found=found, what=what, fixed=fixed, before_db=before_db,
            after_db=after_db,
        )  # fmt: skip
    if as_json:
        click.echo(json.dumps(filed.as_json(), ensure_ascii=False, indent=1, allow_nan=False))
        return
    click.echo(filed.sentence.text)
