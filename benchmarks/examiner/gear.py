"""Gears heard by contact: the mesh modulates the rubbing; a broken tooth strikes once a turn of its wheel; worn
flanks make the mesh's
harmonics strong, with sidebands at the turns of both wheels (Randall, Vibration-based Condition Monitoring, ch. 5; M).
"""

from __future__ import annotations

import numpy as np

from benchmarks.examiner import machine, sources
from benchmarks.examiner.receiver import draw
from benchmarks.examiner.scene import Case, Floats, instrument, meter, peaked, pick, scaled

Rng = np.random.Generator
CASES = {
    "tooth": 6, "tooth of the mate": 4, "wear": 7, "sound": 6, "sound, mesh heard": 3, "sound, knocked": 2,
    "sound, drive": 2,
}  # fmt: skip


def make(rng: Rng, name: str) -> Case:
    """One case of `name`; `speed_rpm` is that of the wheel with `teeth`."""
    rx = draw(rng, pick(rng, 6, 14), direct=0.2)
    teeth = int(rng.integers(15, 40))
    mate = int(rng.integers(20, 90))
    while mate % teeth == 0 or teeth % mate == 0:
        mate += 1
    rpm = pick(rng, 300, 1800)
    turn, other = rpm / 60, rpm / 60 * teeth / mate
    mesh = teeth * turn
    row: dict[str, object] = {**instrument(rx, "contact"), "teeth": teeth, "mate_teeth": mate}
    row["speed_rpm"] = round(rpm * (1 + rng.normal(0, 0.001)), 1)
    parameters: dict[str, object] = {
        "rpm": round(rpm, 1),
        "mesh_hz": round(mesh, 1),
        "turn_hz": round(turn, 2),
        "mate_hz": round(other, 2),
    }
    truth = name.split(" ")[0].rstrip(",")
    rest = machine.friction(rng, rx, turn, pick(rng, 0, 0.04))
    t = np.arange(rest.size) / rx.rate
    mild = pick(rng, 0.0, 0.06)
    if truth == "tooth":
        rest = rest * (1 + mild * np.cos(2 * np.pi * mesh * t))
        hz = other if "mate" in name else turn
        times = machine.train(rng, rx.seconds, hz, 0.0005)
        part = rx.hear(
            sources.ring(rng, rx.samples, rx.inner, times, rng.lognormal(0, 0.2, times.size), pick(rng, 0.004, 0.02))
        )
        sound, level, clear = machine.until_clear(rx, rest, part, pick(rng, -12, 2), hz, 110)
        parameters.update(part_db=round(level, 1), clear=round(clear))
    elif truth == "wear":
        sound = rest * _worn(rng, t, mesh, turn, other, parameters)
        parameters["clear"] = round(machine.clearness(rx, sound, mesh))
    elif "mesh" in name:
        sound = rest * (1 + pick(rng, 0.05, 0.15) * np.cos(2 * np.pi * mesh * t + 1))
    elif "knocked" in name:
        hits = np.sort(rng.uniform(0, rx.seconds, rng.integers(1, 5)))
        knocks = sources.ring(rng, rx.samples, rx.inner, hits, rng.lognormal(0, 0.5, hits.size), 0.006)
        sound = rest + peaked(rx, rx.hear(knocks), pick(rng, 3, 15))
    elif "drive" in name:
        whine = sources.switching(rng, rx.samples, rx.inner, pick(rng, 2e3, 8e3), turn)
        sound = rest + scaled(rx, rx.hear(whine), pick(rng, -8, 2))
    else:
        sound = rest * (1 + mild * np.cos(2 * np.pi * mesh * t))
    accept = {"no-fault-heard" if truth == "sound" else truth}
    if rng.random() < 0.4:
        level_db = meter(rng, rx, sound)
        rise = rng.normal(0, 0.8) if truth == "sound" else pick(rng, 2, 10)
        row["level_db"], row["baseline_db"] = level_db, round(level_db - rise, 1)
    return Case(name, next(iter(accept)), frozenset(accept), rx, sound, row, parameters=parameters)


def _worn(rng: Rng, t: Floats, mesh: float, turn: float, other: float, parameters: dict[str, object]) -> Floats:
    """Gain of the rubbing: mesh harmonics, themselves modulated at the turns of both wheels."""
    depth = pick(rng, 0.25, 0.6)
    parameters["mesh_depth"] = round(depth, 2)
    wave = np.zeros(t.size)
    for k in range(1, 4):
        sides = 1 + pick(rng, 0.4, 0.9) * np.cos(2 * np.pi * turn * t + pick(rng, 0, 6))
        sides = sides + pick(rng, 0.1, 0.6) * np.cos(2 * np.pi * other * t + pick(rng, 0, 6))
        wave += k**-0.8 * sides * np.cos(2 * np.pi * k * mesh * t + pick(rng, 0, 6))
    return np.maximum(1 + depth * wave, 0.02)
