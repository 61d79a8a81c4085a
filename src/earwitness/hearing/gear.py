"""Gears: a tooth that strikes once a turn of its wheel, or a mesh that has worn.

Teeth meet at the mesh frequency, the wheel's speed times its teeth. In any gear the sound swells a little with each
meeting. Wear makes it swell more, unevenly round the wheel: mesh lines with sidebands at ± the wheels' speeds. A
cracked or chipped tooth gives one blow a turn: a comb of many harmonics of one wheel's speed, far above the first few
that a bent or eccentric shaft makes. A bearing's blows keep a rate that is no multiple of a wheel's, which tells them
apart. (Randall, J. Mech. Design 104 (1982) 259-267; McFadden, J. Vib. Acoust. 108 (1986) 165-170.)
Weights: hearing/weights/gear.json.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.errors import InputError
from earwitness.hearing.bearing_sound import BearingSound
from earwitness.hearing.evidence import Evidence, Judgement, Trace, WeightRow, decide, fitted, weigh
from earwitness.hearing.heard import Heard
from earwitness.sentence import Sentence, say
from earwitness.sound.envelope import whole_spectrum
from earwitness.sound.orders import Lines

VERSION = "1"
SHORTEST_TURNS = 20.0  # of the slower wheel, to part its lines from others
FOREIGN_CHANCE = 9.0  # decades from which blows that belong to no wheel forbid a verdict that nothing is heard
BLOWS = 0.2  # log of 1 + kurtosis: a tone has none (-1), noise none (0), blows have some
TONAL = 0.75  # share of the energy in lone tones from which a rhythm is theirs
LEAST_SWELL, MOST_SWELL = 0.1, 0.3  # depth of the mesh from which it can be worn, and up to which nothing is heard
ACT_RISE_DB = 16.0  # P: common practice takes 8 dB over baseline for a change to watch, 16 dB for damage
_COMB = 15  # harmonics of a wheel's speed looked at; the first two say little

_NAMES = {
    "turn-harmonics": ("harmonics of one wheel's speed that stand out, from the third on", "of 13", "> {c:.0f}"),
    "turn-share": ("share of all lines that one wheel's harmonics account for", "", "> {c:.2f}"),
    "turn-depth": ("depth of modulation by those harmonics", "of the mean", "> {c:.2f}"),
    "mesh-share": ("share of all lines at the mesh frequency and its sidebands", "", "> {c:.2f}"),
    "mesh-depth": ("depth of modulation at the mesh frequency and its sidebands", "of the mean", "> {c:.2f}"),
    "mesh-sides": ("how much of that stands in the sidebands", "", "> {c:.2f}"),
    "foreign": ("strongest family of lines that belongs to no wheel, against chance", "decades", "> {c:.1f} decades"),
    "kurtosis": ("impacts in the clearest band (log of 1 + kurtosis)", "decades", "> {c:.2f}"),
    "calm-turn-harmonics": ("no comb of one wheel's speed: harmonics that stand out, negative", "of 13", "> {c:.0f}"),
    "calm-turn-depth": ("no blow once a turn: depth of that comb, negative", "of the mean", "> {c:.2f}"),
    "calm-mesh-depth": ("the mesh hardly swells: depth of modulation, negative", "of the mean", "> {c:.2f}"),
    "calm-kurtosis": ("no impacts in the clearest band: log of 1 + kurtosis, negative", "decades", "> {c:.2f}"),
    "rise": ("level over baseline", "dB", "> {c:.0f} dB"),
}


@dataclass(frozen=True)
class GearMachine:
    """Speed of the wheel listened to, its teeth and its mate's; all of it may be missing."""

    speed_hz: float | None = None
    teeth: int | None = None
    mate_teeth: int | None = None
    mains_hz: float | None = None

    @property
    def mate_hz(self) -> float | None:
        if self.speed_hz and self.teeth and self.mate_teeth:
            return self.speed_hz * self.teeth / self.mate_teeth
        return None

    @property
    def mesh_hz(self) -> float | None:
        return self.speed_hz * self.teeth if self.speed_hz and self.teeth else None


