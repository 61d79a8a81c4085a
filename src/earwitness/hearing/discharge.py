"""Is it a discharge, which kind, or only hum? Read from how the loudness follows the mains.

Air that discharges at an AC voltage crackles with the voltage's own rhythm: a broadband sound, gated by the mains
(Archives of Acoustics 34 (2009) 41-49). So the recording is cut into sub-bands, narrow lines are taken out, and what
most sub-bands do together is looked at over one cycle of the mains and over seconds:

- **corona** beats steadily, at the mains frequency (one polarity) or its double (both), second after second;
- **tracking** beats at twice the mains, builds up over seconds and lets go, and again: it grows slowly, falls at once;
- **arcing** comes in abrupt bursts, over a broad part of each half cycle, starts again and again, breaks off at once;
- **hum** (laminations, loose parts) is the same movement twice a cycle: narrow lines twice the mains apart, with
  little between them;
- nothing of these: no beat at the mains, or one that is not common to the sub-bands, or has another cause;
- a dimmer or a thyristor clicks at the same phase each cycle, and each click is like the last; no discharge is
  (`discharge_pulses`).

Traps. Two ultrasonic tones that fold to 100 Hz apart beat in one sub-band and in no other. A rectifier beats six times
a cycle. A fan of a two-pole motor beats near twice the mains, 1 to 4 % below. A line at the mains as strong as the one
at its double means that one polarity discharges, not that it is no discharge. Lines of the mains below the
receiver's band came by the cable. Below 1 kV on a sinusoidal supply nothing in air glows (`discharge_physics`): what
sounds like corona there is tracking or arcing, and no less urgent.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import product
from typing import Literal

import numpy as np

from earwitness.hearing.discharge_measures import LOCKED_DB, Listened, _listen
from earwitness.hearing.discharge_physics import CORONA_FROM_V, corona_expected
from earwitness.hearing.discharge_words import DISCHARGES, QUIET, DischargeAccount
from earwitness.hearing.evidence import Evidence, Judgement, Trace, WeightRow, decide, fitted, weigh
from earwitness.hearing.heard import NO_SOUND, Heard
from earwitness.sentence import Sentence, say
from earwitness.sound.mains import GRIDS_HZ, nominal_mains
from earwitness.sound.mains_phase import TOLERANCE

VERSION = "10"
ISLAND = 0.02  # above nominal: grids that are joined to no other (EN 50160:2010, 4.2.1; 95 % of a week)
SHORTEST_S = 0.5
LOWEST_RATE_HZ = 4000.0
_HUM_DB = -12.0  # of 64 simulated hums told as such none has its lines 7 dB below the rest
_BY_LINES = ("tonal", "tones", "comb-lines", "comb-over-rest")  # need an unspoiled spectrum
_NAMES = {
    "lock": ("beat at the mains or its multiples over what is around it", "dB"),
    "together": ("likeness of the beat in all sub-bands", ""),
    "one-polarity": ("beat once a cycle over that twice a cycle", "dB"),
    "broad": ("mean power over one cycle, of that of its loudest phase", ""),
    "unsteady": ("variation of the beat's strength, over its mean", ""),
    "swing": ("rise and fall of the beat's strength over stretches of 0.2 s", "dB"),
    "growth": ("stretches in which the beat grows, less those in which it shrinks, over their chance", ""),
    "let-go": ("slow growth and sudden end, from -1 (the reverse) to 1", ""),
    "starts": ("sudden rises of the beat to its full strength a second", "1/s"),
    "bursts": ("loudest cycles over the middle one", "dB"),
    "spread-out": ("loudest cycle of half of the eighths of the recording, over that of the whole, both in dB", ""),
    "lasts": ("how long a burst lasts that begins with a crack", "ms"),
    "burns-on": ("middle of a burst's power in the time that it lasts: 0.5 steady, less where it fades", ""),
    "cracks": ("times a second at once louder than ever in the last 60 ms", "1/s"),
    "edges": ("what part of its height a burst gains and loses at once", ""),
    "in-all-bands": ("likeness of the course in all sub-bands", ""),
    "depth": ("how much louder at the loudest phase of the mains", "dB"),
    "off-mains": ("distance of the beat from the nominal mains", "%"),
    "anew": ("how much the crest differs from cycle to cycle, over what noise in its place would", ""),
    "crest": ("width of the loudest crest, area over height", "ms"),
    "not-a-swell": ("what of the swing is no smooth swell twice a cycle, over what is", "dB"),
    "six-pulse": ("beat six times a cycle over that once, twice or four times", "dB"),
    "tones": ("narrow lines that are not twice the mains apart, over the rest", "dB"),
    "comb-lines": ("narrow lines twice the mains apart, beyond chance", ""),
    "comb-over-rest": ("lines twice the mains apart over what is between", "dB"),
}


@dataclass(frozen=True)
class ElectricalState:
    """What is known of the equipment: mains frequency [Hz], nominal voltage [V, phase to phase], what supplies it."""

    mains_hz: float | None = None
    voltage_v: float | None = None
    supply: Literal["sinusoidal", "inverter"] | None = None


def judge(heard: Heard, state: ElectricalState | None = None, *, prior: Mapping[str, float] | None = None) -> Judgement:
    """`corona`, `tracking`, `arcing`, `mains-hum`, `no-discharge-heard` or `inconclusive`, with the evidence.

    Parameters
    ----------
    heard : the reading; levels are not used: a discharge is told by its pattern, not by its strength.
    state : what is known of the equipment.
    prior : probability of each verdict before listening [1]; by default the stored one.
    """
    state = state or ElectricalState()
    stored, rows = fitted("electrical")
    prior = prior or stored
    unfit = _unfit(heard)
    if unfit:
        return Judgement("inconclusive", None, {}, (), "electrical", VERSION, settle=unfit)
    nominal = nominal_mains(state.mains_hz)
    sound = _listen(heard.samples, heard.rate_hz, nominal, heard.signal == "direct")
    numbers = dict(sound.numbers)
    if "spectrum" in heard.spoiled:
        numbers = {code: value for code, value in numbers.items() if code not in _BY_LINES}
    evidence = [_said(row, numbers[row.code]) for row in rows if row.code in numbers]
    if not corona_expected(state.voltage_v, state.supply):
        evidence += _not_corona(weigh(prior, evidence), float(state.voltage_v or 0.0))
    probabilities = weigh(prior, evidence)
    verdict, probability = decide(probabilities)
    off_mains = None
    if verdict not in DISCHARGES:
        off_mains = _beats_off_the_mains(sound) or _beats_on_an_island(heard, state, prior, sound)
    # a hum is told by its lines, and heard where they are no more than a little weaker than what is between them
    unseen = verdict == "mains-hum" and ("spectrum" in heard.spoiled or numbers.get("comb-over-rest", 0.0) < _HUM_DB)
    account = DischargeAccount(heard, state.mains_hz, state.voltage_v, state.supply, sound)
    if unseen or ((off_mains or account.few_bursts) and verdict in QUIET):
        verdict = "inconclusive"
    return Judgement(
        verdict,
        probability,
        probabilities,
        tuple(sorted(evidence, key=lambda e: -abs(e.weight))),
        "electrical",
        VERSION,
        settle=(off_mains or account.settle(probabilities)) if verdict == "inconclusive" else None,
        severity=account.severity(verdict),
        notes=account.notes(verdict, probabilities),
        traces=_traces(sound),
        measured=numbers,
    )


def _unfit(heard: Heard) -> Sentence | None:
    """Why the recording shows no pattern at all, and what would."""
    if not len(heard.samples):
        return NO_SOUND
    if heard.seconds < SHORTEST_S:
        return say(
            "electrical-too-short",
            "Record at least {needed:g} s without moving; this lasts {seconds:.2f} s.",
            needed=3,
            seconds=heard.seconds,
        )
    if heard.rate_hz < LOWEST_RATE_HZ:
        return say(
            "electrical-rate",
            "At {rate:.0f} samples a second too little of the sound is left; record at {needed:.0f} or more.",
            rate=heard.rate_hz,
            needed=8000,
        )
    if not np.any(heard.samples) or not np.isfinite(np.sum(heard.samples)):
        return say(
            "electrical-silent", "The recording holds no sound; record again with the receiver's audio connected."
        )
    if "rhythm" in heard.spoiled:
        return say(
            "electrical-rhythm-spoiled",
            "The recording's rhythm is spoiled, and a discharge is told by its rhythm; record again, uncompressed and "
            "without interruptions.",
        )
    return None


def _said(row: WeightRow, value: float) -> Evidence:
    plain = row.code.removeprefix("faint-")
    name, unit = _NAMES[plain]
    if plain != row.code:
        name += ", where no beat of the mains is sure"
    sign = ">" if row.scale > 0 else "<"
    criterion = f"{sign} {row.criterion:g} {unit}".rstrip()
    return Evidence(row.code, name, round(value, 3), unit, criterion, row.supports, row.weight(value))


def _not_corona(probabilities: Mapping[str, float], voltage_v: float) -> list[Evidence]:
    """What speaks for corona speaks, where air cannot glow, for the discharges that can be: their odds to each other
    and the probability that there is a discharge at all stay as they were."""
    corona, others = probabilities["corona"], probabilities["tracking"] + probabilities["arcing"]
    weights = {"corona": -12.0, "tracking": math.log1p(corona / others), "arcing": math.log1p(corona / others)}
    name, criterion = "nominal voltage on a sinusoidal supply", f"corona from {CORONA_FROM_V:g} V on"
    return [Evidence("voltage", name, voltage_v, "V", criterion, v, weight) for v, weight in weights.items()]


def _beats_off_the_mains(sound: Listened) -> Sentence | None:
    """Bursts in every sub-band with a beat of their own near twice the mains, or any beat once or twice a cycle of 50
    or 60 Hz where the other was stated: nothing that the mains do here, but what a discharge would do on an island's
    generator, behind a converter, or in a recording whose speed was changed."""
    lock, numbers = sound.lock, sound.numbers
    near = 0.85 < lock.foreign_hz / (2 * lock.nominal_hz) < 1.15 or 85.0 < lock.foreign_hz < 138.0
    bursts = numbers.get("bursts", 0.0) > 7.0 and numbers.get("in-all-bands", 0.0) > 0.8
    other = min(abs(lock.foreign_hz / hz - 1) for hz in (*GRIDS_HZ, *(2 * f for f in GRIDS_HZ))) < TOLERANCE
    if not (((near and bursts) or other) and lock.foreign_db > LOCKED_DB and numbers["lock"] < LOCKED_DB):
        return None
    return say(
        "beat-off-mains",
        "It beats at {hz:.1f} Hz, as the mains would not; state the mains frequency as measured, or record again "
        "without changing the speed.",
        hz=round(lock.foreign_hz, 1),
    )


def _beats_on_an_island(
    heard: Heard, state: ElectricalState, prior: Mapping[str, float], sound: Listened
) -> Sentence | None:
    """A beat once or twice a cycle of mains a little faster than nominal that would be a discharge's there: so a
    generating set runs. One a little slower may be a fan's, whose motor slips."""
    lock = sound.lock
    locked = sound.numbers["lock"] > LOCKED_DB or lock.foreign_db < LOCKED_DB
    if locked or state.mains_hz not in (None, *GRIDS_HZ):  # what was measured is not doubted
        return None
    for hz, turns in product(GRIDS_HZ, (1, 2)):
        if TOLERANCE < lock.foreign_hz / (turns * hz) - 1 < ISLAND:
            mains = lock.foreign_hz / turns
            there = judge(heard, replace(state, mains_hz=mains), prior=prior).verdict
            if there in DISCHARGES:
                return say(
                    "beat-on-island",
                    "It beats at {hz:.1f} Hz: where the mains run at {mains:.1f} Hz, as on a generating set, it is "
                    "{kind}. State the mains frequency as measured.",
                    hz=lock.foreign_hz,
                    mains=mains,
                    kind=there,
                )
    return None


