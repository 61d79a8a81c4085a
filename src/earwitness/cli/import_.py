"""earwitness import: a ledger out of an exported file."""

from __future__ import annotations

from pathlib import Path

import click

from earwitness.cli.ledger_options import ledger_options, opened

EPILOG = """\b
Example:
  earwitness import plant.json --ledger copy.db
"""


@click.command("import", epilog=EPILOG)
@click.argument("file", type=click.Path(path_type=Path))
@ledger_options
def command(file: Path, ledger: str, recordings: Path | None) -> None:
    """Fill a ledger with what `earwitness export` wrote into FILE (.json), and with the recordings beside it."""
    from earwitness.work.exchange import import_json

    with opened(ledger, recordings, fill_from=file) as book:
        counts = import_json(book, file)
    wanted, files = counts.get("recording", 0), counts["files"]
    click.echo(f"{counts.get('point', 0)} points, {counts.get('reading', 0)} readings, {files} of {wanted} files")
    if files < wanted:
        click.echo("The other files were not beside the export; what is judged of them stands all the same.", err=True)
