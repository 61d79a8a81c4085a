"""Is it a leak? Steady or swept broadband hiss that stands above the background.

Gas that escapes through a small opening makes turbulent noise: broadband, Gaussian, without rhythm (Lighthill, Proc.
R. Soc. A 211 (1952) 564). What else is heard near by is not: machines whine, people talk, things knock, exhausts puff
in rhythm. `sound.hiss` finds the hiss beneath them; here it is held against the background, which may be

- the displayed level of the point against that of its surroundings, less what is not hiss in it;
- a recording of the background, band by band;
- the quiet parts of the sweep itself: the hiss rises and falls as the probe passes.

With none of the three a faint steady hiss may be the receiver's own: the answer is `inconclusive`. A level alone less
than 3 dB over background decides nothing (common practice).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from earwitness.hearing.evidence import Evidence, Judgement, Place, decide, fitted, weigh
from earwitness.hearing.heard import Heard
from earwitness.hearing.hiss_heard import HissHeard
from earwitness.hearing.leak_background import MOMENT_S, PLACE_DB, _calm, _over_background, _range
from earwitness.sentence import Sentence, say
from earwitness.sound.hiss import HOP_S, Hiss
from earwitness.sound.pulsing import Peak, find_peaks, running_mean, running_quantile

VERSION = "3"
DECIDES_DB = 3.0  # a level less than this over background decides nothing by itself
_SWEEP_S = 2.5  # no probe is led past a source in less
_NO_HISS_DB = -20.0
_FRONT, _FRONT_DB, _BEFORE = 3, 6.0, 25  # frames of 20 ms
_MOSTLY_HISS_DB = -10.0
_NAMES = {
    "over-background": ("steady hiss over the background", "dB"),
    "stands-out": ("hiss over the background or over the quiet parts of the sweep, whichever is more", "dB"),
    "swept-rise": ("smooth rise of the hiss as the probe passes", "dB"),
    "hiss-share": ("hiss in all that is heard", "dB"),
    "puffed": ("part of the time inside sharp-fronted puffs", ""),
    "level-over-background": ("displayed level over the background", "dB"),
}


@dataclass(frozen=True)
class LeakState:
    """What is known of the place: why it blows, whether it was under pressure, whether the probe was led along."""

    cause: Literal["fault", "deliberate", "drain"] | None = None
    pressurised: bool | None = None
    swept: bool | None = None


def judge(heard: Heard, state: LeakState | None = None, *, prior: Mapping[str, float] | None = None) -> Judgement:
    """`leak`, `no-leak-heard` or `inconclusive`, with the evidence, and where in the recording it is loudest.

    Parameters
    ----------
    heard : the reading; with no samples the levels alone are judged.
    state : what is known of the place.
    prior : probability of each verdict before listening, by default the stored one [1].
    """
    state = state or LeakState()
    stored, _ = fitted("leak")
    sound = HissHeard.of(heard, 0.5, **_range(heard))
    measured = _measure(heard, sound)
    evidence = _evidence(measured)
    probabilities = weigh(prior or stored, evidence)
    verdict, probability = decide(probabilities)
    places = _places(sound[1]) if sound else ()
    settle = None
    if _unreferenced(heard, measured):
        verdict = "inconclusive"
    if verdict == "inconclusive":
        settle = _settle(heard, measured)
    return Judgement(
        verdict,
        probability,
        probabilities,
        evidence,
        "leak",
        VERSION,
        settle=settle,
        places=places if verdict != "no-leak-heard" else (),
        notes=_notes(verdict, state, sound, places),
        traces=sound.traces(sound.hiss.curve_db, places) if sound else (),
        measured=measured,
    )


def _measure(heard: Heard, sound: HissHeard | None) -> dict[str, float]:
    """The features; one that could not be measured is left out."""
    measured: dict[str, float] = {}
    if heard.level_db is not None and heard.background_db is not None:
        over = heard.level_db - heard.background_db
        measured |= {"level-over-background": over} if math.isfinite(over) else {}
    if sound is None:
        return measured
    hiss = sound[1]
    measured["swept-rise"] = _swept_rise(heard, hiss)
    measured["hiss-share"] = hiss.share_db
    measured["unsteady"] = hiss.unsteady_db
    measured["puffed"] = float(hiss.bursts.mask.mean())
    against = _over_background(heard, sound, measured)
    if against is not None:
        measured["over-background"] = against
        measured["stands-out"] = max(against, measured["swept-rise"])
    return measured


def _swept_rise(heard: Heard, hiss: Hiss) -> float:
    """Rise over the quiet parts of a sweep, as far as it may be a source that the probe passes.

    Both flanks must be seen (what begins at its loudest and dies away was struck, what is there at once was switched
    on), it must be hiss to a good part (a tone that swells drags its own skirts along), and hiss does not flutter.
    """
    peaks = find_peaks(hiss.curve_db, PLACE_DB / 2)
    whole = [p for p in peaks if not (p.open_ended or _at_once(hiss, p))]
    if heard.seconds < _SWEEP_S:
        return 0.0
    rise = max((float(hiss.curve_db[p.index]) for p in whole), default=float(min(hiss.curve_db.max(), PLACE_DB / 2)))
    hissing = min(1.0, max(0.0, (hiss.share_db - _NO_HISS_DB) / 8.0))
    return rise * hissing * _calm(hiss)


def _at_once(hiss: Hiss, peak: Peak) -> bool:
    """Whether it comes within 60 ms, a knock beside it looked through: past a source that is 5 cm away a probe led at
    0.5 m/s finds less than 3 dB in that time."""
    seen = running_quantile(hiss.raw_db, round(MOMENT_S / HOP_S), 0.3)[max(0, peak.index - peak.left - _BEFORE) :]
    seen = seen[: peak.left + _BEFORE + 1]
    return bool(np.any(seen[_FRONT:] - seen[:-_FRONT] > _FRONT_DB))


def _evidence(measured: Mapping[str, float]) -> tuple[Evidence, ...]:
    _, rows = fitted("leak")
    found = []
    recorded = "hiss-share" in measured
    for row in rows:
        value = measured.get(row.code)
        if value is None:
            continue
        weight = row.weight(value)
        if row.code == "level-over-background" and (recorded or value < DECIDES_DB):
            weight = 0.0
        name, unit = _NAMES[row.code]
        criterion = f"> {row.criterion:g} {unit}".rstrip()
        found.append(Evidence(row.code, name, value, unit, criterion, row.supports, weight))
    return tuple(found)


def _unreferenced(heard: Heard, measured: Mapping[str, float]) -> bool:
    """A steady hiss with nothing to hold it against may be the receiver's own."""
    if "hiss-share" not in measured:
        return measured.get("level-over-background", 0.0) < DECIDES_DB
    return (
        "over-background" not in measured
        and measured["swept-rise"] < PLACE_DB
        and measured["hiss-share"] > _MOSTLY_HISS_DB
    )


