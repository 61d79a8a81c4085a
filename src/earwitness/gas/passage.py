"""Openings that are long against their width: a tube, a slot between faces. Friction decides, not the edge alone."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from scipy.constants import R as GAS_CONSTANT

from earwitness.errors import InputError
from earwitness.gas.gas_table import Gas
from earwitness.gas.gases import STANDARD_PRESSURE, GasState, find_gas, gas_state, reference_density
from earwitness.gas.opening import Flow
from earwitness.interval import Uncertain
from earwitness.sentence import Sentence, say

ENTRY_LOSS = 0.5  # velocity heads at a sharp inlet
_LAMINAR = {"tube": 64.0, "slot": 96.0}  # friction factor times Reynolds number on the hydraulic diameter
_DEFAULT_VISCOSITY = 1.4e-5
_SLIP_DIAMETER = 7e-6  # below it the mean free path of air is over 1 % of it
SIGMA = 0.12  # ln standard deviation of the friction and the clearance (P)


@dataclass(frozen=True)
class _Passage:
    state: GasState
    area: float
    hydraulic: float
    length: float
    shape: str
    viscosity: float

    @property
    def n(self) -> float:
        return self.state.exponent

    def flux(self, mach: float) -> float:
        """Mass flux behind a frictionless inlet [kg/(s m2)]."""
        s = self.state
        stagnation = s.pressure_abs * math.sqrt(s.molar_mass / (s.compressibility * GAS_CONSTANT * s.temperature))
        half = 1 + (self.n - 1) / 2 * mach**2
        return stagnation * math.sqrt(self.n) * mach * half ** (-(self.n + 1) / (2 * (self.n - 1)))

    def resistance(self, mach: float) -> float:
        """Friction factor times length over diameter, and the inlet's loss, in velocity heads."""
        reynolds = max(1e-9, self.flux(mach) * self.hydraulic / self.viscosity)
        laminar, turbulent = _LAMINAR[self.shape] / reynolds, 0.316 * reynolds**-0.25
        factor = laminar if reynolds < 2300 else max(turbulent, laminar)
        return factor * self.length / self.hydraulic + ENTRY_LOSS

    def exit_pressure(self, mach: float) -> float:
        """Pressure at the exit [Pa absolute]; negative where the flow would choke before it."""
        left = fanno_length(mach, self.n) - self.resistance(mach)
        if left < 0:
            return -1.0
        out = _fanno_mach(left, self.n)
        ratio = mach / out * math.sqrt((2 + (self.n - 1) * mach**2) / (2 + (self.n - 1) * out**2))
        inlet = self.state.pressure_abs * (1 + (self.n - 1) / 2 * mach**2) ** (-self.n / (self.n - 1))
        return inlet * ratio


def flow_through_passage(
    gas: Gas | str,
    pressure_abs: float,
    *,
    length: float,
    diameter: float | None = None,
    gap: float | None = None,
    width: float | None = None,
    downstream_abs: float = STANDARD_PRESSURE,
    temperature: float | None = 293.15,
) -> Flow:
    """Mass flow through a tube (`diameter`) or a slot (`gap` × `width`) of a given length along the flow.

    Parameters
    ----------
    gas : Gas or str
    pressure_abs : float, upstream [Pa absolute], above 0
    length : float, along the flow [m], 0 or more
    diameter : float or None, of a tube [m]
    gap : float or None, height of a slot [m]
    width : float or None, of a slot across the flow [m]
    downstream_abs : float [Pa absolute]
    temperature : float or None, of the gas upstream [K]; None: saturated vapour

    Raises
    ------
    InputError
        For a size not above 0, or where the gas is a liquid.

    References
    ----------
    Adiabatic flow with friction (Fanno), Shapiro, Compressible Fluid Flow, ch. 6; friction 64/Re (tube), 96/Re (slot),
    Blasius' 0.316·Re**-0.25 turbulent; inlet loss of half a velocity head.

    Examples
    --------
    >>> flow_through_passage("air", 2e5, length=0.05, diameter=0.0002).regime
    'subsonic'
    """
    found = find_gas(gas) if isinstance(gas, str) else gas
    upstream, outlet = (downstream_abs, pressure_abs) if found.inwards else (pressure_abs, downstream_abs)
    passage = _passage(found, upstream, temperature, length, diameter, gap, width)
    mach, regime = _solve(passage, outlet)
    flow = passage.flux(mach) * passage.area if mach else 0.0
    ideal = passage.flux(1.0) * passage.area
    spread = Uncertain(flow, SIGMA) if flow > 0 else None
    notes = (*passage.state.notes, *_notes(passage))
    density = reference_density(found)
    return Flow(found.name, flow, flow / density, regime, flow / ideal, spread, notes, found.inwards)


