from concurrent.futures import ThreadPoolExecutor

import pytest

from earwitness.errors import InputError
from earwitness.gas import gases as gases_module
from earwitness.gas.gas_table import GASES
from earwitness.gas.gases import find_gas, gas_state, reference_density, specific_gravity
from earwitness.gas.opening import flow_through_opening


@pytest.mark.parametrize("gas", GASES, ids=lambda g: g.name)
def test_every_gas_has_properties_at_ambient(gas):
    temperature = None if gas.name == "steam" else 293.15
    state = gas_state(gas, 1.2e5, temperature)
    assert state.phase == "gas"
    assert 0.85 < state.compressibility < 1.01
    assert 0.6 < state.critical_flow_factor < 0.75
    assert 1.0 < state.exponent < 1.7
    assert reference_density(gas) == pytest.approx(1.2046 * specific_gravity(gas), rel=0.06)


def test_no_name_means_two_gases():
    names = [name for gas in GASES for name in (gas.name, *gas.aliases)]
    assert len(names) == len(set(names))
    for name in names:
        assert name in (find_gas(name).name, *find_gas(name).aliases)


def test_nearest_names_are_offered():
    with pytest.raises(InputError, match="did you mean propane"):
        find_gas("propan")
    with pytest.raises(InputError, match="for example air"):
        find_gas("????")


def test_composition_of_the_users_own():
    gas = find_gas("natural gas", {"methane": 96, "nitrogen": 4})
    assert gas.name == "natural gas"
    assert gas_state(gas, 2e5).molar_mass == pytest.approx(0.96 * 16.0428e-3 + 0.04 * 28.0135e-3, rel=1e-4)
    assert not gas_state(gas, 2e5).notes  # no usual composition was assumed
    assert [n.code for n in gas_state("natural gas", 2e5).notes] == ["usual-composition"]
    with pytest.raises(InputError):
        find_gas("natural gas", {"methane": 0.0})
    with pytest.raises(InputError):
        find_gas("natural gas", {"methane": -1.0, "ethane": 2.0})


@pytest.mark.parametrize("pressure", [0.0, -1e5])
def test_pressure_that_cannot_be(pressure):
    with pytest.raises(InputError, match="above 0 Pa absolute"):
        gas_state("air", pressure)


def test_air_cannot_be_saturated():
    with pytest.raises(InputError, match="temperature"):
        gas_state("air", 8e5, None)


def test_steam_below_its_boiling_point_is_water():
    assert gas_state("steam", 1e6, 293.15).phase == "liquid"
    assert gas_state("steam", 1e6, None).temperature == pytest.approx(453.03, abs=0.05)  # IAPWS-IF97: 179.88 °C


def test_lpg_is_liquid_in_the_bottle_and_gas_behind_the_regulator():
    # vapour pressures at 20 °C: propane 8.36 bar, n-butane 2.08 bar (NIST); 60/40 by Raoult 5.85 bar
    state = gas_state("lpg", 6.5e5, 293.15)
    assert state.phase == "liquid" and state.saturation_pressure == pytest.approx(5.85e5, rel=0.01)
    assert gas_state("lpg", 1.3e5, 293.15).phase == "gas"


def test_gwp_is_given_with_its_source():
    for gas in GASES:
        assert (gas.gwp is None) == (gas.gwp_source == "")
    # IPCC AR6 blend by mass: R410A is half R32, half R125 (3740)
    assert find_gas("r410a").gwp == pytest.approx((771 + 3740) / 2, abs=1)
    assert find_gas("r404a").gwp == pytest.approx(0.44 * 3740 + 0.04 * 1530 + 0.52 * 5810, abs=1)
    assert find_gas("r407c").gwp == pytest.approx(0.23 * 771 + 0.25 * 3740 + 0.52 * 1530, abs=1)


def test_near_the_critical_point_the_flow_is_rough_and_said():
    plain = gas_state("carbon dioxide", 2e6, 300.0)
    dense = gas_state("carbon dioxide", 8e6, 305.0)  # critical point 304.13 K, 7.377 MPa (Span and Wagner 1996)
    assert not plain.rough and dense.rough
    assert dense.notes[0].code == "near-critical"
    assert flow_through_opening("carbon dioxide", 8e6, temperature=305.0, diameter=1e-3).uncertain.sigma > 0.2


def test_what_freezes_is_refused_and_what_is_extrapolated_is_said():
    with pytest.raises(InputError, match="freezes"):  # triple point 216.59 K
        gas_state("carbon dioxide", 8e5, 200.0)
    assert [n.code for n in gas_state("air", 8e5, 3000.0).notes] == ["outside-properties"]


def test_threads_may_ask_at_the_same_time():
    gases, pressures = ["air", "methane", "propane", "carbon dioxide"], [1.1e5, 2.03e5, 3.07e5]
    asked = [(gas, p) for gas in gases for p in pressures] * 4
    gases_module._state.cache_clear()
    with ThreadPoolExecutor(8) as pool:
        together = list(pool.map(lambda a: gas_state(*a).density, asked))
    gases_module._state.cache_clear()
    alone = [gas_state(*a).density for a in asked]
    assert together == alone
