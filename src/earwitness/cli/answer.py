"""earwitness answer: what the fitter found."""

from __future__ import annotations

import json
from pathlib import Path

import click

from earwitness.cli.ledger_options import ledger_options, opened, site_option

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
@click.option("--before-db", type=float, help="Level before.")
@click.option("--after-db", type=float, help="Level after.")
@click.option("--who", required=True, help="Who answers.")
@click.option("--at", type=click.DateTime(), help="When, in the computer's time; now where it is not stated.")
@click.option("--json", "as_json", is_flag=True, help="Print the answer as JSON.")
def command(
    tag: str, ledger: str, recordings: Path | None, site: str | None, found: bool | None, what: str | None,
    fixed: bool, before_db: float | None, after_db: float | None, who: str, at: object, as_json: bool,
) -> None:  # fmt: skip
    """File what a fitter found at TAG (the printed tag, the plant's own number, a reading's name or the beginning of a
    finding's identity). Answers correct the probabilities of this site."""
    from datetime import UTC, datetime

    from earwitness.errors import EarwitnessError
    from earwitness.work.answers import answer

    if found is None:
        raise EarwitnessError("was it there? state --found or --not-found")
    when = at.astimezone(UTC) if isinstance(at, datetime) else datetime.now(UTC)
    with opened(ledger, recordings) as book:
        filed = answer(
            book, site, tag, who=who, at=when, found=found, what=what, fixed=fixed, before_db=before_db,
            after_db=after_db,
        )  # fmt: skip
    if as_json:
        click.echo(json.dumps(filed.as_json(), ensure_ascii=False, indent=1, allow_nan=False))
        return
    click.echo(filed.sentence.text)
