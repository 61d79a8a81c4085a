"""earwitness survey: the main job."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import click

from earwitness.cli.progress import progress_bar

EPILOG = """\b
Example:
  earwitness survey my-survey --out my-survey/out
"""


@click.command("survey", epilog=EPILOG)
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), required=True, help="Folder that the outputs go into.")
@click.option("--reports", type=click.Choice(["all", "html", "pdf", "none"]), default="all", show_default=True)
@click.option("--jobs", type=click.IntRange(1), help="Recordings judged at once; all cores by default.")
@click.option("--seed", type=click.IntRange(0), default=0, show_default=True, help="Seed of the random draws.")
def command(folder: Path, out: Path, reports: str, jobs: int | None, seed: int) -> None:
    """Judge the survey in FOLDER (survey.toml, readings.csv or .xlsx, recordings/) and write findings.json, the ranked
    repair list and the report."""
    from earwitness.errors import EarwitnessError
    from earwitness.work.survey import closing_line, run_survey

    with progress_bar("Judging") as progress:
        result = run_survey(
            folder, out, reports=reports, jobs=jobs or os.cpu_count() or 1, seed=seed, progress=progress
        )
    for name in result.findings["urgent"]:
        click.echo(f"ACT NOW: {name}, see the first page of the report", err=True)
    if reports in ("all", "html"):
        click.echo(f"Report: {out / 'report.html'}")
    click.echo(f"earwitness: {closing_line(result)}", err=True)
    if result.assessments and all(a.reading.status == "unreadable" for a in result.assessments):
        raise EarwitnessError("no row could be read; the problems are in findings.json")
    sys.stdout.flush()
