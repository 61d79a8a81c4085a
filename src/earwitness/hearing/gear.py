"""Gears: a tooth that strikes once a turn of its wheel, or a mesh that has worn.

Teeth meet at the mesh frequency, the wheel's speed times its teeth, and in any gear the sound swells a little with each
meeting. Wear makes it swell more and unevenly round the wheels: the mesh line, its second and third multiple, and about
them sidebands at ± the wheels' speeds. A cracked or chipped tooth gives one blow a turn: a comb of many multiples of
one wheel's speed, and in the average over that wheel's turns one narrow rise where the shafts' own first two multiples
make broad ones. A bearing's blows keep a rate that is no multiple of a wheel's: over the wheels' turns they average
out, and stand as a family of their own. (Randall, J. Mech. Design 104 (1982) 259-267; McFadden, J. Vib. Acoust. 108
(1986) 165-170.) All of it is read over angle instead of time (hearing/gear_turns.py), in four groups:

    turn-   the comb of the wheel that has most of it: its depth, how many multiples stand out, how much of the rise
            within a turn is one blow
    mesh-   how much the sound swells with the mesh, in its sidebands, and in its second and third multiple
    tone-   the same of the waveform itself, where the recording is the sensor's own
    foreign blows that belong to no wheel

Nothing is said to be free of wear unless sidebands of a stated strength would have stood out. What is said of it, and
the picture: hearing/gear_words.py. Weights: hearing/weights/gear.json.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from earwitness.errors import InputError
from earwitness.hearing.evidence import Judgement, decide, fitted, weigh
from earwitness.hearing.gear_clock import COMB, Pair
from earwitness.hearing.gear_turns import MESHES, SKIRT_TURNS, Turned
from earwitness.hearing.gear_words import ACT_RISE_DB, EVEN_SHARE, SHORTEST_TURNS, GearAccount
from earwitness.hearing.heard import Heard
from earwitness.sound.mains import nominal_mains
from earwitness.sound.orders import Lines, log10_chance

__all__ = ["ACT_RISE_DB", "GearMachine", "judge"]

VERSION = "6"
SHORTEST_S = 0.5
CERTAIN = 3.0  # decades beyond chance, from which a comb or sidebands are taken to be there
ONE_BLOW = 0.6  # share of the rise within a turn that a single blow makes at least
SURE = 3.0  # spreads of noise
SIDES_TOLD = 0.3  # sidebands of that depth must have stood out before wear is said not to be heard
LEAST_SIDES, MOST_SIDES = 0.06, 0.25  # depth from which wear can be, and up to which nothing is heard
LEAST_SWELL = 0.25  # the same of the mesh
EVEN_SWELL, MOST_UNEVEN = 0.45, 0.3  # from that depth on, sidebands must be told to be less than that share of it
SEEN_SIDES = 0.05  # a mesh is worn only if its sidebands, so deep, have more than an even one's share of it
NO_MESH = 0.9  # share of the swelling that sidebands have where no mesh stands between them: something else's lines
WHOLE_COMB, HALF_A_BLOW = 9, 0.5  # multiples of a wheel's speed, and share of the rise within a turn: a faint blow
TOOTH_BLOWS = 0.0  # log of 1 + kurtosis: tones have less than noise, faint or clipped blows hardly more
TONE_SIDES = 0.1  # the same of tones, over the mesh's own: these tell it best where they are heard
SIGNS = {  # of damage, and how much of each is much
    "turn-one": 0.65,
    "turn-depth": 1.5,
    "mesh-sides": 0.15,
    "tone-sides": 0.15,
}
LEAST_BLOWS = 0.3  # kurtosis: noise has none, blows have some
_STANDS = 5.0  # nats from which a line counts as found
_FIRST = 3  # a shaft out of true makes the first two multiples


@dataclass(frozen=True)
class GearMachine:
    """Speed of the wheel listened to, its teeth and its mate's; all of it may be missing."""

    speed_hz: float | None = None
    teeth: int | None = None
    mate_teeth: int | None = None
    mains_hz: float | None = None

    def pair(self) -> Pair | None:
        if self.speed_hz is None:
            return None
        if not self.speed_hz > 0:
            raise InputError("speed_hz", self.speed_hz, "more than 0 (leave it out where it is not known)")
        for name, teeth in (("teeth", self.teeth), ("mate_teeth", self.mate_teeth)):
            if teeth is not None and teeth < 1:
                raise InputError(name, teeth, "at least 1 (leave it out where it is not known)")
        return Pair(self.speed_hz, self.teeth, self.teeth / self.mate_teeth if self.teeth and self.mate_teeth else None)


