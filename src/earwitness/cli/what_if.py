"""earwitness what-if: the same plant under another pressure, control or night."""

from __future__ import annotations

import json
from pathlib import Path

import click

from earwitness.cli.number import Number
from earwitness.cli.path import PATH

EPILOG = """\b
Examples:
  earwitness what-if my-survey --pressure "6.2 bar(g)" --leakage "2.1 m3/min"
  earwitness what-if my-survey --control variable-speed
  earwitness what-if my-survey --shut-hours 8 --zone-leakage "0.6 m3/min"
"""


@click.command("what-if", epilog=EPILOG)
@click.argument("folder", type=PATH)
@click.option("--pressure", help='Delivery pressure instead, "6.2 bar(g)".')
@click.option("--control", help="Control of all machines instead, for example variable-speed.")
@click.option("--shut-hours", type=Number(0, 24), help="Hours a day that a zone is shut off.")
@click.option("--zone-leakage", help="What that zone leaks.")
@click.option("--leakage", help="What the whole system leaks; else the survey's own system test.")
@click.option("--json", "as_json", is_flag=True, help="Print the numbers as JSON.")
def command(folder: Path, as_json: bool, **asked: str | float | None) -> None:
    """What a change to the air system of FOLDER (its survey.toml) would save, by the plant's part-load curves."""
    from earwitness.units import show, show_interval
    from earwitness.work.what_if import what_if

    answers = what_if(folder, **asked)  # type: ignore[arg-type]
    if as_json:
        click.echo(json.dumps([a.as_json() for a in answers], ensure_ascii=False, indent=1, allow_nan=False))
        return
    for a in answers:
        power = f"{show(a.found.before_w, 'kW')} before, {show(a.found.after_w, 'kW')} after"
        more = a.saved_kwh < 0
        saved, money = (None if x is None else x.scaled(-1 if more else 1) for x in (a.saved, a.saved_money))
        assert saved is not None
        told = [show_interval(saved.scaled(3.6e6), "kWh")] + ([show_interval(money, a.currency)] if money else [])
        verb, rest = ("costs", " more") if more else ("saves", "")
        click.echo(f"{a.name}: {power}; {verb} {', '.join(told)}{rest} a year")
        for note in a.notes:
            click.echo(f"Note: {note.text}")
