"""Fits the weights of `hearing/trap.py` on simulated readings: `python -m fitting.trap`."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from fitting.leak import features
from fitting.logit import WeightSpec, fit, write

PRIOR = {"working": 0.6, "blowing": 0.25, "blocked": 0.15}
SPECS = [
    WeightSpec("swing", "working", 3.0, 2.0),
    WeightSpec("cycling-steady", "working", 4.0, 3.0),
    WeightSpec("cycles", "working", 0.5, 0.5),
    WeightSpec("rapid", "blowing", 0.7, 0.3),
    WeightSpec("over-quiet", "blowing", 12.0, 8.0),
    WeightSpec("over-quiet", "blocked", 4.0, 4.0, lower=-10.0),
    WeightSpec("outlet-cold", "blocked", 0.0, 10.0),
    WeightSpec("hiss-share", "blowing", -4.0, 4.0),
]


def weigh(rows: Sequence[dict[str, float]], labels: Sequence[str]) -> None:
    coefficients = fit(rows, labels, SPECS, PRIOR, ridge=1e-3)
    write("trap", PRIOR, SPECS, coefficients, "fitting/trap.py", f"{len(rows)} simulated readings, seed 1")


if __name__ == "__main__":
    weigh(*features("trap", int(sys.argv[1]) if len(sys.argv) > 1 else 250))