def judge(heard: Heard, machine: GearMachine, *, prior: Mapping[str, float] | None = None) -> Judgement:
    """What the sound of a pair of gears says about them.

    Parameters
    ----------
    heard : Heard
        The sound and its levels.
    machine : GearMachine
        Speed and teeth, as far as known.
    prior : mapping of verdict to probability, or None [1]
        The site's own instead of the stored one.

    Returns
    -------
    Judgement
        `tooth`, `wear`, `no-fault-heard`, or `inconclusive` with what would settle it.
    """
    stored, rows = fitted("gear")
    pair = machine.pair()
    sounds = "rhythm" not in heard.spoiled and len(heard.samples) > 0 and bool(np.ptp(heard.samples))
    mate = pair.ratio if pair is not None else None
    pair, turned = _listen(heard, pair) if pair is not None and sounds else (pair, None)
    values = _measure(heard, pair, turned, machine.mains_hz)
    if mate and turned is not None:
        values["mate-turns"] = mate * turned.hz * heard.seconds
    account = GearAccount(heard, pair, turned, values, sounds)
    items = account.evidence(rows)
    probabilities = weigh(prior or stored, items)
    verdict, probability = decide(probabilities)
    settle = account.wanting() or account.against(verdict)
    if settle is None and (verdict == "inconclusive" or _doubtful(verdict, values)):
        settle = account.would_decide()
    return Judgement(
        verdict="inconclusive" if settle else verdict,
        probability=probability,
        probabilities=probabilities,
        evidence=items,
        detector="gear",
        detector_version=VERSION,
        settle=settle,
        severity=None if settle else account.severity(verdict),
        notes=account.notes(),
        traces=account.traces(),
        measured=values,
    )


def _listen(heard: Heard, pair: Pair) -> tuple[Pair, Turned | None]:
    """The sound turn by turn, if there are turns enough; a mate that was not given is looked for in it, one that made
    too few turns is left out."""
    turns = pair.speed_hz * heard.seconds
    if heard.seconds < SHORTEST_S or turns < SHORTEST_TURNS:
        return pair, None
    waveform, given = heard.signal == "direct", pair.ratio
    if given and given * turns < SHORTEST_TURNS:
        pair = replace(pair, ratio=None)
    turned = Turned.of(heard.samples, heard.rate_hz, pair, waveform)
    mate = None if given else turned.likely_mate(pair)
    if mate is not None:
        pair = replace(pair, ratio=mate)
        turned = Turned.of(heard.samples, heard.rate_hz, pair, waveform)
    return pair, turned


def _doubtful(verdict: str, values: Mapping[str, float]) -> bool:
    """Whether what must be there for a verdict is not, or what must not be is: one blow a turn for a tooth; sidebands
    of a mesh that swells for wear; neither of them, and the means to have seen them, for nothing heard."""
    depth, sides, tones = (values.get(name) for name in ("mesh-depth", "mesh-sides", "tone-sides"))
    if verdict == "inconclusive":
        return False
    if verdict == "tooth":
        return values["turn-one"] < ONE_BLOW or values["kurtosis"] <= TOOTH_BLOWS
    if verdict == "wear" and tones is not None:
        return tones < TONE_SIDES
    if depth is None or sides is None:
        return True
    told = values["sides-told"]
    if verdict == "wear":
        return depth < LEAST_SWELL or not max(LEAST_SIDES, told, EVEN_SHARE * depth) <= sides <= NO_MESH * depth
    uneven = depth > EVEN_SWELL and sides + told > MOST_UNEVEN * depth
    worn = tones is None and sides > max(SEEN_SIDES, EVEN_SHARE * depth)
    struck = values["turn-harmonics"] >= WHOLE_COMB and values["turn-one"] > HALF_A_BLOW
    return sides > MOST_SIDES or told > SIDES_TOLD or uneven or worn or struck


# -- what is measured ------------------------------------------------------------------------------------------------


