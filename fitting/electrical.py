"""Weights of the electrical detector, fitted on simulated readings: `simulate.discharge` (not its held-out part) and,
for a quarter, the same physics written a second time (`fitting.discharge_variety`), lest they lean on one simulator.

Run: OMP_NUM_THREADS=1 python -m fitting.electrical [--count 1200] [--seed 1]
"""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor

import numpy as np

from earwitness.hearing.discharge_measures import _listen
from earwitness.simulate.discharge import TRUTHS, draw
from earwitness.sound.mains import nominal_mains
from fitting import discharge_variety
from fitting.logit import WeightSpec, fit, write

# No discharge repeats itself to less than noise does, and none is over within a millisecond at the same phase each
# time: whatever the readings teach, what does is switched, by no less than this [nats].
REPEATS, CLICKS = 3.0, 2.0
LOCKED = 1.5  # what beats with the mains is something, and nothing that is heard beats with them
OFF = 3.0  # synchronous grids keep within 0.4 %, a two-pole motor slips by more; an island's grid may stray by 1 %
PRIOR = dict.fromkeys(TRUTHS, 1 / len(TRUTHS))
# A negative scale: the smaller the value, the more it says.
SPECS = [
    WeightSpec("together", "corona", 0.8, 0.2, lower=1.0),
    WeightSpec("swing", "corona", 3.5, -2.0),
    WeightSpec("one-polarity", "corona", -10.0, 10.0),
    WeightSpec("together", "tracking", 0.8, 0.2, lower=1.0),
    WeightSpec("let-go", "tracking", 0.25, 0.25),
    WeightSpec("growth", "tracking", 0.7, 0.8),
    WeightSpec("swing", "tracking", 4.0, 2.0),
    WeightSpec("broad", "tracking", 0.35, -0.12),
    WeightSpec("starts", "arcing", 0.8, 0.8),
    WeightSpec("broad", "arcing", 0.4, 0.12),
    WeightSpec("unsteady", "arcing", 1.0, 0.4),
    WeightSpec("faint-edges", "arcing", 0.5, 0.1),
    WeightSpec("faint-spread-out", "arcing", 0.4, 0.25),
    WeightSpec("faint-lasts", "arcing", 9.0, 4.0),
    WeightSpec("faint-burns-on", "arcing", 0.36, 0.03),
    WeightSpec("faint-in-all-bands", "arcing", 0.9, 0.08),
    WeightSpec("tones", "arcing", -9.0, -6.0),
    WeightSpec("comb-lines", "mains-hum", 3.5, 1.0),
    WeightSpec("comb-lines", "mains-hum", 7.0, 4.0),
    WeightSpec("comb-over-rest", "mains-hum", 0.0, 6.0),
    WeightSpec("lock", "mains-hum", 12.0, -4.0, lower=1.5),
    WeightSpec("bursts", "mains-hum", 10.0, -4.0, lower=0.7),
    WeightSpec("cracks", "mains-hum", 0.4, -0.4),
    WeightSpec("depth", "mains-hum", 9.0, -4.0),
    WeightSpec("lock", "no-discharge-heard", 11.0, -4.0, lower=LOCKED),
    WeightSpec("comb-lines", "no-discharge-heard", 3.5, -1.0),
    WeightSpec("depth", "no-discharge-heard", 9.0, -4.0),
    WeightSpec("together", "no-discharge-heard", 0.8, -0.2),
    WeightSpec("bursts", "no-discharge-heard", 13.0, -6.0),
    WeightSpec("six-pulse", "no-discharge-heard", 3.0, 6.0, lower=2.0),
    WeightSpec("off-mains", "no-discharge-heard", 0.7, 0.15, lower=OFF),
    *(
        spec
        for verdict in ("mains-hum", "no-discharge-heard")
        for spec in (
            WeightSpec("anew", verdict, 0.85, -0.1, lower=REPEATS),
            WeightSpec("crest", verdict, 1.0, -0.25, lower=CLICKS),
        )
    ),
    WeightSpec("not-a-swell", "mains-hum", -13.0, -5.0),
]


def measured(task: tuple[int, int]) -> tuple[dict[str, float], str]:
    """The numbers of one simulated reading, and its truth; every fourth is of the second variety."""
    seed, number = task
    if number % 4 == 3:
        heard, state, truth = discharge_variety.draw(np.random.default_rng([seed, 7, number]))
    else:
        drawn = draw(np.random.default_rng([seed, number]))
        heard, state, truth = drawn.heard, drawn.state, drawn.truth
    nominal = nominal_mains(state.mains_hz)
    return _listen(heard.samples, heard.rate_hz, nominal, heard.signal == "direct").numbers, truth


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--count", type=int, default=1200)
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--jobs", type=int, default=2)
    arguments.add_argument("--ridge", type=float, default=3e-4)
    given = arguments.parse_args()
    tasks = [(given.seed, i) for i in range(given.count)]
    with ProcessPoolExecutor(given.jobs) as pool:
        rows, labels = zip(*pool.map(measured, tasks, chunksize=20), strict=True)

    coefficients = fit(
        [{s.code: row.get(s.code, np.nan) for s in SPECS} for row in rows], labels, SPECS, PRIOR, ridge=given.ridge
    )
    note = f"{len(rows)} simulated readings, seed {given.seed}; equal priors"
    print(write("electrical", PRIOR, SPECS, coefficients, "fitting/electrical.py", note))
    for spec, coefficient in zip(SPECS, coefficients, strict=True):
        print(f"{spec.supports:20s} {spec.code:18s} {coefficient:7.3f}")


if __name__ == "__main__":
    main()
