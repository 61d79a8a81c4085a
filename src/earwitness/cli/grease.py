"""earwitness grease: how much, how often, when to stop; and the log."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import click

from earwitness.cli.ledger_options import at_option, ledger_options, opened, site_option
from earwitness.cli.number import LEVEL_DB, Number

EPILOG = """\b
Examples:
  earwitness grease "Conveyor 5, tail pulley" --ledger plant.db
  earwitness grease "Conveyor 5, tail pulley" --ledger plant.db --temperature "85 degC" --level-db 33 --level-db 30
  earwitness grease "Conveyor 5, tail pulley" --ledger plant.db --grams 3 --who "A. Name" --before-db 34 \\
      --level-db 33 --level-db 27 --level-db 23 --after-db 23
"""


@click.command("grease", epilog=EPILOG)
@click.argument("point")
@ledger_options
@site_option
@click.option("--temperature", help='Of the outer ring, "85 degC"; 70 °C where it is not stated.')
@click.option("--vertical", is_flag=True, help="The shaft stands upright.")
@click.option("--level-db", "levels_db", type=LEVEL_DB, multiple=True, help="Level after a stroke; repeat, in order.")
@click.option("--grams", type=Number(min=0, min_open=True), help="What went in: files a greasing.")
@click.option("--who", help="Who greased; needed with --grams.")
@click.option("--before-db", type=LEVEL_DB, help="Level before.")
@click.option("--after-db", type=LEVEL_DB, help="Level some minutes after.")
@at_option
@click.option("--json", "as_json", is_flag=True, help="Print amount, interval, log and notes as JSON.")
def command(
    point: str, ledger: str, recordings: Path | None, site: str | None, temperature: str | None, vertical: bool,
    levels_db: tuple[float, ...], grams: float | None, who: str | None, before_db: float | None,
    after_db: float | None, at: datetime, as_json: bool,
) -> None:  # fmt: skip
    """Grease for POINT (its tag or name): the most that it takes, its interval where the formula holds, whether to stop
    at the levels heard; with --grams the greasing is filed."""
    from earwitness import units
    from earwitness.errors import EarwitnessError
    from earwitness.ledger import sites
    from earwitness.work import greasing
    from earwitness.work.trends import point_of

    kelvin = units.quantity(temperature, "temperature", where="temperature") if temperature else None
    with opened(ledger, recordings) as book:
        if grams is not None:
            if not who:
                raise EarwitnessError("who greased it? state --who NAME")
            found = greasing.record(
                book, site, point, who=who, at=at, grams=grams, before_db=before_db, levels_db=levels_db,
                after_db=after_db,
            )  # fmt: skip
        else:
            with book.reading() as c:
                here = point_of(c, sites.site_of(c, site).id, point)
                found = greasing.advise(c, here, temperature_k=kelvin, vertical=vertical, levels_db=levels_db)
    if as_json:
        click.echo(json.dumps(found.as_json(), ensure_ascii=False, indent=1, allow_nan=False))
        return
    if found.stop:
        click.echo(found.stop.sentence.text)
    if found.dose:
        click.echo(found.dose.sentence.text)
    click.echo(found.interval_said.text)
    for g in found.log:
        levels = " → ".join(f"{x:.0f}" for x in (g.level_before_db, *g.levels_db, g.level_after_db) if x is not None)
        click.echo(f"  {g.at:%Y-%m-%d}  {g.grams:g} g  {levels} dB  {g.who}  {g.stopped_because or ''}".rstrip())
    for note in found.notes:
        click.echo(f"Note: {note.text}")
    click.echo("Never reach past a guard; the machine's own grease only; local rules come first.")