def _measure(heard: Heard, pair: Pair | None, turned: Turned | None, mains_hz: float | None) -> dict[str, float]:
    """The numbers that evidence is made of; what could not be measured is absent and weighs nothing."""
    values: dict[str, float] = {}
    if heard.level_db is not None and heard.baseline_db is not None and "level" not in heard.spoiled:
        values["rise"] = heard.level_db - heard.baseline_db
    if pair is None or turned is None:
        return values
    values |= _blow(turned, pair)
    if pair.teeth:
        values |= _mesh(turned, pair)
        values |= _tones(turned, pair)
    values["turn-over-mesh"] = math.log10((values["turn-depth"] + 0.02) / (values.get("mesh-depth", 0.0) + 0.05))
    values["foreign"] = _foreign(turned, pair, mains_hz)
    values["kurtosis"] = math.log10(1 + max(turned.kurtosis, 0.0))
    values["calm"] = -max(values.get(name, 0.0) / much for name, much in SIGNS.items())
    values["calm-kurtosis"] = -values["kurtosis"]
    return values


def _blow(turned: Turned, pair: Pair) -> dict[str, float]:
    """Of the wheel and view with the deepest comb beyond chance: depth, multiples found, and how much is one blow."""
    lines, best = turned.lines, (0.0, 0, 0.0, 0.0)
    looks = math.log10(len(lines.names) * len(pair.wheels))
    for at, wheel in enumerate(pair.wheels):
        multiples = np.array([k for k in range(_FIRST, COMB + 1) if not _of_mesh(k * wheel, pair)])
        for view in range(0, len(lines.names), 2):  # each beside its logarithm
            index = np.rint(multiples * wheel / lines.step_hz).astype(np.intp)
            said = lines.surprise[view : view + 2, index[index < lines.surprise.shape[1]]]
            chance = -log10_chance(said.sum(axis=1), np.full(2, said.shape[1])).max() - looks
            depth = math.sqrt(_power(lines, multiples * wheel, view))
            if chance > CERTAIN and depth > best[0]:
                best = depth, int((said >= _STANDS).sum(axis=1).max()), _one(turned.average(view, wheel)), float(at)
    return dict(zip(("turn-depth", "turn-harmonics", "turn-one", "turn-mate"), map(float, best), strict=True))


def _of_mesh(order: float, pair: Pair) -> bool:
    return pair.teeth is not None and any(abs(order - k * pair.teeth) < 0.5 for k in range(1, MESHES + 1))


def _one(average: NDArray[np.float64]) -> float:
    """Share of the rise and fall within a turn that lies within an eighth of it from its top, the first two multiples
    left out: one narrow blow has nearly all, teeth that differ from one to the next share it."""
    multiples = np.fft.rfft(average)
    multiples[:_FIRST] = 0
    multiples[COMB + 1 :] = 0
    course = np.square(rest := np.fft.irfft(multiples, len(average)))
    reach = len(course) // 8
    near = np.take(course, np.arange(-reach, reach + 1) + int(rest.argmax()), mode="wrap")
    return float(near.sum() / max(course.sum(), 1e-30))


def _mesh(turned: Turned, pair: Pair) -> dict[str, float]:
    """Depth of the swelling at the mesh, in its sidebands and multiples; and from what depth on sidebands would have
    stood out. Of what the part's width takes from fast swellings, all is given back while half is left."""
    lines, whole = turned.lines, turned.strengths[0]
    assert pair.teeth is not None
    values = {"mesh-shown": whole.shows(pair.teeth * turned.hz)}
    if values["mesh-shown"] < 0.3 or pair.teeth >= lines.top_hz:
        return values
    seen = [k for k in range(1, MESHES + 1) if whole.shows(k * pair.teeth * turned.hz) >= 0.3]
    left = {k: whole.shows(k * pair.teeth * turned.hz) ** 2 for k in seen}
    sides = {k: _sidebands(lines, pair, k) for k in seen}
    through = {k: _between(lines, pair, k) for k in seen}
    carriers = [max(0.0, _power(lines, np.array([k * pair.teeth])) - through[k]) / left[k] for k in seen]
    power = sum(max(0.0, _power(lines, sides[k]) - through[k] * len(sides[k])) / left[k] for k in seen)
    spread = math.sqrt(sum((_spread(lines, sides[k]) / left[k]) ** 2 for k in seen))
    values["sides-told"] = math.sqrt(3 * spread)
    values["mesh-sides"] = math.sqrt(power)
    values["mesh-depth"] = math.sqrt(sum(carriers) + power)
    values["mesh-growth"] = math.sqrt(sum(carriers[1:]) / (carriers[0] + 0.01))
    return values


