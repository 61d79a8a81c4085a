"""earwitness diagnose: one recording."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from earwitness.cli.path import PATH

EPILOG = """\b
Examples:
  earwitness diagnose fan.wav --kind bearing --speed "1480 rpm" --bearing 6205
  earwitness diagnose panel.flac --kind electrical --mains 50 --voltage "20 kV"
  earwitness diagnose hose.wav --kind leak --level-db 52 --background-db 38 --json
"""
# option: (column of the field sheet, help)
OPTIONS: dict[str, tuple[str, str]] = {
    "--kind": ("kind", "leak, seal, bearing, gear, electrical, valve, trap; empty: the likeliest of all."),
    "--signal": ("signal", "heterodyned or direct; inferred where empty."),
    "--sensor": ("sensor", "airborne or contact."),
    "--centre": ("centre_khz", "Frequency the receiver was tuned to, in kHz."),
    "--level-db": ("level_db", "Displayed level."),
    "--background-db": ("background_db", "Level with the source screened off."),
    "--baseline-db": ("baseline_db", "Level of this point when it was good."),
    "--reference-db": ("reference_db", "Level through the open enclosure (tone test)."),
    "--gain-db": ("gain_db", "Gain setting, not yet taken off the level."),
    "--distance": ("distance_m", "Receiver to source, with unit."),
    "--attachment": ("attachment", "What the sensor wears; none is an answer."),
    "--medium": ("medium", "Gas that may escape, vacuum or steam."),
    "--pressure": ("pressure", 'For example "7 bar(g)".'),
    "--opening": ("opening_mm", "Diameter of the opening, with unit."),
    "--cause": ("cause", "fault, deliberate or drain."),
    "--place": ("place", "indoors, outdoors or confined."),
    "--room": ("room_m3", 'Volume of the room, "40 m3".'),
    "--ventilation": ("ventilation", 'Air flow through the room, "200 m3/h".'),
    "--speed": ("speed_rpm", 'Shaft speed, "1480 rpm".'),
    "--bearing": ("bearing", "Designation, for example 6205."),
    "--elements": ("rolling_elements", "Number of rolling elements."),
    "--element": ("element_mm", "Diameter of an element, with unit."),
    "--pitch": ("pitch_mm", "Pitch diameter, with unit."),
    "--angle": ("contact_angle_deg", "Contact angle in degrees."),
    "--teeth": ("teeth", "Teeth of the wheel that turns at --speed."),
    "--mate-teeth": ("mate_teeth", "Teeth of the wheel it drives."),
    "--load": ("load_percent", "Load of the machine, in %."),
    "--mains": ("mains_hz", "Mains frequency in Hz."),
    "--voltage": ("voltage_v", 'Nominal voltage, "400 V" or "20 kV".'),
    "--supply": ("supply", "sinusoidal or inverter."),
    "--upstream-db": ("upstream_db", "Level upstream of the valve."),
    "--downstream-db": ("downstream_db", "Level downstream of the valve."),
    "--beyond-db": ("beyond_db", "Level further downstream."),
    "--position": ("position_commanded", "closed or open."),
    "--trap-type": ("trap_type", "thermodynamic, float, bucket or thermostatic."),
    "--upstream-c": ("upstream_c", "Temperature upstream of the trap."),
    "--downstream-c": ("downstream_c", "Temperature downstream of the trap."),
}


def _options(function: Any) -> Any:
    for option, (column, text) in reversed(OPTIONS.items()):
        function = click.option(option, column, help=text)(function)
    return function


@click.command("diagnose", epilog=EPILOG)
@click.argument("file", type=PATH)
@_options
@click.option("--json", "as_json", is_flag=True, help="Print one element of `readings` of findings.json.")
def command(file: Path, as_json: bool, **cells: str | None) -> None:
    """Judge one recording: the verdict, the evidence, what spoils it, cautions and what to do next."""
    from earwitness.work.diagnose import diagnose

    assessment = diagnose(file, {column: text for column, text in cells.items() if text})
    found = assessment.as_json()
    if as_json:
        click.echo(json.dumps(found, ensure_ascii=False, indent=1, allow_nan=False))
        return
    for line in told(found):
        click.echo(line)


def told(found: dict[str, Any]) -> list[str]:
    """A reading in plain lines: dangers first, then what to do and what to mind, then what it rests on."""
    from earwitness.report.blocks import evidence_split
    from earwitness.report.wording import headline

    lines: list[str] = []
    for hazard in found["hazards"]:
        lines.append(f"{hazard['signal_word']}: {hazard['text']}")
        lines += [f"  first: {action['text']}" for action in hazard["first_actions"]]
    lines += [headline(found)]
    if "next_step" in found:
        lines.append(f"Next: {found['next_step']['text']}")
    lines += [f"Caution: {caution['text']}" for caution in found["cautions"]]
    fitness = found.get("fitness")
    for problem in fitness["problems"] if fitness else []:
        lines.append(f"Spoils {', '.join(problem['spoils'])}: {problem['text']}")
    lines += [f"Problem: {problem['text']}" for problem in found["problems"]]
    lines += [f"Note: {note['text']}" for note in found["notes"]]
    evidence, weaker = evidence_split(found)
    lines += ["Evidence:"] if evidence else []
    for e in evidence:
        held = f" ({e.criterion})" if e.criterion else ""
        lines.append(f"  {e.name}{': ' if e.value else ''}{e.value}{held}, {e.speaks}")
    return lines + ([f"  Weaker: {weaker}."] if weaker else [])
