"""Ten thousand leaks sized and priced, each with its interval, and a total that keeps the correlations.

python benchmarks/sizing.py [--leaks 10000]
"""

from __future__ import annotations

import argparse
import time

import numpy as np

from earwitness.interval import Sampler, Uncertain, summary, total_draws, within_factor


def run(leaks: int, seed: int = 0) -> dict[str, float]:
    rng = np.random.default_rng(seed)
    medians = rng.lognormal(np.log(1e-3), 1.0, leaks)
    began = time.perf_counter()
    specific = within_factor(360e3, 1.10, share_named="specific_power")
    price = within_factor(0.20 / 3.6e6, 1.05, share_named="price")
    flows = [Uncertain(float(m), 0.35, {"level_method": 0.6}) for m in medians]
    costs = {str(i): flow * specific * price * (6000 * 3600.0) for i, flow in enumerate(flows)}
    intervals = [(flow.interval(), cost.interval()) for flow, cost in zip(flows, costs.values(), strict=True)]
    total = summary(total_draws(costs, Sampler(seed)))
    seconds = time.perf_counter() - began
    began = time.perf_counter()
    summary(flows[0].draws(Sampler(seed), "0"))
    return {
        "leaks": float(len(intervals)),
        "seconds": seconds,
        "one flow, 10 000 draws [ms]": 1e3 * (time.perf_counter() - began),
        "total, high over low": total.high / total.low,
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--leaks", type=int, default=10_000)
    for name, value in run(parser.parse_args().leaks).items():
        print(f"{name:30s} {value:.3f}")


if __name__ == "__main__":
    main()
