"""What forbids a verdict on a bearing although the weights allow it: what could not be heard, and what would explain
the sound as well."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from earwitness.hearing.bearing_foreign import foreign
from earwitness.hearing.bearing_heard import FamiliesHeard, Listened
from earwitness.hearing.heard import Heard

CALM = ("no-fault-heard", "friction")
# Decades of a part's family from which "nothing heard" is doubted, by what is known of the parts: into a wide range
# lines of other origin fall more often. Of 190 simulated readings without impacts and parts given nine pass 3.5, of 39
# with nothing known of the parts two pass 4 and none 4.5.
_FAINT_CHANCE = {"given": 3.5, "typical": 4.5, "unknown": 5.0}
# In few turns a fault's lines stand fewer decades beyond chance, about in proportion, down to what one sound bearing in
# a hundred shows (of 120 pieces of 1 s, 30 turns, of real faults seven were told to be none without this). Of a slower
# shaft each strike is heard by itself.
_MANY_TURNS, _LEAST_CHANCE, _SINGLE_HZ = 60.0, 2.0, 10.0
_FAINT_HUMP = 6.0
_FAINT_SIDED = 8.0  # the same with an inner race's sidebands: of 82 simulated without impacts none passes 4.5
_FAINT_CAGE = 8.0  # any bearing swells a little with its cage
_UNTOLD = 12.0  # decades of a family at any rate, where the speed is unknown
_IMPACTS = 0.46  # log of 1 + kurtosis: noise that swells as (1 + cos)² without any impact has a kurtosis of 1.9
_IN_STEP = 10.0  # decades of impacts that keep time, at whatever rate: of 48 simulated irregular ones none passes 9
_FOREIGN = 8.0  # decades of lines at no rate that the speed and the parts explain
_RHYTHM = 4.0  # decades from which a part's family, or _RISE its broad rise, may be the rhythm that was missed
_RISE = 6.0
_ANY = 0.02  # share of all lines that such a rhythm has
_FEW, _HARDLY_MORE, _FAR_LESS = 0.3, 0.4, 9.0  # share of all lines; natural log over the next part's; decades
_FAR_MORE, _MUCH = 0.5, 0.2  # natural log over the next part's share; share of all swelling and jumping
_MOST, _MOST_IN_RANGE = 0.5, 0.6  # share of all lines; the same of a part that is known by a wide range only
_FIRST = 0.02  # share of all lines that a race's fundamental has
_STRUCK = 0.12  # share of all swelling and jumping that a struck race explains
_SAME = 0.01  # rates nearer than this are one
_SPEED_OFF = 0.01  # of the shaft's speed: as it is stated, and as it wanders
_SURE = 30.0  # decades of a race's family, from which it may explain less
_ALONE = 6.5  # decades of a race's family beyond any other part's, from which it may explain less, and no more than it
# Seconds and impacts from which impacts are denied a rhythm (a ball strikes only while its mark runs in the track), and
# seconds from which any rhythm is, where no speed is known.
_DENY_S, _DENY = 3.05, 50
_BY_CHANCE, _LONE = 3.0, 5.0  # decades of a race's family, and of one without its fundamental: one line says so much
_ONCE = 0.4  # share of the impacts that come once a turn of the cage, where the parts are typical or unknown
_ONCE_A_TURN = 0.5  # the same, beyond what an element gives
_OWN = 12.0  # decades of an element's own family, from which the cage's comb beside it is its sidebands
_LESS, _BESIDE = -0.25, 0.12  # natural log over the next part's share; sidebands over the family's lines
_CAGED = 0.3  # the same, from which they are no multiples of the shaft's speed: those have none at ± the cage's rate
# Orders at which of ball bearings of series 62 and 63 only inner races lie: their 7 to 11 balls fill 0.585 of the pitch
# circle, so outer races lie 0.92 below half of their number (2.6 to 4.6), inner races as far above it (4.4 to 6.4).
_INNER_ONLY = 4.7, 6.5
_CAGE_COMB = 4.0  # harmonics of the cage's rate that stand out: an element's sidebands, or the cage's own


def doubt(heard: Heard, listened: Listened, values: Mapping[str, float], verdict: str) -> str:
    """Why a verdict must not be given, or "".

    Parameters
    ----------
    heard : Heard
    listened : Listened
    values : what was measured, by name [1]
    verdict : that the weights allow

    Returns
    -------
    str : "rhythm", "longer", "coincidence", "faint", "in-step", "speed", "parts", "weak" or "".
    """
    return (
        _unheard(heard, listened, verdict) or _unknown(listened, values, verdict) or _alike(listened, values, verdict)
    )


def _unheard(heard: Heard, listened: Listened, verdict: str) -> str:
    """What the recording cannot show."""
    if "rhythm" in heard.spoiled and (verdict != "friction" or len(heard.samples)):
        return "rhythm"  # a raised level alone is friction only where no impacts could be heard in it
    if verdict == "friction":
        return ""
    if listened.sound is None:
        return "longer" if len(heard.samples) and np.ptp(heard.samples) else "rhythm"
    too_few = listened.sound.seconds < _DENY_S and len(listened.sound.impulses.at_s) < _DENY
    if verdict == "irregular" and too_few:
        return "longer"
    return "longer" if listened.speed_from == "given" and listened.families is None else ""


def _unknown(listened: Listened, values: Mapping[str, float], verdict: str) -> str:
    """What cannot be told without the speed or the parts."""
    known, found = listened.expected.known, listened.families
    if verdict in CALM:
        short = listened.sound is not None and listened.sound.seconds <= _DENY_S
        return "speed" if found is None and (listened.rhythm > _UNTOLD or short) else ""
    if verdict == "irregular":  # without a speed impacts may keep a rhythm of some part's if they keep any
        untold = listened.rhythm > _RHYTHM or known == "unknown"  # where nothing is known it need be no bearing
        return "speed" if found is None and untold else ""
    if listened.speed_from != "given" and known == "unknown":
        return "speed"  # any rhythm can be laid to some part of some bearing at some speed
    wide = listened.expected.note is not None and listened.expected.note.code in ("count-only", "unknown-geometry")
    race = verdict.removesuffix("-race")
    # for a minority of the lines some race or other would account; sidebands tie an inner one to the speed given
    tied = race == "inner" and listened.speed_from == "given" and values.get("inner-ratio", 0.0) > _FAR_MORE
    if wide and race in ("outer", "inner") and not tied and values.get(f"{race}-share", 1.0) < _MOST_IN_RANGE:
        return "parts"
    if known != "given" and found is not None and race in ("outer", "inner") and _without_first(found, verdict):
        return "parts"  # another part's sidebands make such a family
    if verdict == "outer-race" and known != "given" and found is not None and _of_an_inner(listened, found):
        return "parts"
    if verdict == "inner-race" and known != "given" and found and (_shared(found) or _of_some_outer(listened)):
        return "parts"  # an outer race may carry the shaft's sidebands too, where the load turns with it
    if verdict == "cage" and known != "given" and values.get("cage-once", 0.0) < _ONCE:
        return "parts"  # typical parts put the cage's lines where an element's sidebands lie
    return ""


def _alike(listened: Listened, values: Mapping[str, float], verdict: str) -> str:
    """What would explain the sound as well."""
    found, value = listened.families, values.get
    caged = verdict == "rolling-element" and value("cage-sides", 0.0) > _CAGED
    if found is not None and verdict in found.overshadowed and not caged:
        return "coincidence"
    if found is not None and found.hidden and verdict in (*CALM, "irregular"):
        return "coincidence"
    rhythm, rise, lines = (-value(f"calm-{name}", 0.0) for name in ("chance", "hump", "lines"))
    if verdict in CALM and found is not None:
        comb = found.cage.chance > _FAINT_CAGE
        sided = value("calm-sided", 0.0) < -_FAINT_SIDED
        if comb or sided or lines > _faint_chance(listened) or rise > _FAINT_HUMP:
            return "faint"  # although so shallow that nothing else speaks for a fault
    if verdict == "no-fault-heard" and _other_time(listened):
        return "in-step"
    if verdict == "irregular" and value("in-step", 0.0) > _IN_STEP:
        return "in-step"
    strikes = value("unexplained", 0.0) > _IMPACTS
    doubtful = {
        "no-fault-heard": strikes,
        "irregular": not strikes or (rhythm > _RHYTHM and -value("calm-share", 0.0) > _ANY) or rise > _RISE,
        "outer-race": _unclear(found, values, "outer"),
        "inner-race": _unclear(found, values, "inner"),
        "rolling-element": _cages(values) or _less(values),
    }
    return "weak" if doubtful.get(verdict, False) else ""


def _faint_chance(listened: Listened) -> float:
    """Decades of a part's family from which "nothing heard" is doubted, in so many turns."""
    full, speed_hz = _FAINT_CHANCE[listened.expected.known], listened.speed_hz or 0.0
    if speed_hz < _SINGLE_HZ or listened.sound is None:
        return full
    return max(_LEAST_CHANCE, full * min(1.0, speed_hz * listened.sound.seconds / _MANY_TURNS))


