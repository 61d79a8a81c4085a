"""Fit the weights of evidence of the bearing detector on simulated sound."""

from __future__ import annotations

from fitting.logit import WeightSpec

PRIOR = {
    "outer-race": 0.10,
    "inner-race": 0.08,
    "rolling-element": 0.05,
    "cage": 0.02,
    "irregular": 0.05,
    "friction": 0.15,
    "no-fault-heard": 0.55,
}
SPECS = [
    *(
        WeightSpec(f"{part}-{measure}", verdict, criterion, scale)
        for part, verdict in (("outer", "outer-race"), ("inner", "inner-race"), ("element", "rolling-element"))
        for measure, criterion, scale in (
            ("share", 0.2, 0.2),
            ("lead", 0.15, 0.3),
            ("chance", 4.0, 4.0),
            ("explains", 0.15, 0.15),
            ("hump", 4.0, 4.0),
        )
    ),
    WeightSpec("cage-share", "cage", 0.3, 0.3),
    WeightSpec("cage-harmonics", "cage", 6.0, 4.0),
    WeightSpec("cage-share", "rolling-element", 0.2, 0.2),
    WeightSpec("impulses", "irregular", 2.0, 2.0),
    WeightSpec("unexplained", "irregular", 0.4, 0.4),
    WeightSpec("unexplained", "rolling-element", 0.4, 0.4),
    WeightSpec("kurtosis", "no-fault-heard", 0.2, 0.3, -20.0),
    WeightSpec("best-chance", "no-fault-heard", 4.0, 4.0, -20.0),
    WeightSpec("best-depth", "no-fault-heard", 0.3, 0.3, -20.0),
    WeightSpec("best-hump", "no-fault-heard", 4.0, 4.0, -20.0),
    WeightSpec("impulses", "no-fault-heard", 1.0, 1.0, -20.0),
    WeightSpec("rise", "friction", 6.0, 6.0),
    WeightSpec("rise", "no-fault-heard", 6.0, 6.0, -20.0),
    WeightSpec("level-known", "friction", 0.5, 0.5),
    WeightSpec("kurtosis", "friction", 0.2, 0.3, -20.0),
    WeightSpec("best-chance", "friction", 4.0, 4.0, -20.0),
    WeightSpec("best-depth", "friction", 0.3, 0.3, -20.0),
    WeightSpec("impulses", "friction", 1.0, 1.0, -20.0),
]
