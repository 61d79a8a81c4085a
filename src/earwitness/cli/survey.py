"""earwitness survey: the main job."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import click

from earwitness.cli.path import PATH
from earwitness.cli.progress import progress_bar

EPILOG = """\b
Example:
  earwitness survey my-survey --out my-survey/out
  earwitness survey my-survey --out my-survey/out --ledger plant.db
"""


@click.command("survey", epilog=EPILOG)
@click.argument("folder", type=PATH)
@click.option("--out", type=PATH, required=True, help="Folder that the outputs go into.")
@click.option("--reports", type=click.Choice(["all", "html", "pdf", "none"]), default="all", show_default=True)
@click.option("--jobs", type=click.IntRange(1), help="Recordings judged at once; all cores by default.")
@click.option("--seed", type=click.IntRange(0), default=0, show_default=True, help="Seed of the random draws.")
@click.option("--ledger", help="File the survey in this ledger: a file, or the URL of a PostgreSQL database.")
@click.option("--recordings", type=PATH, help="Folder of the ledger's recordings.")
def command(
    folder: Path, out: Path, reports: str, jobs: int | None, seed: int, ledger: str | None, recordings: Path | None
) -> None:
    """Judge the survey in FOLDER (survey.toml, readings.csv or .xlsx, recordings/) and write findings.json, the ranked
    repair list and the report. With --ledger the survey is filed too: its points, readings and findings go on living
    there, and what an earlier survey found is verified or reopened."""
    from earwitness.errors import EarwitnessError
    from earwitness.work.survey import closing_line, run_survey

    with progress_bar("Judging") as progress:
        given = {"reports": reports, "jobs": jobs or os.cpu_count() or 1, "seed": seed, "progress": progress}
        if ledger is None:
            result = run_survey(folder, out, **given)  # type: ignore[arg-type]
        else:
            from earwitness.work.survey_into_ledger import survey_into_ledger

            result, filed = survey_into_ledger(folder, out, ledger, recordings, **given)  # type: ignore[arg-type]
    for name in result.findings["urgent"]:
        click.echo(f"ACT NOW: {name}, see the first page of the report", err=True)
    if reports in ("all", "html"):
        click.echo(f"Report: {out / 'report.html'}")
    if ledger is not None:
        for said in (*filed.doubts, *(e.sentence for e in filed.events if e.state != "open")):
            click.echo(f"Ledger: {said.text}", err=True)
        click.echo(f"Ledger: {filed.sentence.text}", err=True)
    click.echo(f"earwitness: {closing_line(result)}", err=True)
    if result.assessments and all(a.reading.status == "unreadable" for a in result.assessments):
        raise EarwitnessError("no row could be read; the problems are in findings.json")
    sys.stdout.flush()
