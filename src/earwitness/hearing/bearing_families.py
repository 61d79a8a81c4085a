"""Which families of envelope lines a bearing's sound holds, and to which part each belongs.

Significance alone convicts the wrong part: a damaged inner race throws lines at every sum of its own rate, the shaft's
and the cage's, and one of them always falls near some other part's line. So each part is also asked what share of all
lines that stand out it accounts for, with its harmonics and sidebands; what belongs to the shaft or the mains is
taken out first.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.hearing.bearing_heard import CageHeard, FamiliesHeard, PartHeard
from earwitness.hearing.bearing_others import HIDDEN, SPEED_SEEN, Others
from earwitness.hearing.bearing_sidebands import cage_sidebands
from earwitness.hearing.bearing_sound import PLATE_TOLERANCE, TONES_TOLERANCE, BearingSound
from earwitness.hearing.geometry import Expected, Part
from earwitness.sound.humps import Hump, humps
from earwitness.sound.orders import HARMONICS, Lines, running
from earwitness.sound.turning import turning_by_tones

SPEED_TOLERANCE = 0.015  # how far the true speed may be from the one given
_REACH = 1 + SPEED_TOLERANCE
_GRID, _GRID_SEEN = 0.0015, 8.0  # a grid keeps its frequency to 75 mHz of 50 Hz nearly always; decades
_TONES_SEEN = 6.0  # decades from which the tones of its vibration correct the speed given
_SAME_SPEED = 0.002  # nearer than this a correction changes nothing but the lines' middle
_CAGE_LINES = 5  # the n-th harmonic of the cage's rate is the outer race's line, and n is 6 or more
_WANDER = 0.004  # half width of what a wandering speed makes of its strong multiples
_ALIKE = 0.01  # rates nearer than this are one
_SIDED = 0.1  # of a family's share, from which its sidebands are its own
_WIDEST, _SMEARED = 0.03, 0.002  # half width of a slipping part's line, of its rate at most and of its own frequency
_CLEAR = 6.0  # decades of a family that stands beside all that hides it
_SHALLOW = 0.07  # depth of swelling below which a view hardly counts


def families(sound: BearingSound, expected: Expected, speed_hz: float, mains_hz: float | None) -> FamiliesHeard:
    """Ask each part for its share of the lines.

    Parameters
    ----------
    sound : BearingSound
    expected : Expected
    speed_hz : float, of the shaft as given; its own lines may correct it by 1.5 % [Hz]
    mains_hz : float or None, where unknown both 50 and 60 are left out [Hz]
    """
    found, inner = _families(sound, expected, speed_hz, mains_hz), expected.inner
    low, high = inner.low * found.speed_hz, inner.high * found.speed_hz
    return replace(found, sided=sound.lines.sided_family(low, high, found.speed_hz, found.avoid))


def _families(sound: BearingSound, expected: Expected, speed_hz: float, mains_hz: float | None) -> FamiliesHeard:
    """At the speed as given, or as the shaft's own tones or lines correct it."""
    mains = _mains(sound.lines, mains_hz)
    by_tones, clear = turning_by_tones(sound.tones, speed_hz, PLATE_TOLERANCE, mains_hz)
    if clear >= _TONES_SEEN:
        turning, seen = sound.lines.turning(by_tones, TONES_TOLERANCE)  # exacter, where it is seen in the envelope too
        turning = turning if seen >= SPEED_SEEN else by_tones
        return _families_at(sound, expected, (turning, turning), clear, mains)
    orders = _of_shaft_alone(expected)
    turning, seen = sound.lines.turning(speed_hz, SPEED_TOLERANCE, [order for order in orders if order <= 2])
    if seen >= SPEED_SEEN:
        return _families_at(sound, expected, (turning, turning), seen, mains)
    turning, seen = sound.lines.shaft_speed(speed_hz, SPEED_TOLERANCE, orders)
    if seen < SPEED_SEEN:
        turning = speed_hz
    as_given = _families_at(sound, expected, (speed_hz, turning), seen, mains)
    if abs(turning / speed_hz - 1) < _SAME_SPEED:
        return as_given
    # A race's own harmonics with their sidebands can stand in for the shaft's multiples near by: a speed by higher
    # multiples alone counts only where a part explains more by it.
    as_heard = _families_at(sound, expected, (turning, turning), seen, mains)
    return as_heard if as_heard.strongest >= as_given.strongest else as_given


