"""The heat that fuel gas is billed by, against heats of formation and Hess's law."""

from __future__ import annotations

import pytest
from chemicals import CAS_from_any, Hfg, search_chemical
from chemicals.combustion import HHV_stoichiometry, combustion_stoichiometry
from chemicals.elements import simple_formula_parser

from earwitness.gas.gas_table import Gas
from earwitness.gas.heat import gross_heat


@pytest.mark.parametrize(
    ("gas", "burns"),
    [
        ("Methane", "methane"),
        ("Ethane", "ethane"),
        ("n-Propane", "propane"),
        ("n-Butane", "butane"),
        ("IsoButane", "isobutane"),
        ("Hydrogen", "hydrogen"),
        ("CarbonMonoxide", "carbon monoxide"),
    ],
)
def test_gross_heats_follow_from_heats_of_formation(gas, burns):
    """chemicals 1.5: heats of formation of the ideal gas at 25 °C (ATcT, CRC handbook), water as a liquid."""
    chemical = search_chemical(burns)
    needs = combustion_stoichiometry(simple_formula_parser(chemical.formula))
    heat = -HHV_stoichiometry(needs, Hf=Hfg(CAS_from_any(burns)) or 0.0)  # hydrogen is an element: none
    pure = Gas(name=gas, components=((gas, 1.0),))
    assert gross_heat(pure) == pytest.approx(heat / chemical.MW * 1000, rel=5e-4)
