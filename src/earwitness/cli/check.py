"""earwitness check: one minute on a fixed source."""

from __future__ import annotations

from pathlib import Path

import click

from earwitness.cli.ledger_options import ledger_options, opened, site_option
from earwitness.cli.number import LEVEL_DB, Number

EPILOG = """\b
Example:
  earwitness check --ledger plant.db --level-db 51 --expected-db 52 --day 2026-11-20
"""


@click.command("check", epilog=EPILOG)
@ledger_options
@site_option
@click.option("--serial", help="Serial number of the instrument; not needed where the ledger knows one only.")
@click.option("--level-db", type=LEVEL_DB, required=True, help="What the instrument showed on the fixed source.")
@click.option("--expected-db", type=LEVEL_DB, required=True, help="What it showed there when it was good.")
@click.option("--tolerance-db", type=Number(min=0.1), default=3.0, show_default=True, help="How far off.")
@click.option("--day", type=click.DateTime(["%Y-%m-%d"]), help="Today where it is not stated.")
@click.option("--json", "as_json", is_flag=True, help="Print the check as JSON.")
def command(
    ledger: str, recordings: Path | None, site: str | None, serial: str | None, level_db: float, expected_db: float,
    tolerance_db: float, day: object, as_json: bool,
) -> None:  # fmt: skip
    """File the check of an instrument on a fixed source: a failing sensor is told from a changing machine by it."""
    import json
    from datetime import date, datetime

    from earwitness.errors import EarwitnessError
    from earwitness.plant.site import SensitivityCheck
    from earwitness.work.sensor_checks import record_check

    when = day.date() if isinstance(day, datetime) else date.today()
    if when > date.today():
        raise EarwitnessError(f"--day {when} is still to come; state the day of the check")
    check = SensitivityCheck(when, level_db, expected_db, tolerance_db)
    with opened(ledger, recordings) as book:
        words, passed = record_check(book, site, serial, check)
    if as_json:
        click.echo(json.dumps({"instrument": words, "day": when.isoformat(), "level_db": level_db, "passed": passed}))
        return
    fate = (
        "within its tolerance" if passed else "out of its tolerance: its levels are not compared until it passes again"
    )
    click.echo(f"{words}: {level_db:g} dB, {expected_db:g} expected, {fate}")