def _of_shaft_alone(expected: Expected) -> list[int]:
    """Multiples of the shaft's speed that no part's line may be taken for: an element that strikes one race harder than
    the other shows its spin, half of its rate, which in a bearing of 8 balls is twice the shaft's within 2 %."""
    ranges = [(part.low, part.high) for part in expected.parts]
    ranges.append((expected.element.low / 2, expected.element.high / 2))
    if expected.known == "unknown":
        ranges = []  # they would take all
    taken = [n for n in range(2, 16) if any(low / _REACH <= n <= high * _REACH for low, high in ranges)]
    return [order for order in range(1, 16) if not any(order % n == 0 for n in taken)]


@dataclass(frozen=True)
class _Account:
    """The envelope's energy in each view, (views,): of all lines that stand out and of broad rises, and altogether."""

    lines: Lines
    energy: NDArray[Any]  # (views, n + 1), running totals of the lines that stand out
    profile: NDArray[Any]  # (n + 1,), running totals of the views' mean
    standing: NDArray[Any]
    altogether: NDArray[Any]

    def without(self, taken: NDArray[np.bool_]) -> _Account:
        """What is left where some lines are another's: of the same whole."""
        energy, profile = (running(np.where(taken, 0.0, np.diff(total))) for total in (self.energy, self.profile))
        return replace(self, energy=energy, profile=profile)

    def shares(self, hz: float, spacing_hz: float, bulk: NDArray[Any], harmonics: int = 5) -> tuple[float, float]:
        """What a family accounts for with its harmonics, sidebands and broad rise: of all that stands out (mean over
        views), and of everything (in the view where that is most)."""
        pairs = 2 if spacing_hz else 0
        own = self.lines.shares(self.energy, np.array([hz]), spacing_hz, pairs, harmonics)[:, 0] + bulk
        return min(float((own / self.standing).mean()), 1.0), min(float((own / self.altogether).max()), 1.0)


def _account(lines: Lines, avoid: NDArray[np.bool_], low_hz: float, high_hz: float, rises: list[Hump]) -> _Account:
    energy = lines.standing_out(avoid, low_hz, high_hz)
    bulk = sum((_seen(hump) for hump in rises), np.zeros(len(energy)))
    power = np.square(lines.amplitude[:, round(low_hz / lines.step_hz) : round(high_hz / lines.step_hz) + 1])
    power[:, avoid[round(low_hz / lines.step_hz) : round(high_hz / lines.step_hz) + 1]] = 0
    return _Account(
        lines,
        running(energy),
        running(lines.profile(energy)),
        energy.sum(axis=1) + bulk + _SHALLOW**2,
        power.sum(axis=1) + _SHALLOW**2,
    )


def _seen(hump: Hump) -> NDArray[Any]:
    return hump.energy * weight_beyond_chance(hump.score)


