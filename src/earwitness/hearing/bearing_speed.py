"""The shaft's speed where nobody wrote it down but the parts are known.

The strongest family may be any part's, and each part would mean another speed. What else must then stand is known too:
lines of the shaft itself and sidebands at ± its rate where a race is struck, sidebands at ± the cage's rate where an
element is (McFadden & Smith, JSV 96 (1984) 69-82; Smith & Randall, MSSP 64-65 (2015) 100-131), the cage's rate being a
fixed fraction of the element's. The speed is believed whose company is far beyond chance and far beyond that of any
other speed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.hearing.geometry import Expected, Part
from earwitness.sound.orders import Lines, log10_chance

SLOWEST_HZ, FASTEST_HZ = 4.0, 75.0  # of machines: 240 to 4,500 turns a minute
_BEYOND = 6.0  # decades beyond chance, and beyond the next speed, from which a speed is believed
_ANOTHER = 0.03  # speeds nearer than this are one
_FAMILIES = 4  # strongest families that are asked
_LEAST, _BESIDE = 0.05, 0.3  # share of all lines that a family must account for, and of what the strongest does
_FUNDAMENTAL = 0.2  # share of a family that its own first line must hold, else it is a fraction of the true one
_SLIPS = np.array([0.99, 0.995, 1.0, 1.005, 1.01])[:, None]  # cage's rate over the fraction of the element's


def speed_of_parts(lines: Lines, expected: Expected, mains_hz: float | None) -> float | None:
    """The shaft's speed from a family's company of lines, or None where no speed stands out. [Hz]

    Parameters
    ----------
    lines : Lines
    expected : Expected, of a bearing whose parts are given
    mains_hz : float or None, where unknown both 50 and 60 are left out [Hz]
    """
    avoid = lines.near_multiples((mains_hz,) if mains_hz else (50.0, 60.0), at_most=1.0)
    found = [told for hz in _strongest(lines, avoid) for told in _speeds(lines, avoid, expected, hz)]
    if not found:
        return None
    decades, speed_hz = max(found)
    others = [d for d, other in found if abs(other / speed_hz - 1) > _ANOTHER]
    return speed_hz if decades > _BEYOND and decades - max([0.0, *others]) > _BEYOND else None


def _strongest(lines: Lines, avoid: NDArray[np.bool_]) -> list[float]:
    """Fundamentals of the families that account for most, none a fraction or a multiple of another."""
    profile = lines.profile(lines.standing_out(avoid, 1.0, lines.top_hz))
    candidates = np.arange(6.0, lines.top_hz / 2.5, lines.step_hz / 2)
    alone = lines.shares(profile, candidates, 0.0, pairs=0)
    first = lines.shares(profile, candidates, 0.0, pairs=0, harmonics=1)
    alone[first <= _FUNDAMENTAL * alone] = 0
    chosen: list[float] = []
    for at in np.argsort(-alone):
        hz = float(candidates[at])
        if len(chosen) == _FAMILIES or alone[at] < max(_LEAST, _BESIDE * alone.max()):
            break
        if not any(_multiple(hz, other) or abs(hz - other) < 4 * lines.step_hz for other in chosen):
            chosen.append(hz)
    return [hz for hz in chosen if not any(other < 0.9 * hz and _multiple(hz, other) for other in chosen)]


def _multiple(hz: float, of_hz: float) -> bool:
    whole = max(round(hz / of_hz), 1)
    return abs(hz / of_hz - whole) < 0.006 * whole


def _speeds(lines: Lines, avoid: NDArray[np.bool_], expected: Expected, hz: float) -> Iterator[tuple[float, float]]:
    """For each part that the family may be of: decades beyond chance of its company, and the speed."""
    for part in expected.parts:
        low, high = max(hz / part.high, SLOWEST_HZ), min(hz / part.low, FASTEST_HZ)
        if low >= high or not part.nominal:
            continue
        speeds = np.arange(low, high + lines.step_hz / 4, lines.step_hz / 4)
        if part.verdict == "rolling-element":
            yield _of_element(lines, avoid, expected, part, hz, speeds)
        else:
            sides = [hz - speeds, hz + speeds, 2 * hz - speeds, 2 * hz + speeds]
            yield _clearest(lines, avoid, hz, speeds, [speeds, 2 * speeds, *sides], len(speeds) / 4)


def _of_element(
    lines: Lines, avoid: NDArray[np.bool_], expected: Expected, part: Part, hz: float, speeds: NDArray[Any]
) -> tuple[float, float]:
    """An element's family: the cage's rate follows from its own, the speed from the shaft's lines, else from its own
    without slip."""
    nominal = part.nominal or 1.0
    cage = sum(expected.cage) / 2 / nominal * hz * _SLIPS[:, 0]
    beside = [cage, *(k * hz + side * n * cage for k, n in ((1, 1), (1, 2), (2, 1)) for side in (-1, 1))]
    sides, _ = _clearest(lines, avoid, hz, cage, beside, len(cage))
    own, shaft_hz = _clearest(lines, avoid, hz, speeds, [speeds, 2 * speeds], len(speeds) / 2)
    return max(sides, 0.0) + max(own, 0.0), shaft_hz if own > _BEYOND / 2 else hz / nominal


def _clearest(
    lines: Lines,
    avoid: NDArray[np.bool_],
    hz: float,
    rates: NDArray[Any],
    company: Sequence[NDArray[Any]],
    looks: float,
) -> tuple[float, float]:
    """Decades beyond chance of the lines in company at the best of the rates, looks counted, and that rate."""
    spots = np.stack(company)
    at = np.rint(spots / lines.step_hz).astype(np.intp)
    own = np.abs(spots - np.maximum(np.rint(spots / hz), 1) * hz) <= 4 * lines.step_hz
    usable = (at > 2) & (at < lines.surprise.shape[1]) & ~own
    at = np.clip(at, 0, lines.surprise.shape[1] - 1)
    usable &= ~avoid[at]
    total = (lines.surprise[:, at] * usable).sum(axis=1)
    decades = -(log10_chance(total, np.broadcast_to(usable.sum(axis=0), total.shape)).min(axis=0))
    best = int(decades.argmax())
    return float(decades[best]) - math.log10(max(looks, 1.0) * len(lines.names)), float(rates[best])
