"""The leaks found against what the whole system loses."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks import reconciliation as benchmark
from earwitness.errors import InputError
from earwitness.interval import Uncertain, alike
from earwitness.programme.posterior import FoundShare, reconcile

EVERYTHING = FoundShare(1e6, 1e-3)  # the survey missed nothing
FLOWS = alike([0.2, 1.0, 0.5, 3.0, 0.1, 0.8], own=0.4, shared={"level_method": 0.5})
TOTAL = sum(f.median for f in FLOWS)


@settings(max_examples=60, deadline=None)
@given(
    medians=st.lists(st.floats(1e-4, 10), min_size=1, max_size=30),
    own=st.floats(0.05, 1.0),
    shared=st.floats(0, 1.0),
    supply=st.floats(0.02, 5),
    tested=st.booleans(),
    seed=st.integers(0, 100),
)
def test_no_draw_ever_exceeds_the_supply(medians, own, shared, supply, tested, seed):
    measured = Uncertain(supply * sum(medians) * 0.5, 0.1) if tested else None
    cap = supply * sum(medians)
    flows = alike(medians, own, {"method": shared})
    try:
        result = reconcile(flows, measured, cap, seed=seed, count=300)
    except InputError as refused:
        assert refused.argument == "supply"
        return
    assert result.draws.sum(axis=0).max() <= cap
    assert np.all(result.draws > 0)
    if tested:
        assert result.total.high <= cap and result.not_found.low >= 0


def test_with_nothing_to_go_by_it_is_the_flows_themselves():
    result = reconcile(FLOWS, count=20_000)
    for before, after in zip(FLOWS, result.flows, strict=True):
        assert after.value == pytest.approx(before.median, rel=0.04)
        assert np.log(after.high / after.low) == pytest.approx(2 * 1.96 * before.sigma, rel=0.06)
    assert result.total is None and result.not_found is None and result.share_found is None


def test_two_independent_sources_meet_where_theory_says():
    """All flows move together, nothing missed: a product of Gaussians in ln, precision-weighted."""
    flows = alike([1.0, 2.0, 3.0], shared={"method": 0.6})
    result = reconcile(flows, Uncertain(2.0, 0.2), share=EVERYTHING, count=20_000)
    weight = 0.2**-2 / (0.2**-2 + 0.6**-2)
    assert np.log(result.found.value) == pytest.approx(weight * np.log(2) + (1 - weight) * np.log(6), abs=0.01)
    spread = np.log(result.found.high / result.found.low) / (2 * 1.96)
    assert spread == pytest.approx((0.2**-2 + 0.6**-2) ** -0.5, rel=0.05)


def test_against_brute_force_on_a_few_leaks():
    """The same posterior by plain weighting of a million prior draws."""
    rng = np.random.default_rng(9)
    medians, own, shared = np.array([0.5, 1.0, 2.0]), np.array([0.3, 0.6, 0.4]), np.array([0.5, 0.2, 0.7])
    flows = [Uncertain(float(m), float(o), {"m": float(s)}) for m, o, s in zip(medians, own, shared, strict=True)]
    result = reconcile(flows, Uncertain(2.5, 0.15), 4.0, count=40_000)
    z = rng.standard_normal(1_000_000)
    draws = medians[:, None] * np.exp(own[:, None] * rng.standard_normal((3, len(z))) + shared[:, None] * z)
    total = draws.sum(axis=0) / rng.beta(2, 1, len(z))
    weight = np.exp(-0.5 * (np.log(total / 2.5) / 0.15) ** 2) * (total <= 4.0)
    for row, after in zip(draws, result.flows, strict=True):
        order = np.argsort(row)
        cumulated = np.cumsum(weight[order]) / weight.sum()
        low, median, high = row[order][np.searchsorted(cumulated, [0.025, 0.5, 0.975])]
        assert (after.low, after.value, after.high) == pytest.approx((low, median, high), rel=0.04)


def test_a_tight_test_narrows_the_sum_and_leaves_the_ranking():
    loose = reconcile(FLOWS, Uncertain(TOTAL, 0.5), share=EVERYTHING)
    tight = reconcile(FLOWS, Uncertain(TOTAL, 0.03), share=EVERYTHING)
    assert tight.found.high / tight.found.low < 1.2 < loose.found.high / loose.found.low
    order = np.argsort([f.value for f in tight.flows])
    assert order.tolist() == np.argsort([f.median for f in FLOWS]).tolist()


def test_found_and_not_found_make_the_total():
    result = reconcile(FLOWS, Uncertain(2 * TOTAL, 0.1))
    assert result.found.mean + result.not_found.mean == pytest.approx(result.total.mean)
    assert 0 < result.share_found.low < result.share_found.high < 1


def test_finding_more_than_the_whole_is_scaled_down_and_said():
    result = reconcile(FLOWS, Uncertain(TOTAL / 3, 0.05))
    assert result.found.high < TOTAL / 2
    assert "leaks-scaled-down" in [n.code for n in result.notes]
    assert "leaks-scaled-down" not in [n.code for n in reconcile(FLOWS, Uncertain(TOTAL * 1.3, 0.05)).notes]


def test_without_a_test_the_supply_alone_caps_and_that_is_said():
    result = reconcile(FLOWS, supply=TOTAL / 2)
    assert result.found.high <= TOTAL / 2 and [n.code for n in result.notes] == ["leaks-scaled-down", "no-system-test"]


def test_one_leak_known_well_moves_less_than_one_known_badly():
    flows = [Uncertain(1.0, 0.02), Uncertain(1.0, 0.8)]
    result = reconcile(flows, Uncertain(1.4, 0.02), share=EVERYTHING)
    assert result.flows[0].value == pytest.approx(1.0, rel=0.02)
    assert result.flows[1].value == pytest.approx(0.4, rel=0.15)


def test_sides_that_cannot_both_be_right_are_told():
    flows = alike([1.0] * 50, own=0.01)
    assert "sides-disagree" in [n.code for n in reconcile(flows, Uncertain(10.0, 0.02), share=EVERYTHING).notes]


def test_a_test_over_the_supply_is_told():
    result = reconcile(FLOWS, Uncertain(2 * TOTAL, 0.05), supply=TOTAL)
    assert "test-over-supply" in [n.code for n in result.notes] and result.total.high <= TOTAL


def test_same_input_same_bytes_and_another_seed_agrees():
    one, two = reconcile(FLOWS, Uncertain(3.0, 0.1), 10.0, seed=5), reconcile(FLOWS, Uncertain(3.0, 0.1), 10.0, seed=5)
    assert one.draws.tobytes() == two.draws.tobytes()
    other = reconcile(FLOWS, Uncertain(3.0, 0.1), 10.0, seed=6)
    assert other.found.value == pytest.approx(one.found.value, rel=0.05)


def test_simulated_plants_hold_the_truth():
    """A smaller run of benchmarks/reconciliation.py, whose plants are not made by the posterior's own model (C)."""
    found = benchmark.run(plants=150, seed=1)
    assert 0.90 <= found["true total inside"] <= 0.985  # 150 plants: 92 to 98 % less their own scatter
    assert 0.90 <= found["single true flows inside"] <= 0.98
    assert found["worst rank correlation before/after"] > 0.9
    assert found["plants with a draw over the supply"] == 0


@pytest.mark.parametrize(
    "call",
    [
        lambda: reconcile([]),
        lambda: reconcile([Uncertain(0.0, 0.1)]),
        lambda: reconcile([Uncertain(float("nan"), 0.1)]),
        lambda: reconcile(FLOWS, supply=0.0),
        lambda: reconcile(FLOWS, Uncertain(0.0, 0.1)),
        lambda: reconcile([Uncertain(5.0)], supply=1.0),
    ],
)
def test_what_cannot_be_is_refused(call):
    with pytest.raises(InputError, match="cannot be"):
        call()
