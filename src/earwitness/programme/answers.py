"""What fitters find corrects what the tool believes: hit rates, and how much of what is there two rounds see."""

from __future__ import annotations

import math
from dataclasses import dataclass

from earwitness.errors import InputError

PRIOR_ANSWERS = 20.0  # the simulated probability counts as much as this many answers from the floor


@dataclass(frozen=True)
class HitRate:
    """How often a verdict proved true here, with its 95 % credible interval and how many answers it rests on."""

    rate: float
    low: float
    high: float
    answers: int


@dataclass(frozen=True)
class Population:
    """How many there are in all, seen or not, and the share that one round sees."""

    total: float
    low: float
    high: float
    detection_rate: float


def hit_rate(
    found: int, not_found: int, simulated_probability: float, *, prior_answers: float = PRIOR_ANSWERS
) -> HitRate:
    """Local hit rate of a verdict: beta posterior from the simulated prior and the fitters' answers.

    Parameters
    ----------
    found : answers that confirmed the verdict
    not_found : answers that did not
    simulated_probability : float, mean probability that the tool gave those readings, 0..1 [1]
    prior_answers : float, weight of the simulated probability in answers [1]

    References: Gelman et al., Bayesian Data Analysis, 3rd ed., 2.4 (beta-binomial).
    """
    if not 0 < simulated_probability < 1 or found < 0 or not_found < 0:
        raise InputError("simulated_probability", simulated_probability, "between 0 and 1, with counts of 0 or more")
    from scipy.special import betaincinv

    a = prior_answers * simulated_probability + found
    b = prior_answers * (1 - simulated_probability) + not_found
    return HitRate(a / (a + b), float(betaincinv(a, b, 0.025)), float(betaincinv(a, b, 0.975)), found + not_found)


def corrected_probability(probability: float, rate: HitRate, simulated_probability: float) -> float:
    """A verdict's probability moved by the local hit rate: its odds times the odds of the rate over those assumed.

    Parameters
    ----------
    probability : float, what the tool gave this reading, 0..1 [1]
    rate : local hit rate of this verdict
    simulated_probability : float, what it was expected to be, 0..1 [1]

    References: Bayes' theorem in odds form (prior correction for a changed base rate; King and Zeng 2001, Political
    Analysis 9, 137).
    """
    if not 0 < probability < 1:
        return probability
    shift = _logit(rate.rate) - _logit(simulated_probability)
    return 1 / (1 + math.exp(-(_logit(probability) + shift)))


def capture_recapture(first: int, second: int, both: int) -> Population:
    """Findings present in all, from two inspectors who walked the same round independently.

    Parameters
    ----------
    first : found by the first
    second : found by the second
    both : found by both

    References: Chapman (1951), Univ. Calif. Publ. Stat. 1, 131: N = (n1+1)(n2+1)/(m+1) − 1; variance by Seber (1970),
    Biometrics 26, 13. Assumes that findings are equally easy to hear; where they are not, the total is too low.
    """
    if both > min(first, second) or min(first, second, both) < 0:
        raise InputError("both", both, "at most what each found, and 0 or more")
    total = (first + 1) * (second + 1) / (both + 1) - 1
    variance = (first + 1) * (second + 1) * (first - both) * (second - both) / ((both + 1) ** 2 * (both + 2))
    seen = first + second - both
    half = 1.96 * math.sqrt(variance)
    rate = (first + second) / 2 / total if total > 0 else 0.0
    return Population(total, max(float(seen), total - half), total + half, min(1.0, rate))


def _logit(p: float) -> float:
    return math.log(p / (1 - p))
