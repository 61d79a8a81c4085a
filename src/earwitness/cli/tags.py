"""earwitness tags: what hangs at the points."""

from __future__ import annotations

from pathlib import Path

import click

from earwitness.cli.ledger_options import ledger_options, opened, site_option
from earwitness.cli.path import PATH

EPILOG = """\b
Example:
  earwitness tags --ledger plant.db --out tags.pdf
"""


@click.command("tags", epilog=EPILOG)
@ledger_options
@site_option
@click.option("--out", type=PATH, required=True, help="A .pdf or .html file.")
@click.option("--kind", help="Only points of this kind.")
@click.option("--words", default="", help="Only points with these words in name, location or tag.")
@click.option("--link", default="", help="What stands before the tag in the code: the address of the site's server.")
def command(
    ledger: str, recordings: Path | None, site: str | None, out: Path, kind: str | None, words: str, link: str
) -> None:
    """Write the points' tags as sheets to print: a QR code, the tag in letters, the point's name."""
    from earwitness.report.format import counted
    from earwitness.work.tags import tags_of, write_tags

    with opened(ledger, recordings) as book:
        tags = tags_of(book, site, kind=kind, words=words, link=link)
    write_tags(tags, out)
    click.echo(f"{out}: {counted(len(tags), 'tag')}")