def _other_time(listened: Listened) -> bool:
    """Whether lines keep a time that the speed and the parts do not explain."""
    found, sound = listened.families, listened.sound
    if found is None or sound is None or not len(found.avoid):  # single impacts in time
        return False
    return foreign(sound.lines, found, listened.expected) > _FOREIGN


def _cages(values: Mapping[str, float]) -> bool:
    """Whether what speaks for an element may be the cage's own comb."""
    value = values.get
    comb = value("cage-harmonics", 0.0) >= _CAGE_COMB
    return comb and (value("element-chance", 0.0) < _OWN or value("cage-once", 0.0) > _ONCE_A_TURN)


def _less(values: Mapping[str, float]) -> bool:
    """Whether another part accounts for more than an element does that has no sidebands at ± the cage's rate."""
    return values.get("element-ratio", 0.0) < _LESS and values.get("cage-sides", 0.0) < _BESIDE


def _unclear(found: FamiliesHeard | None, values: Mapping[str, float], part: str) -> bool:
    """Whether a race is not told from what else there is."""
    return _hardly_more(found, values, part) or _too_little(found, values, part) or _lone(found, values, part)


def _hardly_more(found: FamiliesHeard | None, values: Mapping[str, float], part: str) -> bool:
    """Whether lines stand at several parts' rates and hardly more at this one's: a race that was marked when the
    bearing was put together does so beside a fault on an element (Smith & Randall 2015); or whether another part's
    family is beyond chance by far more, unless this one explains far more."""
    share, ratio, explains, over = (
        values.get(f"{part}-{name}", 0.0) for name in ("share", "ratio", "explains", "over")
    )
    beyond = _beyond(found, f"{part}-race")
    hardly = share < _FEW and ratio < _HARDLY_MORE and beyond < _ALONE
    return over < _RISE and (hardly or (beyond < -_FAR_LESS and not (ratio > _FAR_MORE and explains > _MUCH)))


