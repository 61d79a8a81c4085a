"""When what is behind the opening is a liquid (LPG, ammonia, a refrigerant): how much comes out, between bounds."""

from __future__ import annotations

import math
from dataclasses import dataclass

from earwitness.gas.discharge import INCOMPRESSIBLE_SHARP, ROUNDED
from earwitness.gas.gases import GasState, evaporation
from earwitness.interval import Z_95, Uncertain
from earwitness.sentence import Sentence, say


@dataclass(frozen=True)
class LiquidRelease:
    """mass_flow [kg/s] with its spread; regime "liquid" (stays liquid in the opening) or "flashing" (boils in it)."""

    mass_flow: float
    low: float
    high: float
    regime: str
    coefficient: float
    uncertain: Uncertain | None
    notes: tuple[Sentence, ...]


def liquid_release(
    state: GasState, downstream_abs: float, area: float, coefficient: float | None = None, edge: str = "sharp"
) -> LiquidRelease:
    """A liquid through an opening, between an upper and a lower bound where it boils on the way.

    The upper bound is that of a liquid that does not boil in the opening, Cd·A·√(2·ρ·Δp). Where it boils, the lower
    one is the equilibrium-rate model for a liquid at its boiling pressure, A·h_fg/(v_fg·√(cp·T)), increased by
    the liquid flow of the pressure above boiling: G = √(G_ERM² + (Cd·√(2·ρ·(p − p_s)))²).

    Parameters
    ----------
    state : GasState
        Upstream, in phase "liquid".
    downstream_abs : float [Pa absolute]
    area : float, of the opening [m2]
    coefficient : float or None, discharge coefficient [1]
    edge : str

    References
    ----------
    Fauske, "Flashing flows: some practical guidelines for emergency releases", Plant/Operations Progress 4 (1985)
    132; CCPS Guidelines for Consequence Analysis, source models (equations from memory).
    """
    by_edge = {"sharp": INCOMPRESSIBLE_SHARP, "rounded": ROUNDED}
    between = math.sqrt(INCOMPRESSIBLE_SHARP * ROUNDED)  # edge unknown
    cd = coefficient if coefficient is not None else by_edge.get(edge, between)
    drop = max(0.0, state.pressure_abs - downstream_abs)
    high = cd * area * math.sqrt(2 * state.density * drop)
    boiling = state.saturation_pressure or 0.0
    if drop == 0:
        note = say("no-pressure-difference", "There is no pressure across the opening, so nothing flows.")
        return LiquidRelease(0.0, 0.0, 0.0, "none", cd, None, (note,))
    if boiling <= downstream_abs:
        return LiquidRelease(high, high, high, "liquid", cd, Uncertain(high, 0.05), (_stays_liquid(state),))
    heat, expansion, capacity = evaporation(state)
    rate = heat / (expansion * math.sqrt(capacity * state.temperature))
    low = area * math.hypot(rate, cd * math.sqrt(2 * state.density * max(0.0, state.pressure_abs - boiling)))
    low = min(low, high)
    middle = math.sqrt(low * high)
    spread = Uncertain(middle, max(math.log(high / middle) / Z_95, 0.1))
    return LiquidRelease(middle, low, high, "flashing", cd, spread, (_flashes(state, low, high),))


def _stays_liquid(state: GasState) -> Sentence:
    return say(
        "liquid-escapes",
        "At {pressure:.3g} bar absolute and {celsius:.0f} °C {gas} is a liquid, and it comes out as one; "
        "the flow is that of a liquid.",
        pressure=state.pressure_abs / 1e5,
        celsius=state.temperature - 273.15,
        gas=state.gas.shown,
    )


def _flashes(state: GasState, low: float, high: float) -> Sentence:
    return say(
        "liquid-flashes",
        "At {pressure:.3g} bar absolute and {celsius:.0f} °C {gas} is a liquid that boils as it comes out: between "
        "{low_g_s:.2g} and {high_g_s:.2g} g/s, far more than gas through the same opening; its cold burns skin.",
        pressure=state.pressure_abs / 1e5,
        celsius=state.temperature - 273.15,
        gas=state.gas.shown,
        low_g_s=low * 1000,
        high_g_s=high * 1000,
    )
