"""Fit the weights of evidence of the bearing detector on simulated sound: python -m fitting.bearing [COUNT [JOBS]]"""

from __future__ import annotations

import os
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np

from earwitness.hearing.bearing import judge
from earwitness.simulate.bearing import draw
from earwitness.simulate.simulated import Simulated
from fitting.logit import WeightSpec, fit, write

PRIOR = {  # of bearings that somebody thought worth recording
    "outer-race": 0.13,
    "inner-race": 0.11,
    "rolling-element": 0.08,
    "cage": 0.03,
    "irregular": 0.07,
    "friction": 0.13,
    "no-fault-heard": 0.45,
}
_CALM = (
    ("share", 0.15, 0.15),
    ("chance", 4.0, 4.0),
    ("chance", 12.0, 8.0),
    ("lines", 8.0, 2.0),
    ("sided", 8.0, 4.0),
    ("hump", 3.0, 3.0),
    ("hump", 10.0, 8.0),
    ("cage", 0.2, 0.2),
)
SPECS = [
    *(
        WeightSpec(f"{part}-{measure}", verdict, criterion, scale)
        for part, verdict in (("outer", "outer-race"), ("inner", "inner-race"), ("element", "rolling-element"))
        for measure, criterion, scale in (
            ("share", 0.1, 0.1),
            ("share", 0.5, 0.4),
            ("lead", 0.0, 0.2),
            ("lead", 0.4, 0.4),
            ("chance", 3.0, 3.0),
            ("chance", 12.0, 8.0),
            ("chance", 8.0, 2.0),
            ("given", 6.0, 3.0),
            ("given", 12.0, 6.0),
            ("ratio", 0.0, 1.5),
            ("middle", 0.0, 1.0),
            ("first", 0.0, 1.5),
            ("near", -1.2, 1.0),
            ("beyond", 0.0, 4.0),
            ("explains", 0.05, 0.05),
            ("explains", 0.3, 0.3),
            ("hump", 12.0, 10.0),
            ("over", 0.0, 5.0),
            ("over", 10.0, 5.0),
        )
    ),
    WeightSpec("outer-lines", "outer-race", 8.0, 2.0),
    WeightSpec("inner-lines", "inner-race", 8.0, 2.0),
    *(WeightSpec("element-chance", race, 8.0, 8.0, -20.0) for race in ("outer-race", "inner-race")),
    *(
        WeightSpec(f"{other}-{measure}", race, criterion, scale, -20.0)
        for other, race in (("outer", "inner-race"), ("inner", "outer-race"))
        for measure, criterion, scale in (("share", 0.4, 0.4), ("explains", 0.3, 0.3))
    ),
    WeightSpec("cage-share", "cage", 0.4, 0.4),
    WeightSpec("cage-harmonics", "cage", 3.0, 2.0),
    WeightSpec("cage-train", "cage", 0.2, 0.2),
    WeightSpec("cage-once", "cage", 0.15, 0.1),
    WeightSpec("cage-once", "cage", 0.4, 0.2),
    *(WeightSpec("cage-once", verdict, 0.3, 0.3, -20.0) for verdict in ("outer-race", "inner-race", "rolling-element")),
    WeightSpec("cage-sides", "rolling-element", 0.12, 0.12),
    WeightSpec("cage-sides", "rolling-element", 0.4, 0.3),
    WeightSpec("kurtosis", "cage", 0.4, 0.4),
    WeightSpec("kurtosis", "cage", 1.2, 0.8),
    WeightSpec("impulses", "cage", 1.0, 1.0),
    WeightSpec("once-a-cage-turn", "cage", -1.0, 1.0),
    WeightSpec("cage-share", "rolling-element", 0.2, 0.2),
    WeightSpec("cage-turned", "rolling-element", 0.2, 0.2),
    WeightSpec("blows-a-cage-turn", "rolling-element", 1.0, 1.0),
    WeightSpec("unexplained", "rolling-element", 0.4, 0.4),
    *(
        WeightSpec(measure, "irregular", criterion, scale)
        for measure, criterion, scale in (
            ("unexplained", 0.1, 0.1),
            ("unexplained", 0.25, 0.15),
            ("unexplained", 0.4, 0.4),
            ("unexplained", 1.2, 0.8),
            ("kurtosis", 0.5, 0.3),
            ("impulses", 0.5, 0.5),
            ("impulses", 1.5, 1.5),
            ("impulses", 3.0, 3.0),
            ("stray", 0.5, 0.5),
            ("stray", 3.0, 3.0),
            ("calm-explained", -0.05, 0.05),
            ("calm-explained", -0.3, 0.3),
        )
    ),
    *(WeightSpec(f"calm-{name}", "irregular", -c, s) for name, c, s in _CALM),
    *(WeightSpec(f"calm-{name}", verdict, -c, s) for verdict in ("no-fault-heard", "friction") for name, c, s in _CALM),
    *(
        WeightSpec("quiet", verdict, criterion, scale)
        for verdict in ("no-fault-heard", "friction")
        for criterion, scale in ((0.0, 1.0), (0.7, 0.3))
    ),
    WeightSpec("rise", "friction", 6.0, 6.0),
    WeightSpec("level-known", "friction", 0.5, 0.5),
    WeightSpec("raised", "no-fault-heard", 0.0, 6.0, -20.0),
]


def reading(seed: int, whole: int) -> Simulated:
    """The seed's reading; from the `whole`-th on only a second or two of it, as rigs record, but twelve turns."""
    case = draw(np.random.default_rng([7, 0, seed]))
    if seed < whole:
        return case
    rng = np.random.default_rng([7, 1, seed])
    heard = case.heard
    kept = round(max(rng.uniform(1.0, 2.5), 12 * 60 / case.variety["rpm"]) * heard.rate_hz)
    start = int(rng.integers(0, max(len(heard.samples) - kept, 0) + 1))
    return replace(case, heard=replace(heard, samples=heard.samples[start : start + kept]))


def measured(task: tuple[int, int]) -> tuple[dict[str, float], str]:
    """What is measured of a seed's reading, and what is true of it."""
    case = reading(*task)
    return dict(judge(case.heard, case.state).measured), case.truth


def main(whole: int = 2000, jobs: int = 2) -> None:
    """The weights are the same whatever the number of jobs."""
    seeds = [(seed, whole) for seed in range(whole + whole // 4)]
    with ProcessPoolExecutor(jobs) as pool:
        rows, labels = zip(*pool.map(measured, seeds, chunksize=25), strict=True)
    coefficients = fit(rows, labels, SPECS, PRIOR, ridge=5e-5)
    note = f"{len(rows)} simulated readings of simulate/bearing.py, the last fifth cut to a second or two"
    print(write("bearing", PRIOR, SPECS, coefficients, "fitting/bearing.py", note))


if __name__ == "__main__":
    main(*(int(a) for a in sys.argv[1:]))