def _traces(sound: Listened) -> tuple[Trace, ...]:
    lock, spectrum = sound.lock, sound.spectrum
    shown = spectrum.hz <= 460
    noise = spectrum.amplitude / np.sqrt(np.maximum(spectrum.power, 1e-9))
    threshold = noise * np.float32(10 ** (LOCKED_DB / 20))
    marks = tuple(
        {
            "hz": order * lock.mains_hz,
            "tolerance_hz": spectrum.resolution_hz,
            "name": "mains" if order == 1 else f"{order} × mains",
            "found": lock.lines_db[order] > LOCKED_DB,
        }
        for order in (1, 2, 3, 4)
    )
    phase = (np.arange(len(sound.pattern_db)) + 0.5) * (360 / len(sound.pattern_db))
    level = (sound.pattern_db - sound.pattern_db.mean()).astype(np.float32)
    loudest = {"deg": float(phase[int(np.argmax(level))]), "name": "loudest (phase not referred to the voltage)"}
    pattern = {"phase_deg": phase.astype(np.float32), "level": level}
    pattern |= {"low": level - sound.spread_db, "high": level + sound.spread_db, "spread": sound.spread_db}
    return (
        Trace(
            "envelope-spectrum",
            {
                "freq_hz": spectrum.hz[shown],
                "amplitude": spectrum.amplitude[shown],
                "threshold": threshold[shown].astype(np.float32),
            },
            marks,
        ),
        Trace("mains-phase", pattern, (loudest,) if sound.numbers["lock"] > LOCKED_DB else ()),
    )
