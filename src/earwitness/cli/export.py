"""earwitness export: a ledger into files."""

from __future__ import annotations

from pathlib import Path

import click

from earwitness.cli.ledger_options import ledger_options, opened, site_option
from earwitness.cli.path import PATH

EPILOG = """\b
Examples:
  earwitness export --ledger plant.db --out plant.json --with-recordings
  earwitness export --ledger plant.db --out plant.xlsx
  earwitness export --ledger plant.db --out plant-csv
"""


@click.command("export", epilog=EPILOG)
@ledger_options
@site_option
@click.option("--out", type=PATH, required=True, help="A .json or .xlsx file, or a folder.")
@click.option("--with-recordings", is_flag=True, help="With .json: the recordings into a folder beside it.")
def command(ledger: str, recordings: Path | None, site: str | None, out: Path, with_recordings: bool) -> None:
    """Write the whole ledger as JSON, without loss, history and all; or points, readings and findings as a workbook,
    or as a folder of CSV."""
    from earwitness.errors import EarwitnessError

    kind = out.suffix.casefold()
    if kind not in (".json", ".xlsx", ""):
        raise EarwitnessError(f"{out} cannot be written; a name that ends in .json or .xlsx, or a folder would do")
    if kind == ".json" and site is not None:
        raise EarwitnessError("JSON holds the whole ledger; leave --site out, or write a workbook or a folder of CSV")
    with opened(ledger, recordings) as book:
        if kind == ".json":
            from earwitness.report.format import counted
            from earwitness.work.exchange import export_json

            counts = export_json(book, out, recordings=with_recordings)
            held = ", ".join(counted(counts[name], name) for name in ("point", "reading", "finding"))
            click.echo(f"{out}: {held}")
        else:
            from earwitness.work.ledger_sheets import export_csv, export_xlsx

            if kind:
                export_xlsx(book, out, site)
                click.echo(str(out))
            else:
                click.echo("\n".join(str(path) for path in export_csv(book, out, site)))
