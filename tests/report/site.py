"""An invented paper-sack works, in the contract's shape: what a survey hands to the report, with every kind of ending
that a reading can have. The numbers are made up; nothing here is measured or computed by the program."""

from __future__ import annotations

import io
import wave
from pathlib import Path
from typing import Any

import numpy as np

from earwitness.report import Exhibit
from tests.pictures import traces


def said(code: str, text: str, **args: Any) -> dict[str, Any]:
    return {"code": code, "args": args, "text": text}


def amount(value: float, low: float, high: float, unit: str, method: str, **more: Any) -> dict[str, Any]:
    mean = (value + low + high) / 3
    return {"value": value, "low": low, "high": high, "mean": mean, "unit": unit, "method": method, "coverage": 0.95} | more


def flows(litres_min: float, low: float, high: float, method: str, cost: float, share: float = 0.32) -> dict[str, Any]:
    ratio_low, ratio_high = low / litres_min, high / litres_min
    at = {"reference": "20 degC, 101.325 kPa"}
    return {
        "volume_flow": amount(litres_min / 6e4, low / 6e4, high / 6e4, "m3/s", method, **at),
        "mass_flow": amount(litres_min / 6e4 * 1.204, low / 6e4 * 1.204, high / 6e4 * 1.204, "kg/s", method),
        "cost_per_year": amount(cost, cost * ratio_low, cost * ratio_high, "EUR", method),
        "saving_per_year": amount(cost * share, cost * share * ratio_low, cost * share * ratio_high, "EUR", method),
        "energy_per_year": amount(cost / 0.2, cost / 0.2 * ratio_low, cost / 0.2 * ratio_high, "kWh", method),
        "carbon_per_year": amount(cost * 1.5, cost * 1.5 * ratio_low, cost * 1.5 * ratio_high, "kg", method),
    }


def given(**conditions: str) -> dict[str, Any]:
    return {name: {"given": text, "value": 1.0, "unit": "1", "from": "row"} for name, text in conditions.items()}


def evidence(code: str, name: str, value: float, unit: str, criterion: str, verdict: str, weight: float) -> dict[str, Any]:
    return {
        "code": code, "args": {}, "name": name, "value": value, "unit": unit, "criterion": criterion, "for": verdict,
        "weight": weight,
    }  # fmt: skip


ISOLATE = "Isolate, vent and prove zero pressure before the joint is touched; then renew the coupling and listen again."
AIR = said("compressed-air", "Compressed air can injure eyes and skin. Keep the face away from the jet.")
ELECTRIC = [
    said("closed", "Leave the equipment closed. Do not open, touch or switch it."),
    said("authorised", "Tell the authorised electrical person; stay outside the arc-flash boundary of the site's risk assessment."),
]


def _air(name: str, tag: str, area: str, point: str, rank: int, quantities: dict[str, Any], hours: float, **more: Any) -> dict[str, Any]:
    return {
        "reading": name, "row": 2 + rank, "point": point, "area": area, "tag": tag, "kind": "leak", "status": "read",
        "medium": "air", "verdict": "leak", "probability": 0.97, "probabilities": {"leak": 0.97, "no-leak-heard": 0.03},
        "probability_basis": "simulated sound", "detector": {"name": "leak", "version": "1"},
        "taken_at": "2026-11-18T09:40:00+01:00",
        "conditions": given(pressure="7 bar", level_db="48", background_db="33", distance_m="0.5"),
        "recording": {"file": f"recordings/{name}.wav", "sha256": "0" * 64, "seconds": 8.0, "rate_hz": 48000,
                      "channels": 1, "channel_used": 1, "codec": "PCM_24"},
        "fitness": {"fit": True, "problems": []},
        "evidence": [
            evidence("steady-hiss", "steady broadband hiss", 14.2, "dB", "> 6 dB over background", "leak", 3.1),
            evidence("no-rhythm", "no rhythm of exhaust puffs", 0.04, "", "< 0.2", "leak", 0.8),
            evidence("whine", "narrow whine in the band", 2.0, "dB", "> 8 dB", "no-leak-heard", -0.4),
        ],
        "quantities": quantities, "counts_in_totals": {"yes": True, "why": "a leak heard for the first time"},
        "hazards": [{"code": "compressed-air", "args": {}, "signal_word": "CAUTION", "basis": "compressed air up to 40 bar",
                     "text": "Compressed air escapes.", "first_actions": [said("distance", "Keep face and hands away from the jet.")]}],
        "rank": rank, "repair": {"hours": hours, "craft": "fitter", "isolation": "V-12"},
        "next_step": said("repair-leak", ISOLATE), "cautions": [AIR],
        "notes": [said("pressure-read-as-gauge", "7 bar was read as gauge pressure.")], "problems": [],
        "extra": {"cost centre": "4410"},
    } | more  # fmt: skip


