"""Does a closed valve pass? Levels upstream, at and downstream of it compared, and what the recording holds.

A valve that passes is itself the source: gas or liquid squeezed through the seat makes turbulent noise there, loudest
at the valve and just downstream, and weaker further on. Noise made elsewhere runs along the pipe and only fades: from
upstream it is loudest upstream, from beyond it is loudest beyond (common practice: listen before, at, after, and
further on). Only a valve commanded closed, with pressure across it, can be judged so.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from earwitness.hearing.evidence import Evidence, Judgement, decide, fitted, weigh
from earwitness.hearing.heard import Heard
from earwitness.hearing.hiss_heard import HissHeard
from earwitness.sentence import Sentence, say

VERSION = "3"
_NAMES = {
    "at-over-upstream": ("level at the valve over upstream", "dB"),
    "downstream-over-upstream": ("level downstream over upstream", "dB"),
    "downstream-over-at": ("level downstream over the valve", "dB"),
    "downstream-over-beyond": ("level downstream over further on", "dB"),
    "valve-over-both": ("level at the valve or just behind it over the louder of both ends", "dB"),
    "hiss-share": ("steady hiss in all that is heard at the valve", "dB"),
    "puffed": ("part of the time inside sharp-fronted puffs", ""),
}


@dataclass(frozen=True)
class ValveState:
    """What is known: displayed levels along the pipe, what the valve was told, whether pressure stood across it."""

    upstream_db: float | None = None
    downstream_db: float | None = None
    beyond_db: float | None = None
    position_commanded: Literal["closed", "open"] | None = None
    pressure_across: bool | None = None
    level_db: float | None = None  # at the valve; that of `heard` comes first


def judge(
    heard: Heard | None = None, state: ValveState | None = None, *, prior: Mapping[str, float] | None = None
) -> Judgement:
    """`passing`, `no-passage-heard` or `inconclusive`.

    Parameters
    ----------
    heard : the recording and level at the valve; None where only levels were read.
    state : what is known of the valve and the levels along the pipe.
    prior : probability of each verdict before listening, by default the stored one [1].
    """
    state = state or ValveState()
    stored, _ = fitted("valve")
    sound = HissHeard.of_pipe(heard, 0.5)
    measured = _measure(heard, state, sound)
    evidence = _evidence(measured)
    probabilities = weigh(prior or stored, evidence)
    verdict, probability = decide(probabilities)
    settle = _not_to_be_judged(state) or _levels_missing(measured)
    if settle is not None:
        verdict = "inconclusive"
    elif verdict == "inconclusive":
        settle = _near(measured)
    return Judgement(
        verdict,
        probability,
        probabilities,
        evidence,
        "valve",
        VERSION,
        settle=settle,
        notes=_notes(verdict, state, measured),
        traces=sound.traces(sound.hiss.raw_db) if sound else (),
        measured=measured,
    )


def _measure(heard: Heard | None, state: ValveState, sound: HissHeard | None) -> dict[str, float]:
    at = heard.level_db if heard is not None and heard.level_db is not None else state.level_db
    pairs = {
        "at-over-upstream": (at, state.upstream_db),
        "downstream-over-upstream": (state.downstream_db, state.upstream_db),
        "downstream-over-at": (state.downstream_db, at),
        "downstream-over-beyond": (state.downstream_db, state.beyond_db),
    }
    known = {name: a - b for name, (a, b) in pairs.items() if a is not None and b is not None}
    ends = [x for x in (state.upstream_db, state.beyond_db) if x is not None]
    near = [x for x in (at, state.downstream_db) if x is not None]
    if len(ends) == 2 and near:
        known["valve-over-both"] = max(near) - max(ends)
    measured = {name: over for name, over in known.items() if math.isfinite(over)}
    if sound is not None:
        measured["hiss-share"] = sound[1].share_db
        measured["puffed"] = float(sound[1].bursts.mask.mean())
    return measured


def _evidence(measured: Mapping[str, float]) -> tuple[Evidence, ...]:
    found = []
    for row in fitted("valve")[1]:
        value = measured.get(row.code)
        if value is not None:
            name, unit = _NAMES[row.code]
            criterion = f"> {row.criterion:g} {unit}".rstrip()
            found.append(Evidence(row.code, name, value, unit, criterion, row.supports, row.weight(value)))
    return tuple(found)


def _not_to_be_judged(state: ValveState) -> Sentence | None:
    if state.position_commanded == "open":
        return say("valve-open", "The valve was commanded open: flow is what it is for. Close it, wait, listen again.")
    if state.position_commanded is None:
        return say("valve-position", "Say what the valve was commanded: only a closed one can be said to pass.")
    if state.pressure_across is False:
        return say(
            "valve-no-pressure", "No pressure stood across the valve: nothing could pass. Listen under pressure."
        )
    return None


def _levels_missing(measured: Mapping[str, float]) -> Sentence | None:
    """A hiss at the valve alone may have come along the pipe: at least one pair with the upstream level is needed."""
    if "at-over-upstream" in measured or "downstream-over-upstream" in measured:
        return None
    return say(
        "valve-levels",
        "One place alone cannot tell a valve that passes from noise along the pipe: read the level upstream, at the "
        "valve, downstream and further on, in the same contact manner.",
    )


def _near(measured: Mapping[str, float]) -> Sentence:
    if "downstream-over-beyond" not in measured:
        return say(
            "valve-beyond",
            "Read the level further downstream too: if it falls again, the noise is made at the valve; if it rises, it "
            "comes from beyond.",
        )
    return say(
        "valve-again",
        "The levels differ too little: quieten other users of the line, or listen again with more pressure across it.",
    )


def _notes(verdict: str, state: ValveState, measured: Mapping[str, float]) -> tuple[Sentence, ...]:
    notes = []
    if verdict != "inconclusive" and state.pressure_across is None:
        notes.append(
            say("valve-pressure-unknown", "This holds only if pressure stood across the valve; that was not noted.")
        )
    beyond = measured.get("downstream-over-beyond")
    if verdict == "no-passage-heard" and beyond is not None and beyond < -3.0:
        notes.append(
            say(
                "valve-noise-from-beyond",
                "It is {by:.0f} dB louder further on: the noise comes from there.",
                by=-beyond,
            )
        )
    return tuple(notes)
