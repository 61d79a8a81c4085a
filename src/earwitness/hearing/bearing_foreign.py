"""Lines that keep a time of their own: no part's, no multiple of the shaft or the mains, no drive's.

A damaged race throws combs at sums of its own, the shaft's and the cage's rates that belong to no part (the inner race
of 0.028 in of the Case Western Reserve data, at 3.68 and 4.29 times the speed), and so does any bearing whose speed or
parts are not as given. Whatever keeps such time, "nothing heard" is not so.
"""

from __future__ import annotations

import math

import numpy as np

from earwitness.hearing.bearing_heard import FamiliesHeard
from earwitness.hearing.geometry import Expected
from earwitness.sound.orders import Lines

_LEAST = 0.05  # share of all lines below which a family is not asked for its chance
_ABOUT = 0.02  # a wandering speed smears its multiples so far
# Lines of what feeds a motor stand at twice its frequency: at an even multiple of the speed, or up to its slip higher.
_SLIP = 0.06
_SAME = 0.002


def foreign(lines: Lines, found: FamiliesHeard, expected: Expected) -> float:
    """-log10 of the chance of the family that accounts for most and is at no expected rate; 0 where there is none.

    Parameters
    ----------
    lines : Lines
    found : FamiliesHeard
    expected : Expected
    """
    turning = found.speed_hz
    top_hz = min(4.5 * expected.inner.high * turning, lines.top_hz)
    profile = lines.profile(lines.standing_out(found.avoid, 0.25 * turning, top_hz))
    if profile.sum() < _LEAST:
        return 0.0
    rates = np.arange(1.2 * turning, 1.1 * expected.inner.high * turning, lines.step_hz / 2)
    order = rates / turning
    whole = np.maximum(np.rint(order), 1)
    even = np.maximum(2 * np.floor(order / 2 + _ABOUT), 1)
    shaft_or_drive = (np.abs(order / whole - 1) < _ABOUT) | ((order > even) & (order < even * (1 + _SLIP)))
    shares = np.where(shaft_or_drive, 0.0, lines.shares(profile, rates, 0.0, pairs=0))
    at = int(shares.argmax())
    if shares[at] < _LEAST:
        return 0.0
    family = lines.best_family(rates[at] * (1 - _SAME), rates[at] * (1 + _SAME), found.avoid)
    places = len(rates) * lines.step_hz / 2 / max(2 * _SAME * rates[at], lines.step_hz)
    return max(0.0, family.score - math.log10(max(places, 1.0)))
