"""Fits the weights of `hearing/seal.py` on simulated sweeps, and on what is no emitter: `python -m fitting.seal`."""

from __future__ import annotations

import sys
from collections.abc import Sequence

import numpy as np

from earwitness.hearing.seal import judge
from fitting import seal_variety
from fitting.leak import features, levels_alone
from fitting.logit import WeightSpec, fit, write

PRIOR = {"passage": 0.5, "no-passage-heard": 0.5}
# An emitter brings no orchestra nor beeps in chords, no hall fades, and no beat is as short as knocks: sweeps that are
# simulated in a plant hold hardly any such sound, so these weigh no less than this, whatever they teach [nats].
COMPANY, BEEPS, ORCHESTRA, FADED, KNOCKS = 2.5, 2.0, 5.0, 3.5, 2.5
SPECS = [
    WeightSpec("tone-rise", "passage", -4.0, 2.0),
    WeightSpec("tone-rise", "passage", -0.5, 1.0),
    WeightSpec("tone-rise", "passage", 1.2, 0.8),
    WeightSpec("clear-rise", "passage", 5.0, 4.0),
    WeightSpec("clear-deviate", "passage", 12.0, 8.0),
    WeightSpec("wide-rise", "no-passage-heard", 0.0, 4.0),
    WeightSpec("stays", "no-passage-heard", -2.0, 2.0),
    WeightSpec("stays", "no-passage-heard", -7.0, 4.0),
    WeightSpec("unbeating", "no-passage-heard", 3.0, 3.0),
    WeightSpec("front", "no-passage-heard", 8.0, 4.0),
    WeightSpec("company", "no-passage-heard", 0.0, 3.0, COMPANY),
    WeightSpec("company", "no-passage-heard", 8.0, 5.0, COMPANY),
    WeightSpec("beeps", "no-passage-heard", 0.0, 2.0, BEEPS),
    WeightSpec("company-width", "no-passage-heard", 40.0, 60.0, ORCHESTRA),
    WeightSpec("fades", "no-passage-heard", 5.0, 10.0, FADED),
    WeightSpec("place-width", "no-passage-heard", 0.6, 0.3),
    WeightSpec("knocks", "no-passage-heard", 3.0, 3.0, KNOCKS),
    WeightSpec("many-places", "no-passage-heard", 3.0, 3.0),
    WeightSpec("level-over-background", "passage", 6.0, 6.0),
]


def others(draws: int, seed: int = 1) -> tuple[list[dict[str, float]], list[str]]:
    """What the detector measured of the sounds of `seal_variety`, and their truth."""
    rows, labels = [], []
    for number in range(draws):
        heard, truth, _ = seal_variety.draw(np.random.default_rng([seed, 7, number]))
        rows.append(dict(judge(heard).measured))
        labels.append(truth)
    return rows, labels


def weigh(rows: Sequence[dict[str, float]], labels: Sequence[str]) -> None:
    coefficients = fit(levels_alone(rows, "tone-rise"), labels, SPECS, PRIOR, ridge=1e-3)
    note = f"{len(rows)} recordings, simulated sweeps and the sounds of fitting/seal_variety.py, seed 1"
    write("seal", PRIOR, SPECS, coefficients, "fitting/seal.py", note)


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 500
    swept, other = features("seal", count), others(count // 8)
    weigh([*swept[0], *other[0]], [*swept[1], *other[1]])
