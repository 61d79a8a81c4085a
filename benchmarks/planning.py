"""Planning 500 findings over 12 weeks: seconds, value, and the distance to the bound."""

from __future__ import annotations

import time

import numpy as np

from earwitness.programme.schedule import Task, Weeks, schedule


def invented(count: int = 500, weeks: int = 12, seed: int = 1) -> tuple[list[Task], Weeks]:
    rng = np.random.default_rng(seed)
    crafts = ("fitter", "electrician", "rigger")
    places = [f"isolation {n}" for n in range(60)] + [f"access {n}" for n in range(40)]
    tasks = [
        Task(
            name=f"F{n:03}",
            hours=float(rng.choice([0.5, 1, 2, 4, 8])),
            craft=str(rng.choice(crafts, p=[0.7, 0.2, 0.1])),
            value_per_week=float(rng.lognormal(2.5, 1.2)),
            cost=float(rng.lognormal(4, 1)),
            first_week=int(rng.choice([0, 0, 0, 2, 4])),
            needs_shutdown=bool(rng.random() < 0.1),
            bundles=tuple(str(b) for b in rng.choice(places, size=rng.integers(0, 3), replace=False)),
        )
        for n in range(count)
    ]
    offer = Weeks(
        hours={"fitter": [40.0] * weeks, "electrician": [16.0] * weeks, "rigger": [12.0] * weeks},
        shutdown=[w in (5, 11) for w in range(weeks)],
        budget=25_000.0,
        bundle_hours={p: 1.0 for p in places},
    )
    return tasks, offer


if __name__ == "__main__":
    for seed in range(1, 7):
        began, before = time.perf_counter(), time.process_time()
        plan = schedule(*invented(seed=seed))
        took, worked = time.perf_counter() - began, time.process_time() - before
        print(
            f"seed {seed}: {took:.1f} s ({worked:.1f} s of processor), {len(plan.week)} of 500 placed, "
            f"value {plan.value:.0f}, gap {plan.gap:.2%}"
        )
