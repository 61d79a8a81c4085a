"""Rates, returns, answers, trends and walks against simulation, SciPy and trying everything."""

from __future__ import annotations

import math
from itertools import permutations

import numpy as np
import pytest
from scipy import stats

from earwitness.errors import InputError
from earwitness.programme.answers import capture_recapture, corrected_probability, hit_rate
from earwitness.programme.renewal import Rate, arrival_rate, best_return
from earwitness.programme.round import short_walk
from earwitness.programme.trend import alarm_levels, repeatability, robust_baseline, slope, time_to_level


@pytest.mark.parametrize("mean", [0.5, 3.0, 20.0])
def test_the_rates_interval_covers_the_truth(mean):
    counts = np.random.default_rng(1).poisson(mean * 2, 3000)
    found = [arrival_rate(int(c), 2.0) for c in counts]
    assert np.mean([r.low <= mean <= r.high for r in found]) >= 0.94  # exact: never less than 95 %


def test_returning_earlier_or_later_costs_more():
    """The best interval beats its neighbours in a simulated decade of leaks."""
    rate, each, round_cost = 30.0, 400.0, 900.0
    best = best_return(Rate(rate, rate, rate), each, round_cost).years
    rng = np.random.default_rng(2)
    born = np.sort(rng.uniform(0, 400, rng.poisson(rate * 400)))

    def cost(years: float) -> float:
        waits = np.ceil(born / years) * years - born
        return each * float(waits.sum()) / 400 + round_cost / years

    assert cost(best) < min(cost(best * 0.6), cost(best * 1.6))
    assert best_return(Rate(0.0, 0.0, 4.0), each, round_cost).latest == math.inf


def test_hit_rates_interval_is_that_of_the_beta_distribution():
    found = hit_rate(6, 2, 0.9)
    low, high = stats.beta(18 + 6, 2 + 2).interval(0.95)
    assert (found.low, found.high) == pytest.approx((low, high))
    assert corrected_probability(0.7, hit_rate(0, 0, 0.9), 0.9) == pytest.approx(0.7)
    assert corrected_probability(1.0, found, 0.9) == 1.0 and corrected_probability(0.0, found, 0.9) == 0.0
    with pytest.raises(InputError):
        hit_rate(1, 1, 1.0)


def test_two_walks_tell_how_many_there_are():
    rng = np.random.default_rng(3)
    found = []
    for _ in range(1500):
        first, second = rng.random((2, 60)) < 0.7
        found.append(capture_recapture(int(first.sum()), int(second.sum()), int((first & second).sum())))
    assert np.mean([p.total for p in found]) == pytest.approx(60, rel=0.01)
    assert np.mean([p.low <= 60 <= p.high for p in found]) > 0.9
    assert np.mean([p.detection_rate for p in found]) == pytest.approx(0.7, abs=0.01)
    with pytest.raises(InputError):
        capture_recapture(3, 2, 3)


def test_the_alarm_is_what_two_sound_readings_rarely_differ_by():
    rng = np.random.default_rng(4)
    repeats = rng.normal(30.0, 1.2, (400, 3))
    s = repeatability([list(r) for r in repeats])
    assert s == pytest.approx(1.2, rel=0.05)
    limit = alarm_levels(0.0, s).watch_db
    differences = rng.normal(0, 1.2, 20_000) - rng.normal(0, 1.2, 20_000)
    assert np.mean(np.abs(differences) > limit) == pytest.approx(0.05, abs=0.006)


def test_one_wild_reading_moves_neither_baseline_nor_slope():
    assert robust_baseline(np.array([22.0, 23.0, 60.0, 23.0, 24.0])).level_db == 23.0
    days, levels = np.arange(10.0), 20 + 0.5 * np.arange(10.0)
    levels[6] = 70.0
    assert slope(days, levels).per_day == pytest.approx(0.5, abs=0.05)


def test_the_slopes_interval_covers_the_truth():
    rng = np.random.default_rng(6)
    days = np.sort(rng.uniform(0, 300, 12))
    found = [slope(days, 20 + 0.02 * days + rng.normal(0, 1.0, 12)) for _ in range(400)]
    assert 0.9 < np.mean([f.low <= 0.02 <= f.high for f in found]) <= 1.0


def test_no_date_is_promised_for_a_level_trend():
    rng = np.random.default_rng(7)
    days = np.arange(0.0, 300.0, 30.0)
    ranges = [time_to_level(days, 22 + rng.normal(0, 1.0, 10), 30.0) for _ in range(300)]
    assert np.mean([f.latest_days is None for f in ranges]) > 0.95


@pytest.mark.parametrize("seed", range(6))
def test_a_short_walk_is_nearly_the_shortest(seed):
    rng = np.random.default_rng(seed)
    x, y = rng.uniform(0, 50, (2, 8))

    def length(order: list[int]) -> float:
        return float(np.hypot(np.diff(x[list(order)]), np.diff(y[list(order)])).sum())

    best = min(length([0, *rest]) for rest in permutations(range(1, 8)))
    found = short_walk(x, y)
    assert sorted(found) == list(range(8)) and found[0] == 0
    assert length(found) <= 1.15 * best


def test_a_walk_past_a_thousand_points_takes_a_moment_and_halves_that_of_the_list():
    rng = np.random.default_rng(9)
    x, y = rng.uniform(0, 100, (2, 1000))
    order = short_walk(x, y)
    assert sorted(order) == list(range(1000))
    walked = np.hypot(np.diff(x[order]), np.diff(y[order])).sum()
    assert walked < 0.8 * math.sqrt(1000 * 100 * 100)  # a random tour is sixteen times this; the shortest about 0.71