def _too_little(found: FamiliesHeard | None, values: Mapping[str, float], part: str) -> bool:
    """Whether a race would explain next to nothing of the swelling and jumping, and a minority of the lines, while
    another part's lines stand as well: a fault that begins explains little, but stands alone or beyond all chance. The
    same lines, at a rate that several parts may have, are no rival of their own."""
    share, explains, lines = (values.get(f"{part}-{name}", 0.0) for name in ("share", "explains", "chance"))
    alone = _beyond(found, f"{part}-race", _SAME) >= _ALONE
    return share < _MOST and explains < _STRUCK and not alone and lines < _SURE


def _beyond(found: FamiliesHeard | None, verdict: str, apart: float = 0.0) -> float:
    """Decades of a part's family beyond those of the other parts, or of those at rates so far from its own."""
    if found is None:
        return 0.0
    own = found.parts[verdict]
    others = [part for name, part in found.parts.items() if name != verdict and abs(part.hz / own.hz - 1) >= apart]
    return min(own.beyond_chance, _SURE) - max((min(part.beyond_chance, _SURE) for part in others), default=0.0)


def _lone(found: FamiliesHeard | None, values: Mapping[str, float], part: str) -> bool:
    """Whether a race's family may be chance, or one line of something else that falls on a harmonic of it."""
    if found is None or values.get(f"{part}-hump", 0.0) > _RISE:
        return False
    heard = found.parts[f"{part}-race"]
    without_first = heard.first < _FIRST and len(found.avoid) > 0  # of single impacts in time there are no lines
    lone = without_first and (len(heard.family.found_hz) < 2 or heard.chance < _LONE)
    return lone or heard.chance < _BY_CHANCE


def _without_first(found: FamiliesHeard, verdict: str) -> bool:
    """Whether a family lacks its fundamental although nothing else stands there."""
    if not len(found.avoid):  # single impacts in time
        return False
    part = found.parts[verdict]
    index = round(part.hz / found.step_hz)
    return part.first < _FIRST and not found.avoid[max(index - 2, 0) : index + 3].any()


def _of_an_inner(listened: Listened, found: FamiliesHeard) -> bool:
    """Whether an outer race's family is no more than those lines of an inner race, and of its sidebands at the shaft's
    speed, that fall on multiples of one rate: where an inner race lies at five turns of the shaft its own lines pass
    for the shaft's, and those at three turns and its multiples are left. An outer race so near to three turns is asked
    about too."""
    outer, turning = found.parts["outer-race"], found.speed_hz
    lines = np.array(outer.family.found_hz)
    if len(lines) < 3 or not len(found.avoid):  # two lines may be anything; of single impacts in time there are none
        return False
    near = max(2 * found.step_hz, _SPEED_OFF * turning)
    sides = turning * np.arange(-2.0, 3.0)
    multiples = np.arange(1, round(lines[-1] / (listened.expected.inner.low * turning)) + 2)
    for hz in ((lines[-1] - sides)[:, None] / multiples).ravel():  # the highest line tells the rate best
        if listened.expected.inner.low <= hz / turning <= listened.expected.inner.high:
            explained = (multiples * hz)[:, None] + sides
            if np.all(np.abs(lines[:, None] - explained.ravel()).min(axis=1) <= near):
                return True
    return False


def _of_some_outer(listened: Listened) -> bool:
    """Whether nothing is known of the parts, and an outer race of a common ball bearing would lie there as well."""
    low, high = _INNER_ONLY
    found = listened.families
    if listened.expected.known != "unknown" or found is None:
        return listened.expected.known == "unknown"
    return not low < found.parts["inner-race"].order < high


def _shared(found: FamiliesHeard) -> bool:
    """Whether the inner race's line is also an element's, and no sidebands say whose it is."""
    inner, element = found.parts["inner-race"], found.parts["rolling-element"]
    return abs(inner.hz / element.hz - 1) < _SAME and element.share > 0.85 * inner.share
