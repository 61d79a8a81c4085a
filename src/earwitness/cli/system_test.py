"""earwitness system-test: what the whole air system leaks."""

from __future__ import annotations

import json

import click

from earwitness.gas.system_test import SystemLeakage

EPILOG = """\b
Examples:
  earwitness system-test load-unload --on "8 min" --off "48 min" --capacity "900 scfm"
  earwitness system-test bleed-down --volume "629 ft3" --time "0 min" --pressure "90 psig" \\
      --time "10.7 min" --pressure "80 psig"
  earwitness system-test metered --flow "3.1 m3/min"
"""
JSON = click.option("--json", "as_json", is_flag=True, help="Print the numbers as JSON.")


@click.group("system-test", epilog=EPILOG)
def command() -> None:
    """What a whole compressed-air system leaks, measured while nothing uses air."""


@command.command("load-unload", epilog=EPILOG)
@click.option("--on", multiple=True, required=True, help="Time on load of a cycle; repeat for each cycle.")
@click.option("--off", multiple=True, required=True, help="Time off load of the same cycle.")
@click.option("--capacity", required=True, help="Free air that the machine delivers on load.")
@JSON
def load_unload(on: tuple[str, ...], off: tuple[str, ...], capacity: str, as_json: bool) -> None:
    """From the times on and off load of one compressor."""
    from earwitness.work import system_test

    _told(system_test.load_unload(on, off, capacity), as_json)


@command.command("bleed-down", epilog=EPILOG)
@click.option("--volume", required=True, help="Receivers and pipes.")
@click.option("--time", "times", multiple=True, required=True, help="When a pressure was read; repeat, in order.")
@click.option("--pressure", "pressures", multiple=True, required=True, help="The pressure then.")
@click.option("--at", help="Pressure that the leakage is wanted for; the first one where empty.")
@JSON
def bleed_down(volume: str, times: tuple[str, ...], pressures: tuple[str, ...], at: str | None, as_json: bool) -> None:
    """From the fall of the pressure while nothing feeds the system."""
    from earwitness.work import system_test

    _told(system_test.bleed_down(volume, times, pressures, at), as_json)


@command.command("metered", epilog=EPILOG)
@click.option("--flow", "flows", multiple=True, required=True, help="What the meter showed; repeat for each reading.")
@click.option("--used", help="What is known to be used then.")
@JSON
def metered(flows: tuple[str, ...], used: str | None, as_json: bool) -> None:
    """From a flow meter read at night."""
    from earwitness.work import system_test

    _told(system_test.metered(flows, used), as_json)


def _told(found: SystemLeakage, as_json: bool) -> None:
    from earwitness.units import show, show_interval
    from earwitness.work import system_test

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
