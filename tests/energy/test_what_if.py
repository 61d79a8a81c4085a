"""What if: pressure, zones, controls; the same engine before and after."""

from __future__ import annotations

import numpy as np
import pytest

from earwitness.energy.plant import Plant, plant_power
from earwitness.energy.what_if import control_change, leak_at_pressure, pressure_reduction, zone_shut
from earwitness.errors import InputError

PLANT = Plant.single(0.2, 80e3, "variable-speed")


def test_lower_pressure_saves_by_power_and_by_leaks():
    only_power = pressure_reduction(PLANT, 0.15, 0.0, 8e5, 7.5e5, 8000)
    assert only_power.after_w / only_power.before_w == pytest.approx(1 - 0.0725 / 2)
    with_leaks = pressure_reduction(PLANT, 0.15, 0.05, 8e5, 7.5e5, 8000)
    assert with_leaks.saved_j > only_power.saved_j
    everything = pressure_reduction(PLANT, 0.15, 0.05, 8e5, 7.5e5, 8000, unregulated=1.0)
    assert everything.saved_j > with_leaks.saved_j
    np.testing.assert_allclose(everything.demand_after_m3_s, 0.15 * 7.5 / 8)


def test_higher_pressure_costs_and_nothing_changed_saves_nothing():
    assert pressure_reduction(PLANT, 0.15, 0.05, 7e5, 8e5, 8000).saved_j < 0
    assert pressure_reduction(PLANT, 0.15, 0.05, 7e5, 7e5, 8000).saved_j == 0
    assert control_change(PLANT, PLANT, 0.15, 8000).saved_j == 0


def test_what_leaves_the_published_range_is_said():
    codes = [n.code for n in pressure_reduction(PLANT, 0.15, 0.05, 8e5, 5e5, 8000).notes]
    assert "power-rule-stretched" in codes
    codes = [n.code for n in pressure_reduction(PLANT, 0.15, 0.05, 2.5e5, 1.7e5, 8000).notes]
    assert "no-longer-choked" in codes


def test_a_zone_shut_at_night_saves_in_those_hours_only():
    profile = np.r_[np.full(16, 0.15), np.full(8, 0.04)]
    shut = np.r_[np.zeros(16, dtype=bool), np.ones(8, dtype=bool)]
    found = zone_shut(PLANT, profile, 0.02, shut, 8760)
    assert np.all(found.after_profile_w[:16] == found.before_profile_w[:16])
    by_hand = float(plant_power(PLANT, 0.04) - plant_power(PLANT, 0.02)) / 3 * 8760 * 3600
    assert found.saved_j == pytest.approx(by_hand)
    assert "no isolation" in found.notes[0].text, "a shut valve must not read as a permission to work on the pipe"


def test_changing_throttling_to_variable_speed_saves():
    throttled = Plant.single(0.2, 80e3, "inlet-modulation")
    found = control_change(throttled, throttled.with_control("variable-speed"), 0.1, 8000)
    assert found.saved_j == pytest.approx((0.855 - 0.53) * 80e3 * 8000 * 3600)


def test_leak_scales_with_absolute_not_gauge_pressure():
    assert float(leak_at_pressure(1.0, 8.01325e5, 4.01325e5)) == pytest.approx(0.50083, abs=1e-5)


@pytest.mark.parametrize(
    "call",
    [
        lambda: pressure_reduction(PLANT, 0.15, 0.2, 8e5, 7e5, 8000),
        lambda: pressure_reduction(PLANT, 0.15, 0.05, 8e5, -1e5, 8000),
        lambda: pressure_reduction(PLANT, 0.15, 0.05, 8e5, 7e5, 8000, unregulated=1.2),
        lambda: pressure_reduction(PLANT, 0.15, 0.05, 8e5, 7e5, 9999),
        lambda: zone_shut(PLANT, [0.1, 0.1], 0.05, [True], 8000),
        lambda: zone_shut(PLANT, [0.1, 0.1], 0.5, [True, False], 8000),
    ],
)
def test_what_cannot_be_is_refused(call):
    with pytest.raises(InputError, match="cannot be"):
        call()
