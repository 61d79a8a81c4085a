"""Values with intervals: closed form against draws, and what sums keep."""

from __future__ import annotations

import math

import numpy as np
import pytest

from benchmarks import sizing as benchmark
from earwitness.errors import InputError
from earwitness.interval import (
    Interval,
    Sampler,
    Uncertain,
    alike,
    summary,
    through,
    total_draws,
    within_factor,
)


def test_closed_form_equals_draws():
    quantity = Uncertain(60.0, 0.4, {"method": 0.5, "price": 0.1})
    closed, drawn = quantity.interval(), summary(quantity.draws(Sampler(1, 400_000), "x"))
    for name in ("value", "low", "high", "mean"):
        assert getattr(drawn, name) == pytest.approx(getattr(closed, name), rel=0.01)


def test_jcgm_101_additive_model_of_four_gaussians():
    """JCGM 101:2008, 9.2.2: the sum of four standard Gaussians has the 95 % interval -3.92 to 3.92 (M)."""
    sampler = Sampler(0, 1_000_000)
    total = sum(sampler.normal(f"own:{i}") for i in range(4))
    found = summary(total)
    assert (found.low, found.high) == pytest.approx((-3.92, 3.92), abs=0.02)


def test_products_and_quotients():
    flow, price = Uncertain(2.0, 0.3, {"a": 0.2}), Uncertain(5.0, 0.1, {"a": 0.1, "b": 0.4})
    product = flow * price
    assert product.median == 10 and product.own == pytest.approx(math.hypot(0.3, 0.1))
    assert product.shared["a"] == pytest.approx(0.3), "what both share adds up, it does not add in squares"
    assert (3 * flow).median == (flow * 3).median == 6
    assert (flow / 4).median == 0.5 and (flow / 4).sigma == flow.sigma
    shared_only = Uncertain(2.0, shared={"price": 0.5})
    assert (shared_only / shared_only).sigma == 0, "a ratio of what both share is known exactly"


def test_a_shared_error_does_not_average_out_but_own_ones_do():
    def relative_width(quantities):
        total = summary(total_draws({str(i): q for i, q in enumerate(quantities)}, Sampler(2)))
        return math.log(total.high / total.low)

    own = relative_width(alike([1.0] * 400, own=0.5))
    shared = relative_width(alike([1.0] * 400, shared={"specific_power": 0.5}))
    assert shared == pytest.approx(2 * 1.96 * 0.5, rel=0.03)
    assert own < shared / 15


def test_totals_add_means_not_medians():
    many = alike([1.0] * 1000, own=1.0)
    total = summary(total_draws({str(i): q for i, q in enumerate(many)}, Sampler(0)))
    assert total.mean == pytest.approx(sum(q.interval().mean for q in many), rel=0.01)
    assert total.value > 1.5 * sum(q.median for q in many)


def test_draws_depend_on_seed_and_name_alone():
    quantity = Uncertain(1.0, 0.3, {"method": 0.4})
    first = Sampler(7)
    first.normal("shared:other")
    a, b = quantity.draws(first, "A-1"), quantity.draws(Sampler(7), "A-1")
    assert a.tobytes() == b.tobytes()
    assert not np.allclose(a, quantity.draws(Sampler(7), "A-2")) and not np.allclose(
        a, quantity.draws(Sampler(8), "A-1")
    )


def test_through_any_function():
    found = through(lambda a, b: np.sqrt(a**2 + b**2), within_factor(3.0, 1.01), 4.0)
    assert found.value == pytest.approx(5.0, rel=1e-3)
    linear = through(lambda a, b: a * b, Uncertain(2.0, 0.3), Uncertain(3.0, 0.4), count=200_000)
    assert linear.high == pytest.approx((Uncertain(2.0, 0.3) * Uncertain(3.0, 0.4)).interval().high, rel=0.02)


def test_scaling_turns_over_with_a_negative_factor():
    scaled = Interval(2.0, 1.0, 4.0, 2.2).scaled(-3)
    assert (scaled.low, scaled.value, scaled.high) == (-12.0, -6.0, -3.0)


def test_nothing_is_exactly_nothing_and_nan_stays_nan():
    assert np.all(Uncertain(0.0, 0.5).draws(Sampler(), "x") == 0)
    assert np.all(np.isnan(Uncertain(math.nan, 0.5).draws(Sampler(), "x")))


@pytest.mark.parametrize(
    "call", [lambda: within_factor(1.0, 0.9), lambda: within_factor(1.0, math.nan), lambda: summary(np.ones(3), 1.0)]
)
def test_what_cannot_be_is_refused(call):
    with pytest.raises(InputError, match="cannot be"):
        call()


def test_the_benchmark_still_runs():
    found = benchmark.run(leaks=50)
    assert found["leaks"] == 50 and found["total, high over low"] > 5
