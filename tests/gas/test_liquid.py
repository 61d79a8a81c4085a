import numpy as np
import pytest

from earwitness.errors import InputError
from earwitness.gas.opening import flow_through_opening


@pytest.mark.parametrize(("gas", "pressure"), [("lpg", 8e5), ("propane", 1.2e6), ("ammonia", 1e6), ("r134a", 8e5)])
def test_a_liquid_that_flashes_is_said_and_bounded(gas, pressure):
    flow = flow_through_opening(gas, pressure, diameter=0.001)
    assert flow.regime == "flashing"
    said = next(n for n in flow.notes if n.code == "liquid-flashes")
    low, high = said.args["low_g_s"] / 1000, said.args["high_g_s"] / 1000
    assert low < flow.mass_flow < high
    interval = flow.uncertain.interval()
    assert interval.low <= low and high <= interval.high
    assert high / low < 5


def test_liquid_is_far_more_than_gas_through_the_same_hole():
    boiling = 8.364e5  # propane at 20 °C (NIST)
    gas = flow_through_opening("propane", 0.99 * boiling, diameter=0.001, edge="sharp")
    liquid = flow_through_opening("propane", 1.01 * boiling, diameter=0.001, edge="sharp")
    assert (gas.regime, liquid.regime) == ("choked", "flashing")
    assert liquid.mass_flow > 3 * gas.mass_flow


def test_cold_water_stays_liquid():
    flow = flow_through_opening("steam", 5e5, diameter=0.001, temperature=293.15)
    assert flow.regime == "liquid" and any(n.code == "liquid-escapes" for n in flow.notes)


def test_arrays_never_turn_a_liquid_into_a_gas_in_silence():
    with pytest.raises(InputError, match="gas"):
        flow_through_opening("propane", np.array([3e5, 1.2e6]), diameter=0.001)