def _lpg() -> dict[str, Any]:
    first = [
        said("leave", "Leave the area and keep others out. No switches, no flames, no phones inside."),
        said("tell", "Tell the person responsible for the gas system and follow the site's emergency plan."),
        said("isolate", "Isolate at the cylinder store from outside, if that is safe by the site's rules."),
    ]
    return {
        "reading": "R-007", "row": 8, "point": "burner valve of the glue dryer", "area": "Gluing", "tag": "41", "kind": "leak",
        "status": "read", "medium": "LPG", "component": "valve packing", "location": "under the left platform, below knee height",
        "verdict": "leak", "probability": 0.93, "probabilities": {"leak": 0.93, "no-leak-heard": 0.07},
        "probability_basis": "simulated sound", "detector": {"name": "leak", "version": "1"},
        "conditions": given(pressure="1.5 bar", level_db="39", background_db="31"),
        "evidence": [evidence("steady-hiss", "steady broadband hiss", 8.1, "dB", "> 6 dB over background", "leak", 2.2)],
        "quantities": {"mass_flow": amount(2.4e-4, 2.6e-5, 2.3e-3, "kg/s", "level")},
        "hazards": [{
            "code": "flammable", "args": {}, "signal_word": "DANGER",
            "text": "LPG, a flammable gas heavier than air, escapes indoors. Gas at the leak may already be ignitable.",
            "basis": "indoors; the upper end of the interval passes 25 % of the lower flammable limit in the stated room",
            "first_actions": first}],
        "cautions": [said("no-permission", "This calculation gives no permission to stay, enter or delay."),
                     said("low-ground", "The gas collects in pits and drains.")],
        "next_step": said("gas", "Isolate, vent and prove zero pressure and a gas-free room; then a licensed gas fitter renews the packing."),
        "repair": {"reported_to": "shift lead", "reported_at": "2026-11-18T10:05:00+01:00", "craft": "licensed gas fitter"},
        "notes": [], "problems": [], "extra": {"cost centre": "4420"}, "photo": "photos/r007.jpg",
    }  # fmt: skip


def _arcing() -> dict[str, Any]:
    return {
        "reading": "R-009", "row": 10, "point": "feeder panel 3", "area": "Switch room", "kind": "electrical", "status": "read",
        "verdict": "tracking", "probability": 0.88,
        "probabilities": {"tracking": 0.88, "corona": 0.07, "arcing": 0.03, "mains-hum": 0.01, "no-discharge-heard": 0.004},
        "probability_basis": "simulated sound", "detector": {"name": "electrical", "version": "1"},
        "conditions": given(voltage_v="6000", mains_hz="50"),
        "evidence": [evidence("both-halves", "clusters on the rising flanks of both half cycles", 0.82, "", "> 0.5", "tracking", 2.6),
                     evidence("build-up", "builds up and lets go", 4.0, "times", "≥ 2 times", "tracking", 1.4)],
        "hazards": [{"code": "tracking", "args": {}, "signal_word": "DANGER", "text": "Tracking discharge heard at 6 kV.",
                     "basis": "tracking at 1 kV and over", "first_actions": ELECTRIC}],
        "severity": {"word": "act", "basis": "tracking destroys insulation and ends in a flashover"},
        "cautions": ELECTRIC, "next_step": said("electric", "The authorised electrical person decides on switching off and inspection."),
        "notes": [said("sealed", "Sealed enclosures can discharge unheard; other methods are needed as well.")], "problems": [], "extra": {},
    }  # fmt: skip


