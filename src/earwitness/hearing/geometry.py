"""From the parts of a rolling bearing to the rates at which a fault on each part is struck.

γ = d/D·cos α. Orders of the shaft's speed, outer ring standing still: cage (1-γ)/2; outer race n(1-γ)/2; inner race
n(1+γ)/2; rolling element D/(2d)·(1-γ²) turns about itself, and a fault on it strikes both races, so twice that.
(Smith & Randall, MSSP 64-65 (2015) 100-131, section 2.)
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from earwitness.errors import InputError
from earwitness.sentence import Sentence, say

# Slip of the cage lets outer-race lines fall by up to 3 % and inner-race lines rise by a little less; a contact angle
# changed by load, and a speed read off a plate, move either by up to 2 % both ways.
_SLIP = {"outer-race": (0.97, 1.02), "inner-race": (0.98, 1.025), "rolling-element": (0.97, 1.03)}
# ISO 15: bore and outside diameter in mm of the deep-groove series by bore code (00…03, then 5 mm a step).
_BORES = {0: 10, 1: 12, 2: 15, 3: 17}
_OUTSIDE = {
    "60": (26, 28, 32, 35, 42, 47, 55, 62, 68, 75, 80, 90, 95, 100, 110, 115, 125, 130, 140, 145, 150),
    "62": (30, 32, 35, 40, 47, 52, 62, 72, 80, 85, 90, 100, 110, 120, 125, 130, 140, 150, 160, 170, 180),
    "63": (35, 37, 42, 47, 52, 62, 72, 80, 90, 100, 110, 120, 130, 140, 150, 160, 170, 180, 190, 200, 215),
}


@dataclass(frozen=True)
class DefectOrders:
    """Lines per turn of the shaft. `spin` is the element's own turning; its fault line is at twice that."""

    cage: float
    outer: float
    inner: float
    spin: float

    @property
    def element(self) -> float:
        return 2 * self.spin


@dataclass(frozen=True)
class Part:
    """Where the line of a fault on one part may stand, in orders of the shaft; nominal: where without slip."""

    verdict: str
    low: float
    high: float
    nominal: float | None = None


@dataclass(frozen=True)
class Expected:
    """The three parts' lines and the cage's, and how far that is known: "given", "typical" or "unknown"."""

    outer: Part
    inner: Part
    element: Part
    cage: tuple[float, float]
    known: str
    note: Sentence | None = None

    @property
    def parts(self) -> tuple[Part, Part, Part]:
        return self.outer, self.inner, self.element


def defect_orders(
    rolling_elements: int, element_m: float, pitch_m: float, contact_angle_rad: float = 0.0
) -> DefectOrders:
    """Defect orders of a bearing, from its parts.

    Parameters
    ----------
    rolling_elements : int, at least 3 [1]
    element_m : float, diameter of a rolling element [m]
    pitch_m : float, pitch diameter, larger than the element's [m]
    contact_angle_rad : float, 0 up to but not including π/2 [rad]

    Raises
    ------
    InputError : parts that make no bearing.

    Examples
    --------
    >>> o = defect_orders(9, 7.94e-3, 39.04e-3)
    >>> round(o.outer, 3), round(o.inner, 3), round(o.element, 3)
    (3.585, 5.415, 4.713)
    """
    if rolling_elements < 3:
        raise InputError("rolling_elements", rolling_elements, "3 or more")
    if not 0 < element_m < pitch_m:
        raise InputError("element_m", element_m, f"more than 0 and less than the pitch diameter {pitch_m:g} m")
    if not 0 <= contact_angle_rad < math.pi / 2:
        raise InputError("contact_angle_rad", contact_angle_rad, "0 up to a right angle")
    gamma = element_m / pitch_m * math.cos(contact_angle_rad)
    return DefectOrders(
        cage=(1 - gamma) / 2,
        outer=rolling_elements / 2 * (1 - gamma),
        inner=rolling_elements / 2 * (1 + gamma),
        spin=pitch_m / element_m / 2 * (1 - gamma * gamma),
    )


def boundary_diameters(designation: str) -> tuple[float, float] | None:
    """Bore and outside diameter of a deep-groove ball bearing of series 60, 62 or 63 [m], or None for others.

    ISO 15 (boundary dimensions); seals, clearance and cage suffixes say nothing of them.

    Examples
    --------
    >>> boundary_diameters("6205-2RS C3")
    (0.025, 0.052)
    """
    match = re.match(r"\s*(60|62|63)([01]\d|20)(?!\d)", designation)
    if not match:
        return None
    series, code = match[1], int(match[2])
    bore = _BORES.get(code, 5 * code)
    return bore / 1000, _OUTSIDE[series][code] / 1000


