"""earwitness points: where one listens."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

import click

from earwitness.cli.ledger_options import ledger_options, opened, site_option
from earwitness.cli.path import PATH

EPILOG = """\b
Examples:
  earwitness points import points.xlsx --ledger plant.db --site "Example works"
  earwitness points list --ledger plant.db --kind bearing
"""


@click.group("points", epilog=EPILOG)
def command() -> None:
    """The points of a ledger: where one listens, how, and what is normal there."""


@command.command("import")
@click.argument("sheet", type=PATH)
@ledger_options
@site_option
def import_(sheet: Path, ledger: str, recordings: Path | None, site: str | None) -> None:
    """Take over points from SHEET (CSV or XLSX, one a row): the columns point, kind, area, tag, component, location,
    medium, pressure, speed_rpm, bearing … of the field sheet, and printed_tag, asset_name, baseline_db, watch_db,
    act_db, how_to_listen, dangers, plan_x, plan_y. What the sheet does not say stays as it is."""
    from earwitness.work.points import import_points, read_points

    read = read_points(sheet)  # first: what cannot be read makes no ledger
    with opened(ledger, recordings, made=True) as book:
        done = import_points(book, read, site)
    for doubt in done.doubts:
        click.echo(f"In doubt: {doubt.text}", err=True)
    for problem in done.problems:
        click.echo(f"Problem: {problem.sentence.text}", err=True)
    click.echo(done.sentence.text)


@command.command("list")
@ledger_options
@site_option
@click.option("--kind", help="Only points of this kind.")
@click.option("--words", default="", help="Only points with these words in name, location or tag.")
@click.option("--limit", type=click.IntRange(1), default=100, show_default=True, help="Most to list.")
@click.option("--offset", type=click.IntRange(0), default=0, show_default=True, help="How many to pass over.")
@click.option("--json", "as_json", is_flag=True, help="Print the points as JSON.")
def list_(
    ledger: str, recordings: Path | None, site: str | None, kind: str | None, words: str, limit: int, offset: int,
    as_json: bool,
) -> None:  # fmt: skip
    """List points by name, page by page."""
    from earwitness.ledger import points, sites
    from earwitness.report.format import counted

    with opened(ledger, recordings) as book, book.reading() as c:
        home = sites.site_of(c, site)
        found = points.points(c, home.id, kind=kind, words=words, limit=limit, offset=offset)
        count = points.count_points(c, home.id, kind=kind, words=words)
        areas = {a.id: a.name for a in sites.areas(c, home.id)}
    if as_json:
        listed = [asdict(p) | {"area": areas.get(p.area_id) if p.area_id else None} for p in found]
        click.echo(json.dumps({"site": home.name, "count": count, "points": listed}, default=str, indent=1))
        return
    for p in found:
        area = areas.get(p.area_id, "") if p.area_id else ""
        click.echo("  ".join(part for part in (p.tag, f"{p.kind:<10}", p.name, p.component, area) if part))
    click.echo(f"{len(found)} of {counted(count, 'point')} of {home.name}", err=True)
