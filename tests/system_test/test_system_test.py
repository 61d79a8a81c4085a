"""Leakage of a whole system: against NAVFAC MO-209 tables 5-3 and 5-4 (the CSV beside this file, S), Balmer's receiver
(S), and against receivers that are emptied here by integration."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from earwitness.errors import InputError
from earwitness.gas.system_test import (
    bleed_down_flow,
    bleed_down_test,
    constant_hole_factor,
    load_fraction,
    load_unload_test,
    night_flow_test,
    system_volume,
)

PSI, FT3, CFM, PSIA = 6894.757, 0.3048**3, 0.3048**3 / 60, 14.7 * 6894.757


def navfac() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    with (Path(__file__).parent / "receiver_bleed_down.csv").open() as file:
        rows = list(csv.DictReader(file))
    pressure = np.array([float(r["pressure_psig"]) for r in rows]) * PSI + PSIA
    time = np.array([float(r["elapsed_min"]) for r in rows]) * 60
    loss = np.array([float(r["published_loss_scfm_to_next_row"]) for r in rows[:-1]]) * CFM
    return pressure, time, loss


def test_navfac_every_interval_implies_629_cubic_feet():
    pressure, time, loss = navfac()
    volume = system_volume(loss, pressure[:-1], pressure[1:], np.diff(time), PSIA) / FT3
    np.testing.assert_allclose(volume, 629.0, rtol=2e-3)


def test_navfac_47_scfm_at_96_psig_and_its_price():
    pressure, time, _ = navfac()
    found = bleed_down_test(629 * FT3, time.tolist(), pressure.tolist(), 96 * PSI + PSIA, 1.0, PSIA)
    scfm = found.flow.median / CFM
    assert round(scfm) == 47
    # $0.50 for 1000 ft3, 8,760 h: $12,350 a year (47 x 60 x 8760 x 0.0005 = 12,352)
    assert round(round(scfm) * 60 * 8760 * 0.50 / 1000, -1) == 12350
    assert "outside-record" in [n.code for n in found.notes], "96 psig lies above the first reading, 90 psig"
    assert found.flow.sigma < 0.05


def test_the_customary_factors_are_shown_beside_each_other():
    pressure, time, _ = navfac()
    found = bleed_down_test(629 * FT3, time.tolist(), pressure.tolist(), 90 * PSI + PSIA, 1.05, PSIA)
    assert set(found.others) == {"factor 1.0", "factor 1.25", "constant holes"}
    assert found.others["factor 1.25"] == pytest.approx(1.25 * found.others["factor 1.0"])
    assert "1.25" in found.notes[0].text and "mean" in found.notes[0].text


def emptied(volume: float, conductance: float, until: float, points: int) -> tuple[np.ndarray, np.ndarray]:
    """A receiver at constant temperature feeding choked holes: dp/dt = -p q p0/V, q in m3/s of free air for a Pa."""
    run = solve_ivp(
        lambda _, p: -conductance * p * 101_325.0 / volume,
        (0, until), [8e5], t_eval=np.linspace(0, until, points), rtol=1e-10,
    )  # fmt: skip
    return run.t, run.y[0]


def test_holes_that_stay_the_same_are_found_from_two_readings():
    conductance = 5e-8
    time, pressure = emptied(10.0, conductance, 900.0, 2)
    found = bleed_down_test(10.0, time.tolist(), pressure.tolist(), 8e5, 1.0)
    assert found.flow.median == pytest.approx(conductance * 8e5, rel=1e-6)
    mean = float(bleed_down_flow(10.0, pressure[0], pressure[-1], 900.0))
    assert mean * float(constant_hole_factor(pressure[0], pressure[-1])) == pytest.approx(conductance * 8e5, rel=1e-6)
    assert mean < conductance * 8e5, "factor 1.0 is the mean over the bleed-down, below the flow at the start"


def test_a_longer_record_gives_the_flow_at_any_pressure_in_it():
    time, pressure = emptied(10.0, 5e-8, 900.0, 12)
    for at in (7.8e5, 7e5, 6.2e5):
        found = bleed_down_test(10.0, time.tolist(), pressure.tolist(), at)
        assert found.flow.median == pytest.approx(5e-8 * at, rel=5e-3)


def test_the_interval_holds_the_truth_with_noisy_gauges():
    """Gauge noise of 0.02 bar and a volume wrong by up to what is stated: inside 95 % in 90 % of the tests or more."""
    rng = np.random.default_rng(5)
    inside = []
    for _ in range(300):
        time, pressure = emptied(10.0, 5e-8, 900.0, 8)
        read = np.sort(pressure + rng.normal(0, 2e3, len(pressure)))[::-1]
        believed = 10.0 * math.exp(rng.normal(0, math.log(1.1) / 1.96))
        found = bleed_down_test(believed, time.tolist(), read.tolist(), 7.5e5, 1.1).flow.interval()
        inside.append(found.low <= 5e-8 * 7.5e5 <= found.high)
    assert np.mean(inside) > 0.90


def test_beyond_the_record_the_interval_widens():
    time, pressure = emptied(10.0, 5e-8, 900.0, 12)
    inside = bleed_down_test(10.0, time.tolist(), pressure.tolist(), 7e5)
    outside = bleed_down_test(10.0, time.tolist(), pressure.tolist(), 12e5)
    assert outside.flow.sigma > inside.flow.sigma
    assert "outside-record" not in [n.code for n in inside.notes]


def test_cycles_that_scatter_widen_the_interval():
    steady = load_unload_test([60, 60, 60, 60, 60], [300, 300, 300, 300, 300], 0.2)
    ragged = load_unload_test([40, 80, 60, 100, 20], [300, 250, 400, 200, 350], 0.2)
    assert steady.flow.median == ragged.flow.median == pytest.approx(0.2 / 6)
    assert ragged.flow.sigma > 2 * steady.flow.sigma
    assert "few-cycles" in [n.code for n in load_unload_test([60], [300], 0.2).notes]


def test_a_machine_that_never_unloads_says_at_least():
    found = load_unload_test([600.0], [0.0], 0.2)
    assert found.flow.median == pytest.approx(0.2) and "never-unloaded" in [n.code for n in found.notes]


def test_night_flow_less_known_use():
    plain = night_flow_test([0.060, 0.062, 0.061, 0.500])
    assert plain.flow.median == pytest.approx(0.0615), "one user that draws for a moment moves the median little"
    less = night_flow_test([0.060, 0.062, 0.061], used_m3_s=0.03)
    assert (
        less.flow.median == pytest.approx(0.031) and less.flow.sigma > night_flow_test([0.060, 0.062, 0.061]).flow.sigma
    )


def test_nan_in_nan_out():
    assert np.isnan(load_fraction(np.nan, 10.0)) and np.isnan(bleed_down_flow(1.0, np.nan, 5e5, 60.0))


@pytest.mark.parametrize(
    "call",
    [
        lambda: load_fraction(0.0, 0.0),
        lambda: load_fraction(-1.0, 5.0),
        lambda: load_unload_test([], [], 0.2),
        lambda: load_unload_test([60], [300, 300], 0.2),
        lambda: load_unload_test([60], [300], 0.0),
        lambda: bleed_down_flow(10.0, 5e5, 6e5, 60.0),
        lambda: bleed_down_flow(0.0, 6e5, 5e5, 60.0),
        lambda: bleed_down_flow(10.0, -6e5, -7e5, 60.0),
        lambda: bleed_down_test(10.0, [0.0], [8e5], 8e5),
        lambda: bleed_down_test(10.0, [0.0, 0.0], [8e5, 7e5], 8e5),
        lambda: bleed_down_test(10.0, [0.0, 60.0], [7e5, 8e5], 8e5),
        lambda: bleed_down_test(10.0, [0.0, 60.0], [8e5, math.nan], 8e5),
        lambda: night_flow_test([]),
        lambda: night_flow_test([0.06, -0.01]),
        lambda: night_flow_test([0.06], used_m3_s=0.06),
    ],
)
def test_what_cannot_be_is_refused(call):
    with pytest.raises(InputError, match="cannot be"):
        call()
