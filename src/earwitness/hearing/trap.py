"""Does a steam trap work, blow, or is it blocked? By the rhythm of its sound, its level, and two temperatures.

A trap lets condensate out and holds steam back. How that sounds depends on its kind (common practice):

- thermodynamic: shut, then a sharp discharge of a second or a few, some times a minute; more than about one a second
  is a worn disc that passes steam with every stroke;
- bucket: discharges that swell and fall, some seconds apart; no trap that cycles works at one a second;
- float and thermostatic: never quite still, the flow rises and falls with the load.

Live steam that blows through is a steady, loud hiss without any of it. Silence with a cold outlet, steam proven at the
inlet, is a blocked trap; silence with a hot outlet may be the pause between two discharges. Condensate that flashes
behind a float or thermostatic trap hisses too, so there a hiss must be both steady and loud.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from earwitness.hearing.evidence import Evidence, Judgement, decide, fitted, weigh
from earwitness.hearing.heard import Heard
from earwitness.hearing.hiss_heard import HissHeard
from earwitness.sentence import Sentence, say
from earwitness.sound.hiss import HOP_S
from earwitness.sound.pulsing import find_peaks, running_mean

VERSION = "7"
STEAM_K = 368.15  # an inlet this hot (95 °C) has steam or its condensate at it
_ZERO_C = 273.15
_RAPID_HZ = 0.8  # discharges a second from which a cycling trap passes steam
_SWING_DB = 4.0
_DISCHARGE_S = 0.5  # no discharge is shorter; steam and water together flutter by several decibels, but faster
_STROKE_FRAMES, _STROKE_DB = 3, 5.0  # several strokes a second would run together in the course of half a second
_LEAST_STROKES, _EVEN, _ALL_THE_TIME = 5, 1 / 3, 0.9  # strokes by chance: 0.4 and 0.7 (exponential times between)
_LONGEST_S = 4.0  # a discharge may last so long, and hisses steadily meanwhile
_STROKES = 2  # over so many of them a rapid cycle is level
_DECIDES_DB = 3.0  # what stands less over its background decides nothing by itself
_LEAST_HZ = 1500.0  # what flows hisses over all that a receiver passes; a drone's rumble is narrower
_CYCLING = ("thermodynamic", "bucket")
_LONGER = say(
    "trap-longer",
    "Listen for a minute or more, in contact at the outlet side, and read the level upstream and the "
    "temperatures before and behind the trap.",
)
_NAMES = {
    "swing": ("rise and fall, within the recording, of what the trap adds to the sound", "dB"),
    "rapid": ("discharges a second", "1/s"),
    "over-quiet": ("level over the pipe upstream or the background", "dB"),
    "outlet-cold": ("outlet below 60 °C, the inlet hot", "K"),
}


@dataclass(frozen=True)
class TrapState:
    """What is known: the kind of trap, temperatures before and behind it, the level of the pipe upstream."""

    trap_type: Literal["thermodynamic", "float", "bucket", "thermostatic"] | None = None
    upstream_k: float | None = None
    downstream_k: float | None = None
    upstream_db: float | None = None
    level_db: float | None = None  # at the trap; that of `heard` comes first


def judge(
    heard: Heard | None = None, state: TrapState | None = None, *, prior: Mapping[str, float] | None = None
) -> Judgement:
    """`working`, `blowing`, `blocked` or `inconclusive`.

    Parameters
    ----------
    heard : recording and level at the trap; None where only temperatures and levels were read.
    state : what is known of the trap.
    prior : probability of each verdict before listening, by default the stored one [1].
    """
    state = state or TrapState()
    stored, _ = fitted("trap")
    sound = HissHeard.of_pipe(heard, 2.0)
    measured = _measure(heard, state, sound)
    evidence = _evidence(measured)
    probabilities = weigh(prior or stored, evidence)
    verdict, probability = decide(probabilities)
    settle = _unproven(verdict, state, measured) or _part_of_a_cycle(verdict, sound, measured)
    if settle is not None:
        verdict = "inconclusive"
    return Judgement(
        verdict,
        probability,
        probabilities,
        evidence,
        "trap",
        VERSION,
        settle=settle,
        notes=_notes(verdict, measured),
        traces=sound.traces(sound.hiss.raw_db) if sound else (),
        measured=measured,
    )


def _measure(heard: Heard | None, state: TrapState, sound: HissHeard | None) -> dict[str, float]:
    measured: dict[str, float] = {}
    over = _over_quiet(heard, state, sound)
    if sound is not None and heard is not None and _passed_hz(sound) > _LEAST_HZ:
        level = sound.hiss.raw_db
        rhythm = _rapid(level) if state.trap_type in (None, *_CYCLING) and "rhythm" not in heard.spoiled else None
        slow = running_mean(level, round(_DISCHARGE_S / HOP_S) if rhythm is None else round(_STROKES / rhythm / HOP_S))
        if rhythm is not None:
            measured["rapid"] = rhythm
        if "rhythm" not in heard.spoiled:
            measured["cycles"] = float(len(find_peaks(slow, _SWING_DB)))
        own = _without(slow, over)
        swing = float(np.quantile(own, 0.95) - np.quantile(own, 0.05))
        if "level" not in heard.spoiled or swing >= _SWING_DB:  # clipping and automatic gain take from it, never add
            measured["swing"] = swing
    if over is not None and math.isfinite(over):
        measured["over-quiet"] = over
    if state.upstream_k is not None and state.downstream_k is not None and state.upstream_k >= STEAM_K:
        measured["outlet-cold"] = 60.0 + _ZERO_C - state.downstream_k
    return measured


def _passed_hz(sound: HissHeard) -> float:
    return float(np.diff(sound.bands.edges_hz)[sound.hiss.bands].sum())


def _rapid(level_db: NDArray[np.float64]) -> float | None:
    """Discharges a second of a trap that cycles rapidly: evenly and without a pause, as knocks near by are not."""
    strokes = np.array([p.index for p in find_peaks(running_mean(level_db, _STROKE_FRAMES), _STROKE_DB)])
    if len(strokes) < _LEAST_STROKES:
        return None
    gaps = np.diff(strokes)
    apart = float(np.median(gaps))
    rate = 1 / (apart * HOP_S)
    even = float(np.median(np.abs(gaps - apart))) < _EVEN * apart and len(strokes) * apart > _ALL_THE_TIME * len(
        level_db
    )
    return rate if even and rate >= _RAPID_HZ else None


def _without(level_db: NDArray[np.float64], over_db: float | None) -> NDArray[np.float64]:
    """What the trap adds to what is not the trap: powers add up, and where little of its own stands over that, a
    quarter is left to it."""
    if over_db is None or not over_db >= _DECIDES_DB:
        return level_db
    power = 10 ** (level_db / 10)
    own = power - float(power.mean()) * 10 ** (-over_db / 10)
    return np.asarray(10 * np.log10(np.maximum(own, power / 4)), np.float64)


def _over_quiet(heard: Heard | None, state: TrapState, sound: HissHeard | None) -> float | None:
    """The trap's level over the loudest of what is not the trap: the pipe upstream, the background."""
    at = heard.level_db if heard is not None and heard.level_db is not None else state.level_db
    others = [x for x in (state.upstream_db, heard.background_db if heard is not None else None) if x is not None]
    if at is not None and others:
        return at - max(others)
    if heard is None or sound is None or heard.background is None or "level" in heard.spoiled:
        return None
    if not np.any(heard.background) or len(heard.background) < 0.5 * heard.rate_hz:
        return None
    power = float(np.mean(np.square(heard.samples, dtype=np.float64)))
    return 10 * math.log10(power / float(np.mean(np.square(heard.background, dtype=np.float64))))


