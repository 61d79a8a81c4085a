"""The shaft's speed where nobody wrote it down but the parts are known.

The strongest families may be any part's, the shaft's own or an element's cage's, and each would mean another speed.
What else must then stand is known too: lines of the shaft itself and sidebands at ± its rate where a race is struck,
sidebands at ± the cage's rate where an element is (McFadden & Smith, JSV 96 (1984) 69-82; Smith & Randall, MSSP 64-65
(2015) 100-131), the cage's rate being a fixed fraction of the element's. Among the speeds whose company is beyond
chance the one is believed at which one part and the shaft account for most of all lines, and clearly for more than at
any other.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.hearing.geometry import Expected, Part
from earwitness.sound.mains import nominal_mains
from earwitness.sound.orders import Lines, log10_chance, running

SLOWEST_HZ, FASTEST_HZ = 4.0, 75.0  # of machines: 240 to 4,500 turns a minute
_ASKED, _BEYOND = 4.0, 8.0  # decades of its company, from which a speed is asked what it accounts for, and believed
_ANOTHER = 0.03  # speeds nearer than this are one
_FAMILIES = 4  # strongest families that are asked
_LEAST, _BESIDE = 0.05, 0.3  # share of all lines that a family must account for, and of what the strongest does
_FUNDAMENTAL = 0.2  # share of a family that its own first line must hold, else it is a fraction of the true one
_SLIPS = np.array([0.99, 0.995, 1.0, 1.005, 1.01])[:, None]  # cage's rate over the fraction of the element's
_PART, _BOTH = 0.1, 0.3  # share of all lines that one part, and it and the shaft together, must account for
_CLEARLY = 0.9  # of what the best speed accounts for, what the next may
_SHAFT_MULTIPLES = 4.5


def speed_of_parts(lines: Lines, expected: Expected, mains_hz: float | None) -> float | None:
    """The shaft's speed from a family's company of lines, or None where no speed stands out. [Hz]

    Parameters
    ----------
    lines : Lines
    expected : Expected, of a bearing whose parts are given
    mains_hz : float or None, where unknown both 50 and 60 are left out [Hz]
    """
    avoid = lines.near_multiples(nominal_mains(mains_hz), at_most=1.0)
    told: list[tuple[float, float]] = []
    for hz in _strongest(lines, avoid):
        told += [*_speeds(lines, avoid, expected, hz), *_of_shaft_or_cage(lines, avoid, expected, hz)]
    profile = lines.profile(lines.standing_out(avoid, 1.0, lines.top_hz))
    found: list[tuple[float, float, float]] = []
    for decades, speed_hz in sorted(told, reverse=True):
        in_reach = decades > _ASKED and SLOWEST_HZ <= speed_hz <= FASTEST_HZ
        if in_reach and not any(abs(speed_hz / other - 1) < _ANOTHER / 2 for *_, other in found):
            found.append((_accounts_for(lines, profile, expected, speed_hz), decades, speed_hz))
    if not found:
        return None
    most, decades, speed_hz = max(found)
    others = [account for account, _, other in found if abs(other / speed_hz - 1) > _ANOTHER]
    clear = most >= _BOTH and decades >= _BEYOND and max(others, default=0.0) <= _CLEARLY * most
    return speed_hz if clear else None


def _accounts_for(lines: Lines, profile: NDArray[Any], expected: Expected, speed_hz: float) -> float:
    """Share of all lines that one part with its sidebands and the shaft account for at this speed; the shaft for no
    more than the part, since any line is some shaft's."""
    on_shaft = lines.near_multiples([speed_hz], at_most=0.03 * speed_hz)
    rest = running(np.where(on_shaft, 0.0, profile))
    most = 0.0
    for part in expected.parts:
        rates = np.arange(part.low * speed_hz, part.high * speed_hz + lines.step_hz / 4, lines.step_hz / 2)
        side_hz = sum(expected.cage) / 2 * speed_hz if part.verdict == "rolling-element" else speed_hz
        most = max(most, float(lines.shares(rest, rates, side_hz).max()))
    low = np.arange(len(profile)) * lines.step_hz <= _SHAFT_MULTIPLES * speed_hz
    return most + min(float(profile[on_shaft & low].sum()), most) if most >= _PART else 0.0


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


def _of_shaft_or_cage(
    lines: Lines, avoid: NDArray[np.bool_], expected: Expected, hz: float
) -> Iterator[tuple[float, float]]:
    """The family may be the shaft's own, or an element's cage's: decades of what a part then adds, and the speed."""
    cage = sum(expected.cage) / 2
    for part in expected.parts:
        element = part.verdict == "rolling-element"
        if SLOWEST_HZ <= hz <= FASTEST_HZ:
            rates = np.arange(part.low * hz, part.high * hz + lines.step_hz / 4, lines.step_hz / 4)
            company = _with_sides(rates, cage * hz if element else hz)
            yield _clearest(lines, avoid, hz, rates, company, len(rates) / 4)[0], hz
        if element and part.nominal and SLOWEST_HZ <= hz / cage <= FASTEST_HZ:
            rates = part.nominal / cage * hz * np.arange(0.985, 1.015, 0.001)
            decades, own_hz = _clearest(lines, avoid, hz, rates, _with_sides(rates, hz), len(rates))
            yield decades, own_hz / part.nominal


def _with_sides(rates: NDArray[Any], side_hz: float) -> list[NDArray[Any]]:
    return [rates, 2 * rates, *(k * rates + side for k in (1, 2) for side in (-side_hz, side_hz))]


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