def _between(lines: Lines, pair: Pair, multiple: int) -> float:
    """Power of one line of a blow's comb, which runs through the mesh: the mean of what the wheels have half-way
    between the mesh and its neighbours."""
    assert pair.teeth is not None
    low, high = (multiple - 0.65) * pair.teeth, (multiple - 0.35) * pair.teeth
    orders = [k * wheel for wheel in pair.wheels for k in range(math.ceil(low / wheel), int(high / wheel) + 1)]
    return _power(lines, np.array(orders)) / len(orders) if orders else 0.0


def _tones(turned: Turned, pair: Pair) -> dict[str, float]:
    """The mesh as tones: sidebands over the mesh's own lines, second and third over first, where they stand out."""
    lines = turned.tones
    if lines is None or pair.teeth is None:
        return {}
    own = [k for k in range(1, MESHES + 1) if (k + 0.2) * pair.teeth < lines.top_hz]
    at = _index(lines, np.array([k * pair.teeth for k in own]))
    if not own or lines.surprise[0, at[0] - 1 : at[0] + 2].max() < 10:
        return {}
    carriers = [_power(lines, np.array([k * pair.teeth])) for k in own]
    if carriers[0] < SURE * _spread(lines, np.array([float(pair.teeth)])):
        return {}  # it stands beside the mesh
    spots = np.concatenate([_sidebands(lines, pair, k) for k in own])
    sides = max(0.0, _power(lines, spots) - SURE * _spread(lines, spots))
    growth = math.sqrt(sum(carriers[1:]) / carriers[0]) if carriers[0] else 0.0
    return {"tone-sides": min(math.sqrt(sides / max(sum(carriers), 1e-30)), 1.0), "tone-growth": min(growth, 3.0)}


def _sidebands(lines: Lines, pair: Pair, multiple: int) -> NDArray[np.float64]:
    """Orders of the first three pairs of sidebands of each wheel about a multiple of the mesh, out of its skirts."""
    assert pair.teeth is not None
    away = np.multiply.outer(pair.wheels, (1, 2, 3)).ravel()
    away = away[away > SKIRT_TURNS * lines.step_hz]
    return np.unique(np.round(multiple * pair.teeth + np.concatenate([-away, away]), 6))


def _index(lines: Lines, orders: NDArray[np.float64]) -> NDArray[np.intp]:
    index = np.rint(orders / lines.step_hz).astype(np.intp)
    return index[(index > 1) & (index < lines.surprise.shape[1] - 1)]


def _power(lines: Lines, orders: NDArray[np.float64], view: int = 0) -> float:
    """Power of the lines at these orders beyond that of noise: a line through a Hann window fills three."""
    index = _index(lines, orders)
    around = np.square(lines.amplitude[view, index[:, None] + np.array([-1, 0, 1])]).sum(axis=1)
    return max(0.0, float((around - 3 * lines.noise[view, index]).sum()) / 1.5)


def _spread(lines: Lines, orders: NDArray[np.float64]) -> float:
    """By how much `_power` of noise alone spreads."""
    return math.sqrt(1.5 * float(np.square(lines.noise[0, _index(lines, orders)]).sum()))


def _foreign(turned: Turned, pair: Pair, mains_hz: float | None) -> float:
    """Decades beyond chance of the strongest family of lines that belongs to no wheel and not to the mains, where there
    are blows at all."""
    if turned.kurtosis < LEAST_BLOWS:
        return 0.0
    lines = turned.lines
    comb = slice(0, int(COMB / lines.step_hz))
    view = 1 + 2 * int(lines.surprise[1::2, comb].sum(axis=1).argmax())  # the logarithm that shows most
    one = lines.one(view)
    own = one.near_multiples(pair.wheels, at_most=0.03 * min(pair.wheels))
    mains = one.near_multiples([hz / turned.hz for hz in nominal_mains(mains_hz)], 0.5 / turned.hz)
    family = one.best_family(1.3 * min(pair.wheels), 13.0 * max(pair.wheels), own | mains)
    return family.score if len(family.found_hz) >= 3 else 0.0
