"""What is it, when nobody says what was listened to?

First order: what the sound is made of. Each kind that is told by sound alone is made of something else:

- a discharge beats with the mains, in all sub-bands at once, with lines at its multiples in the loudness (its own
  detector measures that; here such lines are left out of the search for any other rhythm);
- a bearing's fault strikes in a rhythm that has nothing to do with the mains: short blows, so that many harmonics of
  their rate stand nearly as high as the first, and rare strong moments rather than a swell; so does a gear's, and which
  of the two it is the parts and the teeth tell, not the sound;
- an emitter's tone is narrow, comes and goes with its own beat, and grows and fades along a sweep; nobody said that
  there is one, so a tone without that beat speaks against it: horns, bells and engines that pass have such tones too;
- a leak is hiss that stands over its background or over the quiet parts of a sweep.

A fan or an air conditioner swells in a rhythm too, but smoothly: its harmonics fall off steeply (the Fourier series
of a smooth course against that of short blows). A rectifier beats six times a cycle of the mains and with nothing
slower. Then each kind's own detector is asked: it knows its own kind and takes all else for silence, so its odds are
evidence beside those measures, no more. That it is none of them is told by the surest detector alone: one that is sure
is enough for something, however many deny theirs. Only of impacts in no rhythm is none asked: clatter has them too. All
are weighed jointly with weights fitted on sounds of every kind and of none (`fitting/unknown.py`), and the likeliest
kind's own detector gives the verdict.

Which probe was held is known more often than the kind, and each has its use (common practice): through a contact probe
nobody looks for what comes through the air, least of all on live parts, through an air probe seldom for a bearing. And
a level through the open enclosure is read for a tone test.

Hiss through a valve or a trap sounds like that of a leak: those kinds are told by levels and temperatures, not by sound
alone, so they are not among the answers. Nor is friction: a raised level without impacts is told from the level over
its baseline.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from earwitness.hearing import bearing, discharge, leak, seal
from earwitness.hearing.discharge_words import DISCHARGES
from earwitness.hearing.evidence import DECISION, Evidence, Judgement, WeightRow, decide, fitted, weigh
from earwitness.hearing.heard import Heard
from earwitness.sentence import Sentence, say
from earwitness.sound.mains import nominal_mains
from earwitness.sound.mains_phase import EnvelopeSpectrum, MainsLock, envelope_spectrum, mains_lock
from earwitness.sound.modulation import modulation

VERSION = "10"
SHORTEST_S = 0.5
NONE = "none"
QUIET = {
    "leak": frozenset({"no-leak-heard"}),
    "seal": frozenset({"no-passage-heard"}),
    "bearing": frozenset({"no-fault-heard", "friction"}),
    "electrical": frozenset({"no-discharge-heard"}),
}
_IN_NO_RHYTHM = frozenset({"irregular"})
_NAMES = {
    "strikes": ("harmonics of a beat that is not of the mains, as far as blows have them and swells have not", "dB"),
    "moments": ("kurtosis of the loudness (log10; a steady hiss has 0.7)", ""),
    "tone": ("narrow tone that comes and goes, against chance", "standard deviations"),
    "tone-beats": ("beats a second of the tone, where it has a regular beat as an emitter has", "1/s"),
    "tone-front": ("rise within an eighth of a second of a tone that has no regular beat", "dB"),
    "own-rhythm": ("beats that are not of the mains", ""),
    "beat-depth": ("how much louder at the loudest phase of the mains", "dB"),
    "hum-lines": ("narrow lines twice the mains apart, beyond chance", ""),
    "blows": ("impacts in the band that has most of them: log of 1 + kurtosis", "decades"),
    "at-parts": ("lines at the rate of one of the stated bearing's parts, beyond chance", "decades"),
    "as-leak": ("odds of a leak, asked as one (log)", "nats"),
    "as-seal": ("odds of an emitter's tone coming through (log)", "nats"),
    "as-bearing": ("odds of a bearing's fault (log)", "nats"),
    "as-electrical": ("odds of a discharge or hum (log)", "nats"),
    "surest": ("odds that the surest detector gives its own kind (log), impacts in no rhythm left aside", "nats"),
}
# what the kinds' own detectors measure of a sound
_MEASURED = {
    "tone": ("seal", "tone-deviate"),
    "tone-front": ("seal", "front"),
    "own-rhythm": ("electrical", "foreign-lines"),
    "beat-depth": ("electrical", "depth"),
    "hum-lines": ("electrical", "comb-lines"),
    "blows": ("bearing", "kurtosis"),
}
_KINDS = {
    "leak": "a leak",
    "seal": "a tone test",
    "bearing": "a bearing or a gear",
    "electrical": "something electrical",
}
# What a probe is not held for, nor a level through the open enclosure read for; what is left of the prior odds of that.
_NOT_FOR = {"contact": ("leak", "seal", "electrical"), "airborne": ("bearing",)}
_NO_TONE_TEST = ("leak", "bearing", "electrical")
_ALL_THE_SAME = 0.2
_MOST_NATS = 8.0
_LOWEST_RATE_HZ = 4000.0
_NO_CHANCE = 3.0  # standard deviations of a tone that comes and goes
_FASTEST_BEAT_HZ = 10.0  # of an emitter; a saw's teeth and a shaft are faster
# a motor's noise swells a little, and smoothly, with twice the mains: to that depth, and with that share of its peak
_MOTOR_DB, _MOTOR_BREADTH = 4.0, 0.35
_LOCKED_DB = 11.0  # over its local noise: 3e-6 of the lines of noise reach it (exp(-12.6))
_OF_THE_MAINS = 0.01  # a line this near a multiple of the mains may be its skirt: it wanders while one listens
_SLOWEST_HZ, _FASTEST_HZ = 15.0, 450.0  # blows that are told by lines in the loudness
_HARMONICS = 3
_OVERTONE_DB = 6.0
_BLOWS_FALL_DB = 8.0  # from the first to the third, of rings that last up to a quarter of the time between blows


@dataclass(frozen=True)
class UnknownState:
    """What may be known all the same: mains frequency [Hz], nominal voltage [V], what supplies it, and of a machine its
    speed and bearing."""

    mains_hz: float | None = None
    voltage_v: float | None = None
    supply: str | None = None
    machine: bearing.BearingMachine | None = None


def judge(heard: Heard, state: UnknownState | None = None, *, prior: Mapping[str, float] | None = None) -> Judgement:
    """The likeliest verdict of any kind (`leak`, `passage`, a bearing's fault, a discharge or hum) or `inconclusive`.

    Parameters
    ----------
    heard : the reading.
    state : what may be known of the place.
    prior : probability of each of leak, seal, bearing, electrical and none [1]; by default the stored one.

    Returns
    -------
    Judgement
        The judgement of the likeliest kind's detector with the odds between the kinds in front of its evidence.
        `measured` holds the probability of each kind.
    """
    stored, rows = fitted("unknown")
    if heard.seconds < SHORTEST_S or heard.rate_hz < _LOWEST_RATE_HZ or not np.any(heard.samples):
        return Judgement("inconclusive", None, {}, (), "unknown", VERSION, settle=_settle_unheard())
    state = state or UnknownState()
    asked = _asked(heard, state)
    measured = _made_of(heard, state)
    measured |= {f"as-{kind}": _log_odds(judged, QUIET[kind]) for kind, judged in asked.items()}
    measured["surest"] = max(_log_odds(judged, QUIET[kind] | _IN_NO_RHYTHM) for kind, judged in asked.items())
    for code, (kind, name) in _MEASURED.items():
        if name in asked[kind].measured:
            measured[code] = float(asked[kind].measured[name])
    if state.machine is not None and state.machine.stated and "calm-chance" in asked["bearing"].measured:
        measured["at-parts"] = -asked["bearing"].measured["calm-chance"]
    beat_hz = asked["seal"].measured.get("beat-hz", 0.0)
    sure = measured.get("tone", 0.0) > _NO_CHANCE  # else the beat may be that of noise
    measured["tone-beats"] = beat_hz if sure and beat_hz < _FASTEST_BEAT_HZ else 0.0
    items = [_said(row, measured[row.code]) for row in rows if row.code in measured]
    kinds = weigh(_as_taken(prior or stored, heard), items)
    kind = max(kinds, key=lambda name: kinds[name])
    verdicts = _verdicts(kinds, asked)
    verdict, probability = decide(verdicts)
    own = asked.get(kind)
    motor = own is not None and own.verdict == verdict and _as_a_motor(own)
    if own is None or own.verdict != verdict or motor:
        verdict = "inconclusive"
    words = {name: _likeliest(judged, name) for name, judged in asked.items()}
    shown = tuple(replace(item, supports=words.get(item.supports, "inconclusive")) for item in items)
    told = own is not None and kinds[kind] >= DECISION
    return Judgement(
        verdict=verdict,
        probability=probability,
        probabilities=verdicts,
        evidence=shown + own.evidence if own and told else shown,
        detector="unknown",
        detector_version=VERSION,
        settle=None
        if verdict != "inconclusive"
        else _settle_motor(asked["electrical"])
        if _may_be_a_motor(kinds, asked["electrical"])
        else (own.settle or _settle_within(kind))
        if own and told
        else _settle(kinds),
        severity=own.severity if own and verdict != "inconclusive" else None,
        places=own.places if own and verdict != "inconclusive" else (),
        notes=(_told(kind, kinds[kind]), *own.notes) if own and told else (),
        traces=own.traces if own and told else (),
        measured=measured | {f"kind-{name}": p for name, p in kinds.items()},
    )


def _made_of(heard: Heard, state: UnknownState) -> dict[str, float]:
    """How the loudness of the sound goes: in short blows whose rhythm is not the mains', and with rare strong moments.

    Of a recording with ultrasound of its own only what lies above 12 kHz is looked at: less of the plant is heard."""
    low = 12_000.0 if heard.signal == "direct" and heard.rate_hz > 64_000 else 500.0
    sound = modulation(heard.samples, heard.rate_hz, low, min(0.47 * heard.rate_hz, 110_000.0))
    spectrum = envelope_spectrum(sound.common, sound.frame_hz)
    nominal = nominal_mains(state.mains_hz)
    lock = max((mains_lock(spectrum, (hz,)) for hz in nominal), key=lambda found: found.over_noise_db)
    power = np.exp(sound.common)
    about = power - power.mean()
    return {
        "strikes": _strikes_db(spectrum, lock, nominal),
        "moments": math.log10(float(np.mean(about**4)) / max(float(np.mean(about**2)) ** 2, 1e-30)),
    }


def _strikes_db(spectrum: EnvelopeSpectrum, lock: MainsLock, nominal_hz: tuple[float, ...]) -> float:
    """Of the strongest beat that is not of the mains: the weakest of its first three harmonics, less what the first
    stands over the last beyond what short blows would leave."""
    hz = spectrum.hz
    looked_at = (hz >= _SLOWEST_HZ) & (hz <= _FASTEST_HZ)
    mains = [6 * f for f in nominal_hz]  # three-phase rectifiers
    if lock.over_noise_db > _LOCKED_DB:
        mains += [lock.mains_hz * order for order in range(1, int(_FASTEST_HZ / lock.mains_hz) + 2)]
    for line in mains:
        looked_at &= np.abs(hz - line) > max(3 * spectrum.resolution_hz, _OF_THE_MAINS * line)
    first = float(hz[int(np.argmax(np.where(looked_at, spectrum.power, 0)))])
    lines = [_line_db(spectrum, order * first) for order in range(1, _HARMONICS + 1) if order * first < hz[-1]]
    slower = [first / part for part in (2, 3) if 3.0 < first / part < _SLOWEST_HZ]
    if any(_line_db(spectrum, beat) > lines[0] - _OVERTONE_DB for beat in slower):
        return 0.0  # overtones of something slow: a tone switched on and off, a beeper
    return min(lines) - max(0.0, lines[0] - lines[-1] - _BLOWS_FALL_DB)


def _line_db(spectrum: EnvelopeSpectrum, line_hz: float) -> float:
    """The highest point at a line, half a percent of slip allowed."""
    near = np.abs(spectrum.hz - line_hz) <= max(0.75 * spectrum.resolution_hz, 0.006 * line_hz)
    return 10 * math.log10(float(spectrum.power[near].max(initial=1e-9)) + 1e-9)


def _verdicts(kinds: Mapping[str, float], asked: Mapping[str, Judgement]) -> dict[str, float]:
    """Probability of each verdict: of its kind, times what its detector gives it among all that are not quiet."""
    out = {"inconclusive": kinds[NONE]}
    for kind, judged in asked.items():
        loud = {v: p for v, p in judged.probabilities.items() if v not in QUIET[kind]}
        total = sum(loud.values())
        if total > 0:
            out |= {verdict: kinds[kind] * p / total for verdict, p in loud.items()}
        else:
            out["inconclusive"] += kinds[kind]
    return out


def _as_taken(prior: Mapping[str, float], heard: Heard) -> dict[str, float]:
    """The prior of the kinds, less of what readings that were taken so are not taken for."""
    not_for = _NOT_FOR.get(heard.sensor or "", ()) + (_NO_TONE_TEST if heard.reference_db is not None else ())
    odds = {kind: p * (_ALL_THE_SAME if kind in not_for else 1.0) for kind, p in prior.items()}
    return {kind: p / sum(odds.values()) for kind, p in odds.items()}


def _said(row: WeightRow, value: float) -> Evidence:
    name, unit = _NAMES[row.code]
    sign = ">" if row.scale > 0 else "<"
    criterion = f"{sign} {row.criterion:g} {unit}".rstrip()
    return Evidence(row.code, name, round(value, 2), unit, criterion, row.supports, row.weight(value))


def _log_odds(judgement: Judgement, nothing: frozenset[str]) -> float:
    """How sure a detector is that it heard something of its own kind: ln(p/(1-p)) of all its verdicts but those that
    count for nothing, within ±8; -8 where it could not judge."""
    if not judgement.probabilities:
        return -_MOST_NATS
    quiet = sum(p for verdict, p in judgement.probabilities.items() if verdict in nothing)
    quiet = min(max(quiet, 1e-9), 1 - 1e-9)
    return min(_MOST_NATS, max(-_MOST_NATS, math.log((1 - quiet) / quiet)))


def _asked(heard: Heard, state: UnknownState) -> dict[str, Judgement]:
    return {
        "leak": leak.judge(heard, leak.LeakState()),
        "seal": seal.judge(heard, seal.SealState()),
        "bearing": bearing.judge(heard, state.machine or bearing.BearingMachine(mains_hz=state.mains_hz)),
        "electrical": discharge.judge(
            heard,
            discharge.ElectricalState(state.mains_hz, state.voltage_v, state.supply),  # type: ignore[arg-type]
        ),
    }


def _likeliest(judgement: Judgement, kind: str) -> str:
    """The likeliest verdict of a detector apart from its quiet ones."""
    heard = {v: p for v, p in judgement.probabilities.items() if v not in QUIET[kind]}
    return max(heard, key=lambda v: heard[v]) if heard else "inconclusive"


def _as_a_motor(judgement: Judgement) -> bool:
    """Whether what is called a discharge is no deeper and no sharper than a motor's own noise."""
    return judgement.verdict in DISCHARGES and _swells(judgement)


def _may_be_a_motor(kinds: Mapping[str, float], judgement: Judgement) -> bool:
    """Whether what is most likely electrical, or half as likely as the likeliest, swells as a motor's noise does."""
    return kinds["electrical"] >= max(kinds.values()) / 2 and _swells(judgement)


def _swells(judgement: Judgement) -> bool:
    """Whether it beats with the mains, but shallow and smoothly."""
    m = judgement.measured
    return m.get("lock", 0.0) > _LOCKED_DB and m["depth"] < _MOTOR_DB and m.get("broad", 0.0) > _MOTOR_BREADTH


def _settle_motor(judgement: Judgement) -> Sentence:
    return say(
        "kind-motor",
        "It swells with the mains, but by {depth:.1f} dB only and smoothly, as a motor's own noise may: state what was "
        "listened to, or record 10 s nearer, with the probe screened.",
        depth=float(judgement.measured["depth"]),
    )


def _told(kind: str, probability: float) -> Sentence:
    return say(
        "kind-told",
        "Nobody said what was listened to; it sounds most like {kind} ({percent:.0f} %).",
        kind=_KINDS[kind],
        percent=100 * probability,
    )


def _settle_within(kind: str) -> Sentence:
    return say("kind-then-details", "It sounds like {kind}; state that kind and what it asks for.", kind=kind)


def _settle_unheard() -> Sentence:
    return say(
        "kind-not-listened",
        "There is no sound here that can be listened to: record {needed:g} s or more, and state what was listened to.",
        needed=SHORTEST_S,
    )


def _settle(kinds: Mapping[str, float]) -> Sentence:
    if max(kinds, key=lambda kind: kinds[kind]) == NONE:
        return say(
            "kind-none",
            "Nothing stands out as a leak, a tone test, a bearing, a gear or a discharge, which does not say that "
            "there is none; state what was listened to, and give level and background.",
        )
    first, second = sorted(kinds, key=lambda kind: -kinds[kind])[:2]
    return say(
        "kind-ask",
        "It may be {first} or {second}: state what was listened to, or record 10 s nearer, with the probe screened.",
        first=first,
        second=second if second != NONE else "nothing",
    )
