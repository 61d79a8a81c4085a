"""Tariffs, present value and leaks that open again."""

from __future__ import annotations

import numpy as np
import pytest

from earwitness.energy.money import net_present_value, persisting
from earwitness.energy.tariff import Band, Tariff, mean_price
from earwitness.errors import InputError


def test_bands_over_midnight_and_between_hours():
    tariff = Tariff(0.30, "EUR", (Band(22, 6, 0.10), Band(11.5, 12, 0.50)))
    assert mean_price(tariff) == pytest.approx((0.10 * 8 + 0.50 * 0.5 + 0.30 * 15.5) / 24)
    night_only = np.r_[np.ones(6), np.zeros(16), np.ones(2)]
    assert mean_price(tariff, night_only) == pytest.approx(0.10)


@pytest.mark.parametrize(
    "call",
    [
        lambda: mean_price(Tariff(0.2, "EUR", (Band(8, 12, 0.3), Band(11, 14, 0.4)))),
        lambda: mean_price(Tariff(0.2, "EUR", (Band(8, 25, 0.3),))),
        lambda: mean_price(Tariff(0.2, "EUR", (Band(8, 8, 0.3),))),
        lambda: mean_price(Tariff(-0.2, "EUR")),
        lambda: net_present_value(100, 50, -1.0, 3),
        lambda: net_present_value(100, 50, 0.1, 0),
        lambda: persisting(1.0, -0.1),
    ],
)
def test_what_cannot_be_is_refused(call):
    with pytest.raises(InputError, match="cannot be"):
        call()


def test_present_value():
    flat = [float(net_present_value(0, 100, 0.0, years)) for years in (1, 5, 10)]
    assert flat == [100, 500, 1000]
    annuity = (1 - 1.08**-7) / 0.08  # closed form of the same sum
    assert float(net_present_value(0, 1, 0.08, 7)) == pytest.approx(annuity)


def test_leaks_that_open_again_are_worth_less():
    """With a re-opening rate r and no discount the whole future is worth 1/r years of saving."""
    assert float(net_present_value(0, 1, 0.0, 400, reopen_rate=0.1)) == pytest.approx(10.0, rel=1e-6)
    worth = [float(net_present_value(0, 1, 0.05, 10, reopen_rate=r)) for r in (0, 0.1, 0.5, 2)]
    assert worth == sorted(worth, reverse=True)
