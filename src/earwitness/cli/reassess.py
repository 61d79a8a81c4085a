"""earwitness reassess: judge what is filed anew."""

from __future__ import annotations

import json
import os
from dataclasses import asdict
from pathlib import Path

import click

from earwitness.cli.ledger_options import ledger_options, opened, site_option

EPILOG = """\b
Example:
  earwitness reassess --ledger plant.db
"""


@click.command("reassess", epilog=EPILOG)
@ledger_options
@site_option
@click.option("--jobs", type=click.IntRange(1), help="Recordings judged at once; all cores by default.")
@click.option("--json", "as_json", is_flag=True, help="Print what changed as JSON.")
def command(ledger: str, recordings: Path | None, site: str | None, jobs: int | None, as_json: bool) -> None:
    """Judge every filed reading anew with the present version, from the files as they were filed. Earlier judgements
    are kept; the same version gives the same result."""
    from earwitness.errors import EarwitnessError
    from earwitness.work.reassess import reassess

    with opened(ledger, recordings) as book:
        done = reassess(book, site, jobs=jobs or os.cpu_count() or 1)
    if as_json:
        turned = [asdict(t) for t in done.turned]
        found = {"turned": turned, "findings": [e.as_json() for e in done.events], **done.sentence.as_json()}
        click.echo(json.dumps(found, ensure_ascii=False, indent=1))
    else:
        for t in done.turned:
            click.echo(f"{t.survey}, {t.reading}: {t.before or 'not judged'} → {t.after or 'not judged'}")
        for event in done.events:
            click.echo(event.sentence.text)
        click.echo(done.sentence.text)
    for sentence in done.failed:
        click.echo(sentence.text, err=True)
    if done.failed:
        raise EarwitnessError("not every survey could be judged; see above")
