"""earwitness demo: the invented site, judged."""

from __future__ import annotations

import os
from pathlib import Path

import click

from earwitness.cli.path import PATH
from earwitness.cli.progress import progress_bar

EPILOG = """\b
Examples:
  earwitness demo --out demo
  earwitness demo --year --out demo
"""


@click.command("demo", epilog=EPILOG)
@click.option("--out", type=PATH, default=Path("demo"), show_default=True, help="Folder to use.")
@click.option("--year", is_flag=True, help="The rounds of the year before too, with repairs, filed in a ledger.")
def command(out: Path, year: bool) -> None:
    """Write the survey folder of an invented site, made from physics, and run `survey` on it."""
    from earwitness.work.demo import demo_survey
    from earwitness.work.survey import closing_line, run_survey

    jobs = os.cpu_count() or 1
    with progress_bar("Recording the invented site") as progress:
        folder = demo_survey(out, jobs=jobs, progress=progress)
    with progress_bar("Judging") as progress:
        result = run_survey(folder, out, jobs=jobs, progress=progress)
    click.echo(f"earwitness: {closing_line(result)}", err=True)
    click.echo(f"Survey folder: {folder}")
    click.echo(f"Repair list:   {out / 'repair-list.xlsx'}")
    click.echo(f"Report:        {out / 'report.html'} and report.pdf")
    if year:
        from earwitness.work.demo_year import demo_year

        with progress_bar("The year before") as progress:
            made = demo_year(out, result, jobs=jobs, progress=progress)
        click.echo(f"Ledger:        {made.ledger}")
        click.echo(f'Try:           earwitness trend "Exhauster 2, drive end" --ledger {made.ledger}')
        click.echo(f"               earwitness plan --ledger {made.ledger} --hours fitter=16 --hours millwright=16")
        click.echo(f"               earwitness programme --ledger {made.ledger} --at 2026-11-23")
