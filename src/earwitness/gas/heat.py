"""The heat that a fuel gas is sold by."""

from __future__ import annotations

from earwitness.gas.gas_table import Gas
from earwitness.gas.gases import find_gas, gas_state

# Gross heat of combustion at 25 °C [J/mol] by the library's fluid; what does not burn has none.
_GROSS = {
    "Methane": 890_580.0, "Ethane": 1_560_690.0, "n-Propane": 2_219_170.0, "Propane": 2_219_170.0,
    "n-Butane": 2_877_400.0, "IsoButane": 2_868_200.0, "Hydrogen": 285_830.0, "CarbonMonoxide": 282_950.0,
    "Nitrogen": 0.0, "CarbonDioxide": 0.0, "Oxygen": 0.0, "Argon": 0.0, "Helium": 0.0,
}  # fmt: skip


def gross_heat(gas: Gas | str) -> float | None:
    """Gross (upper) heat of combustion [J/kg], which fuel gas is billed by; None where it does not burn or a part of it
    is not in the table.

    Parameters
    ----------
    gas : Gas or str

    References
    ----------
    ISO 6976:2016, table of gross molar heats of combustion at 25 °C (from memory, and within 0.03 % of what heats of
    formation give); a mixture has those of its parts.

    Examples
    --------
    >>> round(gross_heat("methane") / 1e6, 1), gross_heat("nitrogen")
    (55.5, None)
    """
    found = find_gas(gas) if isinstance(gas, str) else gas
    if found.ideal is not None or any(fluid not in _GROSS for fluid, _ in found.components):
        return None
    heat = sum(share * _GROSS[fluid] for fluid, share in found.components)
    return heat / gas_state(found, 101_325.0, 298.15).molar_mass or None
