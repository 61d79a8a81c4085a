"""Where lines do not serve: slow shafts, whose single impacts are laid against each part's rate, and shafts whose speed
nobody wrote down."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.hearing.bearing_families import families, weight_beyond_chance
from earwitness.hearing.bearing_heard import CageHeard, FamiliesHeard, PartHeard
from earwitness.hearing.bearing_sound import BearingSound
from earwitness.hearing.bearing_speed import speed_of_parts
from earwitness.hearing.geometry import Expected, Part
from earwitness.sound.impulses import Impulses, train_strength
from earwitness.sound.mains import nominal_mains
from earwitness.sound.orders import Family, log10_chance

_TALL = 5  # the fifth tallest impact is the measure of the others
_BELOW_DB = 20.0  # below it an impact is another's echo or the noise
_ECHO = 0.06  # of a turn of the cage
_GAP = 0.08  # by which a gap may differ from a turn of the cage
_ECHO_OF_PART = 0.2  # of the shortest time between two blows on a part
# Share of the impacts that keep step with one part, and with another, whose lines then are of the first's making.
_IN_STEP, _OUT_OF_STEP = 0.3, 0.05
# How near a rate is to a multiple of another, and how much of the blows that one must have.
_ALIKE, _AS_MUCH = 0.01, 0.8
SPECTRAL_TURNS = 30.0  # of a slow shaft, from which its lines part


def trains(sound: BearingSound, expected: Expected, speed_hz: float) -> FamiliesHeard:
    """For slow shafts: how well the single impacts fall on each part's rate.

    Parameters
    ----------
    sound : BearingSound
    expected : Expected
    speed_hz : float, of the shaft [Hz]
    """
    echo_s = _ECHO_OF_PART / (max(part.high for part in expected.parts) * speed_hz)
    onsets = sound.impulses.at_s, blows(sound.impulses, echo_s)  # soft blows count, or hide among echoes

    def train(part: Part) -> PartHeard:
        return max((_train(at, sound.seconds, part, speed_hz) for at in onsets), key=lambda heard: heard.share)

    heard = _without_multiples({part.verdict: train(part) for part in expected.parts})
    cage = train(Part("cage", *expected.cage))
    overshadowed: tuple[str, ...] = ()
    if sound.seconds * speed_hz >= SPECTRAL_TURNS:  # long enough for lines as well: the clearer of both counts
        spectral = families(sound, expected, speed_hz, None)
        in_step = max(part.share for part in heard.values()) > _IN_STEP
        for verdict, part in spectral.parts.items():
            told_in_time = in_step and heard[verdict].share < _OUT_OF_STEP
            if part.share > heard[verdict].share and not told_in_time:
                heard[verdict] = part
                overshadowed += (verdict,) if verdict in spectral.overshadowed else ()
    told = CageHeard(cage.hz, cage.share, cage.explains, len(cage.family.found_hz), chance=cage.chance)
    return FamiliesHeard(heard, speed_hz, 0.0, told, overshadowed=overshadowed)


def _without_multiples(heard: dict[str, PartHeard]) -> dict[str, PartHeard]:
    """A train of blows is in step with every multiple of its rate too: those parts have no blows of their own."""

    def of_another(part: PartHeard) -> bool:
        for other in heard.values():
            times = round(part.hz / other.hz)
            if times >= 2 and abs(part.hz / other.hz / times - 1) < _ALIKE and other.share > _AS_MUCH * part.share:
                return True
        return False

    return {
        verdict: replace(part, share=0.0, chance=0.0, explains=0.0) if of_another(part) else part
        for verdict, part in heard.items()
    }


def cage_train(sound: BearingSound, expected: Expected, speed_hz: float) -> tuple[float, float]:
    """Which share of the single impacts falls on one turn of the cage, and which follows one turn after the last: all
    where it strikes once a turn.

    Parameters
    ----------
    sound : BearingSound
    expected : Expected
    speed_hz : float, of the shaft [Hz]
    """
    low, high = expected.cage
    at_s = blows(sound.impulses, _ECHO / (high * speed_hz))
    in_step = min(_train(at_s, sound.seconds, Part("cage", low, high), speed_hz).share, 1.0)
    apart = _one_turn_apart(at_s, low * speed_hz, high * speed_hz)
    return max(in_step, apart), apart


def blows(impulses: Impulses, echo_s: float) -> NDArray[Any]:
    """Times of the impacts that matter: not those more than 20 dB below the tall ones, nor what follows one so soon
    that it is its echo. [s]

    Parameters
    ----------
    impulses : Impulses
    echo_s : float, what follows an impact within it is its echo [s]
    """
    size = impulses.size_db
    if len(size) < _TALL:
        return impulses.at_s
    tall = float(np.partition(size, -_TALL)[-_TALL])  # a few knocks may be taller still
    at_s = impulses.at_s[size >= max(tall - _BELOW_DB, tall / 2)]
    kept: list[float] = []
    for at in at_s.tolist():
        if not kept or at - kept[-1] > echo_s:
            kept.append(at)
    return np.array(kept)


def _one_turn_apart(at_s: NDArray[Any], low_hz: float, high_hz: float) -> float:
    """Share of the gaps between impacts that last one turn, over what would by chance: a cage that slips loses step
    over the recording, hardly from one turn to the next."""
    if len(at_s) < _TALL:
        return 0.0
    gaps = np.diff(at_s)
    rates = np.linspace(low_hz, high_hz, max(3, math.ceil((high_hz / low_hz - 1) / _GAP * 2)))
    found = (np.abs(np.outer(rates, gaps) - 1) < _GAP).mean(axis=1)
    a_turn = gaps.mean() * rates  # of gaps at random so many lie there: the exponential law
    chance = np.exp(-(1 - _GAP) / a_turn) - np.exp(-(1 + _GAP) / a_turn)
    return max(0.0, float(((found - chance) / (1 - chance)).max()))


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
    avoid = lines.near_multiples(nominal_mains(mains_hz), at_most=1.0)
    profile = lines.profile(lines.standing_out(avoid, 3.0, lines.top_hz))
    strongest = np.arange(8.0, lines.top_hz / 2.5, lines.step_hz / 2)
    alone = lines.shares(profile, strongest, 0.0, pairs=0)
    hz = float(strongest[int(alone.argmax())])
    if alone.max() <= 0.05:
        return None
    spacings = np.arange(max(hz / 12.5, 2.0), hz / 2.0, lines.step_hz / 2)
    if len(spacings) == 0:
        return None
    sides = lines.shares(profile, np.full(len(spacings), hz), spacings, pairs=1) - alone.max()
    own = lines.shares(profile, spacings, 0.0, pairs=0, harmonics=3)
    both = np.minimum(sides, own)
    at = int(both.argmax())
    order = hz / spacings[at]
    fits = any(part.low <= order <= part.high for part in expected.parts)
    return float(spacings[at]) if both[at] > 0.03 and fits else None
