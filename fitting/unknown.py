"""Weights between the kinds, fitted on simulated readings of each kind and on decoys (not the held-out part), and on
the sounds of `seal_variety` and `discharge_variety`, lest they lean on one simulator.

Blows of gears count as those of bearings: which of the two strikes, the sound alone does not tell. So do those of a
bearing that is heard beside what was listened to.

Run: OMP_NUM_THREADS=1 python -m fitting.unknown [--count 150] [--seed 3]
"""

from __future__ import annotations

import argparse
import importlib
from concurrent.futures import ProcessPoolExecutor

import numpy as np

from earwitness.hearing.heard import Heard
from earwitness.hearing.unknown import NONE, QUIET, UnknownState, judge
from earwitness.simulate import bearing as simulated_bearing
from earwitness.simulate import decoy
from earwitness.simulate.simulated import Simulated
from fitting import discharge_variety, seal_variety
from fitting.logit import WeightSpec, fit, write

SOURCES = {"leak": "leak", "seal": "seal", "bearing": "bearing", "electrical": "discharge"}
KINDS = (*SOURCES, NONE)
GEAR = "gear"
VARIETIES = {"seal-variety": seal_variety, "discharge-variety": discharge_variety}
DRAWN = (*KINDS, GEAR, *VARIETIES)
EVERY = {GEAR: 2, "discharge-variety": 2}  # so many draws of the others for one of these
# An emitter that is on all the time, or too faint for its beat to be heard, sounds as much else does: where nobody said
# that there is one, its beat counts for no less than this [nats].
BEATS = 1.0
# Lines at the rates that the stated parts fix are that bearing's. Readings too few to hold many strangers to it teach
# now much and now nothing of that, so it counts for no less than this [nats].
AT_PARTS = 2.0
PRIOR = dict.fromkeys(KINDS, 1 / len(KINDS))
# What the sound is made of; then each detector's odds for its own kind, low and high apart; and nothing, which has no
# detector of its own: against it speaks the surest of them.
SPECS = [
    WeightSpec("strikes", "bearing", 12.0, 6.0, lower=0.5),
    WeightSpec("moments", "bearing", 1.3, 0.5),
    WeightSpec("blows", "bearing", 1.2, 0.6),
    WeightSpec("own-rhythm", "bearing", 3.0, 3.0),
    WeightSpec("at-parts", "bearing", 5.0, 5.0, AT_PARTS),
    WeightSpec("own-rhythm", "electrical", 1.5, -1.5),
    WeightSpec("beat-depth", "electrical", 8.0, 5.0),
    WeightSpec("hum-lines", "electrical", 1.0, 4.0),
    WeightSpec("tone", "seal", 4.0, 3.0),
    WeightSpec("tone-beats", "seal", 0.3, 0.3, BEATS),
    WeightSpec("tone-front", "seal", 8.0, -8.0),
    *(
        spec
        for kind in SOURCES
        for spec in (
            WeightSpec(f"as-{kind}", kind, 0.0, 2.0),
            WeightSpec(f"as-{kind}", kind, 2.0, 2.0),
        )
    ),
    WeightSpec("surest", NONE, -0.5, -4.0),
]


def measured(task: tuple[int, str, int]) -> tuple[dict[str, float], str]:
    """The odds that each detector gives for one simulated reading, and its kind."""
    seed, source, number = task
    rng = np.random.default_rng([seed, DRAWN.index(source), number])
    heard, state, kind = varied(rng, source) if source in VARIETIES else simulated(rng, source, number % 2 == 1)
    return dict(judge(heard, state).measured), kind


def simulated(rng: np.random.Generator, kind: str, stated: bool) -> tuple[Heard, UnknownState, str]:
    """A simulated reading, what is known of the place, and the kind that should be told, or none. `stated`: the bearing
    listened to, or that something else was heard beside, is known."""
    machine = None
    if kind == NONE:
        drawn = decoy.draw(rng)
        machine = simulated_bearing.draw(rng).state if stated else None
    else:
        drawn = importlib.import_module(f"earwitness.simulate.{SOURCES.get(kind, kind)}").draw(rng)
    if kind == "bearing" and stated:
        machine = drawn.state
    kind = "bearing" if kind == GEAR else kind
    if kind == NONE or drawn.truth in QUIET[kind] or drawn.truth == "inconclusive":
        kind = beside(drawn)
    return drawn.heard, UnknownState(getattr(drawn.state, "mains_hz", None), machine=machine), kind


def beside(drawn: Simulated) -> str:
    """What is heard though it is not what was listened to: a leak that the probe passes, a bearing that is struck."""
    variety = drawn.variety
    return "leak" if variety.get("decoy") == "hiss" else "bearing" if variety.get("source") == "impacts" else NONE


def varied(rng: np.random.Generator, source: str) -> tuple[Heard, UnknownState, str]:
    """The same of a sound written a second time."""
    if source == "seal-variety":
        heard, truth, _ = seal_variety.draw(rng)
        return heard, UnknownState(), NONE if truth in QUIET["seal"] else "seal"
    heard, state, truth = discharge_variety.draw(rng)
    return heard, UnknownState(state.mains_hz), NONE if truth in QUIET["electrical"] else "electrical"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=150, help="readings of each kind, half as many of gears")
    parser.add_argument("--seed", type=int, default=3)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--ridge", type=float, default=1e-3)
    given = parser.parse_args()
    tasks = [(given.seed, kind, i) for i in range(given.count) for kind in DRAWN if i % EVERY.get(kind, 1) == 0]
    with ProcessPoolExecutor(given.jobs) as pool:
        rows, labels = zip(*pool.map(measured, tasks, chunksize=10), strict=True)
    coefficients = fit(rows, labels, SPECS, PRIOR, ridge=given.ridge)
    drawn = f"{given.count} simulated readings of each kind and of none and of the tone test's variety, half as many"
    drawn += " of gears and of the discharges' variety"
    note = f"{drawn}, seed {given.seed}; equal priors"
    print(write("unknown", PRIOR, SPECS, coefficients, "fitting/unknown.py", note))
    for spec, coefficient in zip(SPECS, coefficients, strict=True):
        print(f"{spec.supports:12s} {spec.code:14s} {spec.criterion:5g} {coefficient:7.3f}")


if __name__ == "__main__":
    main()
