"""Work and specific power against `fluids` and the federal rule."""

from __future__ import annotations

import math

import fluids
import numpy as np
import pytest

from earwitness.energy.compressor import (
    isentropic_work,
    minimum_efficiency,
    specific_power,
    specific_power_limit,
)
from earwitness.errors import InputError

FREE_AIR = 101_325.0
KELVIN = 293.15
MOLAR_VOLUME = 8.31446261815324 * KELVIN / FREE_AIR  # m3/mol of the ideal gas that `fluids` compresses


@pytest.mark.parametrize("outlet", [1.2e5, 4e5, 8.01325e5, 14e5, 40e5])
def test_ideal_work_equals_the_library(outlet):
    by_library = fluids.isentropic_work_compression(T1=KELVIN, k=1.4, P1=FREE_AIR, P2=outlet, eta=1.0) / MOLAR_VOLUME
    np.testing.assert_allclose(isentropic_work(FREE_AIR, outlet), by_library, rtol=1e-6)


def test_no_compression_is_no_work_and_nan_stays_nan():
    assert isentropic_work(FREE_AIR, FREE_AIR) == 0
    assert math.isnan(isentropic_work(FREE_AIR, float("nan")))
    assert math.isnan(minimum_efficiency(float("nan")))


@pytest.mark.parametrize(("inlet", "outlet"), [(0.0, 8e5), (-1e5, 8e5), (1e5, 0.9e5)])
def test_impossible_pressures_are_named(inlet, outlet):
    with pytest.raises(InputError, match="cannot be"):
        isentropic_work(inlet, outlet)


def test_the_rule_is_a_bound_between_ideal_work_and_twice_it():
    limit = specific_power_limit(np.linspace(0.02, 0.55, 20), 8.01325e5)
    ideal = isentropic_work(FREE_AIR, 8.01325e5)
    assert np.all(limit > ideal) and np.all(limit < 2 * ideal)
    assert np.all(np.diff(limit) < 0), "larger machines must do better"


def test_the_best_road_to_specific_power_wins():
    everything = dict(stated_j_m3=400e3, rated_power_w=90e3, capacity_m3_s=0.25, outlet_abs=8e5)
    assert specific_power(measured_j_m3=390e3, **everything).source == "measured"
    assert specific_power(**everything).source == "stated"
    everything.pop("stated_j_m3")
    by_plate = specific_power(**everything)
    assert by_plate.source == "rating" and by_plate.notes[0].code == "specific-power-from-plate"
    by_rule = specific_power(capacity_m3_s=2.0, outlet_abs=8e5)
    assert [n.code for n in by_rule.notes] == ["specific-power-from-rule", "rule-outside-range"]
    assert specific_power(outlet_abs=8e5) is None and specific_power(capacity_m3_s=0.2) is None
    spreads = [specific_power(measured_j_m3=1.0).value.sigma, specific_power(stated_j_m3=1.0).value.sigma]
    assert sorted([*spreads, by_plate.value.sigma, by_rule.value.sigma]) == [
        *spreads, by_plate.value.sigma, by_rule.value.sigma,
    ]  # fmt: skip
    assert by_rule.value.own == 0 and "specific_power" in by_rule.value.shared, "it must not average out over leaks"
