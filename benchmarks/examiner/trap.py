"""Steam traps, heard by contact with temperatures on both sides (common practice, P).

Thermodynamic and bucket traps work in cycles, float and thermostatic ones let a little through all the time, more and
less.
Blowing: steady loud hiss, hot on both sides. Blocked: silent, and cold behind, with steam shown before it.
"""

from __future__ import annotations

import numpy as np

from benchmarks.examiner import machine, sources
from benchmarks.examiner.receiver import Receiver, draw
from benchmarks.examiner.scene import Case, Floats, instrument, meter, peaked, pick, scaled

Rng = np.random.Generator
# saturation temperature [degC] at gauge pressure [bar], steam tables (M, to a degree)
STEAM = {3: 144, 4: 152, 5: 159, 6: 165, 8: 175, 10: 184}
CASES = {
    "working, thermodynamic": 5, "working, bucket": 5, "working, float": 5, "working, seldom": 3,
    "working, thermostatic": 4,
    "blowing, thermodynamic": 3,
    "blowing, bucket": 3, "blowing, float": 3, "blowing, thermostatic": 3, "rapid, thermodynamic": 2, "blocked": 8,
}  # fmt: skip


def make(rng: Rng, name: str) -> Case:
    """One case of `name`."""
    truth, _, trap = name.partition(", ")
    seldom = trap == "seldom"
    trap = "thermodynamic" if seldom else trap or str(rng.choice(["thermodynamic", "float", "bucket", "thermostatic"]))
    rx = draw(rng, pick(rng, 14, 20), direct=0.1)
    bar = int(rng.choice(list(STEAM)))
    row: dict[str, object] = {
        **instrument(rx, "contact"), "medium": "steam", "pressure": f"{bar} bar(g)", "trap_type": trap,
        "upstream_c": round(STEAM[bar] - pick(rng, 0, 4)), "downstream_c": round(pick(rng, 96, 108)),
    }  # fmt: skip
    pipe = machine.friction(rng, rx, pick(rng, 10, 50), pick(rng, 0, 0.1))
    parameters: dict[str, object] = {"bar": bar}
    t = np.arange(round(rx.seconds * rx.rate)) / rx.rate
    over = pick(rng, 7, 22)
    hiss = scaled(rx, rx.hear(sources.jet(rng, rx.samples, rx.inner, pick(rng, 1, 4))), over)
    parameters["over_db"] = round(over, 1)
    if truth == "working":
        gain = _working(rng, rx, trap, t, parameters)
        if seldom:  # one opening in the whole recording
            start, length = pick(rng, 0.2, 0.6) * rx.seconds, pick(rng, 1.5, 4)
            gain = sources.gates(t.size, rx.rate, np.array([start]), np.array([length]), 0.06)
        sound = pipe + hiss * gain
    elif truth == "blowing":
        sound = pipe + hiss * sources.slow(rng, t.size, rx.rate, pick(rng, 0.5, 3), pick(rng, 0.1, 0.5))
        row["downstream_c"] = round(min(STEAM[bar] - 5, pick(rng, 112, 140)))
    elif truth == "rapid":
        period = pick(rng, 0.7, 1.4)
        parameters["period_s"] = round(period, 2)
        starts = np.arange(-pick(rng, 0, 1), rx.seconds, period)
        sound = pipe + hiss * sources.gates(t.size, rx.rate, starts, period * rng.uniform(0.5, 0.7, starts.size), 0.03)
        row["downstream_c"] = round(min(STEAM[bar] - 5, pick(rng, 105, 130)))
    else:
        sound, row["downstream_c"] = pipe, round(pick(rng, 20, 45))
    if rng.random() < 0.3 and truth != "blocked":
        hits = sources.poisson(rng, rx.seconds, 0.3)
        knocks = sources.ring(rng, rx.samples, rx.inner, hits, rng.lognormal(0, 0.5, hits.size), 0.01)
        sound = sound + (peaked(rx, rx.hear(knocks), over - 6) if hits.size else 0)
    level, quiet = meter(rng, rx, sound), meter(rng, rx, pipe)
    row.update(
        upstream_db=round(quiet + pick(rng, 0, 2), 1), level_db=level, downstream_db=round(level - pick(rng, 1, 4), 1)
    )
    if truth == "blocked":
        row["downstream_db"] = round(level + rng.normal(0, 0.6), 1)
        row["background_db"] = round(level + rng.normal(0, 0.5), 1)
    verdict = "blowing" if truth == "rapid" else truth
    accept = {"blowing", "inconclusive"} if truth == "rapid" else {verdict}
    return Case(name, verdict, frozenset(accept), rx, sound, row, parameters=parameters)


def _working(rng: Rng, rx: Receiver, trap: str, t: Floats, parameters: dict[str, object]) -> Floats:
    """The hiss's gain over time for a trap that works."""
    if trap in ("thermodynamic", "bucket"):
        period = pick(rng, 4, 9)
        parameters["period_s"] = round(period, 2)
        open_s = period * pick(rng, 0.2, 0.45)
        starts = np.arange(-pick(rng, 0, period), rx.seconds, period)
        starts = starts + rng.normal(0, 0.05 * period, starts.size)
        gate = sources.gates(t.size, rx.rate, starts, open_s * rng.uniform(0.8, 1.2, starts.size), 0.06)
        return gate * (1 if trap == "thermodynamic" else sources.slow(rng, t.size, rx.rate, 4, 1.0))
    swing = pick(rng, 3, 7)
    period = pick(rng, 2, 5) if trap == "float" else pick(rng, 4, 8)
    parameters.update(period_s=round(period, 2), swing_db=round(swing, 1))
    wave = np.sin(2 * np.pi * t / period + pick(rng, 0, 6) + 0.6 * np.log(sources.slow(rng, t.size, rx.rate, 0.3, 3.0)))
    return 10 ** ((swing * (wave - 1)) / 20) * sources.slow(rng, t.size, rx.rate, 3, 0.8)