def _families_at(
    sound: BearingSound, expected: Expected, speeds_hz: tuple[float, float], seen: float, mains: tuple[float, ...]
) -> FamiliesHeard:
    """speeds_hz : the one that the parts' lines are laid by, and the one that the shaft's own lines show."""
    lines, (turning, shown) = sound.lines, speeds_hz
    others = Others(lines, expected, turning, shown, seen, mains)
    avoid = others.taken
    skirts = lines.near_multiples([turning], at_most=0.1 * turning, skirt=_WANDER, peaked=True) | others.of_mains
    rises = [
        hump if part.nominal is not None else Hump(hump.hz, 0.0, np.zeros_like(hump.energy))
        for part, hump in zip(
            expected.parts,
            humps(lines, [(p.low * turning, p.high * turning) for p in expected.parts], skirts, sound.steady),
            strict=True,
        )
    ]
    top = min(4.5 * expected.inner.high * turning, lines.top_hz)
    account = _account(lines, avoid, 0.25 * turning, top, rises)
    cage = _cage(account, expected, turning, avoid)
    heard = {
        part.verdict: _ask(account, part, turning, cage.hz, avoid, hump)
        for part, hump in zip(expected.parts, rises, strict=True)
    }
    if expected.known != "given":
        first = max(heard.values(), key=lambda part: part.share)
        own = _lines_of(lines, first, cage.hz if first.part.verdict == "rolling-element" else turning)
        left, taken = account.without(own), avoid | own
        for part, hump in zip(expected.parts, rises, strict=True):
            if abs(heard[part.verdict].hz / first.hz - 1) > _ALIKE:
                heard[part.verdict] = _ask(left, part, turning, cage.hz, taken, hump)
        heard = _settle_overlaps(heard)
    hidden = tuple(
        part.verdict
        for part in (expected.outer, expected.inner)
        if heard[part.verdict].chance < _CLEAR and others.hide(part)
    )
    skirted = tuple(verdict for verdict, part in heard.items() if others.overshadow(part))
    cages = expected.cage[0] * turning, expected.cage[1] * turning
    beside = cage_sidebands(lines, account.profile, [part.hz for part in heard.values()], cages)
    return FamiliesHeard(heard, turning, seen, cage, hidden, skirted, avoid, lines.step_hz, cage_sides=beside)


def _mains(lines: Lines, mains_hz: float | None) -> tuple[float, ...]:
    """What may hum or click with the mains; what is fed by an inverter, at twice 50 or 60 Hz. A grid is seldom exactly
    at its nominal frequency: where lines near the double and its double stand out, they say where it is."""

    def twice(nominal_hz: float) -> float:
        hz, seen = lines.turning(2 * nominal_hz, _GRID)
        return hz if seen >= _GRID_SEEN and abs(hz / (2 * nominal_hz) - 1) <= _GRID else 2 * nominal_hz

    return (twice(mains_hz) / 2, twice(50.0), twice(60.0)) if mains_hz else (twice(50.0) / 2, twice(60.0) / 2)


def _ask(
    account: _Account, part: Part, turning: float, cage_hz: float, avoid: NDArray[np.bool_], hump: Hump
) -> PartHeard:
    lines = account.lines
    low, high = part.low * turning, part.high * turning
    spacing = cage_hz if part.verdict == "rolling-element" else turning
    candidates = np.arange(low, high + lines.step_hz / 2, lines.step_hz / 2)
    with_sides = lines.shares(account.profile, candidates, spacing)
    at = int(with_sides.argmax())
    hz = float(candidates[at])
    nominal = None if part.nominal is None else part.nominal * turning
    family = lines.best_family(low, high, avoid, nominal)
    if with_sides[at] <= 0:
        hz = family.hz
    elif nominal is None:  # in a wide range the family that is least by chance may be another than the share's
        there = lines.best_family(hz * (1 - HIDDEN), hz * (1 + HIDDEN), avoid)
        family = replace(there, score=family.score)
    alone = float(lines.shares(account.profile, np.array([hz]), spacing, pairs=0)[0])
    first = float(lines.shares(account.profile, np.array([hz]), spacing, pairs=0, harmonics=1)[0])
    beyond = weight_beyond_chance(max(family.score, hump.score))
    share, explains = (value * beyond for value in account.shares(hz, spacing, _seen(hump)))
    sidebands = max(float(with_sides[at]) - alone, 0.0)
    return PartHeard(part, hz, hz / turning, share, family.score, explains, family, sidebands, alone, first, hump.score)


