"""Fits the weights of `hearing/seal.py` on simulated sweeps, and on what is no emitter: `python -m fitting.seal`.

Each sweep has several tones that may be the emitter's, and the likeliest counts; which that is depends on the weights.
So fitting and choosing take turns until the choice stays (multiple-instance learning: Andrews, Tsochantaridis & Hofmann
2002).
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor

import numpy as np

from earwitness.hearing.seal import UNHEARD, VERDICTS, measure
from earwitness.simulate.seal import draw
from fitting import seal_variety
from fitting.leak import levels_alone
from fitting.logit import WeightSpec, design, fit, write

PRIOR = dict.fromkeys(VERDICTS, 0.5)
# An emitter brings no orchestra, no melody, no twin elsewhere nor beeps in chords, no hall fades, no beat is as short
# as knocks, and what stands 20 dB under a line beside it is that line's skirt: sweeps that are simulated in a plant
# hold hardly any such sound, so these weigh no less than this, whatever they teach [nats].
MELODY, TWINS, BEEPS, ORCHESTRA, FADED, KNOCKS, SKIRTS = 3.5, 2.0, 2.0, 5.0, 3.5, 2.5, 4.0
SPECS = [
    WeightSpec("faint-rise", "passage", -0.5, 1.0),
    WeightSpec("faint-rise", "passage", 1.2, 0.8),
    WeightSpec("faint-deviate", "passage", 2.0, 1.0),
    WeightSpec("certain-rise", "passage", 1.5, 1.5),
    WeightSpec("certain-rise", "passage", 4.0, 2.0),
    WeightSpec("clear-rise", "passage", 1.0, 2.0),
    WeightSpec("clear-rise", "passage", 5.0, 4.0),
    WeightSpec("nothing-rises", "no-passage-heard", 0.0, 0.5),
    WeightSpec("wide-rise", "no-passage-heard", 0.0, 4.0),
    WeightSpec("holds", "no-passage-heard", -10.0, 3.0),
    WeightSpec("holds", "no-passage-heard", -5.0, 3.0),
    WeightSpec("stays", "no-passage-heard", -3.0, 3.0),
    WeightSpec("spread", "no-passage-heard", 0.4, 0.3),
    WeightSpec("spread", "no-passage-heard", 0.8, 0.2),
    WeightSpec("unbeating", "no-passage-heard", 3.0, 3.0),
    WeightSpec("front", "no-passage-heard", 8.0, 4.0),
    WeightSpec("at-other-times", "no-passage-heard", -9.0, 6.0, MELODY),
    WeightSpec("in-step", "no-passage-heard", 0.3, 0.4, TWINS),
    WeightSpec("beeps", "no-passage-heard", 0.3, 0.3, BEEPS),
    WeightSpec("skirt", "no-passage-heard", 10.0, 12.0, SKIRTS),
    WeightSpec("company-width", "no-passage-heard", 40.0, 60.0, ORCHESTRA),
    WeightSpec("filled", "no-passage-heard", 0.5, 0.15),
    WeightSpec("fades", "no-passage-heard", 5.0, 10.0, FADED),
    WeightSpec("place-width", "no-passage-heard", 0.6, 0.3),
    WeightSpec("knocks", "no-passage-heard", 3.0, 3.0, KNOCKS),
    WeightSpec("level-over-background", "passage", 6.0, 6.0),
]
TURNS = 8
SEED = 1
Bag = Sequence[dict[str, float]]  # the tones of one sweep, the one that rises the most first


def swept(number: int) -> tuple[Bag, str]:
    """What the detector measures of the tones of a simulated sweep, and its truth."""
    simulated = draw(np.random.default_rng([SEED, number]))
    return measure(simulated.heard), simulated.truth


def other(number: int) -> tuple[Bag, str]:
    """The same of a sound of `seal_variety`."""
    heard, truth, _ = seal_variety.draw(np.random.default_rng([SEED, 7, number]))
    return measure(heard), truth


def likeliest(bag: Bag, coefficients: Sequence[float]) -> dict[str, float]:
    """The tone that speaks the most for a passage."""
    signs = np.array([1.0 if spec.supports == "passage" else -1.0 for spec in SPECS])
    return bag[int(np.argmax(design(bag, SPECS) @ (signs * np.array(coefficients))))]


def coefficients(bags: Sequence[Bag], labels: Sequence[str]) -> list[float]:
    bags = [levels_alone(bag, "tone-rise") for bag in bags]
    rows, found = [bag[0] for bag in bags], [0.0] * len(SPECS)
    for _ in range(TURNS):
        found = fit(rows, labels, SPECS, PRIOR, ridge=1e-4, unheard=(VERDICTS[1], UNHEARD))
        chosen = [likeliest(bag, found) for bag in bags]
        if chosen == rows:
            break
        rows = chosen
    return found


def weigh(bags: Sequence[Bag], labels: Sequence[str]) -> None:
    note = f"{len(bags)} recordings, simulated sweeps and the sounds of fitting/seal_variety.py, seed {SEED}"
    write("seal", PRIOR, SPECS, coefficients(bags, labels), "fitting/seal.py", note)


if __name__ == "__main__":
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("count", type=int, nargs="?", default=800, help="sweeps; a fifth as many other sounds")
    arguments.add_argument("--jobs", type=int, default=2)
    given = arguments.parse_args()
    with ProcessPoolExecutor(given.jobs) as pool:
        found = [*pool.map(swept, range(given.count), chunksize=8)]
        found += pool.map(other, range(given.count // 5), chunksize=8)
    weigh([bag for bag, _ in found], [label for _, label in found])