def _evidence(measured: Mapping[str, float]) -> tuple[Evidence, ...]:
    found = []
    for row in fitted("trap")[1]:
        value = measured.get(row.code)
        if value is not None:
            name, unit = _NAMES[row.code]
            criterion = f"> {row.criterion:g} {unit}".rstrip()
            found.append(Evidence(row.code, name, value, unit, criterion, row.supports, row.weight(value)))
    return tuple(found)


def _unproven(verdict: str, state: TrapState, measured: Mapping[str, float]) -> Sentence | None:
    """What is missing for a verdict, or for the one that the weights lean to."""
    if state.upstream_k is not None and state.upstream_k < STEAM_K:
        return say(
            "trap-no-steam",
            "The inlet has only {celsius:.0f} °C: no steam is proven there. Find out whether the line is in service.",
            celsius=state.upstream_k - _ZERO_C,
        )
    if verdict == "blocked" and "outlet-cold" not in measured:
        return say(
            "trap-temperatures",
            "It is silent; whether it is blocked or pausing, the temperatures before and behind it will tell.",
        )
    if verdict == "blowing" and "over-quiet" not in measured and measured.get("rapid", 0.0) < _RAPID_HZ:
        return say(
            "trap-level",
            "A steady hiss with nothing to hold it against: read the level at the trap and on the pipe upstream.",
        )
    return _LONGER if verdict == "inconclusive" or (verdict == "working" and "cycles" not in measured) else None


def _part_of_a_cycle(verdict: str, sound: HissHeard | None, measured: Mapping[str, float]) -> Sentence | None:
    """A discharge of a sound trap may fill a short recording."""
    short = sound is not None and len(sound.hiss.raw_db) * HOP_S < _LONGEST_S
    return _LONGER if verdict == "blowing" and short and measured.get("rapid", 0.0) < _RAPID_HZ else None


def _notes(verdict: str, measured: Mapping[str, float]) -> tuple[Sentence, ...]:
    if verdict == "blowing" and measured.get("rapid", 0.0) >= _RAPID_HZ:
        return (
            say(
                "trap-rapid",
                "It cycles {rate:.1f} times a second, and no trap works so fast: a worn disc, or a bucket that has lost"
                " its water, passes steam with every stroke.",
                rate=measured["rapid"],
            ),
        )
    return ()
