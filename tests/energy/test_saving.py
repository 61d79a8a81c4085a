"""Saving = plant power before minus after; kept apart from waste."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from earwitness.energy.part_load import CONTROLS
from earwitness.energy.plant import Plant, make_machine, plant_power
from earwitness.energy.saving import NO_CAPACITY, repair_saving
from earwitness.errors import InputError

YEAR = 8000.0


def single(control: str, storage_m3: float | None = 2.0) -> Plant:
    return Plant.single(0.2, 80e3, control, storage_m3)


@settings(max_examples=150, deadline=None)
@given(
    control=st.sampled_from(CONTROLS),
    storage=st.floats(0.05, 20),
    load=st.floats(0.0, 1.2),
    part=st.floats(0.0, 1.5),
)
def test_a_saving_lies_between_nothing_and_what_is_wasted(control, storage, load, part):
    found = repair_saving(single(control, storage), 0.2 * load, 0.2 * part, YEAR)
    assert 0 <= float(found.saved_j) <= float(found.wasted_j) * (1 + 1e-9)
    assert 0 <= float(found.fraction) <= 1 + 1e-9
    # Never more than flow times full-load specific power, and never more than the plant draws.
    assert float(found.wasted_j) <= 0.2 * part * 400e3 * YEAR * 3600 * (1 + 1e-9)
    assert float(found.saved_j) <= found.before_w * YEAR * 3600 * (1 + 1e-9)


def test_it_is_the_difference_of_plant_power():
    plant = single("variable-displacement")
    found = repair_saving(plant, 0.15, 0.03, YEAR)
    by_hand = float(plant_power(plant, 0.15) - plant_power(plant, 0.12)) * YEAR * 3600
    assert float(found.saved_j) == pytest.approx(by_hand)


@pytest.mark.parametrize("load", [0.3, 0.5, 0.7, 0.9, 1.0])
@pytest.mark.parametrize("part", [0.05, 0.1, 0.3])
def test_inlet_modulation_saves_under_40_percent_of_the_proportional_figure(load, part):
    found = repair_saving(single("inlet-modulation"), 0.2 * load, 0.2 * part, YEAR)
    assert float(found.fraction) < 0.40
    assert float(found.fraction) > 0.2


@pytest.mark.parametrize("load", [0.7, 0.8, 0.9])
def test_saving_is_monotone_in_storage(load):
    saved = [
        float(repair_saving(single("load-unload", storage), 0.2 * load, 0.02, YEAR).saved_j)
        for storage in (0.3, 0.8, 1.6, 3.2, 4.8, 8.0, 16.0)
    ]
    assert np.all(np.diff(saved) > 0)


def test_the_reason_is_given_in_a_sentence():
    found = repair_saving(single("inlet-modulation"), 0.15, 0.03, YEAR)
    why = next(n for n in found.notes if n.code == "controls-give-back")
    assert "29 %" in why.text and "throttled inlet" in why.text and "run time" in why.text


def test_a_machine_that_stands_still_gives_back_all():
    found = repair_saving(single("start-stop"), 0.15, 0.03, YEAR)
    assert float(found.fraction) == pytest.approx(1.0)
    assert found.notes[0].code == "controls-give-back-all" and "stands still" in found.notes[0].text


def test_repairs_beyond_what_is_made_are_capped_and_said():
    found = repair_saving(single("start-stop"), 0.1, 0.5, YEAR)
    assert float(found.after_w) == 0 and float(found.wasted_j) == pytest.approx(0.1 * 400e3 * YEAR * 3600)
    assert "saving-capped" in [n.code for n in found.notes]


def test_a_steeper_than_proportional_curve_promises_no_more_than_the_waste():
    small = single("load-unload", 1.6)
    found = repair_saving(small, 0.06, 0.04, YEAR)
    assert float(plant_power(small, 0.06) - plant_power(small, 0.02)) > 0.04 * 400e3
    assert float(found.saved_j) == pytest.approx(float(found.wasted_j))
    assert "saving-held" in [n.code for n in found.notes]


def test_the_hourly_profile_counts_not_its_mean():
    """By day a throttled machine, by night it and a second one that stands still: the mean load tells neither."""
    plant = Plant((make_machine("a", 0.2, 80e3, "inlet-modulation"), make_machine("b", 0.2, 80e3, "inlet-modulation")))
    profile = np.r_[np.full(16, 0.35), np.full(8, 0.05)]
    found = repair_saving(plant, profile, 0.02, YEAR)
    by_hour = [float(repair_saving(plant, d, 0.02, YEAR).saved_j) for d in profile]
    assert float(found.saved_j) == pytest.approx(np.mean(by_hour))
    assert found.before_profile_w.shape == found.after_profile_w.shape == (24,)
    weighted = repair_saving(plant, [0.35, 0.05], 0.02, YEAR, weights=[2, 1])
    assert float(weighted.saved_j) == pytest.approx(float(found.saved_j))


def test_draws_keep_their_shape_and_their_correlation():
    draws = np.random.default_rng(0).lognormal(np.log(0.02), 0.5, 5000)
    ratio = np.random.default_rng(1).lognormal(0, 0.1, 5000)
    found = repair_saving(single("variable-speed"), 0.15, draws, YEAR, specific_power_ratio=ratio)
    assert found.saved_j.shape == found.fraction.shape == (5000,)
    np.testing.assert_allclose(found.saved_j, found.wasted_j * found.fraction)
    assert np.corrcoef(found.saved_j, draws)[0, 1] > 0.9


def test_without_a_plant_there_is_no_cap_and_no_part_load_and_that_is_said():
    assert repair_saving(None, 0.1, 0.01, YEAR) is None
    assert "not capped" in NO_CAPACITY.text and "cannot be told" in NO_CAPACITY.text


@pytest.mark.parametrize(
    "call",
    [
        lambda: repair_saving(single("start-stop"), [0.1, 0.2], 0.01, YEAR, weights=[1.0]),
        lambda: repair_saving(single("start-stop"), -0.1, 0.01, YEAR),
        lambda: repair_saving(single("start-stop"), 0.1, -0.01, YEAR),
    ],
)
def test_what_cannot_be_is_refused(call):
    with pytest.raises(InputError, match="cannot be"):
        call()
