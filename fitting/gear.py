"""Fit the weights of evidence of the gear detector on simulated sound: python -m fitting.gear [COUNT]"""

from __future__ import annotations

import sys

import numpy as np

from earwitness.hearing.gear import judge
from earwitness.simulate.gear import draw
from fitting.logit import WeightSpec, fit, write

PRIOR = {"tooth": 0.15, "wear": 0.15, "no-fault-heard": 0.70}
SPECS = [
    WeightSpec("turn-harmonics", "tooth", 5.0, 5.0),
    WeightSpec("turn-share", "tooth", 0.35, 0.35),
    WeightSpec("turn-depth", "tooth", 0.3, 0.3),
    WeightSpec("mesh-share", "wear", 0.35, 0.35, 0.2),
    WeightSpec("mesh-depth", "wear", 0.3, 0.2, 0.3),
    WeightSpec("mesh-depth", "wear", 0.7, 0.4, 0.3),
    WeightSpec("mesh-sides", "wear", 0.2, 0.2),
    WeightSpec("calm-turn-harmonics", "no-fault-heard", -4.0, 4.0),
    WeightSpec("calm-turn-depth", "no-fault-heard", -0.2, 0.2),
    WeightSpec("calm-mesh-depth", "no-fault-heard", -0.15, 0.15),
    WeightSpec("calm-mesh-depth", "no-fault-heard", -0.5, 0.3),
    WeightSpec("calm-kurtosis", "no-fault-heard", -0.2, 0.2),
    WeightSpec("rise", "no-fault-heard", 4.0, 4.0, -20.0),
]


def main(count: int = 500) -> None:
    rows, labels = [], []
    for seed in range(count):
        case = draw(np.random.default_rng([11, seed]))
        if case.truth in PRIOR:
            rows.append(dict(judge(case.heard, case.state).measured))
            labels.append(case.truth)
    coefficients = fit(rows, labels, SPECS, PRIOR, ridge=1e-3)
    note = f"{len(rows)} simulated readings; see simulate/gear.py"
    print(write("gear", PRIOR, SPECS, coefficients, "fitting/gear.py", note))


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:]))