def _machines() -> list[dict[str, Any]]:
    machine = said("guards", "Never reach past a guard. Stop and lock out before any work on the machine.")
    bearing = {
        "reading": "R-012", "row": 13, "point": "fan of dust extraction, drive end", "area": "Cutting", "tag": "58", "kind": "bearing",
        "status": "read", "verdict": "outer-race", "probability": 0.91,
        "probabilities": {"outer-race": 0.91, "inner-race": 0.03, "rolling-element": 0.02, "irregular": 0.02, "no-fault-heard": 0.02},
        "detector": {"name": "bearing", "version": "1"}, "probability_basis": "simulated sound",
        "conditions": given(speed_rpm="1480", bearing="6310"),
        "evidence": [evidence("line-1", "line at the outer-race rate, 107.4 Hz", 13.1, "dB", "> 6 dB over its surroundings", "outer-race", 2.4),
                     evidence("harmonics", "its multiples found", 3, "of 4", "≥ 2", "outer-race", 1.2)],
        "severity": {"word": "act", "basis": "impacts stand 13 dB over their surroundings, three multiples deep"},
        "hazards": [{"code": "machine", "args": {}, "signal_word": "CAUTION", "text": "Bearing damage heard on a turning machine.",
                     "basis": "damage to a bearing", "first_actions": []}],
        "rank": 1, "repair": {"hours": 4, "craft": "mechanic", "shutdown": True, "parts": "bearing 6310"},
        "next_step": said("replace", "Plan the exchange for the next shutdown; listen again weekly until then."),
        "cautions": [machine], "notes": [said("typical", "The bearing's geometry is typical for its size, not this maker's.")], "problems": [],
        "extra": {"cost centre": "4430"},
    }  # fmt: skip
    friction = {
        "reading": "R-013", "row": 14, "point": "winder roller 2", "area": "Winding", "kind": "bearing", "status": "read",
        "verdict": "friction", "probability": 0.84, "probabilities": {"friction": 0.84, "no-fault-heard": 0.16},
        "conditions": given(level_db="41", baseline_db="31"),
        "evidence": [evidence("rise", "rise over the baseline", 10.0, "dB", "> 8 dB (common practice)", "friction", 1.7)],
        "hazards": [{"code": "machine", "args": {}, "signal_word": "NOTICE", "text": "Raised friction in a bearing.", "basis": "friction", "first_actions": []}],
        "severity": {"word": "watch", "basis": "10 dB over its own baseline"}, "rank": 6, "repair": {"hours": 0.3, "craft": "lubrication"},
        "next_step": said("grease", "Add grease slowly while listening; stop when the level is back at its baseline and begins to rise."),
        "cautions": [machine], "problems": [], "notes": [],
    }  # fmt: skip
    return [bearing, friction]


