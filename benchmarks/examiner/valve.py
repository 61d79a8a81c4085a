"""Closed valves, heard by contact at the valve with levels up, at, down and beyond (common practice, P).

A passing valve makes its own noise: loudest at and just below it, quieter farther down. What comes from elsewhere
along the pipe is loudest
on the side it comes from. A valve that holds is as quiet as its pipe.
"""

from __future__ import annotations

import numpy as np

from benchmarks.examiner import machine, sources
from benchmarks.examiner.receiver import draw
from benchmarks.examiner.scene import Case, instrument, meter, pick, scaled

Rng = np.random.Generator
PASSING, HOLDS = "passing", "no-passage-heard"
CASES = {
    "passing": 8, "passing, liquid": 5, "passing, no levels": 3, "passing, faint": 4,
    "holding": 8, "holding, no levels": 2, "noise from downstream": 4, "noise from upstream": 4, "noisy machine": 3,
}  # fmt: skip


def make(rng: Rng, name: str) -> Case:
    """One case of `name`."""
    rx = draw(rng, pick(rng, 4, 12), direct=0.2)
    pipe = machine.friction(rng, rx, pick(rng, 15, 50), pick(rng, 0, 0.1))
    parameters: dict[str, object] = {}
    n, rate = rx.samples, rx.inner
    passing = name.startswith("passing")
    if passing:
        over = pick(rng, 5, 8) if "faint" in name else pick(rng, 9, 24)
        flow = sources.jet(rng, n, rate, pick(rng, 0.5, 4))
        if "liquid" in name:  # cavitation: many small collapses on top of the flow, gurgling slowly
            hits = sources.poisson(rng, rx.seconds, pick(rng, 150, 800))
            crackle = sources.ring(rng, n, rate, hits, rng.lognormal(0, 0.6, hits.size), 0.02)
            flow = flow + crackle / np.std(crackle) * pick(rng, 0.4, 1)
            flow = flow * sources.slow(rng, n, rate, pick(rng, 2, 6), pick(rng, 0.5, 1.5))
        sound = pipe + scaled(rx, rx.hear(flow), over)
        parameters["over_db"] = round(over, 1)
    elif name.startswith("noise"):
        over = pick(rng, 6, 14)
        sound = pipe + scaled(rx, rx.hear(sources.jet(rng, n, rate, pick(rng, 1, 5))), over)
        parameters["over_db"] = round(over, 1)
    elif name == "noisy machine":
        hits = machine.train(rng, rx.seconds, pick(rng, 8, 25), 0.005)
        knocks = sources.ring(rng, n, rate, hits, rng.lognormal(0, 0.3, hits.size), 0.01)
        sound = pipe + scaled(rx, rx.hear(knocks), pick(rng, 0, 6))
    else:
        sound = pipe
    row: dict[str, object] = {
        **instrument(rx, "contact"), "position_commanded": "closed", "pressure": f"{rng.integers(5, 17)} bar(g)",
        "pressure_downstream": "0 bar(g)", "medium": "air" if "liquid" not in name else "water",
    }  # fmt: skip
    level, quiet = meter(rng, rx, sound), meter(rng, rx, pipe)
    jitter = rng.normal(0, 0.8, 3)
    steps = (0.0, 0.0, 0.0)
    if passing:
        steps = (quiet - level + 1, -pick(rng, 0, 2), max(quiet - level + 1, -pick(rng, 5, 12)))
    elif name == "noise from downstream":
        steps = (-pick(rng, 3, 6), pick(rng, 3, 6), pick(rng, 7, 12))
    elif name == "noise from upstream":
        steps = (pick(rng, 3, 7), -pick(rng, 3, 6), -pick(rng, 6, 10))
    if "no levels" not in name:
        up, down, beyond = (round(level + s + j, 1) for s, j in zip(steps, jitter, strict=True))
        row.update(upstream_db=up, level_db=level, downstream_db=down, beyond_db=beyond)
        parameters.update(up=round(up - level, 1), down=round(down - level, 1), beyond=round(beyond - level, 1))
    truth = PASSING if passing else HOLDS
    accept = {truth, "inconclusive"} if "no levels" in name or name.startswith("noise from") else {truth}
    return Case(name, truth, frozenset(accept), rx, sound, row, parameters=parameters)
