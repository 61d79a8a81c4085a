"""A value with its interval: medians with log-normal spread, multiplied in closed form, and Monte Carlo through any
function (JCGM 101:2008). What several values share (a method, a price) keeps its name, so that sums keep their
correlation and a shared error does not average out."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from earwitness.errors import InputError

COVERAGE = 0.95
Z_95 = 1.959963984540054  # standard normal, two-sided 95 %
DRAWS = 10_000

Draws = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Interval:
    """Median, interval of the stated coverage, and expected value, all in one unit."""

    value: float
    low: float
    high: float
    mean: float
    coverage: float = COVERAGE

    def scaled(self, factor: float) -> Interval:
        """The same quantity in another unit, or times something exactly known; a negative factor turns it over."""
        low, high = sorted((self.low * factor, self.high * factor))
        return Interval(self.value * factor, low, high, self.mean * factor, self.coverage)


@dataclass(frozen=True, slots=True)
class Uncertain:
    """A positive quantity: its median, and ln standard deviations: its own, and those shared with others by name.

    Examples
    --------
    >>> flow = Uncertain(60.0, own=0.3, shared={"method": 0.4})
    >>> cost = flow * Uncertain(2.0, shared={"price": 0.1}) * 12
    >>> round(cost.median), round(cost.sigma, 3), sorted(cost.shared)
    (1440, 0.51, ['method', 'price'])
    """

    median: float
    own: float = 0.0
    shared: Mapping[str, float] = field(default_factory=dict)

    @property
    def sigma(self) -> float:
        return math.sqrt(self.own**2 + sum(s * s for s in self.shared.values()))

    def interval(self) -> Interval:
        """In closed form: the same as ever so many draws."""
        spread = math.exp(Z_95 * self.sigma)
        return Interval(
            self.median, self.median / spread, self.median * spread, self.median * math.exp(self.sigma**2 / 2)
        )

    def __mul__(self, other: Uncertain | float) -> Uncertain:
        if isinstance(other, Uncertain):
            names = {*self.shared, *other.shared}
            shared = {n: self.shared.get(n, 0.0) + other.shared.get(n, 0.0) for n in sorted(names)}
            return Uncertain(self.median * other.median, math.hypot(self.own, other.own), shared)
        return Uncertain(self.median * other, self.own, self.shared)

    __rmul__ = __mul__

    def __truediv__(self, other: Uncertain | float) -> Uncertain:
        if isinstance(other, Uncertain):
            turned = {name: -sigma for name, sigma in other.shared.items()}  # what both share cancels
            return self * Uncertain(1 / other.median, other.own, turned)
        return self * (1 / other)

    def draws(self, sampler: Sampler, name: str) -> Draws:
        """Draws of this quantity; `name` (a reading, say) seeds its own part, the shared parts are seeded by theirs."""
        if not self.median > 0:
            return np.full(sampler.count, self.median)  # nothing is exactly nothing; NaN stays NaN
        ln = np.full(sampler.count, math.log(self.median))
        if self.own:
            ln += self.own * sampler.normal(f"own:{name}")
        for shared, sigma in self.shared.items():
            ln += sigma * sampler.normal(f"shared:{shared}")
        return np.exp(ln)


class Sampler:
    """Standard normal draws by name: the same seed and name give the same draws, in whatever order they are asked."""

    def __init__(self, seed: int = 0, count: int = DRAWS) -> None:
        self.seed, self.count = seed, count
        self._kept: dict[str, Draws] = {}

    def normal(self, name: str) -> Draws:
        if name.startswith("own:"):
            return self._draw(name)
        if name not in self._kept:
            self._kept[name] = self._draw(name)
        return self._kept[name]

    def _draw(self, name: str) -> Draws:
        digest = hashlib.blake2b(name.encode(), digest_size=8).digest()  # so long that no two readings share draws
        return np.random.default_rng([self.seed, int.from_bytes(digest, "little")]).standard_normal(self.count)


def within_factor(median: float, factor: float, *, share_named: str | None = None) -> Uncertain:
    """A quantity known to within a factor either way at 95 %.

    Examples
    --------
    >>> found = within_factor(60.0, 3.0).interval()
    >>> round(found.low, 6), round(found.high, 6)
    (20.0, 180.0)
    """
    if not factor >= 1:
        raise InputError("factor", factor, "at least 1")
    sigma = math.log(factor) / Z_95
    return Uncertain(median, 0.0, {share_named: sigma}) if share_named else Uncertain(median, sigma)


def alike(medians: Sequence[float], own: float = 0.0, shared: Mapping[str, float] | None = None) -> list[Uncertain]:
    """Many quantities known in the same way.

    Examples
    --------
    >>> [q.median for q in alike([1.0, 2.0], own=0.3, shared={"method": 0.4})]
    [1.0, 2.0]
    """
    return [Uncertain(float(median), own, dict(shared or {})) for median in medians]


def total_draws(quantities: Mapping[str, Uncertain], sampler: Sampler) -> Draws:
    """Draws of a sum: what the quantities share by name moves together, the rest averages out. The names are those
    that `Uncertain.draws` takes.

    Examples
    --------
    >>> many = {str(i): q for i, q in enumerate(alike([1.0] * 100, own=0.5, shared={"method": 0.5}))}
    >>> total = summary(total_draws(many, Sampler(seed=1)))
    >>> bool(total.high / total.low > 5)  # the shared part alone is a factor 7; a hundred own parts add little
    True
    """
    total = np.zeros(sampler.count)
    for name, quantity in quantities.items():
        total += quantity.draws(sampler, name)
    return total


def summary(draws: Draws, coverage: float = COVERAGE) -> Interval:
    """The interval that draws stand for: the median, the probabilistically symmetric interval, the mean."""
    if not 0 < coverage < 1:
        raise InputError("coverage", coverage, "between 0 and 1")
    tail = (1 - coverage) / 2
    low, median, high = np.quantile(draws, [tail, 0.5, 1 - tail])
    return Interval(float(median), float(low), float(high), float(np.mean(draws)), coverage)


def through(function: Callable[..., Draws], *inputs: Uncertain | float, seed: int = 0, count: int = DRAWS) -> Interval:
    """Monte Carlo through any function of arrays (JCGM 101): inputs as draws, the output as an interval.

    Examples
    --------
    >>> area = through(lambda a, b: a * b, within_factor(2.0, 1.2), 3.0)
    >>> bool(abs(area.low - 5.0) < 0.1 and abs(area.high - 7.2) < 0.1)
    True
    """
    sampler = Sampler(seed, count)
    arrays = [x.draws(sampler, str(i)) if isinstance(x, Uncertain) else np.full(count, x) for i, x in enumerate(inputs)]
    return summary(np.asarray(function(*arrays), dtype=np.float64))
