"""Do the reconciled flows hold the truth? Simulated plants whose leaks are holes (not draws of the posterior's own
model): log-normal hole sizes, a survey that misses small and far ones, one shared error of method a plant, own errors
with heavier tails than assumed, a timed load/unload test that is itself off. Prints how often the true total leakage,
the true sum of the leaks found, and the single true flows lie inside their 95 % intervals; how much the test narrows
the sum; and whether the order among the leaks survives.

    python benchmarks/reconciliation.py [--plants 1000]
"""

from __future__ import annotations

import argparse

import numpy as np

from earwitness.interval import Uncertain
from earwitness.programme.posterior import reconcile

OWN, SHARED = 0.4, 0.55  # ln standard deviations that the survey states: about a factor 4 at 95 %, together


def plant(rng: np.random.Generator) -> dict[str, np.ndarray | float]:
    """One plant: the true flows [m3/s of free air], which were found, the survey's medians, the test, the supply."""
    hole_mm = rng.lognormal(np.log(1.0), 0.6, rng.integers(15, 150))
    pressure = rng.uniform(5, 9)
    true = 1.17e-3 * hole_mm**2 * pressure / 8 * rng.uniform(0.7, 0.87) / 0.85
    distance = rng.lognormal(np.log(1.0), 0.6, len(true))
    audible = true / distance**2 / (2e-4 * rng.lognormal(0, 0.5))
    found = rng.random(len(true)) < 0.97 * audible / (1 + audible)
    if not found.any():
        found[true.argmax()] = True
    tails = rng.standard_t(6, len(true)) / np.sqrt(6 / 4)  # unit variance, heavier than Gaussian
    stated = true * np.exp(OWN * tails + SHARED * rng.standard_normal())
    error = rng.uniform(0.02, 0.12)
    total = float(true.sum())
    return {
        "true": true[found],
        "stated": stated[found],
        "total": total,
        "measured": total * float(np.exp(error * rng.standard_normal())),
        "error": error,
        "supply": total / rng.uniform(0.12, 0.6),
    }


def run(plants: int, seed: int = 0) -> dict[str, float]:
    rng = np.random.default_rng(seed)
    total, found, single, narrower, order, over = [], [], [], [], [], 0
    for number in range(plants):
        p = plant(rng)
        flows = [Uncertain(float(m), OWN, {"level_method": SHARED}) for m in p["stated"]]
        result = reconcile(flows, Uncertain(p["measured"], p["error"]), p["supply"], seed=number)
        alone = reconcile(flows, seed=number)
        total.append(result.total.low <= p["total"] <= result.total.high)
        found.append(result.found.low <= p["true"].sum() <= result.found.high)
        single += [f.low <= q <= f.high for f, q in zip(result.flows, p["true"], strict=True)]
        width = np.log(result.found.high / result.found.low) / np.log(alone.found.high / alone.found.low)
        narrower.append(width)
        order.append(_rank_correlation(p["stated"], np.array([f.value for f in result.flows])))
        over += bool(result.draws.sum(axis=0).max() > p["supply"])
    return {
        "true total inside": float(np.mean(total)),
        "true sum of found inside": float(np.mean(found)),
        "single true flows inside": float(np.mean(single)),
        "width of the sum, after over before": float(np.median(narrower)),
        "worst rank correlation before/after": float(np.min(order)),
        "plants with a draw over the supply": float(over),
    }


def _rank_correlation(a: np.ndarray, b: np.ndarray) -> float:
    if len(a) < 3:
        return 1.0
    return float(np.corrcoef(a.argsort().argsort(), b.argsort().argsort())[0, 1])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--plants", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    for name, value in run(options.plants, options.seed).items():
        print(f"{name:38s} {value:.3f}")


if __name__ == "__main__":
    main()
