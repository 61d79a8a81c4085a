"""How fast flows come: one opening with 10,000 draws, 10,000 leaks from openings and from levels.

python benchmarks/gas.py [--leaks 10000]
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable

import numpy as np

from earwitness.gas.from_level import flow_from_level
from earwitness.gas.opening import flow_through_opening
from earwitness.interval import DRAWS, summary


def timed(work: Callable[[], object], repeats: int = 3) -> float:
    """Best of a few runs [s]."""
    best = float("inf")
    for _ in range(repeats):
        began = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - began)
    return best


def draws_of_one_flow(gas: str, seed: int = 0) -> None:
    rng = np.random.default_rng(seed)
    z = rng.standard_normal((3, DRAWS))
    flow = flow_through_opening(
        gas,
        8e5 * np.exp(0.02 * z[0]),
        diameter=0.001 * np.exp(0.05 * z[1]),
        temperature=293.15 + 5 * z[2],
        state_at=(8e5, 293.15),
    )
    summary(np.asarray(flow.mass_flow))


def leaks_from_openings(count: int, seed: int = 0) -> None:
    rng = np.random.default_rng(seed)
    pressures = np.round(rng.uniform(3e5, 1.1e6, count), -3)  # as read off a gauge
    for pressure, diameter in zip(pressures.tolist(), rng.uniform(2e-4, 3e-3, count).tolist(), strict=True):
        spread = flow_through_opening("air", pressure, diameter=diameter).uncertain
        assert spread is not None
        spread.interval()


def leaks_from_levels(count: int, seed: int = 0) -> None:
    rng = np.random.default_rng(seed)
    pressures = np.round(rng.uniform(3e5, 1.1e6, count), -3)
    for pressure, level in zip(pressures.tolist(), rng.uniform(30, 75, count).tolist(), strict=True):
        found = flow_from_level("air", level, pressure, reference_known=True, distance=1.0, background_db=20.0)
        assert found.mass_flow is not None
        found.mass_flow.interval()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--leaks", type=int, default=10_000)
    leaks = parser.parse_args().leaks
    began = time.perf_counter()
    flow_through_opening("air", 8e5, diameter=0.001)
    print(f"first flow, library loaded with it: {time.perf_counter() - began:.2f} s")
    for gas in ("air", "carbon dioxide", "natural gas"):
        seconds = timed(lambda gas=gas: draws_of_one_flow(gas))
        print(f"one flow of {gas}, {DRAWS:,} draws: {1000 * seconds:.1f} ms (bar: 20 ms)")
    print(
        f"{leaks:,} leaks from openings: {timed(lambda: leaks_from_openings(leaks), 1):.2f} s (bar with prices: 10 s)"
    )
    print(f"{leaks:,} leaks from levels: {timed(lambda: leaks_from_levels(leaks), 1):.2f} s")


if __name__ == "__main__":
    main()
