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
  earwitness answer K7M4-R9TC --take-back --who "A. Name" --ledger plant.db
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
@click.option("--take-back", "back", is_flag=True, help="Take back the last answer: it was a mistake.")
@click.option("--who", required=True, help="Who answers, or takes it back.")
@at_option
@click.option("--json", "as_json", is_flag=True, help="Print the answer as JSON.")
def command(
    tag: str, ledger: str, recordings: Path | None, site: str | None, found: bool | None, what: str | None,
    fixed: bool, before_db: float | None, after_db: float | None, back: bool, who: str, at: datetime, as_json: bool,
) -> None:  # fmt: skip
    """File what a fitter found at TAG (the printed tag, the plant's own number, a reading's name or the beginning of a
    finding's identity). Answers correct the probabilities of this site."""
    from earwitness.errors import EarwitnessError
    from earwitness.work.answers import answer

    if back:
        if (found, what, before_db, after_db) != (None, None, None, None) or fixed:
            raise EarwitnessError("--take-back goes without a new answer; take the old one back first, then answer")
        click.echo(_taken_back(tag, ledger, recordings, site, who, at))
        return
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


def _taken_back(tag: str, ledger: str, recordings: Path | None, site: str | None, who: str, at: datetime) -> str:
    from earwitness.ledger import sites
    from earwitness.work.answers import answered_finding
    from earwitness.work.take_back import take_back_answer

    with opened(ledger, recordings) as book:
        with book.reading() as c:
            finding = answered_finding(c, sites.site_of(c, site).id, tag)
        return take_back_answer(book, finding, None, who=who, at=at)[1].text
