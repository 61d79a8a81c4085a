"""earwitness findings: what is wrong, until it is proven mended."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import datetime
from pathlib import Path

import click

from earwitness.cli.ledger_options import at_option, ledger_options, opened, site_option

EPILOG = """\b
Examples:
  earwitness findings list --ledger plant.db
  earwitness findings history T-101 --ledger plant.db
  earwitness findings step T-101 repaired --ledger plant.db --who "A. Name" --why "coupling replaced"
"""


@click.group("findings", epilog=EPILOG)
def command() -> None:
    """The findings of a ledger: listed by rank, scheduled, repaired, dismissed with a reason, reopened. Verified they
    are by a later reading."""


@command.command("list")
@ledger_options
@site_option
@click.option("--closed", is_flag=True, help="Those repaired, verified or dismissed instead.")
@click.option("--limit", type=click.IntRange(1), default=100, show_default=True, help="Most to list.")
@click.option("--offset", type=click.IntRange(0), default=0, show_default=True, help="How many to pass over.")
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON.")
def list_(
    ledger: str, recordings: Path | None, site: str | None, closed: bool, limit: int, offset: int, as_json: bool
) -> None:
    """List findings, what is to be acted on first, first."""
    from earwitness.ledger import findings, sites
    from earwitness.work.desk_findings import WORDS
    from earwitness.work.last_heard import as_last_heard

    with opened(ledger, recordings) as book, book.reading() as c:
        home = sites.site_of(c, site)
        found = as_last_heard(c, findings.ranked(c, home.id, standing=not closed, limit=limit, offset=offset))
        counts = findings.count_by_state(c, home.id)
        sums = findings.savings(c, home.id)
    if as_json:
        listed = [asdict(x.finding) | {k: v for k, v in asdict(x).items() if k != "finding"} for x, _ in found]
        out = {"site": home.name, "counts": counts, "savings": [asdict(s) for s in sums], "findings": listed}
        click.echo(json.dumps(out, default=str, indent=1, ensure_ascii=False))
        return
    for x, _ in found:
        f = x.finding
        now = "ACT NOW" if f.figures.urgent else ""
        word = f"{WORDS[f.figures.word_order]:<7}"
        parts = (str(f.id)[:8], f"{f.state:<9}", word, f"{f.verdict:<12}", x.tag, x.plant_tag, x.point, x.area, now)
        click.echo("  ".join(part for part in parts if part))
    click.echo(f"{home.name}: " + (", ".join(f"{n} {s}" for s, n in sorted(counts.items())) or "no finding"), err=True)


@command.command("step")
@click.argument("finding")
@click.argument("state", type=click.Choice(["scheduled", "repaired", "dismissed", "reopened"]))
@ledger_options
@site_option
@click.option("--who", required=True, help="Who took the step.")
@click.option("--why", default="", help="Why; needed to dismiss a finding.")
@at_option
def step(
    finding: str, state: str, ledger: str, recordings: Path | None, site: str | None, who: str, why: str, at: datetime
) -> None:
    """Take a step with FINDING (a tag, a reading's name or the beginning of its identity): it is added to its
    history."""
    from earwitness.ledger import sites
    from earwitness.work.answers import answered_finding
    from earwitness.work.findings import step_finding

    with opened(ledger, recordings) as book:
        with book.reading() as c:
            known = answered_finding(c, sites.site_of(c, site).id, finding)
        now = step_finding(book, known.id, state, who=who, why=why, at=at)
    click.echo(f"{str(now.id)[:8]}: {known.state} → {now.state}")


@command.command("history")
@click.argument("finding")
@ledger_options
@site_option
@click.option("--json", "as_json", is_flag=True, help="Print the steps as JSON.")
def history(finding: str, ledger: str, recordings: Path | None, site: str | None, as_json: bool) -> None:
    """Every step of FINDING (a tag, a reading's name or the beginning of its identity): who, when, why."""

    from earwitness.ledger import findings, sites
    from earwitness.work.answers import answered_finding
    from earwitness.work.findings import without_hour

    with opened(ledger, recordings) as book, book.reading() as c:
        home = sites.site_of(c, site)
        known = answered_finding(c, home.id, finding)
        steps = findings.history(c, known.id)
        untimed = without_hour(c, steps)
    if as_json:
        click.echo(json.dumps([asdict(s) for s in steps], default=str, indent=1, ensure_ascii=False))
        return
    for s in steps:
        here = s.at.astimezone(home.zone)
        at = f"{here:%Y-%m-%d}      " if s.reading_id in untimed else f"{here:%Y-%m-%d %H:%M}"
        click.echo(f"{at}  {s.state:<9}  {s.who}: {s.why}")
