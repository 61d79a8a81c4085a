"""Fits the weights of `hearing/trap.py` on simulated readings: `python -m fitting.trap`."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from fitting.leak import features
from fitting.logit import WeightSpec, fit, write

PRIOR = {"working": 0.6, "blowing": 0.25, "blocked": 0.15}
# Steam, and condensate that flashes, warm an outlet to nearly 100 °C: whatever else is heard, a cold one lets neither
# through [nats].
COLD = 6.0
SPECS = [
    WeightSpec("swing", "working", 4.0, 3.0),
    WeightSpec("swing", "working", 4.5, 1.0),
    WeightSpec("rapid", "blowing", 0.7, 0.3),
    WeightSpec("over-quiet", "blowing", 12.0, 8.0),
    WeightSpec("over-quiet", "blocked", 4.0, 4.0, lower=-10.0),
    WeightSpec("outlet-cold", "blocked", 0.0, 10.0, COLD),
]


def weigh(rows: Sequence[dict[str, float]], labels: Sequence[str]) -> None:
    coefficients = fit(rows, labels, SPECS, PRIOR, ridge=1e-3)
    write("trap", PRIOR, SPECS, coefficients, "fitting/trap.py", f"{len(rows)} simulated readings, seed 1")


if __name__ == "__main__":
    weigh(*features("trap", int(sys.argv[1]) if len(sys.argv) > 1 else 250))
