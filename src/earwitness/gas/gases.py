"""What a gas is like at a pressure and temperature. The only module that knows CoolProp (imported when first needed).

Real-gas flow is carried by one number, the exponent n of the isentrope p·v**n between the vessel and the throat: it is
chosen so that the choked flow equals the real gas's critical flow, C*. With n in the place of k the ideal formulas hold
for choked and subsonic flow alike, and in a perfect gas n is k.
"""

from __future__ import annotations

import difflib
import importlib
import math
import re
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

from scipy.constants import R as GAS_CONSTANT

from earwitness.errors import InputError
from earwitness.gas.gas_table import AIR_FLUID, GASES, Gas
from earwitness.gas.throat import Expansion, exponent_of_isentrope, ideal_critical_flow_factor
from earwitness.sentence import Sentence, say

STANDARD_PRESSURE = 101_325.0
NEAR_CRITICAL = "near-critical"
REFERENCE_TEMPERATURE = 293.15  # this program's volume flows: 20 °C, 101.325 kPa


@dataclass(frozen=True)
class GasState:
    """A gas, vapour or liquid at rest upstream of the opening.

    pressure_abs [Pa absolute], temperature [K], molar_mass [kg/mol], density [kg/m3]; k cp/cv of the real gas;
    exponent n, see this module; compressibility Z = p·M/(rho·R·T); saturation_pressure [Pa absolute] or None above the
    critical point; viscosity [Pa s] or None where no model is known.
    """

    gas: Gas
    pressure_abs: float
    temperature: float
    phase: str  # "gas" or "liquid"
    molar_mass: float
    density: float
    k: float
    exponent: float
    saturation_pressure: float | None = None
    viscosity: float | None = None
    notes: tuple[Sentence, ...] = ()

    @property
    def rough(self) -> bool:
        """Near the critical point: the flow is known only within a factor of 1.5."""
        return any(note.code == NEAR_CRITICAL for note in self.notes)

    @property
    def compressibility(self) -> float:
        return self.pressure_abs * self.molar_mass / (self.density * GAS_CONSTANT * self.temperature)

    @property
    def critical_flow_factor(self) -> float:
        """C* = G·√(R·T0/M)/p0 at the choked throat (ISO 9300's symbol)."""
        return ideal_critical_flow_factor(self.exponent) / math.sqrt(self.compressibility)


@cache
def _names() -> dict[str, Gas]:
    return {name: gas for gas in GASES for name in (gas.name, *gas.aliases)}


def find_gas(name: str, composition: Mapping[str, float] | None = None) -> Gas:
    """The gas that goes by this name or trade name.

    Parameters
    ----------
    name : str
        As the field sheet has it: "LPG", "natural gas", "plant air", "R-134a".
    composition : mapping of gas name to mole fraction, optional [mol/mol]
        For a mixture: {"methane": 0.9, "ethane": 0.1}; fractions are scaled to a sum of 1.

    Raises
    ------
    InputError
        Where no gas has that name; the nearest names are offered.

    Examples
    --------
    >>> find_gas("Plant Air").name
    'air'
    >>> find_gas("R-717").name
    'ammonia'
    """
    plain = re.sub(r"\s+", " ", name.strip().lower())
    known = _names()
    gas = known.get(plain) or known.get(re.sub(r"^(r|hfc|hfo)[\s-]+(?=\d)", "r", plain))
    if composition:
        return _mixture(gas.name if gas else plain, composition)
    if gas is None:
        near = difflib.get_close_matches(plain, known, n=3, cutoff=0.5)
        offer = "did you mean " + " or ".join(near) if near else "for example " + ", ".join(g.name for g in GASES[:6])
        raise InputError("gas", repr(name), f"a gas this program knows; {offer}?")
    return gas


def _mixture(name: str, composition: Mapping[str, float]) -> Gas:
    total = sum(composition.values())
    if not total > 0 or any(not fraction >= 0 for fraction in composition.values()):
        raise InputError("composition", dict(composition), "mole fractions of 0 or more with a sum above 0")
    parts: dict[str, float] = {}
    for part, fraction in composition.items():
        gas = find_gas(part)
        if not gas.components:
            raise InputError("composition", part, "a gas whose mixtures have known properties")
        for fluid, share in gas.components:
            parts[fluid] = parts.get(fluid, 0.0) + share * fraction / total
    return Gas(name, tuple(sorted((f, x) for f, x in parts.items() if x > 0)))


