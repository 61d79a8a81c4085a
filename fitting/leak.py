"""Fits the weights of `hearing/leak.py` on simulated readings: `python -m fitting.leak`."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Sequence

import numpy as np

from fitting.logit import WeightSpec, fit, write

PRIOR = {"leak": 0.5, "no-leak-heard": 0.5}
# No jet beats: simulated readings hold hardly any such sound, so this weighs no less, whatever they teach [nats].
BEATS = 7.0
# Nor does one puff; but the readings hold few puffs without a level, and a faint jet may be hidden beneath [nats].
PUFFS = 2.5
SPECS = [
    WeightSpec("over-background", "leak", 3.0, 3.0),
    WeightSpec("over-background", "leak", 8.0, 5.0),
    WeightSpec("stands-out", "leak", 4.0, 2.0),
    WeightSpec("stands-out", "leak", 8.0, 4.0),
    WeightSpec("swept-rise", "leak", 6.0, 3.0),
    WeightSpec("hiss-share", "leak", -5.0, 4.0),
    WeightSpec("hiss-share", "leak", -14.0, 4.0),  # skirts of tones, what is left between knocks
    WeightSpec("puffs-over", "no-leak-heard", 6.0, 2.0, PUFFS),
    WeightSpec("beats", "no-leak-heard", 0.4, 0.2, BEATS),
    WeightSpec("level-over-background", "leak", 6.0, 6.0),
]


def features(kind: str, draws: int, seed: int = 1) -> tuple[list[dict[str, float]], list[str]]:
    """What the detector measured of simulated readings, and the truth; readings nobody could tell are left out."""
    draw = importlib.import_module(f"earwitness.simulate.{kind}").draw
    judge = importlib.import_module(f"earwitness.hearing.{kind}").judge
    rows, labels = [], []
    for number in range(draws):
        simulated = draw(np.random.default_rng([seed, number]))
        if simulated.truth != "inconclusive":
            rows.append(dict(judge(simulated.heard, simulated.state).measured))
            labels.append(simulated.truth)
    return rows, labels


def levels_alone(rows: Sequence[dict[str, float]], recorded: str) -> list[dict[str, float]]:
    """The rows without the displayed level where `recorded` was measured: it counts only where nothing was recorded."""
    return [
        row if recorded not in row else {k: v for k, v in row.items() if k != "level-over-background"} for row in rows
    ]


def weigh(rows: Sequence[dict[str, float]], labels: Sequence[str]) -> None:
    coefficients = fit(levels_alone(rows, "hiss-share"), labels, SPECS, PRIOR, ridge=1e-3)
    write("leak", PRIOR, SPECS, coefficients, "fitting/leak.py", f"{len(rows)} simulated readings, seed 1")


if __name__ == "__main__":
    weigh(*features("leak", int(sys.argv[1]) if len(sys.argv) > 1 else 900))