@dataclass(frozen=True)
class _Wheels:
    """Lines heard, the wheels' speeds as the lines put them, and which wheel's comb stands out most."""

    sound: BearingSound
    speeds_hz: tuple[float, ...]
    striking_hz: float
    mesh_hz: float | None


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
    wanting = _wanting(heard, machine)
    wheels = None if wanting else _listen(heard, machine)
    values = _measure(heard, wheels)
    items = _evidence(values, rows)
    probabilities = weigh(prior or stored, items)
    verdict, probability = decide(probabilities)
    if wanting is None and verdict != "tooth" and values.get("foreign", 0.0) > FOREIGN_CHANCE:
        wanting = say(
            "settle-foreign",
            "Blows are heard whose rate is no multiple of a known wheel's speed: listen to the bearings of this gear,"
            " and give the teeth of both wheels.",
        )
    if wheels is not None and verdict == "no-fault-heard" and (wheels.mesh_hz or 0.0) > 0.3 * wheels.sound.width_hz:
        wanting = say(
            "settle-mesh-band",
            "Teeth meet {mesh_hz:.0f} times a second, faster than this recording's band can show. A wide-band recording"
            " or a slower run would do.",
            mesh_hz=wheels.mesh_hz,
        )
    if wheels is not None and verdict in ("tooth", "wear") and _tonal(heard, wheels) > TONAL:
        wanting = say(
            "settle-tones",
            "Nearly all of the sound is tones, as a beeper, a siren or music makes them; blows and worn teeth sound"
            " over a broad band. Record again without them.",
        )
    if wanting is None and (verdict == "inconclusive" or _doubtful(verdict, values)):
        wanting = _settle(heard, machine)
    return Judgement(
        verdict="inconclusive" if wanting else verdict,
        probability=probability,
        probabilities=probabilities,
        evidence=items,
        detector="gear",
        detector_version=VERSION,
        settle=wanting,
        severity=_severity(verdict, wheels, values.get("rise")) if not wanting else None,
        notes=_notes(wheels, machine),
        traces=_traces(wheels),
        measured=values,
    )


def _wanting(heard: Heard, machine: GearMachine) -> Sentence | None:
    """What is missing before anything can be judged."""
    if "rhythm" in heard.spoiled or not len(heard.samples) or not np.ptp(heard.samples):
        return say(
            "settle-rhythm",
            "The recording cannot show a rhythm. Record again with fixed gain, uncompressed, no noise suppression.",
        )
    if machine.speed_hz is not None and not machine.speed_hz > 0:
        raise InputError("speed_hz", machine.speed_hz, "more than 0 (leave it out where it is not known)")
    if machine.speed_hz is None:
        return say("settle-gear-speed", "The wheel's speed is not known; with it and the teeth the lines can be read.")
    slowest = min(machine.speed_hz, machine.mate_hz or machine.speed_hz)
    if heard.seconds * slowest < SHORTEST_TURNS:
        return say(
            "settle-longer",
            "The recording lasts {seconds:.1f} s; {needed:.0f} s at steady speed would do.",
            seconds=heard.seconds,
            needed=max(10.0, math.ceil(2 * SHORTEST_TURNS / slowest)),
        )
    return None


def _listen(heard: Heard, machine: GearMachine) -> _Wheels:
    assert machine.speed_hz is not None
    fastest = max(machine.speed_hz, machine.mate_hz or 0.0)
    limit_hz = max(2.3 * (machine.mesh_hz or 0.0), 1.1 * _COMB * fastest)
    sound = BearingSound.of(heard.samples, heard.rate_hz, min(limit_hz, 6000.0), max(2 * _COMB * fastest, 400.0))
    given = (machine.speed_hz,) + ((machine.mate_hz,) if machine.mate_hz else ())
    heard_at = [sound.lines.shaft_speed(hz) for hz in given]
    clearest = max(range(len(given)), key=lambda i: heard_at[i][1])
    scale = heard_at[clearest][0] / given[clearest] if heard_at[clearest][1] > 4 else 1.0  # both wheels keep step
    speeds = tuple(hz * scale for hz in given)
    mesh = machine.mesh_hz * scale if machine.mesh_hz else None
    combs = [_comb(sound.lines, hz)[0] for hz in speeds]
    return _Wheels(sound, speeds, speeds[int(np.argmax(combs))], mesh)


def _comb(lines: Lines, hz: float) -> tuple[int, NDArray[np.intp]]:
    """How many harmonics from the third on stand out in the view that shows most, and where they lie."""
    index = np.rint(hz * np.arange(3, _COMB + 1) / lines.step_hz).astype(np.intp)
    index = index[index < lines.surprise.shape[1]]
    return (int((lines.surprise[:, index] >= 5.0).sum(axis=1).max()) if len(index) else 0), index


