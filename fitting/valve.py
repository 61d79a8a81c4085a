"""Fits the weights of `hearing/valve.py` on simulated readings: `python -m fitting.valve`."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from fitting.leak import features
from fitting.logit import WeightSpec, fit, write

PRIOR = {"passing": 0.5, "no-passage-heard": 0.5}
SPECS = [
    WeightSpec("at-over-upstream", "passing", 4.0, 3.0),
    WeightSpec("at-over-upstream", "passing", 8.0, 4.0),
    WeightSpec("downstream-over-upstream", "passing", 3.0, 4.0),
    WeightSpec("downstream-over-at", "no-passage-heard", 1.0, 4.0),
    WeightSpec("downstream-over-beyond", "passing", 2.0, 3.0),
    WeightSpec("valve-over-both", "passing", 3.0, 3.0),
    WeightSpec("hiss-share", "passing", -6.0, 5.0),
    WeightSpec("puffed", "no-passage-heard", 0.2, 0.2),
]


def weigh(rows: Sequence[dict[str, float]], labels: Sequence[str]) -> None:
    coefficients = fit(rows, labels, SPECS, PRIOR, ridge=1e-3)
    write("valve", PRIOR, SPECS, coefficients, "fitting/valve.py", f"{len(rows)} simulated readings, seed 1")


if __name__ == "__main__":
    weigh(*features("valve", int(sys.argv[1]) if len(sys.argv) > 1 else 300))