def _seal_valve_trap() -> list[dict[str, Any]]:
    seal = {
        "reading": "R-015", "row": 16, "point": "door of drying tunnel B", "area": "Gluing", "tag": "44", "kind": "seal", "status": "read",
        "verdict": "passage", "probability": 0.96, "probabilities": {"passage": 0.96, "no-passage-heard": 0.04},
        "places": [{"at_s": 4.2, "at_m": 1.3, "level_db": 46.0}, {"at_s": 9.1, "at_m": 2.85, "level_db": 45.2}],
        "evidence": [evidence("tone", "tone over the floor at two places", 15.0, "dB", "> 6 dB", "passage", 2.9)],
        "rank": 5, "repair": {"hours": 1.5, "craft": "fitter", "parts": "door gasket 6 m"},
        "next_step": said("seal", "Renew the gasket at both places, then sweep the seam again with the emitter at the same spot."),
        "cautions": [said("tone", "No size is stated from a tone level.")], "notes": [], "problems": [], "extra": {},
    }  # fmt: skip
    valve = {
        "reading": "R-017", "row": 18, "point": "drain valve D-4", "area": "Boiler house", "kind": "valve", "status": "read", "medium": "steam",
        "verdict": "passing", "probability": 0.89, "probabilities": {"passing": 0.89, "no-passage-heard": 0.11},
        "evidence": [evidence("downstream", "downstream louder than upstream", 9.0, "dB", "> 4 dB", "passing", 2.1)],
        "quantities": {"mass_flow": amount(1.9e-3, 4e-4, 9e-3, "kg/s", "level"), "cost_per_year": amount(940, 200, 4500, "EUR", "level")},
        "hazards": [{"code": "steam", "args": {}, "signal_word": "CAUTION", "text": "Steam passes through a valve that should be closed.",
                     "basis": "steam through a trap or valve", "first_actions": [said("steam", "Escaping steam can be invisible: never feel for it by hand.")]}],
        "rank": 4, "next_step": said("valve", "Isolate, vent, drain and prove zero pressure and a cold line; then lap or renew the seat."),
        "cautions": [said("steam", "Escaping steam can be invisible.")], "notes": [], "problems": [], "extra": {},
    }  # fmt: skip
    trap = {
        "reading": "R-018", "row": 19, "point": "trap T-9", "area": "Boiler house", "kind": "trap", "status": "read", "medium": "steam",
        "verdict": "working", "probability": 0.9, "probabilities": {"working": 0.9, "blowing": 0.08, "blocked": 0.02}, "evidence": [],
        "cautions": [said("steam", "Escaping steam can be invisible.")], "notes": [], "problems": [], "extra": {},
    }  # fmt: skip
    return [seal, valve, trap]


def _rest() -> list[dict[str, Any]]:
    return [
        {"reading": "R-020", "row": 21, "point": "manifold of stacker 1", "area": "Winding", "kind": "leak", "status": "read", "medium": "air",
         "verdict": "no-leak-heard", "probability": 0.94, "probabilities": {"leak": 0.06, "no-leak-heard": 0.94}, "evidence": [],
         "notes": [said("would-have-been-heard", "A leak of about 12 l/min (3–50) would have been heard at 0.5 m over this background.")]},
        {"reading": "R-021", "row": 22, "point": "cooling nozzle", "area": "Gluing", "kind": "leak", "status": "read", "medium": "air",
         "verdict": "leak", "probability": 0.99, "probabilities": {"leak": 0.99, "no-leak-heard": 0.01}, "evidence": [],
         "counts_in_totals": {"yes": False, "why": "blows on purpose (cause: deliberate)"}, "notes": []},
        {"reading": "R-022", "row": 23, "point": "hose reel", "area": "Winding", "kind": "leak", "status": "read", "verdict": "inconclusive",
         "probability": 0.61, "probabilities": {"leak": 0.61, "no-leak-heard": 0.39}, "medium": "air",
         "fitness": {"fit": False, "problems": [said("clipped", "The recording is clipped in 3 % of its samples; a lower gain would do.") | {"spoils": ["level", "spectrum"]}]},
         "evidence": [evidence("hiss", "hiss with clipped peaks", 4.0, "dB", "> 6 dB over background", "leak", 0.4)],
         "next_step": said("settle", "Record again with the gain 12 dB lower, and once with the probe screened from the background.")},
        {"reading": "R-023", "row": 24, "point": "pump P-2", "area": "Boiler house", "kind": "bearing", "status": "not-running", "note": "standby"},
        {"reading": "R-024", "row": 25, "point": "cross-beam coupling", "area": "Cutting", "kind": "leak", "status": "not-reached"},
        {"reading": "R-025", "row": 26, "kind": "other", "status": "unreadable",
         "problems": [{"row": 26, "column": "kind", "code": "kind", "args": {}, "text": "kind cannot be 'noise'; one of leak, seal, bearing … would do."}]},
        {"reading": "R-026", "row": 27, "kind": "leak", "status": "read"},
    ]  # fmt: skip


