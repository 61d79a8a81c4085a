"""Weights of the electrical detector, fitted on simulated readings (`simulate.discharge`, not its held-out part).

Run: OMP_NUM_THREADS=1 python -m fitting.electrical [--count 900] [--seed 1]
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor

import numpy as np

from earwitness.hearing.discharge_measures import _listen
from earwitness.simulate.discharge import TRUTHS, draw
from fitting.logit import WeightSpec, fit, write

PRIOR = dict.fromkeys(TRUTHS, 1 / len(TRUTHS))
# A negative scale: the smaller the value, the more it says.
SPECS = [
    WeightSpec("lock", "corona", 16.0, 8.0),
    WeightSpec("together", "corona", 0.8, 0.2, lower=1.0),
    WeightSpec("swing", "corona", 3.5, -2.0),
    WeightSpec("wobble", "corona", 0.4, -0.25),
    WeightSpec("let-go", "corona", 0.15, -0.15),
    WeightSpec("lock", "tracking", 16.0, 8.0),
    WeightSpec("together", "tracking", 0.8, 0.2, lower=1.0),
    WeightSpec("swing", "tracking", 4.0, 2.0),
    WeightSpec("let-go", "tracking", 0.25, 0.2),
    WeightSpec("locked-bursts", "tracking", 12.0, -4.0),
    WeightSpec("wobble", "tracking", 1.2, -0.6),
    WeightSpec("bursts", "arcing", 9.0, 4.0),
    WeightSpec("locked-bursts", "arcing", 12.0, 4.0),
    WeightSpec("locked-irregular", "arcing", 9.0, 4.0),
    WeightSpec("irregular", "arcing", 7.0, 3.0),
    WeightSpec("wobble", "arcing", 1.2, 0.6),
    WeightSpec("together", "arcing", 0.6, 0.3),
    WeightSpec("lock", "arcing", 9.0, 4.0),
    WeightSpec("onsets", "arcing", 1.0, 1.0),
    WeightSpec("ends", "arcing", 1.0, 1.0),
    WeightSpec("in-all-bands", "arcing", 0.85, 0.1),
    WeightSpec("tones", "arcing", -9.0, -6.0),
    WeightSpec("locked-comb-over-rest", "arcing", -10.0, 6.0),
    WeightSpec("comb-lines", "mains-hum", 3.5, 1.5),
    WeightSpec("comb-over-rest", "mains-hum", 0.0, 6.0),
    WeightSpec("comb-over-lines", "mains-hum", 3.0, 5.0),
    WeightSpec("lock", "mains-hum", 12.0, -4.0, lower=1.5),
    WeightSpec("bursts", "mains-hum", 10.0, -4.0, lower=0.7),
    WeightSpec("lock", "no-discharge-heard", 11.0, -4.0),
    WeightSpec("together", "no-discharge-heard", 0.6, -0.3),
    WeightSpec("bursts", "no-discharge-heard", 8.0, -4.0),
    WeightSpec("comb-lines", "no-discharge-heard", 3.5, -1.5),
    WeightSpec("foreign", "no-discharge-heard", 0.0, 6.0),
    WeightSpec("six-pulse", "no-discharge-heard", 3.0, 6.0, lower=2.0),
    WeightSpec("off-mains", "no-discharge-heard", 0.7, 0.3, lower=1.5),
]


def measured(task: tuple[int, int]) -> tuple[dict[str, float], str]:
    """The numbers of one simulated reading, and its truth."""
    drawn = draw(np.random.default_rng(list(task)))
    nominal = (drawn.state.mains_hz,) if drawn.state.mains_hz else (50.0, 60.0)
    heard = drawn.heard
    return _listen(heard.samples, heard.rate_hz, nominal, heard.signal == "direct").numbers, drawn.truth


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--count", type=int, default=900)
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--ridge", type=float, default=2e-4)
    given = arguments.parse_args()
    with ProcessPoolExecutor() as pool:
        rows, labels = zip(
            *pool.map(measured, [(given.seed, i) for i in range(given.count)], chunksize=20), strict=True
        )

    coefficients = fit(
        [{s.code: row.get(s.code, np.nan) for s in SPECS} for row in rows], labels, SPECS, PRIOR, ridge=given.ridge
    )
    note = f"{given.count} simulated readings, seed {given.seed}; equal priors"
    print(write("electrical", PRIOR, SPECS, coefficients, "fitting/electrical.py", note))
    for spec, coefficient in zip(SPECS, coefficients, strict=True):
        print(f"{spec.supports:20s} {spec.code:18s} {coefficient:7.3f}")


if __name__ == "__main__":
    main()
