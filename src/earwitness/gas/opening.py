"""From an opening to the mass that goes through it: choked, subsonic and vacuum from one function."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.constants import R as GAS_CONSTANT

from earwitness.errors import InputError
from earwitness.gas.discharge import ROUNDED, Floats, critical_pressure_ratio, sharp_edge_coefficient
from earwitness.gas.gas_table import Gas
from earwitness.gas.gases import STANDARD_PRESSURE, GasState, find_gas, gas_state, reference_density
from earwitness.gas.liquid import liquid_release
from earwitness.interval import Uncertain
from earwitness.sentence import Sentence, say

Edge = Literal["sharp", "rounded", "unknown"]
EDGES: tuple[Edge, ...] = ("sharp", "rounded", "unknown")
# ln standard deviations (P): what a stated edge leaves open, a stated coefficient, and a diameter read with a gauge pin
_EDGE_SIGMA = {"sharp": 0.04, "rounded": 0.015, "unknown": 0.12}
_COEFFICIENT_SIGMA = 0.02
_NEAR_CRITICAL_SIGMA = 0.2
DIAMETER_SIGMA = 0.05
PRESSURE_SIGMA = 0.02


@dataclass(frozen=True)
class Flow:
    """What escapes (or, with vacuum, what is drawn in).

    mass_flow [kg/s] and volume_flow [m3/s at 20 °C and 101.325 kPa], regime ("choked", "subsonic", "liquid",
    "flashing", "none", or "unknown" for NaN) and coefficient [1]: numbers, or arrays of the inputs' common shape.
    `uncertain` is the mass flow with its spread (numbers only).
    """

    gas: str
    mass_flow: Floats
    volume_flow: Floats
    regime: str | NDArray[np.str_]
    coefficient: Floats
    uncertain: Uncertain | None
    notes: tuple[Sentence, ...] = ()
    inwards: bool = False


def flow_through_opening(
    gas: Gas | str,
    pressure_abs: Floats,
    *,
    diameter: Floats | None = None,
    area: Floats | None = None,
    downstream_abs: Floats = STANDARD_PRESSURE,
    temperature: Floats | None = 293.15,
    edge: Edge = "sharp",
    coefficient: Floats | None = None,
    diameter_sigma: float = DIAMETER_SIGMA,
    state_at: tuple[float, float | None] | None = None,
) -> Flow:
    """Mass flow through a hole in a thin wall.

    Parameters
    ----------
    gas : Gas or str
        "vacuum": `pressure_abs` is that of the vacuum and air comes in from `downstream_abs`.
    pressure_abs : float or array, upstream [Pa absolute], above 0 (vacuum: 0 or more)
    diameter : float or array, of a round hole [m], above 0; either this or `area`
    area : float or array, of the opening [m2], above 0
    downstream_abs : float or array, where it flows to, by default the standard atmosphere [Pa absolute]
    temperature : float, array or None, of the gas upstream [K]; None is saturated vapour, as steam usually is
    edge : "sharp", "rounded" or "unknown"
        What the gas meets; unknown lies between the two, with an interval that covers both.
    coefficient : float or array, a discharge coefficient of your own [1], instead of `edge`
    diameter_sigma : float, ln standard deviation of the diameter [1]
    state_at : (pressure [Pa absolute], temperature [K]), optional
        Ask for the real gas's properties here once and scale with pressure and temperature from there: for Monte
        Carlo draws around one point.

    Raises
    ------
    InputError
        For what cannot be: an opening or a pressure not above 0.

    Notes
    -----
    m = Cd·A·p0·√(M/(Z·R·T0))·ψ with ψ² = n·(2/(n+1))**((n+1)/(n−1)) choked, and
    2n/(n−1)·(r**(2/n) − r**((n+1)/n)) at r = p2/p0 above the critical ratio; n from the real gas's critical flow.

    Examples
    --------
    >>> round(flow_through_opening("air", 801325.0, diameter=0.001, coefficient=1.0).mass_flow * 1000, 3)
    1.491
    """
    found = find_gas(gas) if isinstance(gas, str) else gas
    size = _area(diameter, area)
    _possible("downstream_abs", downstream_abs, "0 Pa absolute or more", 0.0)
    _possible("pressure_abs", pressure_abs, "above 0 Pa absolute (gauge readings start at -1.01325 bar)", -0.0)
    if coefficient is not None:
        _possible("coefficient", coefficient, "above 0, at most 1.2", 1e-9, 1.2)
    if edge not in EDGES:
        raise InputError("edge", edge, "sharp, rounded or unknown")
    upstream, downstream = (downstream_abs, pressure_abs) if found.inwards else (pressure_abs, downstream_abs)
    given = (upstream, downstream, size, temperature, coefficient)
    shape = np.broadcast_shapes(*(np.shape(x) for x in given if x is not None))
    density = reference_density(found)
    if shape == ():
        if math.isnan(float(upstream)) or (temperature is not None and math.isnan(float(temperature))):
            return Flow(found.name, math.nan, math.nan, "unknown", math.nan, None, (), found.inwards)
        state = gas_state(found, *(state_at or (float(upstream), temperature)))  # type: ignore[arg-type]
        if state.phase == "liquid":
            return _liquid(state, float(downstream), float(size), edge, coefficient, density, diameter_sigma)
    p, t, z, n, mass = _properties(found, upstream, temperature, shape, state_at)
    r = np.asarray(downstream, dtype=float) / p
    cd = _coefficient(r, n, edge, coefficient)
    critical = np.asarray(critical_pressure_ratio(n))
    flux = p * np.sqrt(mass / (z * GAS_CONSTANT * t)) * _flow_function(r, n, critical)
    flow = np.where(r < 1, cd * size * flux, np.where(np.isnan(r), np.nan, 0.0))
    regime = _regime(r, critical)
    if shape:
        cd = np.broadcast_to(cd, shape)
        return Flow(found.name, flow, flow / density, regime, cd, None, (), found.inwards)
    sigma = math.hypot(_EDGE_SIGMA[edge] if coefficient is None else _COEFFICIENT_SIGMA, PRESSURE_SIGMA)
    sigma = math.hypot(sigma, 2 * diameter_sigma, _NEAR_CRITICAL_SIGMA if state.rough else 0.0)
    notes = (*state.notes, *_notes(found, float(r), float(upstream), coefficient, edge))
    value = float(flow)
    spread = Uncertain(value, sigma) if value > 0 else None
    return Flow(found.name, value, value / density, str(regime), float(cd), spread, notes, found.inwards)


def iso6358_mass_flow(
    conductance: Floats,
    critical_ratio: Floats,
    pressure_abs: Floats,
    downstream_abs: Floats,
    temperature: Floats = 293.15,
    reference_density_anr: float = 1.185,
) -> Floats:
    """Mass flow of air through a pneumatic component of known sonic conductance C and critical ratio b [kg/s].

    Parameters
    ----------
    conductance : float or array, C [m3/(s Pa)]; 1 dm3/(s bar) is 1e-8
    critical_ratio : float or array, b [1], 0 to below 1
    pressure_abs : float or array, upstream [Pa absolute]
    downstream_abs : float or array [Pa absolute]
    temperature : float or array, upstream [K]
    reference_density_anr : float, of air at ANR (20 °C, 100 kPa, 65 % humidity) [kg/m3]

    References
    ----------
    ISO 6358-1:2013, flow-rate equations; ANR: ISO 8778.

    Examples
    --------
    >>> round(iso6358_mass_flow(0.2e-8, 0.3, 8.013e5, 7.013e5) / 1.185 * 1000, 4)
    0.9133
    """
    _possible("conductance", conductance, "above 0", 1e-30)
    b = np.asarray(critical_ratio, dtype=float)
    if np.any((b < 0) | (b >= 1)):
        raise InputError("critical_ratio", critical_ratio, "from 0 to below 1")
    p = np.asarray(pressure_abs, dtype=float)
    r = np.asarray(downstream_abs, dtype=float) / p
    choked = p * conductance * reference_density_anr * np.sqrt(293.15 / np.asarray(temperature, dtype=float))
    beyond = np.clip((r - b) / (1 - b), 0.0, 1.0)
    flow = choked * np.sqrt(1 - beyond**2)
    return float(flow) if np.ndim(flow) == 0 else flow


# -- below: the parts -------------------------------------------------------------------------------------------------


def _area(diameter: Floats | None, area: Floats | None) -> Floats:
    if (diameter is None) == (area is None):
        raise InputError("opening", "not clear", "either a diameter or an area")
    if diameter is not None:
        _possible("diameter", diameter, "above 0 m", 1e-12)
        return np.pi / 4 * np.asarray(diameter, dtype=float) ** 2
    assert area is not None
    _possible("area", area, "above 0 m2", 1e-24)
    return area


def _possible(name: str, value: Floats, allowed: str, least: float, most: float = math.inf) -> None:
    values = np.asarray(value, dtype=float)
    wrong = (values < least) | (values > most)
    if np.any(wrong):
        raise InputError(name, f"{float(values[wrong].flat[0] if values.ndim else values):g}", allowed)


def _properties(
    gas: Gas,
    upstream: Floats,
    temperature: Floats | None,
    shape: tuple[int, ...],
    state_at: tuple[float, float | None] | None,
) -> tuple[NDArray[np.float64], ...]:
    """Pressure, temperature, compressibility, exponent and molar mass, each broadcast against the others."""
    p = np.asarray(upstream, dtype=float)
    if state_at is not None:
        state = gas_state(gas, *state_at)
        t = np.asarray(state.temperature if temperature is None else temperature, dtype=float)
        return p, t, *(np.asarray(x) for x in (state.compressibility, state.exponent, state.molar_mass))
    nan_or = [x if temperature is not None else None for x in np.ravel(_each(temperature, shape))]
    states = [_state_or_nan(gas, float(x), t) for x, t in zip(np.ravel(_each(p, shape)), nan_or, strict=True)]
    columns = np.array([(s.temperature, s.compressibility, s.exponent, s.molar_mass) if s else (np.nan,) * 4
                        for s in states])  # fmt: skip
    t, z, n, mass = (columns[:, i].reshape(shape) for i in range(4))
    return p, t, z, n, mass


def _each(value: Floats | None, shape: tuple[int, ...]) -> NDArray[np.float64]:
    return np.broadcast_to(np.asarray(np.nan if value is None else value, dtype=float), shape)


def _state_or_nan(gas: Gas, pressure: float, temperature: float | None) -> GasState | None:
    if math.isnan(pressure) or (temperature is not None and math.isnan(temperature)):
        return None
    state = gas_state(gas, pressure, None if temperature is None else float(temperature))
    if state.phase == "liquid":
        raise InputError(
            "pressure_abs", f"{pressure:g} Pa", f"one at which {gas.name} is a gas; ask for liquids one at a time"
        )
    return state


def _coefficient(
    r: NDArray[np.float64], n: NDArray[np.float64], edge: Edge, coefficient: Floats | None
) -> NDArray[np.float64]:
    if coefficient is not None:
        return np.asarray(coefficient, dtype=float)
    if edge == "rounded":
        return np.asarray(ROUNDED)
    sharp = np.asarray(sharp_edge_coefficient(r, n))
    return sharp if edge == "sharp" else np.sqrt(sharp * ROUNDED)


def _flow_function(
    r: NDArray[np.float64], n: NDArray[np.float64], critical: NDArray[np.float64]
) -> NDArray[np.float64]:
    """ψ(r, n); below the critical ratio it keeps its critical value."""
    n = np.where(np.abs(n - 1) < 1e-6, 1 + 1e-6, n)
    jet = np.minimum(np.maximum(r, critical), 1.0)
    return jet ** (1 / n) * np.sqrt(2 * n / (n - 1) * -np.expm1((n - 1) / n * np.log(jet)))


def _regime(r: NDArray[np.float64], critical: NDArray[np.float64]) -> NDArray[np.str_]:
    flowing = np.where(r <= critical, "choked", np.where(r < 1, "subsonic", "none"))
    return np.where(np.isnan(r), "unknown", flowing)


def _notes(gas: Gas, r: float, upstream: float, coefficient: Floats | None, edge: Edge) -> tuple[Sentence, ...]:
    notes = []
    if r >= 1:
        notes.append(say("no-pressure-difference", "There is no pressure across the opening, so nothing flows."))
    if gas.inwards:
        notes.append(say("air-drawn-in", "Air is drawn in from around; the flow is that of the air."))
    if coefficient is None and edge == "unknown":
        notes.append(say("edge-unknown", "The opening's edge is not known; the interval covers sharp and rounded."))
    return tuple(notes)


def _liquid(
    state: GasState,
    downstream: float,
    area: float,
    edge: Edge,
    coefficient: Floats | None,
    density: float,
    diameter_sigma: float,
) -> Flow:
    release = liquid_release(state, downstream, area, None if coefficient is None else float(coefficient), edge)
    spread = release.uncertain and replace(release.uncertain, own=math.hypot(release.uncertain.own, 2 * diameter_sigma))
    flow = release.mass_flow
    return Flow(
        state.gas.name,
        flow,
        flow / density,
        release.regime,
        release.coefficient,
        spread,
        (*state.notes, *release.notes),
        state.gas.inwards,
    )
