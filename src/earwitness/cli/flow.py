"""earwitness flow: gas through a hole."""

from __future__ import annotations

import json

import click

from earwitness.cli.number import Number

EPILOG = """\b
Examples:
  earwitness flow --gas air --pressure "7 bar(g)" --hole "1 mm"
  earwitness flow --gas air --pressure "100 psig" --hole "1/8 in" --edge rounded --json
  earwitness flow --gas air --pressure "7 bar" --hole "2 mm" --specific-power "6.3 kW/(m3/min)" \\
      --price "0.20 EUR/kWh" --hours 6000
  earwitness flow --gas LPG --pressure "1.5 bar(g)" --hole "0.5 mm" --room "40 m3" --ventilation "80 m3/h"
"""


@click.command("flow", epilog=EPILOG)
@click.option("--gas", required=True, help='Gas, by its plain or trade name; "vacuum" for air drawn in.')
@click.option("--pressure", required=True, help='Upstream, "7 bar(g)"; without (g) or (a) it is read as gauge.')
@click.option("--hole", required=True, help='Diameter, "1 mm".')
@click.option("--downstream", help="Pressure outside; the standard atmosphere where empty.")
@click.option("--temperature", help='Of the gas upstream, "20 degC"; steam is saturated where empty.')
@click.option("--edge", type=click.Choice(["sharp", "rounded", "unknown"]), default="sharp", show_default=True)
@click.option(
    "--coefficient", type=Number(0, 1.2, min_open=True), help="A discharge coefficient of your own, instead of --edge."
)
@click.option("--specific-power", help='Of the compressors, "6.3 kW/(m3/min)".')
@click.option("--price", help='Of energy, "0.20 EUR/kWh", or of the gas, "1.30 EUR/kg".')
@click.option("--hours", type=Number(0, 8784), help="Hours under pressure a year.")
@click.option("--place", type=click.Choice(["indoors", "outdoors", "confined"]), help="Where it leaks.")
@click.option("--room", help='Volume of the room, "40 m3".')
@click.option("--ventilation", help='Fresh air, "80 m3/h".')
@click.option("--json", "as_json", is_flag=True, help="Print the numbers as JSON.")
def command(as_json: bool, **given: str | float | None) -> None:
    """Mass and volume flow of a gas through a hole, with its interval, its cost, and what it can do."""
    from earwitness.gas.gases import find_gas
    from earwitness.units import show_interval
    from earwitness.work.flow import flow_through_hole

    answer = flow_through_hole(**given)  # type: ignore[arg-type]
    if as_json:
        click.echo(json.dumps(answer.as_json(), ensure_ascii=False, indent=1, allow_nan=False))
        return
    for hazard in answer.hazards:
        click.echo(f"{hazard.signal_word}: {hazard.text}")
        for action in hazard.first_actions:
            click.echo(f"  first: {action.text}")
    q = answer.quantities
    gas = find_gas(answer.flow.gas)
    if gas.name == "steam":
        flow = show_interval(q["mass_flow"].interval, "kg/h")
    else:
        volume, mass = show_interval(q["volume_flow"].interval, "l/min"), show_interval(q["mass_flow"].interval, "g/s")
        flow = f"{volume} at {q['volume_flow'].reference}; {mass}"
    click.echo(f"{'Air drawn in' if gas.inwards else f'Flow of {gas.shown}'}: {flow}")
    click.echo(f"Regime: {answer.flow.regime}; discharge coefficient {float(answer.flow.coefficient):.2f}")
    named = {
        "energy_per_year": "Energy a year",
        "cost_per_year": "Wastes a year",
        "saving_per_year": "Controls give back a year",
        "carbon_per_year": "Carbon dioxide a year",
    }
    if gas.name != "air":  # no controls stand between: the loss is saved whole
        del named["saving_per_year"]
    for name, label in named.items():
        if name in q:
            joules = 3.6e6 if q[name].unit == "kWh" else 1.0
            click.echo(f"{label}: {show_interval(q[name].interval.scaled(joules), q[name].unit)}")
    for note in answer.notes:
        click.echo(f"Note: {note.text}")
    for caution in answer.cautions:
        click.echo(f"Caution: {caution.text}")
