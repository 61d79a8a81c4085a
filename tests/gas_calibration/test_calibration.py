"""The site's own calibration: three leaks help, thirty decide, and the interval is honest."""

from __future__ import annotations

from dataclasses import asdict

import numpy as np
import pytest

from benchmarks import calibration as benchmark
from earwitness.errors import InputError
from earwitness.gas.calibration import Calibration, CalibrationPrior, calibrated_flow, fit_calibration


def site_leaks(count: int, seed: int = 0):
    return benchmark.Site(np.random.default_rng(seed)).leaks(count)


@pytest.fixture(scope="module")
def fitted() -> Calibration:
    return fit_calibration(*site_leaks(30), absorption_db_m=benchmark.ABSORPTION_DB_M)


@pytest.mark.parametrize("leaks", [3, 10, 30])
def test_the_95_percent_interval_covers_92_to_98_percent(leaks):
    """Synthetic truth that the fit does not know: see benchmarks/calibration.py (C)."""
    assert 0.92 <= benchmark.run(sites=300, leaks=leaks, seed=1)["coverage"] <= 0.98


def test_a_law_that_is_not_straight_is_still_covered():
    """Jets in a narrow band: 25 dB a decade for small holes, 5 dB for large ones, which no straight line follows."""
    found = benchmark.run(sites=300, leaks=30, seed=1, kind=benchmark.CurvedSite)
    assert 0.92 <= found["coverage"] <= 0.98 and found["over the bound"] > 1.15, "the price of the straight line"


def test_thirty_leaks_come_within_15_percent_of_the_bayes_bound():
    assert 1.0 <= benchmark.run(sites=800, leaks=30, seed=2)["over the bound"] < 1.15


def test_more_leaks_narrow_it():
    widths = [benchmark.run(sites=150, leaks=n, seed=3)["95 % factor"] for n in (3, 10, 30)]
    assert widths[0] > widths[1] > widths[2] > 1
    assert widths[0] < 10, "three leaks already beat a level with an unknown attachment or distance"


def test_with_many_leaks_it_is_ordinary_least_squares():
    """Independent check: numpy's least squares on the same columns, once the prior has drowned."""
    level, flow, pressure, distance = site_leaks(20_000)
    fit = fit_calibration(level, flow, pressure, distance, benchmark.ABSORPTION_DB_M)
    at_metre = level + 20 * np.log10(distance) + benchmark.ABSORPTION_DB_M * (distance - 1)
    design = np.column_stack([np.ones_like(level), at_metre, np.log10(pressure), np.log10(distance)])
    plane, squares, *_ = np.linalg.lstsq(design, np.log10(flow), rcond=None)
    np.testing.assert_allclose(fit.coefficients[1:], plane[1:], rtol=0.01, atol=2e-3)
    assert fit.scatter_decades == pytest.approx(np.sqrt(squares[0] / len(level)), rel=1e-3)


def test_a_vague_prior_gives_the_textbook_prediction_interval():
    """Independent check: least squares with its classical t interval, n - 4 degrees of freedom (weight -4 cancels)."""
    from scipy import stats

    level, flow, pressure, distance = site_leaks(40, seed=4)
    vague = CalibrationPrior(
        weight=1e-6, slope_low_db=0.05, slope_high_db=200, pressure_decades=1e4, distance_decades=1e4
    )
    fit = fit_calibration(level, flow, pressure, distance, 0.0, vague)
    at_metre = level + 20 * np.log10(distance)
    design = np.column_stack([np.ones_like(level), at_metre, np.log10(pressure), np.log10(distance)])
    plane, squares, *_ = np.linalg.lstsq(design, np.log10(flow), rcond=None)
    row = np.array([1, np.median(at_metre), np.log10(6e5), 0.0])
    leverage = row @ np.linalg.inv(design.T @ design) @ row
    half = stats.t.ppf(0.975, 36) * np.sqrt(squares[0] / 36 * (1 + leverage))
    found = calibrated_flow(fit, float(np.median(at_metre)), 6e5, 1.0)
    assert np.log10(float(found.median)) == pytest.approx(row @ plane, abs=0.03)
    assert np.log10(float(found.high / found.low)) / 2 == pytest.approx(half, rel=0.10)


