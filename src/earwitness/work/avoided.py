"""What a repair avoids, as far as that is known: how its flow, prices and controls are spread, and the chance that the
fault is not there at all.

What readings share by name (the method of sizing, the price of energy) moves together in a sum and does not average
out; whether one fault is there says nothing of another's. How far the probabilities themselves may be out is in no
interval.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any

import numpy as np

from earwitness.interval import COVERAGE, Z_95, Interval, Sampler, Uncertain, summary
from earwitness.plant.assessment import rounded

SEED, COUNT = 0, 4000  # joint draws
NORMAL = NormalDist()


@dataclass(frozen=True)
class Avoided:
    """What the fault costs a year where it is there, and the probability that it is."""

    if_there: Uncertain
    probability: float = 1.0

    def over(self, years: float) -> Interval:
        """In closed form; `value` is the median, `mean` what a plan adds up."""
        low, median, high = (self._quantile(q) for q in ((1 - COVERAGE) / 2, 0.5, (1 + COVERAGE) / 2))
        return Interval(median, low, high, self.mean).scaled(years)

    @property
    def mean(self) -> float:
        return self.probability * self.if_there.interval().mean

    def _quantile(self, q: float) -> float:
        there = q - (1 - self.probability)
        if there <= 0:
            return 0.0
        return self.if_there.median * math.exp(self.if_there.sigma * NORMAL.inv_cdf(there / self.probability))


def if_there(mean: float, heard: Mapping[str, Any], name: str, currency: str) -> Uncertain:
    """An expected amount with the spread of its quantity in a judgement: its flow's as filed, and what is left of it
    (price, power, controls) shared by all amounts in that currency. One without an interval is taken as it stands."""
    quantity = (heard.get("quantities") or {}).get(name) or {}
    low, high = quantity.get("low"), quantity.get("high")
    if not low or not high or mean <= 0:
        return Uncertain(mean)
    sigma = math.log(high / low) / (2 * Z_95)
    spread = heard.get("spread") or {}
    flow = Uncertain(1.0, float(spread.get("own", 0.0)), dict(spread.get("shared") or {}))
    left = math.sqrt(max(0.0, sigma**2 - flow.sigma**2))
    shared = {**flow.shared, f"money {currency}": left}
    return Uncertain(mean / math.exp((flow.sigma**2 + left**2) / 2), flow.own, shared)


def together(amounts: Mapping[str, tuple[str, Avoided, float]]) -> dict[str, Interval]:
    """Of each currency the sum, the largest first; by repair: its currency, what it avoids, over how many years."""
    sampler, sums = Sampler(SEED, COUNT), dict[str, Any]()
    means: dict[str, float] = {}
    for name, (currency, avoided, years) in sorted(amounts.items()):
        drawn = avoided.if_there.draws(sampler, name) * years
        if avoided.probability < 1:
            drawn = drawn * (sampler.normal(f"own:there {name}") < _threshold(avoided.probability))
        sums[currency] = sums.get(currency, 0.0) + drawn
        means[currency] = means.get(currency, 0.0) + avoided.mean * years
    told = {c: summary(np.asarray(draws)) for c, draws in sums.items()}
    exact = {c: Interval(i.value, i.low, i.high, means[c], i.coverage) for c, i in told.items()}
    return dict(sorted(exact.items(), key=lambda item: -item[1].mean))


def as_json(x: Interval) -> dict[str, float]:
    return {name: rounded(getattr(x, name)) for name in ("value", "low", "high", "mean", "coverage")}


def _threshold(probability: float) -> float:
    return -math.inf if probability <= 0 else NORMAL.inv_cdf(probability)
