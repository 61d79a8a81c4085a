"""earwitness calibrate: the site's own leaks of known size."""

from __future__ import annotations

import json
from pathlib import Path

import click

from earwitness.cli.path import PATH

EPILOG = """\b
Example:
  earwitness calibrate calibration.csv
A sheet named calibration.csv (or .xlsx) in a survey folder is used by `earwitness survey`.
"""


@click.command("calibrate", epilog=EPILOG)
@click.argument("sheet", type=PATH)
@click.option("--json", "as_json", is_flag=True, help="Print the numbers as JSON.")
def command(sheet: Path, as_json: bool) -> None:
    """Fit flow on level, pressure and distance from SHEET: leaks of known size, one a row, with the columns level_db,
    distance_m, pressure, and flow or opening_mm."""
    from earwitness.work.calibrate import calibrate

    found = calibrate(sheet)
    if as_json:
        click.echo(json.dumps(found.as_json(), ensure_ascii=False, indent=1, allow_nan=False))
        return
    c = found.calibration
    click.echo(f"{c.leaks} calibration leaks; the level rises by {c.slope_db_decade:.0f} dB for a decade of flow.")
    click.echo(f"A level now gives a flow within a factor of about {found.factor:.1f} either way (95 %).")
    for note in c.notes:
        click.echo(f"Note: {note.text}")
    for problem in found.problems:
        click.echo(f"Problem: {problem.sentence.text}")
