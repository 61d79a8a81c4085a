"""Whether a later reading proves a repair: both taken alike, and the level down by more than chance would do?

Nothing is decided where the conditions differ: a reading from further away is quieter, whatever was repaired.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from earwitness.plant.reading import Reading
from earwitness.plant.survey import Survey
from earwitness.programme.trend import DEFAULT_REPEATABILITY_DB, REPEATABILITY_FACTOR, repeatability
from earwitness.sentence import Sentence, say

# How far two readings may differ and still be compared. Common practice; no standard states figures.
DISTANCE = 0.20  # of the distance: 2 dB of spreading
PRESSURE = 0.10  # of the absolute pressure
SPEED = 0.05
GAIN_DB = 0.1  # the same setting
REPEATS = 3  # readings in a row from which a point's own repeatability is taken
FINEST_DB = 1 / math.sqrt(12)  # no display that shows whole dB repeats better than this

GAS = frozenset({"leak", "valve", "trap"})
MACHINES = frozenset({"bearing", "gear"})


@dataclass(frozen=True)
class Compared:
    """`proven`: the level fell by more than the limit under like conditions. `why` is said in either case."""

    proven: bool
    why: Sentence


def conditions_of(reading: Reading, survey: Survey) -> dict[str, Any]:
    """What a comparison of two readings of a point rests on; what is not known is left out."""
    named = {
        "distance_m": reading.distance_m,
        "gain_db": reading.gain_db,
        "pressure_abs": reading.pressure_abs,
        "speed_hz": reading.machine.speed_hz,
        "sensor": reading.sensor,
        "attachment": reading.attachment,
        "receiver": survey.instrument.receiver,
        "level_ref": survey.instrument.level_ref,
    }
    return {name: value for name, value in named.items() if value is not None}


def differences(kind: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> list[Sentence]:
    """Each condition that keeps the two from being compared; empty where they are alike."""
    out = []
    for name, what, unit, allowed, scale in _numbers(kind, before, after):
        one, other = before.get(name), after.get(name)
        if (one is None) != (other is None):
            out.append(say("condition-once", "the {what} was noted at only one of the two", what=what))
        elif one is not None and other is not None and abs(other - one) > allowed * (1.0 if unit == "dB" else abs(one)):
            text = "the {what} was {before:.3g} {unit}, now {after:.3g} {unit}"
            out.append(say("condition-differs", text, what=what, before=one / scale, after=other / scale, unit=unit))
    for name, what in (("sensor", "sensor"), ("attachment", "attachment")):
        one, other = (str(c.get(name) or "").casefold().strip() for c in (before, after))
        if one != other:
            text = "the {what} was {before}, now {after}"
            said = {"before": one or "not noted", "after": other or "not noted"}
            out.append(say("condition-other", text, what=what, **said))
    for name, what in (("receiver", "receiver"), ("level_ref", "reference of the level")):
        one, other = before.get(name), after.get(name)
        if one and other and one.casefold().strip() != other.casefold().strip():
            out.append(
                say("condition-other", "the {what} was {before}, now {after}", what=what, before=one, after=other)
            )
    return out


def _numbers(
    kind: str, before: Mapping[str, Any], after: Mapping[str, Any]
) -> list[tuple[str, str, str, float, float]]:
    """Name, words, unit, allowed difference and scale of the figures that count for this kind of reading."""
    out = [("gain_db", "gain", "dB", GAIN_DB, 1.0)]
    if "contact" not in (before.get("sensor"), after.get("sensor")):
        out.append(("distance_m", "distance", "m", DISTANCE, 1.0))
    if kind in GAS:
        out.append(("pressure_abs", "absolute pressure", "bar", PRESSURE, 1e5))
    if kind in MACHINES:
        out.append(("speed_hz", "speed", "rpm", SPEED, 1 / 60))
    return out


def level_limit(repeats: Sequence[Sequence[float]]) -> tuple[float, Sentence]:
    """The least fall that is no chance, from the point's own repeats where it has three, and what it rests on."""
    enough = [group for group in repeats if len(group) >= REPEATS]
    if not enough:
        limit = REPEATABILITY_FACTOR * DEFAULT_REPEATABILITY_DB
        text = "{limit:.1f} dB: common practice for a hand-held probe, as this point has no three repeats"
        return limit, say("limit-from-practice", text, limit=limit)
    own = max(repeatability(enough), FINEST_DB)
    limit = REPEATABILITY_FACTOR * own
    text = "{limit:.1f} dB: 2.8 times this point's repeatability of {own:.1f} dB"
    return limit, say("limit-from-repeats", text, limit=limit, own=own)


def compare(
    kind: str,
    before: Mapping[str, Any],
    after: Mapping[str, Any],
    level_before: float | None,
    level_after: float | None,
    repeats: Sequence[Sequence[float]] = (),
) -> Compared:
    """Whether the level fell by more than chance would do, under conditions that can be compared."""
    unlike = differences(kind, before, after)
    if unlike:
        text = "Not comparable, so nothing is decided: {differences}. Listen again as before."
        return Compared(False, say("not-comparable", text, differences="; ".join(s.text for s in unlike)))
    if level_before is None or level_after is None:
        which = "before" if level_before is None else "after"
        text = "Nothing is decided: the level {which} the repair was not noted."
        return Compared(False, say("level-not-noted", text, which=which))
    limit, basis = level_limit(repeats)
    fall = level_before - level_after
    said = {"before": level_before, "after": level_after, "fall": fall, "basis": basis.text}
    if fall > limit:
        text = "No longer heard, and the level fell from {before:.0f} to {after:.0f} dB, by more than {basis}."
        return Compared(True, say("repair-proven", text, **said))
    text = "No longer heard, but the level only went from {before:.0f} to {after:.0f} dB; needed: more than {basis}."
    return Compared(False, say("fall-too-small", text, **said))
