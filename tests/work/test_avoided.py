"""What a plan avoids, with its interval: against means and variances worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from earwitness.interval import Uncertain
from earwitness.work.avoided import Avoided, if_there, together


def test_an_amount_with_its_chance_of_being_there_is_a_mixture():
    """A tenth of what comes of it is nothing: the lower end is 0, and the upper end is as far out among the rest."""
    one = Avoided(Uncertain(100.0, 0.5), 0.9)
    drawn = np.exp(np.log(100) + 0.5 * np.random.default_rng(1).standard_normal(400_000))
    drawn *= np.random.default_rng(2).random(400_000) < 0.9
    told = one.over(2.0)
    assert told.low == 0.0 and told.high == pytest.approx(2 * np.quantile(drawn, 0.975), rel=0.02)
    assert told.value == pytest.approx(2 * np.quantile(drawn, 0.5), rel=0.02)
    assert told.mean == pytest.approx(2 * 0.9 * 100 * math.exp(0.125))  # mean of a log-normal


def test_a_sum_keeps_its_means_and_what_is_shared_does_not_average_out():
    own = {f"r{n}": ("EUR", Avoided(Uncertain(100.0, 0.5)), 1.0) for n in range(100)}
    shared = {f"r{n}": ("EUR", Avoided(Uncertain(100.0, 0.0, {"level": 0.5})), 1.0) for n in range(100)}
    alone, at_once = together(own)["EUR"], together(shared)["EUR"]
    assert alone.mean == at_once.mean == pytest.approx(100 * 100 * math.exp(0.125))
    assert at_once.high / at_once.low == pytest.approx(math.exp(2 * 1.96 * 0.5), rel=0.1)  # as wide as one alone
    # a hundred independent ones: standard deviation of a log-normal, a tenth of it for the sum
    sd = 10 * 100 * math.exp(0.125) * math.sqrt(math.expm1(0.25))
    assert alone.high - alone.low == pytest.approx(2 * 1.96 * sd, rel=0.1)


def test_whether_one_is_there_says_nothing_of_another():
    """Of a hundred, each there by even odds, about fifty are: binomial, standard deviation 5."""
    told = together({f"r{n}": ("EUR", Avoided(Uncertain(1.0), 0.5), 1.0) for n in range(100)})["EUR"]
    assert (told.low, told.mean, told.high) == (pytest.approx(40, abs=2), pytest.approx(50), pytest.approx(60, abs=2))


def test_currencies_are_never_added_across():
    told = together({"a": ("EUR", Avoided(Uncertain(5.0)), 1.0), "b": ("USD", Avoided(Uncertain(7.0)), 1.0)})
    assert {c: x.mean for c, x in told.items()} == {"USD": 7.0, "EUR": 5.0}


def test_the_spread_of_a_filed_amount_is_that_of_its_quantity():
    """Of its width what the flow has stays the flow's; the rest is shared by all money."""
    heard = {
        "quantities": {"saving_per_year": {"low": 100 / math.exp(1.96), "high": 100 * math.exp(1.96), "mean": 165}},
        "spread": {"own": 0.6, "shared": {"level": 0.3}},
    }
    found = if_there(165.0, heard, "saving_per_year", "EUR")
    assert found.sigma == pytest.approx(1.0, rel=1e-4) and found.interval().mean == pytest.approx(165.0)
    assert (found.own, found.shared["level"]) == (0.6, 0.3)
    assert found.shared["money EUR"] == pytest.approx(math.sqrt(1 - 0.36 - 0.09), rel=1e-3)
    assert if_there(80.0, {}, "saving_per_year", "EUR") == Uncertain(80.0)
