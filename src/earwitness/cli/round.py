"""earwitness round: the order in which to walk."""

from __future__ import annotations

import json
from pathlib import Path

import click

from earwitness.cli.ledger_options import ledger_options, opened, site_option

EPILOG = """\b
Example:
  earwitness round "Filling hall" --ledger plant.db
"""


@click.command("round", epilog=EPILOG)
@click.argument("area", required=False)
@ledger_options
@site_option
@click.option("--json", "as_json", is_flag=True, help="Print the order as JSON.")
def command(area: str | None, ledger: str, recordings: Path | None, site: str | None, as_json: bool) -> None:
    """The points of AREA (or of the whole site) in the order of a short walk, where their positions are known."""
    from earwitness.errors import EarwitnessError
    from earwitness.ledger import sites
    from earwitness.plant.site import name_key
    from earwitness.work.returns import walk

    with opened(ledger, recordings) as book, book.reading() as c:
        home = sites.site_of(c, site)
        known = sites.areas(c, home.id)
        found = next((a for a in known if area and name_key(a.name) == name_key(area)), None)
        if area and found is None:
            raise EarwitnessError(f"no area '{area}'; there are: {', '.join(a.name for a in known[:20]) or 'none'}")
        order = walk(c, home.id, found)
    if as_json:
        click.echo(json.dumps(order.as_json(), ensure_ascii=False, indent=1, allow_nan=False))
        return
    for number, p in enumerate(order.points, 1):
        click.echo(f"{number:>4}  {p.tag}  {p.kind:<10}  {p.name}" + (f", {p.location}" if p.location else ""))
        if p.dangers:
            click.echo(f"      Mind: {p.dangers}")
    if order.length_m is not None:
        click.echo(f"About {order.length_m:.0f} m past the {order.placed} points with a position.")
    for note in order.notes:
        click.echo(f"Note: {note.text}")