def _measure(heard: Heard, wheels: _Wheels | None) -> dict[str, float]:
    values: dict[str, float] = {}
    if heard.level_db is not None and heard.baseline_db is not None and "level" not in heard.spoiled:
        values["rise"] = heard.level_db - heard.baseline_db
    if wheels is None:
        return values
    lines, hz = wheels.sound.lines, wheels.striking_hz
    nothing = np.zeros(lines.surprise.shape[1], dtype=bool)
    mains = lines.near_multiples((50.0, 60.0), at_most=0.5) & ~lines.near_multiples(wheels.speeds_hz, at_most=0.5)
    energy = lines.standing_out(mains, 0.5 * min(wheels.speeds_hz), lines.top_hz)
    mesh = _mesh_rows(lines, energy, wheels)
    turning = energy.copy()
    if wheels.mesh_hz:  # what belongs to the mesh is no blow once a turn
        for order in (1, 2):
            middle = round(order * wheels.mesh_hz / lines.step_hz)
            reach = round(3.5 * max(wheels.speeds_hz) / lines.step_hz)
            turning[:, max(middle - reach, 0) : middle + reach] = 0
    found, index = _comb(lines, hz)
    comb = turning[:, index].sum(axis=1) + turning[:, index - 1].sum(axis=1) + turning[:, index + 1].sum(axis=1)
    total = energy.sum(axis=1) + 0.07**2
    values["turn-harmonics"] = float(found)
    values["turn-share"] = float((comb / total).mean())
    values["turn-depth"] = math.sqrt(float(comb.max()))
    if mesh is not None:
        alone, sides = mesh
        values["mesh-share"] = min(1.0, float(((alone + sides) / total).mean()))
        values["mesh-depth"] = math.sqrt(float((alone + sides).max()))
        view = int((alone + sides).argmax())
        values["mesh-sides"] = float(sides[view] / (alone[view] + sides[view] + 1e-4))
    own = lines.near_multiples(wheels.speeds_hz, at_most=0.03 * min(wheels.speeds_hz)) | (
        mains if mains.any() else nothing
    )
    foreign = lines.best_family(1.3 * hz, 13.0 * hz, own)
    values["foreign"] = foreign.score if len(foreign.found_hz) >= 3 else 0.0
    values["kurtosis"] = math.log10(1 + max(wheels.sound.kurtosis, 0.0))
    for name in ("turn-harmonics", "turn-depth", "mesh-depth", "kurtosis"):
        if name in values:
            values[f"calm-{name}"] = -values[name]
    return values


def _mesh_rows(lines: Lines, energy: NDArray[Any], wheels: _Wheels) -> tuple[NDArray[Any], NDArray[Any]] | None:
    """Energy at the mesh frequency and twice it, and in the sidebands of both wheels about them, by view."""
    if wheels.mesh_hz is None or wheels.mesh_hz > lines.top_hz:
        return None
    at = np.array([wheels.mesh_hz])
    alone = np.array([lines.shares(row, at, 0.0, pairs=0, harmonics=2)[0] for row in energy])
    sides = np.zeros(len(energy))
    for hz in wheels.speeds_hz:
        sides += np.array([lines.shares(row, at, hz, pairs=3, harmonics=2)[0] for row in energy]) - alone
    return alone, np.maximum(sides, 0.0)


def _evidence(values: Mapping[str, float], rows: tuple[WeightRow, ...]) -> tuple[Evidence, ...]:
    items = []
    for row in rows:
        value = values.get(row.code)
        if value is not None and abs(row.weight(value)) >= 0.005:
            name, unit, criterion = _NAMES[row.code]
            says = criterion.format(c=row.criterion)
            items.append(Evidence(row.code, name, value, unit, says, row.supports, row.weight(value)))
    return tuple(items)


def _doubtful(verdict: str, values: Mapping[str, float]) -> bool:
    """Whether what must be there for a verdict is not: blows for a tooth, a mesh that swells for wear, its lack for
    neither."""
    depth = values.get("mesh-depth", 0.0)
    if verdict == "tooth":
        return values.get("kurtosis", 0.0) < BLOWS
    return depth < LEAST_SWELL if verdict == "wear" else depth > MOST_SWELL


