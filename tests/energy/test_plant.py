"""Several machines under their order of control."""

from __future__ import annotations

import numpy as np
import pytest

from earwitness.energy.part_load import part_load_curve
from earwitness.energy.plant import Machine, Plant, make_machine, plant_power
from earwitness.errors import InputError

BIG = make_machine("big", 0.2, 80e3, "inlet-modulation")
SMALL = make_machine("small", 0.1, 45e3, "variable-speed")
THREE = Plant((BIG, BIG, SMALL))


def test_base_machines_fill_and_the_trimming_one_takes_the_rest():
    assert plant_power(THREE, 0.05) == pytest.approx(45e3 * 0.53)
    assert plant_power(THREE, 0.25) == pytest.approx(80e3 + 45e3 * 0.53)
    assert plant_power(THREE, 0.45) == pytest.approx(160e3 + 45e3 * 0.53)
    assert plant_power(THREE, 0.5) == pytest.approx(205e3)


def test_above_capacity_the_power_stays():
    assert plant_power(THREE, 3.0) == plant_power(THREE, 0.5)


@pytest.mark.parametrize("order", ["in-turn", "together"])
def test_power_never_falls_as_demand_rises(order):
    demand = np.linspace(0, 0.6, 601)
    fixed = Plant((BIG, make_machine("second", 0.1, 42e3, "load-unload", 1.0)), order)
    assert np.all(np.diff(plant_power(fixed, demand)) >= -1e-6)


def test_machines_that_share_the_load_idle_together():
    """Two throttled machines at half load each draw 85.5 %; in turn one runs full and the other stands still."""
    two = (BIG, BIG)
    assert plant_power(Plant(two, "together"), 0.2) == pytest.approx(2 * 80e3 * 0.855)
    assert plant_power(Plant(two), 0.2) == pytest.approx(80e3)


def test_under_pressure_one_machine_always_runs():
    assert plant_power(Plant((BIG, BIG)), 0.0) == pytest.approx(80e3 * 0.71)
    assert plant_power(Plant.single(0.2, 80e3, "start-stop"), 0.0) == 0


def test_shape_and_nan_come_through():
    power = plant_power(THREE, np.array([[0.1, np.nan], [0.3, 0.0]]))
    assert power.shape == (2, 2) and np.isnan(power[0, 1]) and np.isfinite(power).sum() == 3


def test_other_controls_on_the_same_machines():
    changed = THREE.with_control("load-unload", storage_m3=2.0)
    assert {m.curve.control for m in changed.machines} == {"load-unload"}
    assert [m.full_power_w for m in changed.machines] == [80e3, 80e3, 45e3]
    assert not any(m.trims for m in changed.machines), "only a variable-speed machine trims unasked"


def test_each_note_once():
    assert len([n for n in THREE.notes if n.code == "curve-customary"]) == 2


@pytest.mark.parametrize(
    "build",
    [
        lambda: plant_power(THREE, -0.1),
        lambda: plant_power(Plant(()), 0.1),
        lambda: plant_power(Plant((Machine("none", 0.0, 1e3, part_load_curve("start-stop")),)), 0.1),
        lambda: make_machine("K1", 0.2, -5.0, "start-stop"),
        lambda: make_machine("K1", 0.2, 5.0, "start-stop", storage_m3=0.0),
        lambda: make_machine("K1", 0.2, 5.0, "magic"),
    ],
)
def test_what_cannot_be_is_refused(build):
    with pytest.raises(InputError, match="cannot be"):
        build()