def findings() -> dict[str, Any]:
    long_hose = "hose coupling below the third pneumatic cylinder of the sack opener, drive side"
    readings = [
        _air("R-002", "12", "Sack opening", long_hose, 2, flows(60, 20, 180, "level", 410), 0.5, component="coupling"),
        _air("R-003", "13", "Compressor room", "drain of receiver 1", 3, flows(1350, 1240, 1470, "opening", 6900), 2.0),
        _lpg(), _arcing(), *_machines(), *_seal_valve_trap(), *_rest(),
    ]  # fmt: skip
    return {
        "schema": "earwitness.survey/1",
        "made": {"version": "0.1.0", "at": "2026-11-20T10:00:00Z", "seed": 0, "inputs_sha256": "ab" * 32, "settings": {"decision": 0.8}},
        "survey": {"title": "Autumn round by ear", "site": "Tarnbeck Paper Sacks, works 2", "date": "2026-11-18", "inspector": "I. Hallam",
                   "instrument": {"receiver": "hand-held receiver with air and contact probe", "serial": "A-1187", "centre_khz": 40.0}},
        "urgent": ["R-007", "R-009"],
        "readings": readings,
        "problems": [
            {"row": 11, "column": "pressure", "code": "unit", "args": {}, "text": "'7' has no unit; 7 bar(g), 7 bar(a) or 700 kPa would do."},
            {"row": 26, "column": "kind", "code": "kind", "args": {}, "text": "kind cannot be 'noise'; one of leak, seal, bearing … would do."},
            {"row": None, "column": None, "code": "no-humidity", "args": {}, "text": "Humidity is not stated; 50 % was assumed."},
        ],
        "totals": {"volume_flow": amount(0.0236, 0.021, 0.0277, "m3/s", "sum"), "cost_per_year": amount(8400, 6900, 12300, "EUR", "sum"),
                   "saving_per_year": amount(2500, 1900, 3600, "EUR", "sum"), "energy_per_year": amount(41000, 34000, 61000, "kWh", "sum"),
                   "carbon_per_year": amount(12300, 10200, 18300, "kg", "sum")},
    }  # fmt: skip


def tone() -> bytes:
    """A second of faint noise as WAV: what an excerpt is to a report."""
    samples = np.random.default_rng(5).normal(0, 1500, 8000).astype("<i2")
    buffer = io.BytesIO()
    with wave.open(buffer, "wb") as out:
        out.setparams((1, 2, 8000, len(samples), "NONE", ""))
        out.writeframes(samples.tobytes())
    return buffer.getvalue()


def photo(path: Path) -> Path:
    from PIL import Image, ImageDraw

    image = Image.new("RGB", (1600, 1200), "#8d9a94")
    pen = ImageDraw.Draw(image)
    pen.rectangle((200, 500, 1400, 620), fill="#5b646b")
    pen.ellipse((700, 420, 900, 700), fill="#c0b283", outline="#333333", width=8)
    image.save(path, quality=85)
    return path


def exhibits(folder: Path) -> dict[str, Exhibit]:
    return {
        "R-002": Exhibit((traces.spectrogram(),), tone(), "audio/wav"),
        "R-003": Exhibit((traces.level(7, (8.0,)),)),
        "R-007": Exhibit((traces.spectrogram(8),), tone(), "audio/wav", photo(folder / "r007.jpg")),
        "R-009": Exhibit((traces.mains_phase(),)),
        "R-012": Exhibit((traces.envelope_spectrum(),), tone()),
        "R-015": Exhibit((traces.level(),)),
        "R-022": Exhibit((), None, "audio/wav", folder / "missing.jpg"),
    }
