"""Rolling bearings: which part is struck, whether it only rubs more than it did, or whether nothing is heard.

A fault on a race or an element is struck at a rate that the parts and the speed fix (hearing/geometry.py). The
strikes ring the housing, so the envelope of the sound pulses at that rate: a family of lines in the envelope
spectrum, with sidebands at ± the shaft's speed where an inner race turns in and out of the load, at ± the cage's
where an element does (Smith & Randall, MSSP 64-65 (2015) 100-131; bands by spectral kurtosis: Antoni, MSSP 21 (2007)
108-124). For each part is measured:

    share     of all that stands out, what its family accounts for (mean over views); lead, ratio: over the others'
    middle    the same without sidebands, first: of the fundamental alone; both over the other parts'
    chance    of so strong a family or broad a rise in noise alone, all looks counted; given, beyond: the same, and
              over the others', where the parts are given
    explains  how much of all swelling and jumping of the sound its family accounts for
    hump      the chance of the broad rise alone (a ball that turns over, strong slip); over: over the others'
    near      how far its line stands from where it would be without slip
    trains    (slow shafts, under 100 a minute) how well single impacts in time fall on its rate

and beside them the chance of an inner race's family with its sidebands at ± the shaft's speed counted in (that
something strikes, not what: other parts' lines have such company too), the cage's multiples and the impacts that fall
on its turn, kurtosis and impacts that no family explains (irregular), and the level over its baseline (friction:
broadband, without impacts; it needs a level and a baseline). Weights: hearing/weights/bearing.json.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from earwitness.errors import InputError
from earwitness.hearing.bearing_families import families
from earwitness.hearing.bearing_heard import FamiliesHeard, Listened
from earwitness.hearing.bearing_rhythm import cage_train, speed_from_sound, trains
from earwitness.hearing.bearing_sound import BearingSound
from earwitness.hearing.bearing_words import Account
from earwitness.hearing.evidence import Judgement, decide, fitted, weigh
from earwitness.hearing.geometry import (
    Expected,
    defect_orders,
    expected_given,
    expected_of_count,
    expected_of_designation,
    expected_unknown,
)
from earwitness.hearing.heard import Heard
from earwitness.sound.fitness import NEEDED_TURNS
from earwitness.sound.impulses import in_step
from earwitness.sound.mains import nominal_mains

VERSION = "11"
PARTS = {"outer-race": "outer", "inner-race": "inner", "rolling-element": "element"}
SLOW_HZ = 100 / 60  # below it impacts are so far apart that they are told one by one
SHORTEST_S = 0.5
RISES = 12.0  # decades by which a broad rise is clearer than any line
CLEAR = 10.0  # decades of a part's rhythm, from which it says nothing that there are no other impacts
FEW_STRAY = 1.5  # impacts a second that no family explains
CERTAIN = 30.0  # decades beyond which chance is no matter, and families are not to be ranked by it
UNRAISED_DB = 3.0  # a level no higher over its baseline says nothing: a fault that begins does not raise it
TALL_DB = 12.0  # of a millisecond over the median: noise that flickers seldom jumps higher
BLIND_LIMIT_HZ = 1200.0  # lines looked at where the speed is unknown


@dataclass(frozen=True)
class BearingMachine:
    """What is known of the bearing and what turns it; all of it may be missing."""

    speed_hz: float | None = None
    rolling_elements: int | None = None
    element_m: float | None = None
    pitch_m: float | None = None
    contact_angle_rad: float | None = None
    designation: str | None = None
    load_percent: float | None = None
    mains_hz: float | None = None

    @property
    def stated(self) -> bool:
        """Whether speed and parts say where its lines may stand."""
        return self.speed_hz is not None and self.expected().known != "unknown"

    def expected(self) -> Expected:
        """Where its lines may stand: from its parts, else from its designation, else from the number of elements."""
        if self.rolling_elements and self.element_m and self.pitch_m:
            return expected_given(
                defect_orders(self.rolling_elements, self.element_m, self.pitch_m, self.contact_angle_rad or 0.0)
            )
        typical = expected_of_designation(self.designation) if self.designation else None
        if typical is not None:
            return typical
        return expected_of_count(self.rolling_elements) if self.rolling_elements else expected_unknown()


def judge(heard: Heard, machine: BearingMachine, *, prior: Mapping[str, float] | None = None) -> Judgement:
    """What the sound of a bearing says about it.

    Parameters
    ----------
    heard : Heard
        The sound and its levels.
    machine : BearingMachine
        Speed and parts, as far as known.
    prior : mapping of verdict to probability, or None [1]
        The site's own instead of the stored one.

    Returns
    -------
    Judgement
        `outer-race`, `inner-race`, `rolling-element`, `cage`, `irregular`, `friction`, `no-fault-heard`, or
        `inconclusive` with what would settle it.
    """
    if machine.speed_hz is not None and not machine.speed_hz > 0:
        raise InputError("speed_hz", machine.speed_hz, "more than 0 (leave it out where it is not known)")
    stored, rows = fitted("bearing")
    expected = machine.expected()
    listened = _listen(heard, machine, expected)
    values = _measure(heard, listened)
    account = Account(heard, listened, values)
    items = account.evidence(rows)
    probabilities = weigh(prior or stored, items)
    verdict, probability = decide(probabilities)
    wanting = account.wanted(verdict)
    if wanting:
        verdict = "inconclusive"
    return Judgement(
        verdict=verdict,
        probability=probability,
        probabilities=probabilities,
        evidence=items,
        detector="bearing",
        detector_version=VERSION,
        settle=account.settle(wanting, probabilities) if verdict == "inconclusive" else None,
        severity=account.severity(verdict),
        notes=account.notes(),
        traces=account.traces(),
        measured=values,
    )


def _listen(heard: Heard, machine: BearingMachine, expected: Expected) -> Listened:
    """Lines and impacts of the recording, if its rhythm can be trusted, and whose they are."""
    if "rhythm" in heard.spoiled or heard.seconds < SHORTEST_S or not np.ptp(heard.samples):
        return Listened(expected, machine.speed_hz)
    limit_hz, band_hz = BLIND_LIMIT_HZ, BLIND_LIMIT_HZ / 2
    if machine.speed_hz is not None:
        inner_hz = expected.inner.high * machine.speed_hz
        limit_hz, band_hz = 4.5 * inner_hz, max(4 * inner_hz, 200.0)
    # of the shaft's own tones nothing is left at 40 kHz
    shaken = machine.speed_hz if heard.signal == "direct" else None
    sound = BearingSound.of(heard.samples, heard.rate_hz, limit_hz, band_hz, shaken, machine.mains_hz)
    return _told(sound, machine, expected)


def _told(sound: BearingSound, machine: BearingMachine, expected: Expected) -> Listened:
    """Whose the lines and impacts are: by spectrum, or for a slow shaft by single impacts in time."""
    speed_hz, origin, rhythm = machine.speed_hz, "given", 0.0
    if sound.course is not None:
        speed_hz = sound.course.mean_hz
    if speed_hz is None:
        lines, mains = sound.lines, nominal_mains(machine.mains_hz)
        rhythm = lines.best_family(4.0, 400.0, lines.near_multiples(mains, at_most=1.0)).score
        speed_hz, origin = speed_from_sound(sound, expected, machine.mains_hz), "sound"
    if speed_hz is None:
        return Listened(expected, None, "unknown", sound, None, rhythm)
    found = None  # too short for a rhythm
    if sound.seconds * speed_hz >= NEEDED_TURNS["bearing"]:
        slow = speed_hz < SLOW_HZ
        found = trains(sound, expected, speed_hz) if slow else families(sound, expected, speed_hz, machine.mains_hz)
    return Listened(expected, speed_hz, origin, sound, found, rhythm)


def _measure(heard: Heard, listened: Listened) -> dict[str, float]:
    """The numbers that evidence is made of; what could not be measured is absent and weighs nothing."""
    values: dict[str, float] = {}
    if heard.level_db is not None and heard.baseline_db is not None and "level" not in heard.spoiled:
        values["rise"] = heard.level_db - heard.baseline_db
        values["raised"] = max(values["rise"] - UNRAISED_DB, 0.0)
    values["level-known"] = float("rise" in values)
    sound, found = listened.sound, listened.families
    if sound is None:
        return values
    values["kurtosis"] = math.log10(1 + max(sound.kurtosis, 0.0))
    tall = float((sound.impulses.size_db >= TALL_DB).sum()) / sound.seconds
    values["impulses"] = tall * sound.impulses.steadiness
    values["in-step"] = in_step(sound.impulses.at_s)
    share = chance = lines = hump = explained = 0.0
    if found is not None:
        values |= _of_parts(found, listened.expected.known)
        share = max(p.share for p in found.parts.values())
        chance = max(p.beyond_chance for p in found.parts.values())
        lines = max(p.chance for p in found.parts.values())
        hump = max(p.hump for p in found.parts.values())
        explained = max(found.cage.explains, *(p.explains for p in found.parts.values()))
        share, chance = max(share, found.cage.comb), max(chance, found.cage.comb * CERTAIN)
        if found.cage_sides is not None and hump < lines + RISES:  # a broad rise has no sidebands
            values["cage-sides"] = found.cage_sides
        values["cage-share"] = found.cage.share
        values["cage-turned"] = found.cage.turned
        values["cage-train"], once = cage_train(sound, listened.expected, found.speed_hz)
        values["cage-once"] = max(once, found.cage.comb)
        values["cage-harmonics"] = float(found.cage.found)
        if sound.impulses.per_second > 0 and found.cage.share > max(share, 0.1):
            blows = math.log2(sound.impulses.per_second / found.cage.hz)
            values["blows-a-cage-turn"], values["once-a-cage-turn"] = blows, -abs(blows)
    elif listened.speed_from == "unknown":
        chance = lines = listened.rhythm
    values["unexplained"] = math.log10(1 + max(sound.kurtosis, 0.0) * (1 - min(explained, 1.0)))
    values["stray"] = values["impulses"] * (1 - min(explained, 1.0))
    calm = {"share": share, "chance": min(chance, CERTAIN), "hump": min(hump, CERTAIN), "explained": explained}
    rhythmless = max(0.0, 1 - chance / CLEAR) * (1 - values.get("cage-once", 0.0))
    values["quiet"] = (1 - min(values["stray"] / FEW_STRAY, 2.0)) * rhythmless
    calm |= {"lines": min(lines, CERTAIN), "cage": values.get("cage-share", 0.0)}
    values |= {f"calm-{name}": -value for name, value in calm.items()}
    return values


def _of_parts(found: FamiliesHeard, known: str) -> dict[str, float]:
    """What stands for each part, and over the others."""
    values: dict[str, float] = {}
    spectral = len(found.avoid) > 0  # else single impacts in time, which have neither rises nor sidebands
    if spectral:
        values["calm-sided"] = -min(found.sided, CERTAIN)
    for verdict, part in found.parts.items():
        name, others = PARTS[verdict], [p for v, p in found.parts.items() if v != verdict]
        chance = min(part.beyond_chance, CERTAIN)
        values[f"{name}-share"] = part.share
        rival = max(p.share for p in others)
        values[f"{name}-lead"] = part.share - rival
        values[f"{name}-ratio"] = math.log((part.share + 0.02) / (rival + 0.02))
        if part.hump < part.chance + RISES:  # else it has no line to be measured
            middles = max(p.alone for p in others)
            values[f"{name}-middle"] = math.log((part.alone + 0.02) / (middles + 0.02))
            firsts = max(p.first for p in others)
            values[f"{name}-first"] = math.log((part.first + 0.01) / (firsts + 0.01))
            if part.off is not None and part.share > 0:
                values[f"{name}-near"] = -part.off
            values[f"{name}-lines"] = min(part.chance, CERTAIN)
        values[f"{name}-chance"] = chance
        if known == "given":  # in wider ranges lines of other origin fall oftener, and one line is several parts'
            values[f"{name}-given"] = chance
            values[f"{name}-beyond"] = chance - min(max(p.beyond_chance for p in others), CERTAIN)
        values[f"{name}-explains"] = part.explains
        if spectral:
            hump = min(part.hump, CERTAIN)
            values[f"{name}-hump"] = hump
            values[f"{name}-over"] = hump - min(max(p.hump for p in others), CERTAIN)
    return values