def gas_state(gas: Gas | str, pressure_abs: float, temperature: float | None = REFERENCE_TEMPERATURE) -> GasState:
    """A gas at rest at a pressure and temperature, with the question asked whether it is a gas there at all.

    Parameters
    ----------
    gas : Gas or str
    pressure_abs : float [Pa absolute], above 0
    temperature : float or None [K]
        None: dry saturated vapour at this pressure (steam, as it usually is).

    Raises
    ------
    InputError
        Pressure or temperature not above 0, or outside what the property library can compute.

    References
    ----------
    Equations of state of CoolProp (Bell et al., Ind. Eng. Chem. Res. 53 (2014) 2498, doi:10.1021/ie4033999).

    Examples
    --------
    >>> gas_state("r134a", 9e5, 293.15).phase
    'liquid'
    >>> round(gas_state("air", 8e5, 300.0).critical_flow_factor, 4)
    0.6869
    """
    if not pressure_abs > 0:
        raise InputError("pressure_abs", f"{pressure_abs:g} Pa", "above 0 Pa absolute")
    if temperature is not None and not temperature > 0:
        raise InputError("temperature", f"{temperature:g} K", "above 0 K")
    return _state(find_gas(gas) if isinstance(gas, str) else gas, float(pressure_abs), temperature)


def ideal_density(
    molar_mass: float, pressure_abs: float = STANDARD_PRESSURE, temperature: float = REFERENCE_TEMPERATURE
) -> float:
    """Density of a perfect gas, p·M/(R·T) [kg/m3].

    Parameters
    ----------
    molar_mass : float [kg/mol]
    pressure_abs : float [Pa absolute]
    temperature : float [K]
    """
    return pressure_abs * molar_mass / (GAS_CONSTANT * temperature)


def reference_density(
    gas: Gas | str, pressure_abs: float = STANDARD_PRESSURE, temperature: float = REFERENCE_TEMPERATURE
) -> float:
    """Density at reference conditions [kg/m3]: the real gas's, or the perfect gas's where it would be a liquid (steam).

    Parameters
    ----------
    gas : Gas or str
    pressure_abs : float [Pa absolute]
    temperature : float [K]
    """
    state = gas_state(gas, pressure_abs, temperature)
    return state.density if state.phase == "gas" else ideal_density(state.molar_mass, pressure_abs, temperature)


def specific_gravity(gas: Gas | str) -> float:
    """How heavy a gas is against air: the ratio of molar masses.

    Parameters
    ----------
    gas : Gas or str
    """
    found = find_gas(gas) if isinstance(gas, str) else gas
    return _molar_mass(found) / _molar_mass(find_gas("air"))


def evaporation(state: GasState) -> tuple[float, float, float]:
    """Heat of evaporation [J/kg], growth of specific volume on it [m3/kg], and heat capacity of the liquid [J/(kg K)],
    all at the boiling point of the state's temperature; of a mixture, shares of its parts by mass.

    Parameters
    ----------
    state : GasState
    """
    library = _library()
    heat = growth = capacity = total = 0.0
    with _LIBRARY:
        for fluid, fraction in state.gas.components:
            part = _fluid(((fluid, 1.0),))
            part.update(library.QT_INPUTS, 0, state.temperature)
            mass = fraction * part.molar_mass()
            h, v, cp = part.hmass(), 1 / part.rhomass(), part.cpmass()
            part.update(library.QT_INPUTS, 1, state.temperature)
            heat += mass * (part.hmass() - h)
            growth += mass * (1 / part.rhomass() - v)
            capacity += mass * cp
            total += mass
    return heat / total, growth / total, capacity / total


# -- below: the property library -------------------------------------------------------------------------------------


_LIBRARY = threading.Lock()  # one fluid object serves one question at a time


def _library() -> Any:
    return importlib.import_module("CoolProp.CoolProp")  # takes seconds


@cache
def _fluid(gas_components: tuple[tuple[str, float], ...]) -> Any:
    """One AbstractState for a composition: making it costs milliseconds, a state of it microseconds."""
    state = _library().AbstractState("HEOS", "&".join(fluid for fluid, _ in gas_components))
    if len(gas_components) > 1:
        state.set_mole_fractions([fraction for _, fraction in gas_components])
    return state


def _molar_mass(gas: Gas) -> float:
    return gas.ideal[0] if gas.ideal else float(_fluid(gas.components).molar_mass())


@lru_cache(maxsize=4096)
def _state(gas: Gas, pressure_abs: float, temperature: float | None) -> GasState:
    with _LIBRARY:
        return _ask(gas, pressure_abs, temperature)


def _ask(gas: Gas, pressure_abs: float, temperature: float | None) -> GasState:
    if gas.ideal:
        return _ideal_state(gas, pressure_abs, REFERENCE_TEMPERATURE if temperature is None else temperature)
    saturated = _saturated_temperature(gas, pressure_abs) if temperature is None else None
    if temperature is None and saturated is None:
        raise InputError("temperature", "left out", f"stated for {gas.name} at this pressure, which is never saturated")
    kelvin = saturated if saturated is not None else temperature
    assert kelvin is not None
    freezing = max(float(_fluid(((fluid, 1.0),)).Ttriple()) for fluid, _ in gas.components)
    if gas.pure and kelvin < freezing:
        raise InputError("temperature", f"{kelvin:.4g} K", f"above {freezing:.4g} K, where {gas.name} freezes")
    boiling = _saturation_pressure(gas, kelvin)
    liquid = saturated is None and boiling is not None and pressure_abs > boiling
    try:
        return _real_state(gas, pressure_abs, kelvin, liquid, boiling)
    except ValueError as reason:
        raise InputError(
            "pressure_abs and temperature",
            f"{pressure_abs:g} Pa, {kelvin:g} K",
            f"values at which {gas.name} is a fluid whose properties are known",
        ) from reason