def expected_given(orders: DefectOrders) -> Expected:
    """Where lines may stand when the parts are known: nominal orders, slip, load angle and speed allowed for."""

    def part(verdict: str, order: float) -> Part:
        low, high = _SLIP[verdict]
        return Part(verdict, order * low, order * high, order)

    return Expected(
        part("outer-race", orders.outer),
        part("inner-race", orders.inner),
        part("rolling-element", orders.element),
        (orders.cage * _SLIP["outer-race"][0], orders.cage * _SLIP["outer-race"][1]),
        "given",
    )


def expected_typical(counts: tuple[int, int], gammas: tuple[float, float], known: str, note: Sentence) -> Expected:
    """Where lines may stand when the number of elements and γ are known only as ranges.

    Parameters
    ----------
    counts : least and greatest number of rolling elements [1]
    gammas : least and greatest γ [ratio]
    """
    (few, many), (small, large) = counts, gammas
    return Expected(
        Part("outer-race", few / 2 * (1 - large) * 0.98, many / 2 * (1 - small) * 1.01),
        Part("inner-race", few / 2 * (1 + small) * 0.99, many / 2 * (1 + large) * 1.01),
        Part("rolling-element", (1 / large - large) * 0.98, (1 / small - small) * 1.02),
        ((1 - large) / 2 * 0.98, (1 - small) / 2 * 1.02),
        known,
        note,
    )


def expected_of_designation(designation: str) -> Expected | None:
    """Typical lines of a deep-groove ball bearing by its designation, or None where it is not of such a series.

    A designation fixes the boundary dimensions (ISO 15), not the parts: makers differ. Common practice: balls of
    0.30 of the ring space D - d, give or take 7 %, on the mean diameter, filling 0.585 of the pitch circle, give or
    take one.
    """
    diameters = boundary_diameters(designation)
    if diameters is None:
        return None
    bore, outside = diameters
    gamma = 0.30 * (outside - bore) / ((outside + bore) / 2)
    count = round(0.585 * math.pi / gamma)
    note = say(
        "typical-geometry",
        "The designation {designation} does not fix what is inside: lines are looked for over the range that is"
        " typical ({few} to {many} balls). The maker's number of balls and diameters would narrow it.",
        designation=designation.strip(),
        few=count - 1,
        many=count + 1,
    )
    return expected_typical((count - 1, count + 1), (gamma * 0.93, gamma * 1.07), "typical", note)


def expected_of_count(rolling_elements: int) -> Expected:
    """Lines of a bearing of which only the number of rolling elements is known: outer near 0.4 n, inner near 0.6 n.

    Parameters
    ----------
    rolling_elements : int [1]
    """
    note = say(
        "count-only",
        "Of the bearing only its {count} rolling elements are known: outer-race lines are looked for near {outer:.1f}"
        " times the shaft's speed, inner-race lines near {inner:.1f} times (common practice).",
        count=rolling_elements,
        outer=0.4 * rolling_elements,
        inner=0.6 * rolling_elements,
    )
    full = math.pi / rolling_elements  # γ of elements that touch; cages part them, more in ball bearings
    gammas = min(max(0.45 * full, 0.1), 0.6 * full), min(0.92 * full, 0.3)
    return expected_typical((rolling_elements, rolling_elements), gammas, "typical", note)


def expected_unknown() -> Expected:
    """Lines of a bearing of which nothing is known: 7 to 20 elements. Outer and inner races may lie at the same orders
    but for the lowest, where few elements are large ones: there only sidebands can tell them apart."""
    note = say(
        "unknown-geometry",
        "Nothing is known of the bearing's parts: its lines are told by their sidebands, and by where those of 7 to 20"
        " rolling elements may lie. The designation or the number of rolling elements would help.",
    )
    few, many = expected_of_count(7), expected_of_count(20)
    return Expected(
        Part("outer-race", few.outer.low, many.outer.high),
        Part("inner-race", few.inner.low, many.inner.high),
        Part("rolling-element", few.element.low, many.element.high),
        (few.cage[0], many.cage[1]),
        "unknown",
        note,
    )
