"""earwitness import: a ledger out of an exported file."""

from __future__ import annotations

from pathlib import Path

import click

from earwitness.cli.ledger_options import ledger_options, opened
from earwitness.cli.path import PATH

EPILOG = """\b
Example:
  earwitness import plant.json --ledger copy.db
"""


@click.command("import", epilog=EPILOG)
@click.argument("file", type=PATH)
@ledger_options
def command(file: Path, ledger: str, recordings: Path | None) -> None:
    """Fill a ledger with what `earwitness export` wrote into FILE (.json), and with the recordings beside it."""
    from earwitness.report.format import counted
    from earwitness.work.exchange import import_json, read_export

    exported = read_export(file)  # first: what cannot be read makes no ledger
    with opened(ledger, recordings, made=True) as book:
        counts = import_json(book, exported)
    wanted, files = counts.get("recording", 0), counts["files"]
    held = ", ".join(counted(counts.get(name, 0), name) for name in ("point", "reading"))
    click.echo(f"{held}, {files} of {counted(wanted, 'file')}")
    if files < wanted:
        click.echo("The other files were not beside the export; what is judged of them stands all the same.", err=True)