def _real_state(gas: Gas, pressure_abs: float, kelvin: float, liquid: bool, boiling: float | None) -> GasState:
    library, fluid = _library(), _fluid(gas.components)
    fluid.specify_phase(library.iphase_liquid if liquid else library.iphase_gas)
    try:
        fluid.update(library.PT_INPUTS, pressure_abs, kelvin)
        density, k, mass = float(fluid.rhomass()), float(fluid.cpmass() / fluid.cvmass()), float(fluid.molar_mass())
        viscosity = _viscosity(gas, fluid)
        notes: tuple[Sentence, ...] = ()
        exponent = math.nan
        if not liquid:
            expansion = Expansion(library, fluid, pressure_abs, kelvin)
            factor = None if gas.name == "steam" else expansion.to_the_speed_of_sound()
            if factor is None:
                factor = expansion.in_equilibrium() if gas.pure else None
                notes = () if gas.name == "steam" else (_no_plain_throat(gas.shown),)
            compressibility = mass * pressure_abs / (density * GAS_CONSTANT * kelvin)
            exponent = k if factor is None else exponent_of_isentrope(factor, compressibility)
    finally:
        fluid.unspecify_phase()
    if gas.pure and (kelvin > fluid.Tmax() or pressure_abs > fluid.pmax()):
        notes += (_out_of_range(gas.shown),)
    if gas.settable:
        notes += (_usual_composition(gas),)
    phase = "liquid" if liquid else "gas"
    return GasState(gas, pressure_abs, kelvin, phase, mass, density, k, exponent, boiling, viscosity, notes)


def _ideal_state(gas: Gas, pressure_abs: float, kelvin: float) -> GasState:
    assert gas.ideal is not None
    mass, k = gas.ideal
    note = say(
        "perfect-gas", "{gas}: properties of a perfect gas were used, which holds at low pressure.", gas=gas.shown
    )
    density = ideal_density(mass, pressure_abs, kelvin)
    return GasState(gas, pressure_abs, kelvin, "gas", mass, density, k, k, notes=(note,))


def _saturation_pressure(gas: Gas, kelvin: float) -> float | None:
    """Pressure above which it is liquid at this temperature; None above the critical point. A mixture's is Raoult's
    bubble point over those parts that are below their own critical point; with one above it, it counts as gas."""
    library = _library()
    pressure = 0.0
    for fluid, fraction in gas.components:
        state = _fluid(((fluid, 1.0),))
        if fluid == AIR_FLUID or kelvin >= state.T_critical():
            return None
        if kelvin <= state.Ttriple():
            continue
        state.update(library.QT_INPUTS, 0 if len(gas.components) > 1 else 1, kelvin)
        pressure += fraction * float(state.p())
    return pressure or None


def _saturated_temperature(gas: Gas, pressure_abs: float) -> float | None:
    library, fluid = _library(), _fluid(gas.components)
    if not gas.pure or gas.components[0][0] == AIR_FLUID or pressure_abs >= fluid.p_critical():
        return None
    fluid.update(library.PQ_INPUTS, pressure_abs, 1.0)
    return float(fluid.T())


def _viscosity(gas: Gas, fluid: Any) -> float | None:
    """Of a mixture: Herning and Zipperer's mean of the parts, weighted by mole fraction and root of molar mass."""
    try:
        if gas.pure:
            return float(fluid.viscosity())
        total = weight = 0.0
        for name, fraction in gas.components:
            part = _fluid(((name, 1.0),))
            part.specify_phase(_library().iphase_gas)
            part.update(_library().PT_INPUTS, STANDARD_PRESSURE / 10, fluid.T())
            share = fraction * math.sqrt(part.molar_mass())
            total, weight = total + share * part.viscosity(), weight + share
            part.unspecify_phase()
        return float(total / weight)
    except ValueError:  # no model for one of them (ethylene)
        return None


def _no_plain_throat(name: str) -> Sentence:
    return say(
        NEAR_CRITICAL,
        "{gas} is near its critical point or condenses in the opening; the flow is rough, within a factor of 1.5.",
        gas=name,
    )


def _out_of_range(name: str) -> Sentence:
    return say(
        "outside-properties", "The properties of {gas} are extrapolated here, beyond their published range.", gas=name
    )


def _usual_composition(gas: Gas) -> Sentence:
    parts = ", ".join(f"{100 * x:g} % {fluid.removeprefix('n-').lower()}" for fluid, x in gas.components)
    return say(
        "usual-composition",
        "{gas} was taken as {parts} by volume; give your supplier's composition for a closer number.",
        gas=gas.shown,
        parts=parts,
    )
