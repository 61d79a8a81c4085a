"""What is it, when nobody says what was listened to? Each detector is asked, and their answers are weighed.

A detector knows its own kind and takes all else for silence; asked about a foreign sound it may find something in it.
So the odds that each of them gives for its own verdicts are evidence here, no more, and are weighed jointly with
weights fitted on sounds of every kind and of none (`fitting/unknown.py`). Hiss through a valve or a trap sounds like
that of a leak, and what tells a gear is its teeth: those kinds are told by levels, temperatures and speeds, not by
sound alone, so they are not among the answers.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from earwitness.hearing import bearing, discharge, leak, seal
from earwitness.hearing.evidence import Evidence, Judgement, WeightRow, decide, fitted, weigh
from earwitness.hearing.heard import Heard
from earwitness.sentence import Sentence, say

VERSION = "1"
SHORTEST_S = 0.5
NONE = "none"
QUIET = {
    "leak": frozenset({"no-leak-heard"}),
    "seal": frozenset({"no-passage-heard"}),
    "bearing": frozenset({"no-fault-heard"}),
    "electrical": frozenset({"no-discharge-heard"}),
}
_NAMES = {
    "leak": "odds of a leak, asked as one (log)",
    "seal": "odds of an emitter's tone coming through (log)",
    "bearing": "odds of a bearing's fault (log)",
    "electrical": "odds of a discharge or hum (log)",
}
_KINDS = {"leak": "a leak", "seal": "a tone test", "bearing": "a bearing", "electrical": "something electrical"}
_MOST_NATS = 8.0


@dataclass(frozen=True)
class UnknownState:
    """What may be known all the same: mains frequency [Hz], nominal voltage [V], what supplies it, shaft speed [Hz]."""

    mains_hz: float | None = None
    voltage_v: float | None = None
    supply: str | None = None
    speed_hz: float | None = None


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
    if heard.seconds < SHORTEST_S or not np.any(heard.samples):
        return Judgement("inconclusive", None, {}, (), "unknown", VERSION, settle=_settle({NONE: 1.0}))
    asked = _asked(heard, state or UnknownState())
    odds = {kind: _log_odds(judgement, kind) for kind, judgement in asked.items()}
    items = [_said(row, odds[row.code.removeprefix("as-")]) for row in rows]
    kinds = weigh(prior or stored, items)
    kind, probability = decide(kinds)
    measured = {f"kind-{name}": p for name, p in kinds.items()}
    words = {name: _best(judgement, name)[0] for name, judgement in asked.items()}
    probabilities = {words.get(name, "inconclusive"): p for name, p in kinds.items()}
    shown = tuple(replace(item, supports=words.get(item.supports, "inconclusive")) for item in items)
    if kind in asked:
        own = asked[kind]
        settle = own.settle or _settle_within(kind)
        verdict = own.verdict if own.verdict not in QUIET[kind] else "inconclusive"
        return replace(
            own,
            verdict=verdict,
            probability=probability * (own.probability or 0.0),
            probabilities=probabilities,
            evidence=shown + own.evidence,
            detector="unknown",
            detector_version=VERSION,
            settle=settle if verdict == "inconclusive" else None,
            notes=(_told(kind, probability), *own.notes),
            measured=measured,
        )
    return Judgement(
        "inconclusive",
        probability,
        probabilities,
        shown,
        "unknown",
        VERSION,
        settle=_settle(kinds),
        measured=measured,
    )


def _said(row: WeightRow, odds: float) -> Evidence:
    name = _NAMES[row.code.removeprefix("as-")]
    sign = ">" if row.scale > 0 else "<"
    criterion = f"{sign} {row.criterion:g} nats"
    return Evidence(row.code, name, round(odds, 2), "nats", criterion, row.supports, row.weight(odds))


def _log_odds(judgement: Judgement, kind: str) -> float:
    """How sure a detector is that it heard something of its own kind: ln(p/(1-p)) of all its verdicts but the quiet
    one, within ±8; -8 where it could not judge."""
    if not judgement.probabilities:
        return -_MOST_NATS
    quiet = sum(p for verdict, p in judgement.probabilities.items() if verdict in QUIET[kind])
    quiet = min(max(quiet, 1e-9), 1 - 1e-9)
    return min(_MOST_NATS, max(-_MOST_NATS, math.log((1 - quiet) / quiet)))


def _asked(heard: Heard, state: UnknownState) -> dict[str, Judgement]:
    return {
        "leak": leak.judge(heard, leak.LeakState()),
        "seal": seal.judge(heard, seal.SealState()),
        "bearing": bearing.judge(heard, bearing.BearingMachine(speed_hz=state.speed_hz, mains_hz=state.mains_hz)),
        "electrical": discharge.judge(
            heard,
            discharge.ElectricalState(state.mains_hz, state.voltage_v, state.supply),  # type: ignore[arg-type]
        ),
    }


def _best(judgement: Judgement, kind: str) -> tuple[str, float]:
    """The likeliest verdict of a detector apart from its quiet one."""
    heard = {v: p for v, p in judgement.probabilities.items() if v not in QUIET[kind]}
    word = max(heard, key=lambda v: heard[v]) if heard else "inconclusive"
    return word, heard.get(word, 0.0)


def _told(kind: str, probability: float) -> Sentence:
    return say(
        "kind-told",
        "Nobody said what was listened to; it sounds most like {kind} ({percent:.0f} %).",
        kind=_KINDS[kind],
        percent=100 * probability,
    )


def _settle_within(kind: str) -> Sentence:
    return say("kind-then-details", "It sounds like {kind}; state that kind and what it asks for.", kind=kind)


def _settle(kinds: Mapping[str, float]) -> Sentence:
    if max(kinds, key=lambda kind: kinds[kind]) == NONE:
        return say(
            "kind-none",
            "Nothing of a leak, a tone test, a bearing or a discharge was heard; state what was listened to, and give "
            "level and background.",
        )
    first, second = sorted(kinds, key=lambda kind: -kinds[kind])[:2]
    return say(
        "kind-ask",
        "It may be {first} or {second}: state what was listened to, or record 10 s nearer, with the probe screened.",
        first=first,
        second=second if second != NONE else "nothing",
    )