def fanno_length(mach: float, k: float = 1.4) -> float:
    """Friction times length over diameter, 4f·L*/D, that brings a flow from this Mach number to that of sound [1].

    Parameters
    ----------
    mach : float, above 0, at most 1 [1]
    k : float, cp/cv [1]

    References
    ----------
    Shapiro, The Dynamics and Thermodynamics of Compressible Fluid Flow (1953), ch. 6.

    Examples
    --------
    >>> round(fanno_length(0.5), 4)
    1.0691
    """
    square = mach * mach
    return (1 - square) / (k * square) + (k + 1) / (2 * k) * math.log((k + 1) * square / (2 + (k - 1) * square))


def _fanno_mach(length: float, k: float) -> float:
    from scipy.optimize import brentq

    return 1.0 if length <= 1e-12 else float(brentq(lambda m: fanno_length(m, k) - length, 1e-9, 1.0, xtol=1e-14))


def _passage(
    gas: Gas,
    upstream: float,
    temperature: float | None,
    length: float,
    diameter: float | None,
    gap: float | None,
    width: float | None,
) -> _Passage:
    if diameter is not None:
        shape, area, hydraulic = "tube", math.pi / 4 * diameter**2, diameter
    elif gap is not None and width is not None:
        shape, area, hydraulic = "slot", gap * width, 2 * gap * width / (gap + width)
    else:
        raise InputError("opening", "not clear", "a diameter, or a gap with a width")
    if not (area > 0 and hydraulic > 0):
        raise InputError("opening", f"{area:g} m2", "sizes above 0 m")
    if not length >= 0:
        raise InputError("length", f"{length:g} m", "0 m or more")
    state = gas_state(gas, upstream, temperature)
    if state.phase == "liquid":
        raise InputError("gas", gas.name, "a gas at that pressure and temperature; there it is a liquid")
    return _Passage(state, area, hydraulic, length, shape, state.viscosity or _DEFAULT_VISCOSITY)


def _solve(passage: _Passage, outlet: float) -> tuple[float, Literal["choked", "subsonic", "none"]]:
    """Inlet Mach number at which the exit has the outlet's pressure, or at which the exit runs at that of sound."""
    from scipy.optimize import brentq

    if outlet >= passage.state.pressure_abs:
        return 0.0, "none"
    least = 1e-9
    choking = float(brentq(lambda m: fanno_length(m, passage.n) - passage.resistance(m), least, 1 - 1e-9, xtol=1e-14))
    just = choking * (1 - 1e-9)
    if passage.exit_pressure(just) >= outlet:
        return choking, "choked"
    return float(brentq(lambda m: passage.exit_pressure(m) - outlet, least, just, xtol=1e-16, rtol=1e-12)), "subsonic"


def _notes(passage: _Passage) -> tuple[Sentence, ...]:
    notes = []
    if passage.state.viscosity is None:
        notes.append(say("viscosity-assumed", "No viscosity is known for {gas}; a usual one was taken.",
                         gas=passage.state.gas.shown))  # fmt: skip
    if passage.hydraulic < _SLIP_DIAMETER:
        notes.append(say("slip", "The opening is so fine that the gas slips along its walls; more flows than stated."))
    return tuple(notes)
