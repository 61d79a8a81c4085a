"""earwitness demo: the invented site, judged."""

from __future__ import annotations

import os
from pathlib import Path

import click

from earwitness.cli.progress import progress_bar

EPILOG = """\b
Example:
  earwitness demo --out demo
"""


@click.command("demo", epilog=EPILOG)
@click.option("--out", type=click.Path(path_type=Path), default=Path("demo"), show_default=True, help="Folder to use.")
def command(out: Path) -> None:
    """Write the survey folder of an invented site, made from physics, and run `survey` on it."""
    from earwitness.work.demo import demo_survey
    from earwitness.work.survey import closing_line, run_survey

    with progress_bar("Recording the invented site") as progress:
        folder = demo_survey(out, jobs=os.cpu_count() or 1, progress=progress)
    with progress_bar("Judging") as progress:
        result = run_survey(folder, out, jobs=os.cpu_count() or 1, progress=progress)
    click.echo(f"earwitness: {closing_line(result)}", err=True)
    click.echo(f"Survey folder: {folder}")
    click.echo(f"Repair list:   {out / 'repair-list.xlsx'}")
    click.echo(f"Report:        {out / 'report.html'} and report.pdf")
