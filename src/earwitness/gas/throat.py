"""The choked throat in one number: the exponent of an isentrope p·v**n that lets through as much as the real gas."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from scipy.constants import R as GAS_CONSTANT


def ideal_critical_flow_factor(exponent: float) -> float:
    """C* = G·√(R·T0/M)/p0 of a perfect gas, √(n·(2/(n+1))**((n+1)/(n−1))) [1].

    Parameters
    ----------
    exponent : float, n, above 0; cp/cv for a perfect gas [1]

    References
    ----------
    ISO 9300, critical-flow function.

    Examples
    --------
    >>> round(ideal_critical_flow_factor(1.4), 6)
    0.684731
    """
    if abs(exponent - 1) < 1e-6:
        return math.exp(-0.5)
    return math.sqrt(exponent * (2 / (exponent + 1)) ** ((exponent + 1) / (exponent - 1)))


def exponent_of_isentrope(factor: float, compressibility: float) -> float:
    """The exponent n with which the ideal formula gives a real gas's critical flow: C*(n) = C*·√Z.

    Parameters
    ----------
    factor : float, C* of the real gas [1]
    compressibility : float, Z upstream [1]

    Examples
    --------
    >>> round(exponent_of_isentrope(0.684731, 1.0), 4)
    1.4
    """
    from scipy.optimize import brentq

    square = factor**2 * compressibility
    return float(brentq(lambda n: ideal_critical_flow_factor(n) ** 2 - square, 0.2, 12.0, xtol=1e-10))


@dataclass(frozen=True)
class Expansion:
    """A real gas that leaves a vessel without loss, by the equations of a property library: `fluid` is the library's
    own object, at rest at pressure_abs [Pa absolute] and kelvin [K], its phase held as gas."""

    library: Any
    fluid: Any
    pressure_abs: float
    kelvin: float

    def to_the_speed_of_sound(self) -> float | None:
        """C* by Newton's method on density and temperature at the throat: the entropy is that upstream, the speed that
        of sound. The phase is held as gas: nothing condenses inside a short opening. None where there is no such
        throat."""
        fluid, library, kelvin = self.fluid, self.library, self.kelvin
        s0, h0 = fluid.smass(), fluid.hmass()
        density, temperature, step = fluid.rhomass() * 0.63, kelvin * 0.85, 1e-5

        def off(rho: float, t: float) -> tuple[float, float]:
            fluid.update(library.DmassT_INPUTS, rho, t)
            return (fluid.smass() - s0) * kelvin, h0 - fluid.hmass() - fluid.speed_sound() ** 2 / 2

        for _ in range(40):
            a0, b0 = off(density, temperature)
            a1, b1 = off(density * (1 + step), temperature)
            a2, b2 = off(density, temperature * (1 + step))
            # derivatives for a relative change of density and temperature
            ad, bd, at, bt = (a1 - a0) / step, (b1 - b0) / step, (a2 - a0) / step, (b2 - b0) / step
            det = ad * bt - at * bd
            if det == 0 or not math.isfinite(det):
                return None
            d_density, d_temperature = (at * b0 - bt * a0) / det, (bd * a0 - ad * b0) / det
            density *= 1 + max(-0.3, min(0.3, d_density))
            temperature *= 1 + max(-0.2, min(0.2, d_temperature))
            if abs(d_density) + abs(d_temperature) < 1e-9:
                off(density, temperature)
                factor = self._factor(density * fluid.speed_sound())
                return factor if 0.3 < factor < 1.5 else None
        return None

    def in_equilibrium(self) -> float | None:
        """C* of what condenses as it expands: the largest mass flux along the isentrope. For saturated steam Napier's
        rule lies within 2 % of it."""
        from scipy.optimize import minimize_scalar

        fluid, library = self.fluid, self.library

        def minus_flux(ratio: float) -> float:
            fluid.update(library.PSmass_INPUTS, self.pressure_abs * ratio, s0)
            return -float(fluid.rhomass()) * math.sqrt(max(0.0, 2 * (h0 - fluid.hmass())))

        try:
            fluid.update(library.PT_INPUTS, self.pressure_abs, self.kelvin)
            s0, h0 = fluid.smass(), fluid.hmass()
            fluid.unspecify_phase()
            best = minimize_scalar(minus_flux, bounds=(0.2, 0.9), method="bounded", options={"xatol": 1e-4})
        except ValueError:  # no equilibrium state is known there
            return None
        return self._factor(-float(best.fun))

    def _factor(self, flux: float) -> float:
        return float(flux * math.sqrt(GAS_CONSTANT * self.kelvin / self.fluid.molar_mass()) / self.pressure_abs)