def _tonal(heard: Heard, wheels: _Wheels) -> float:
    """Share of the energy in lone tones: blocks of the spectrum, wider than a wheel's comb is spaced, that stand ten
    times over those beside them. A blow rings over many blocks."""
    whole = whole_spectrum(heard.samples[: int(20 * heard.rate_hz)], heard.rate_hz)
    block = max(8, round(max(50.0, 3 * max(wheels.speeds_hz)) * whole.seconds))
    count = len(whole.bins) // block
    if count < 12:
        return 0.0
    power = np.square(np.abs(whole.bins[: count * block])).reshape(count, block).sum(axis=1, dtype=np.float64)
    padded = np.pad(power, 3, mode="reflect")
    beside = np.minimum(
        np.maximum(padded[:-6], padded[1:-5])[:count], np.maximum(padded[5:-1], padded[6:])[:count]
    )  # the quieter side, two and three blocks off
    return float(power[power > 10 * beside].sum() / max(power.sum(), 1e-30))


def _settle(heard: Heard, machine: GearMachine) -> Sentence:
    if machine.teeth is None:
        return say("settle-teeth", "The number of teeth is not known; with it mesh lines could be told from others.")
    if heard.baseline_db is None:
        return say(
            "settle-gear-baseline",
            "A level with its baseline, or the same gear of a like machine, recorded for {needed:.0f} s, would decide.",
            needed=max(20.0, 2 * heard.seconds),
        )
    return say(
        "settle-gear-longer",
        "A recording of {needed:.0f} s at steady speed and load would part the lines.",
        needed=max(20.0, 2 * heard.seconds),
    )


def _severity(verdict: str, wheels: _Wheels | None, rise: float | None) -> Sentence | None:
    """Act or watch, by level over baseline: practice (P), since no criteria are accepted (ISO 29821-1:2011, 8.5)."""
    if verdict not in ("tooth", "wear") or wheels is None:
        return None
    which = "this wheel" if wheels.striking_hz == wheels.speeds_hz[0] else "its mate"
    heard = f"One blow a turn of {which}." if verdict == "tooth" else "The mesh sounds uneven round the wheel."
    graded = "no level with its baseline to grade it" if rise is None else f"level {rise:.0f} dB over baseline"
    return say(
        "act" if rise is not None and rise >= ACT_RISE_DB else "watch",
        "{heard} Basis: {graded}; common practice acts from {act:.0f} dB. There are no universally accepted severity"
        " criteria (ISO 29821-1, 8.5).",
        heard=heard,
        graded=graded,
        which=which,
        act=ACT_RISE_DB,
    )


def _notes(wheels: _Wheels | None, machine: GearMachine) -> tuple[Sentence, ...]:
    if wheels is not None and machine.teeth is None:
        return (say("wear-not-judged", "Without the number of teeth the mesh could not be judged, only single blows."),)
    return ()


def _traces(wheels: _Wheels | None) -> tuple[Trace, ...]:
    """The envelope spectrum in the view with the deepest lines, with both wheels' and the mesh lines marked."""
    if wheels is None:
        return ()
    lines = wheels.sound.lines
    view = int(lines.standing_out(np.zeros(lines.surprise.shape[1], bool), 1.0, lines.top_hz).sum(axis=1).argmax())
    arrays = {
        "freq_hz": (np.arange(lines.surprise.shape[1]) * lines.step_hz).astype(np.float32),
        "amplitude": lines.amplitude[view].astype(np.float32),
        "threshold": (3.0 * np.sqrt(lines.noise[view])).astype(np.float32),
    }
    lines_at = [(hz, name) for hz, name in zip(wheels.speeds_hz, ("wheel", "mate"), strict=False)]
    lines_at += (
        [(order * wheels.mesh_hz, name) for order, name in ((1, "mesh"), (2, "2 × mesh"))] if wheels.mesh_hz else []
    )
    marks: list[Mapping[str, Any]] = [{"view": lines.names[view]}]
    for hz, name in lines_at:
        index = round(hz / lines.step_hz)
        if index < lines.surprise.shape[1] - 1:
            found = bool(lines.surprise[view, index - 1 : index + 2].max() > 5)
            marks.append({"hz": hz, "tolerance_hz": 2 * lines.step_hz, "name": name, "found": found})
    return (Trace("envelope-spectrum", arrays, tuple(marks)),)
