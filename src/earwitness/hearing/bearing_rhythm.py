"""Where lines do not serve: slow shafts, whose single impacts are laid against each part's rate, and shafts whose speed
nobody wrote down."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.hearing.bearing_families import CageHeard, FamiliesHeard, PartHeard, families, weight_beyond_chance
from earwitness.hearing.bearing_sound import BearingSound
from earwitness.hearing.bearing_speed import speed_of_parts
from earwitness.hearing.geometry import Expected, Part
from earwitness.sound.impulses import train_strength
from earwitness.sound.orders import Family, log10_chance

_GAPS = 8  # gaps between impacts, from which their lengths say something
_GAP = 0.06  # by which a gap may differ from a turn of the cage, beside what its rate may be off
SPECTRAL_TURNS = 30.0  # of a slow shaft, from which its lines part


def trains(sound: BearingSound, expected: Expected, speed_hz: float) -> FamiliesHeard:
    """For slow shafts: how well the single impacts fall on each part's rate.

    Parameters
    ----------
    sound : BearingSound
    expected : Expected
    speed_hz : float, of the shaft [Hz]
    """
    at = sound.impulses.at_s
    heard = {part.verdict: _train(at, sound.seconds, part, speed_hz) for part in expected.parts}
    low, high = (order * speed_hz for order in expected.cage)
    cage = _train(at, sound.seconds, Part("cage", low / speed_hz, high / speed_hz), speed_hz)
    overshadowed: tuple[str, ...] = ()
    if sound.seconds * speed_hz >= SPECTRAL_TURNS:  # long enough for lines as well: the clearer of both counts
        spectral = families(sound, expected, speed_hz, None)
        for verdict, part in spectral.parts.items():
            if part.share > heard[verdict].share:
                heard[verdict] = part
                overshadowed += (verdict,) if verdict in spectral.overshadowed else ()
    told = CageHeard(cage.hz, cage.share, cage.explains, len(cage.family.found_hz))
    return FamiliesHeard(heard, speed_hz, 0.0, told, overshadowed=overshadowed)


def cage_train(sound: BearingSound, expected: Expected, speed_hz: float) -> float:
    """Which share of the single impacts falls on one turn of the cage: all where it strikes once a turn.

    Parameters
    ----------
    sound : BearingSound
    expected : Expected
    speed_hz : float, of the shaft [Hz]
    """
    low, high = expected.cage
    at_s = sound.impulses.at_s
    in_step = min(_train(at_s, sound.seconds, Part("cage", low, high), speed_hz).share, 1.0)
    return max(in_step, _one_turn_apart(at_s, (low + high) / 2 * speed_hz, (high - low) / (high + low)))


def _one_turn_apart(at_s: NDArray[Any], hz: float, off: float) -> float:
    """Share of the gaps between impacts that last one turn, over what would by chance: a cage that slips loses step
    over the recording, hardly from one turn to the next."""
    if len(at_s) < _GAPS:
        return 0.0
    turns = np.diff(at_s) * hz
    wide = off + _GAP
    a_turn = np.diff(at_s).mean() * hz  # of gaps at random so many lie there: the exponential law
    chance = math.exp(-(1 - wide) / a_turn) - math.exp(-(1 + wide) / a_turn)
    return max(0.0, float((np.abs(turns - 1) < wide).mean()) - chance) / (1 - chance)


def _train(at_s: NDArray[Any], seconds: float, part: Part, speed_hz: float) -> PartHeard:
    """A part's train among the onsets: of n onsets in step each harmonic gives n, onsets without rhythm 1."""
    low, high = part.low * speed_hz, part.high * speed_hz
    rates = np.linspace(low, high, max(9, math.ceil((high - low) * seconds * 12)))
    if len(at_s) < 5:
        middle = (part.low + part.high) / 2
        return PartHeard(part, middle * speed_hz, middle, 0.0, 0.0, 0.0, Family(middle * speed_hz, 0.0, 0))
    strength = train_strength(at_s, rates)
    at = int(strength.argmax())
    looks = max((high - low) * seconds * 3, 1.0)
    chance = max(0.0, -float(log10_chance(strength[at], np.array(3))) - math.log10(looks))
    share = max(0.0, (float(strength[at]) / 3 - 1) / len(at_s)) * weight_beyond_chance(chance)
    found = tuple(float(rates[at] * h) for h in range(1, 4)) if chance > 3 else ()
    family = Family(float(rates[at]), chance, 0, found, share)
    return PartHeard(part, float(rates[at]), float(rates[at]) / speed_hz, share, chance, share, family)


def speed_from_sound(sound: BearingSound, expected: Expected, mains_hz: float | None) -> float | None:
    """The shaft's speed from the spacing of sidebands about the strongest family that is not the mains', or None.

    Only a spacing that also stands as a line of its own, and at which the strongest family then lies where some
    part's line is expected, is believed. Where the parts are given, see `speed_of_parts`.

    Parameters
    ----------
    sound : BearingSound
    expected : Expected
    mains_hz : float or None [Hz]
    """
    lines = sound.lines
    if expected.known == "given":
        return speed_of_parts(lines, expected, mains_hz)
    avoid = lines.near_multiples((mains_hz,) if mains_hz else (50.0, 60.0), at_most=1.0)
    profile = lines.profile(lines.standing_out(avoid, 3.0, lines.top_hz))
    strongest = np.arange(8.0, lines.top_hz / 2.5, lines.step_hz / 2)
    alone = lines.shares(profile, strongest, 0.0, pairs=0)
    hz = float(strongest[int(alone.argmax())])
    if alone.max() <= 0.05:
        return None
    spacings = np.arange(max(hz / 12.5, 2.0), hz / 2.0, lines.step_hz / 2)
    if len(spacings) == 0:
        return None
    sides = np.array([float(lines.shares(profile, np.array([hz]), s, pairs=1)[0]) for s in spacings]) - alone.max()
    own = lines.shares(profile, spacings, 0.0, pairs=0, harmonics=3)
    both = np.minimum(sides, own)
    at = int(both.argmax())
    order = hz / spacings[at]
    fits = any(part.low <= order <= part.high for part in expected.parts)
    return float(spacings[at]) if both[at] > 0.03 and fits else None
