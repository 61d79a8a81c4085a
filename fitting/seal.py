"""Fits the weights of `hearing/seal.py` on simulated sweeps: `python -m fitting.seal`."""

from __future__ import annotations

import sys
from collections.abc import Sequence

from fitting.leak import features
from fitting.logit import WeightSpec, fit, write

PRIOR = {"passage": 0.5, "no-passage-heard": 0.5}
SPECS = [
    WeightSpec("tone-rise", "passage", -4.0, 2.0),
    WeightSpec("tone-rise", "passage", -0.5, 1.0),
    WeightSpec("tone-rise", "passage", 1.2, 0.8),
    WeightSpec("stays", "no-passage-heard", -5.0, 3.0),
    WeightSpec("level-over-background", "passage", 6.0, 6.0),
]


def weigh(rows: Sequence[dict[str, float]], labels: Sequence[str]) -> None:
    # the level counts alone only where there is no recording
    usable = [r if "tone-rise" not in r else {k: v for k, v in r.items() if k != "level-over-background"} for r in rows]
    coefficients = fit(usable, labels, SPECS, PRIOR, ridge=1e-3)
    write("seal", PRIOR, SPECS, coefficients, "fitting/seal.py", f"{len(rows)} simulated sweeps, seed 1")


if __name__ == "__main__":
    weigh(*features("seal", int(sys.argv[1]) if len(sys.argv) > 1 else 300))
