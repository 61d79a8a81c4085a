"""earwitness system-test: what the whole air system leaks."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from earwitness.cli.ledger_options import opened
from earwitness.cli.path import PATH
from earwitness.gas.system_test import SystemLeakage

EPILOG = """\b
Examples:
  earwitness system-test load-unload --on "8 min" --off "48 min" --capacity "900 scfm"
  earwitness system-test bleed-down --volume "629 ft3" --time "0 min" --pressure "90 psig" \\
      --time "10.7 min" --pressure "80 psig"
  earwitness system-test metered --flow "3.1 m3/min"
"""
KEPT_EPILOG = """\b
Examples:
  earwitness system-test metered --flow "3.1 m3/min" --ledger plant.db --day 2026-11-21
  earwitness system-test history --ledger plant.db
"""
JSON = click.option("--json", "as_json", is_flag=True, help="Print the numbers as JSON.")
FILED = (
    click.option("--ledger", help="Keep the test in this ledger: a file, or the URL of a PostgreSQL database."),
    click.option("--recordings", type=PATH, help="Folder of the ledger's recordings."),
    click.option("--site", help="Name of the site; not needed where the ledger holds one only."),
    click.option("--day", type=click.DateTime(["%Y-%m-%d"]), help="Day of the test; today where it is not stated."),
)


def filed(function: Callable[..., Any]) -> Callable[..., Any]:
    for option in reversed(FILED):
        function = option(function)
    return function


@click.group("system-test", epilog=EPILOG)
def command() -> None:
    """What a whole compressed-air system leaks, measured while nothing uses air."""


@command.command("load-unload", epilog=EPILOG)
@click.option("--on", multiple=True, required=True, help="Time on load of a cycle; repeat for each cycle.")
@click.option("--off", multiple=True, required=True, help="Time off load of the same cycle.")
@click.option("--capacity", required=True, help="Free air that the machine delivers on load.")
@filed
@JSON
def load_unload(on: tuple[str, ...], off: tuple[str, ...], capacity: str, as_json: bool, **book: Any) -> None:
    """From the times on and off load of one compressor."""
    from earwitness.work import system_test

    given = {"on": on, "off": off, "capacity": capacity}
    _told(system_test.load_unload(on, off, capacity), as_json, given, **book)


@command.command("bleed-down", epilog=EPILOG)
@click.option("--volume", required=True, help="Receivers and pipes.")
@click.option("--time", "times", multiple=True, required=True, help="When a pressure was read; repeat, in order.")
@click.option("--pressure", "pressures", multiple=True, required=True, help="The pressure then.")
@click.option("--at", help="Pressure that the leakage is wanted for; the first one where empty.")
@filed
@JSON
def bleed_down(
    volume: str, times: tuple[str, ...], pressures: tuple[str, ...], at: str | None, as_json: bool, **book: Any
) -> None:
    """From the fall of the pressure while nothing feeds the system."""
    from earwitness.work import system_test

    given = {"volume": volume, "time": times, "pressure": pressures, "at": at}
    _told(system_test.bleed_down(volume, times, pressures, at), as_json, given, **book)


@command.command("metered", epilog=EPILOG)
@click.option("--flow", "flows", multiple=True, required=True, help="What the meter showed; repeat for each reading.")
@click.option("--used", help="What is known to be used then.")
@filed
@JSON
def metered(flows: tuple[str, ...], used: str | None, as_json: bool, **book: Any) -> None:
    """From a flow meter read at night."""
    from earwitness.work import system_test

    _told(system_test.metered(flows, used), as_json, {"flow": flows, "used": used}, **book)


@command.command("history", epilog=KEPT_EPILOG)
@click.option("--ledger", required=True, help="A file, or the URL of a PostgreSQL database.")
@click.option("--recordings", type=PATH, help="Folder of recordings; beside a file's ledger.")
@click.option("--site", help="Name of the site; not needed where the ledger holds one only.")
@JSON
def history(ledger: str, recordings: Path | None, site: str | None, as_json: bool) -> None:
    """Every test that is kept, each against the leaks that were open on its day."""
    from earwitness.ledger import sites
    from earwitness.work import system_history

    with opened(ledger, recordings) as book, book.reading() as c:
        found = system_history.history(c, sites.site_of(c, site))
    if as_json:
        click.echo(json.dumps([r.as_json() for r in found], ensure_ascii=False, indent=1, allow_nan=False))
        return
    for line in system_history.told(found):
        click.echo(line)
    for r in found:
        for note in (*r.notes, *(r.found.notes if r.found else ())):
            click.echo(f"Note ({r.test.day}): {note.text}")


def _kept(
    found: SystemLeakage, given: dict[str, Any], ledger: str, recordings: Path | None, site: str | None, day: Any
) -> None:
    from datetime import date

    from earwitness.work.system_history import file_system_test

    cells = {k: list(v) if isinstance(v, tuple) else v for k, v in given.items() if v is not None}
    with opened(ledger, recordings) as book:
        file_system_test(book, site, found, cells, day.date() if day else date.today())


def _told(
    found: SystemLeakage, as_json: bool, given: dict[str, Any], *, ledger: str | None, recordings: Path | None,
    site: str | None, day: Any,
) -> None:  # fmt: skip
    from earwitness.units import show, show_interval
    from earwitness.work import system_test

    if ledger is not None:
        _kept(found, given, ledger, recordings, site, day)
    if as_json:
        click.echo(json.dumps(system_test.as_json(found), ensure_ascii=False, indent=1, allow_nan=False))
        return
    click.echo(f"Leakage: {show_interval(found.flow.interval(), 'm3/min')} free air (20 °C, 101.325 kPa)")
    if found.fraction is not None:
        click.echo(f"That is {100 * found.fraction:.1f} % of the compressor's capacity.")
    for name, flow in found.others.items():
        click.echo(f"Read by {name}: {show(flow, 'm3/min')}")
    for note in found.notes:
        click.echo(f"Note: {note.text}")