def _places(hiss: Hiss) -> tuple[Place, ...]:
    level = running_mean(hiss.raw_db, 9) - np.quantile(hiss.raw_db, 0.2)
    return tuple(
        Place(float(hiss.time_s[p.index]), float(level[p.index]), p.width * HOP_S)
        for p in find_peaks(hiss.curve_db, PLACE_DB)
    )


def _settle(heard: Heard, measured: Mapping[str, float]) -> Sentence:
    if "hiss-share" not in measured and "level-over-background" not in measured:
        return say("leak-no-sound", "There is no usable recording and no pair of levels: record 5 s at the spot.")
    if "hiss-share" not in measured:
        return say(
            "leak-level-alone",
            "The level alone, {over:.0f} dB over background, does not decide: record 5 s there and 5 s beside it.",
            over=measured["level-over-background"],
        )
    if "over-background" not in measured:
        return say(
            "leak-no-background",
            "A steady hiss with nothing to hold it against may be the receiver's own: read the background level with "
            "the probe turned away, or lead the probe past the spot and back while recording.",
        )
    return say(
        "leak-near-background",
        "The hiss stands {over:.0f} dB over the background: screen the probe from other sounds, go closer, and record "
        "the spot and the background again.",
        over=measured["over-background"],
    )


def _notes(verdict: str, state: LeakState, sound: HissHeard | None, places: tuple[Place, ...]) -> tuple[Sentence, ...]:
    notes = []
    bursts = sound[1].bursts if sound else None
    if bursts is not None and bursts.period_s is not None and (bursts.unevenness or 0.0) < 0.25:
        notes.append(
            say(
                "puffs-in-rhythm",
                "Air is let off every {period:.1f} s: the puffs of a machine at work were left out of the judgement.",
                period=bursts.period_s,
            )
        )
    if verdict == "leak" and state.cause in ("deliberate", "drain"):
        notes.append(
            say("blows-on-purpose", "This is said to blow on purpose: it is heard, but it is not counted as a fault.")
        )
    elif verdict == "leak" and state.cause is None and not places:
        notes.append(
            say(
                "blows-on-purpose-question",
                "A nozzle or a drain that blows steadily sounds the same: is this one meant to blow?",
            )
        )
    if state.pressurised is False and verdict == "no-leak-heard":
        notes.append(say("no-pressure", "It was not under pressure: nothing could have been heard."))
    return tuple(notes)
