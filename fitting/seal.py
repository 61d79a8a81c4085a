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


# What can be no emitter's is cut to this for fitting. The detector cuts deeper: at 0 dB sixteen of the found sounds of
# benchmarks/found_sounds.py would be passages, and weights fitted with the deeper cut hold less well on held-out draws.
CUT_DB = 0.0


def _as_fitted(row: dict[str, float]) -> dict[str, float]:
    """Without the level, which counts alone only where there is no recording, and with the cut as for fitting."""
    if "tone-rise" not in row:
        return row
    cut = row["tone-rise"] < row["rise-as-heard"]
    rise = min(row["rise-as-heard"], CUT_DB) if cut else row["tone-rise"]
    return {k: v for k, v in row.items() if k != "level-over-background"} | {"tone-rise": rise}


def weigh(rows: Sequence[dict[str, float]], labels: Sequence[str]) -> None:
    coefficients = fit([_as_fitted(row) for row in rows], labels, SPECS, PRIOR, ridge=1e-3)
    write("seal", PRIOR, SPECS, coefficients, "fitting/seal.py", f"{len(rows)} simulated sweeps, seed 1")


if __name__ == "__main__":
    weigh(*features("seal", int(sys.argv[1]) if len(sys.argv) > 1 else 300))
