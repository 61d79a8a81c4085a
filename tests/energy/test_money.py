"""Tariffs, carbon, payback and leaks that open again."""

from __future__ import annotations

import numpy as np
import pytest

from earwitness.energy.money import net_present_value, open_time, persisting, simple_payback
from earwitness.energy.tariff import (
    Band,
    Tariff,
    demand_cost,
    energy_cost,
    gas_carbon,
    grid_carbon,
    mean_price,
    profile_cost,
)
from earwitness.errors import InputError


def test_textbook_leak_to_the_printed_digits():
    """Esposito, Fluid Power with Applications, example 14-4: 70 of 270 scfm, 52.3 kW, $0.11/kWh, 8,760 h."""
    power_kw = 52.3 * 70 / 270
    assert round(power_kw, 1) == 13.6
    assert round(float(energy_cost(13.6e3 * 8760 * 3600, 0.11))) == 13105
    assert float(energy_cost(power_kw * 1e3 * 8760 * 3600, 0.11)) == pytest.approx(13066, abs=1)


def test_bands_over_midnight_and_between_hours():
    tariff = Tariff(0.30, "EUR", (Band(22, 6, 0.10), Band(11.5, 12, 0.50)))
    assert mean_price(tariff) == pytest.approx((0.10 * 8 + 0.50 * 0.5 + 0.30 * 15.5) / 24)
    night_only = np.r_[np.ones(6), np.zeros(16), np.ones(2)]
    assert mean_price(tariff, night_only) == pytest.approx(0.10)


def test_a_demand_charge_falls_only_with_the_peak():
    tariff = Tariff(0.0, "EUR", demand_kw_month=10.0)
    day, night = [50e3] * 12, [20e3] * 12
    assert profile_cost(tariff, day + night) == profile_cost(tariff, day + [10e3] * 12) == 6000
    assert float(demand_cost(50e3, 10.0)) == 6000


@pytest.mark.parametrize(
    "call",
    [
        lambda: mean_price(Tariff(0.2, "EUR", (Band(8, 12, 0.3), Band(11, 14, 0.4)))),
        lambda: mean_price(Tariff(0.2, "EUR", (Band(8, 25, 0.3),))),
        lambda: mean_price(Tariff(0.2, "EUR", (Band(8, 8, 0.3),))),
        lambda: mean_price(Tariff(-0.2, "EUR")),
        lambda: profile_cost(Tariff(0.2, "EUR"), [1e3], days_per_year=400),
        lambda: net_present_value(100, 50, -1.0, 3),
        lambda: net_present_value(100, 50, 0.1, 0),
        lambda: simple_payback(-1, 50),
        lambda: persisting(1.0, -0.1),
        lambda: open_time(60, 0),
        lambda: gas_carbon(-1.0, 28.0),
    ],
)
def test_what_cannot_be_is_refused(call):
    with pytest.raises(InputError, match="cannot be"):
        call()


def test_average_and_marginal_carbon_are_kept_apart():
    both = grid_carbon(3.6e9, 0.3, 0.6)
    assert float(both.average_kg) == pytest.approx(300) and float(both.marginal_kg) == pytest.approx(600)
    assert both.notes == ()
    only = grid_carbon(3.6e9, average_kg_kwh=0.3)
    assert only.marginal_kg is None and only.notes[0].code == "carbon-average"
    neither = grid_carbon(3.6e9)
    assert neither.average_kg is None and neither.notes == ()


def test_an_unknown_potential_is_unknown_not_nought():
    assert gas_carbon(1.0, None) is None
    assert np.isnan(gas_carbon(float("nan"), 28.0))


def test_payback_and_present_value():
    assert simple_payback(100.0, np.array([50.0, 0.0])).tolist() == [2.0, np.inf]
    assert np.isnan(simple_payback(100.0, np.nan))
    flat = [float(net_present_value(0, 100, 0.0, years)) for years in (1, 5, 10)]
    assert flat == [100, 500, 1000]
    annuity = (1 - 1.08**-7) / 0.08  # closed form of the same sum
    assert float(net_present_value(0, 1, 0.08, 7)) == pytest.approx(annuity)


def test_leaks_that_open_again_are_worth_less():
    """With a re-opening rate r and no discount the whole future is worth 1/r years of saving."""
    assert float(net_present_value(0, 1, 0.0, 400, reopen_rate=0.1)) == pytest.approx(10.0, rel=1e-6)
    worth = [float(net_present_value(0, 1, 0.05, 10, reopen_rate=r)) for r in (0, 0.1, 0.5, 2)]
    assert worth == sorted(worth, reverse=True)


def test_littles_law_against_a_simulated_stock():
    """Leaks that open 40 a year and stay open 1.5 years on average: the stock's time average obeys L = lambda W."""
    rng = np.random.default_rng(3)
    opened = np.sort(rng.uniform(0, 500, 500 * 40))
    closed = opened + rng.exponential(1.5, opened.size)
    at = np.linspace(50, 450, 4001)
    stock = np.searchsorted(opened, at) - np.searchsorted(np.sort(closed), at)
    assert float(open_time(stock.mean(), 40.0)) == pytest.approx(1.5, rel=0.03)