def test_louder_is_more_and_farther_at_the_same_level_is_more(fitted):
    middle, pressure = 70.0, 6e5
    rising = calibrated_flow(fitted, np.array([middle - 10, middle, middle + 10]), pressure, 1.0).median
    assert np.all(np.diff(rising) > 0)
    near, far = calibrated_flow(fitted, middle, pressure, np.array([0.5, 2.0])).median
    assert far > near


def test_outside_the_calibrated_range_it_widens_and_says_in_what(fitted):
    centre = fitted.centre
    level = centre[0]  # at 1 m
    inside = calibrated_flow(fitted, level, 10 ** centre[1], 1.0)
    assert inside.outside == 0 and not [n for n in inside.notes if n.code == "outside-calibration"]
    outside = calibrated_flow(fitted, level + 40, 40e5, 1.0)
    note = next(n for n in outside.notes if n.code == "outside-calibration")
    assert note.args["what"] == "level, pressure"
    assert outside.high / outside.low > 1.5 * inside.high / inside.low
    only_distance = calibrated_flow(fitted, level - 20 * np.log10(20) - 1.3182 * 19, 10 ** centre[1], 20.0)
    assert [n.args["what"] for n in only_distance.notes] == ["distance"]


def test_few_leaks_are_said_to_be_few():
    codes = [n.code for n in fit_calibration(*site_leaks(3)).notes]
    assert codes == ["few-calibration-leaks"] and fit_calibration(*site_leaks(12)).notes == ()


def test_the_shared_part_is_named_and_the_parts_make_the_interval(fitted):
    found = calibrated_flow(fitted, fitted.centre[0], 6e5, 1.0)
    as_uncertain = found.uncertain()
    assert set(as_uncertain.shared) == {"site_calibration"}
    interval = as_uncertain.interval()
    assert interval.low == pytest.approx(float(found.low), rel=1e-9)
    assert interval.high == pytest.approx(float(found.high), rel=1e-9)


def test_it_can_be_stored_and_read_back(fitted):
    stored = asdict(fitted) | {"notes": ()}
    again = Calibration(**stored)
    assert calibrated_flow(again, 60.0, 6e5, 1.0).median == calibrated_flow(fitted, 60.0, 6e5, 1.0).median


def test_same_input_same_bytes():
    assert repr(fit_calibration(*site_leaks(8))) == repr(fit_calibration(*site_leaks(8)))


def test_nan_in_nan_out(fitted):
    found = calibrated_flow(fitted, np.array([np.nan, 60.0]), 6e5, 1.0)
    assert np.isnan(found.median[0]) and np.isfinite(found.median[1])


@pytest.mark.parametrize(
    "call",
    [
        lambda: fit_calibration([], [], [], []),
        lambda: fit_calibration([60.0], [1e-4, 1e-3], [6e5], [1.0]),
        lambda: fit_calibration([60.0], [0.0], [6e5], [1.0]),
        lambda: fit_calibration([60.0], [1e-4], [-6e5], [1.0]),
        lambda: fit_calibration([np.nan], [1e-4], [6e5], [1.0]),
        lambda: calibrated_flow(fit_calibration([60.0], [1e-4], [6e5], [1.0]), 60.0, -1.0, 1.0),
        lambda: calibrated_flow(fit_calibration([60.0], [1e-4], [6e5], [1.0]), 60.0, 6e5, 0.0),
        lambda: calibrated_flow(fit_calibration([60.0], [1e-4], [6e5], [1.0]), 60.0, 6e5, 1.0, coverage=1.0),
    ],
)
def test_what_cannot_be_is_refused(call):
    with pytest.raises(InputError, match="cannot be"):
        call()