def _lines_of(lines: Lines, heard: PartHeard, spacing_hz: float) -> NDArray[np.bool_]:
    """A family's lines: in a wide range its multiples, and the sidebands of one that has them, might be another part's
    too."""
    own = np.zeros(lines.surprise.shape[1], dtype=bool)
    if not heard.share:
        return own
    own = lines.near_multiples([heard.hz], at_most=_WIDEST * heard.hz, skirt=_SMEARED)
    if heard.sidebands > _SIDED * heard.share:
        harmonics = heard.hz * np.arange(1, HARMONICS + 1)[:, None]
        at_hz = (harmonics + spacing_hz * np.array([-2, -1, 1, 2])).ravel()
        half = np.maximum(2, at_hz * _SMEARED / 2 / lines.step_hz)
        for low, high in zip(np.maximum(at_hz / lines.step_hz - half, 0), at_hz / lines.step_hz + half, strict=True):
            own[round(low) : round(high) + 1] = True
    return own


def weight_beyond_chance(decades: float) -> float:
    """A share counts so far as its family is beyond chance: two lines make a share too, where there are only two.

    Parameters
    ----------
    decades : float, -log10 of the chance, 0 or more [decades]

    Returns
    -------
    float : 0 at chance, 1 from four decades on [1]

    Examples
    --------
    >>> weight_beyond_chance(2.0)
    0.5
    """
    return min(1.0, decades / 4.0)


def _cage(account: _Account, expected: Expected, turning: float, avoid: NDArray[np.bool_]) -> CageHeard:
    """The cage's rate and its share, from its first five harmonics."""
    lines = account.lines
    low, high = (order * turning for order in expected.cage)
    candidates = np.arange(low, high + lines.step_hz / 4, lines.step_hz / 8)
    share = lines.shares(account.profile, candidates, 0.0, pairs=0, harmonics=_CAGE_LINES)
    at = int(share.argmax())
    hz = float(candidates[at]) if share[at] > 0 else (low + high) / 2
    index = np.rint(hz * np.arange(1, _CAGE_LINES + 1) / lines.step_hz).astype(np.intp)
    index = index[index < lines.surprise.shape[1]]
    found = int((lines.surprise[:, index] * ~avoid[index] >= 5.0).sum(axis=1).max()) if len(index) else 0
    chance = lines.best_family(low, high, avoid).score
    beyond = weight_beyond_chance(chance)
    none = np.zeros(len(account.standing))
    fixed, explains = (value * beyond for value in account.shares(hz, 0.0, none, _CAGE_LINES))
    turned, _ = account.shares(turning - hz, 0.0, none, _CAGE_LINES)
    return CageHeard(hz, fixed, explains, found, turned, chance)


def _settle_overlaps(heard: dict[str, PartHeard]) -> dict[str, PartHeard]:
    """Where two parts claim the same line, the sidebands say whose it is: none, the outer race; ± shaft, the inner;
    ± cage, the element."""
    outer, inner, element = heard["outer-race"], heard["inner-race"], heard["rolling-element"]
    if abs(outer.hz / inner.hz - 1) < _ALIKE and inner.share > 0:
        to_inner = min(1.0, inner.sidebands / inner.share / 0.3)
        outer, inner = replace(outer, share=outer.share * (1 - to_inner)), replace(inner, share=inner.share * to_inner)
    for name, other in (("outer-race", outer), ("inner-race", inner)):
        if abs(other.hz / element.hz - 1) < _ALIKE:
            if element.sidebands > max(other.sidebands, 0.2 * element.share):
                other = replace(other, share=other.share * 0.3)
            elif name == "outer-race" or other.sidebands > 0.1 * other.share:  # an inner race has some too
                element = replace(element, share=element.share * 0.3)
        if name == "outer-race":
            outer = other
        else:
            inner = other
    return {"outer-race": outer, "inner-race": inner, "rolling-element": element}
