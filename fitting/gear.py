"""Fit the weights of evidence of the gear detector on simulated sound: python -m fitting.gear [COUNT]"""

from __future__ import annotations

import sys

import numpy as np

from earwitness.hearing.gear import judge
from earwitness.simulate.gear import draw
from fitting.logit import WeightSpec, fit, write

PRIOR = {"tooth": 0.15, "wear": 0.15, "no-fault-heard": 0.70}
SPECS = [
    WeightSpec("turn-one", "tooth", 0.65, 0.2),
    WeightSpec("turn-over-mesh", "tooth", 0.1, 0.4),
    WeightSpec("mesh-sides", "wear", 0.12, 0.1),
    WeightSpec("mesh-growth", "wear", 0.5, 0.4),
    WeightSpec("tone-sides", "wear", 0.15, 0.1),
    WeightSpec("tone-growth", "wear", 0.5, 0.4),
    WeightSpec("calm", "no-fault-heard", -1.0, 0.5),
    WeightSpec("calm-kurtosis", "no-fault-heard", -0.3, 0.3),
    WeightSpec("rise", "no-fault-heard", 4.0, 4.0, -20.0),
]


def main(count: int = 300) -> None:
    rows, labels = [], []
    for seed in range(count):
        case = draw(np.random.default_rng([11, seed]))
        if case.truth in PRIOR:
            rows.append(dict(judge(case.heard, case.state).measured))
            labels.append(case.truth)
    coefficients = fit(rows, labels, SPECS, PRIOR, ridge=1e-4)
    note = f"{len(rows)} simulated readings; see simulate/gear.py"
    print(write("gear", PRIOR, SPECS, coefficients, "fitting/gear.py", note))


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:]))
