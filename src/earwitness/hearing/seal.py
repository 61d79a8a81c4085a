"""Does the emitter's tone come through? The tone test of a seam, a hatch, a door, a room.

An emitter inside sounds a tone that beats or warbles; the receiver is led along the seam outside. Where there is a
passage the tone grows and fades again as the probe goes by (common practice; ASTM E1002 practice B). What comes
through the wall itself stays the same along the sweep; a reversing truck's beeper beats the same wherever the probe
is; a machine's whine has no beat; music, bells, engines and voices bring many tones at once, or sharp fronts that come
back in no rhythm. Each of these is weighed, none decides alone (`fitting/seal.py`). The level is read over the sweep's
own floor, and against the open enclosure where that was read. It says nothing about the size of the passage (ASTM
E1002: "not useful for estimating the size").
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from earwitness.hearing.evidence import Evidence, Judgement, Place, Trace, decide, fitted, unheard, weigh
from earwitness.hearing.heard import Heard
from earwitness.hearing.seal_signs import CLEAR_DB, NAMES, signs
from earwitness.sentence import Sentence, say
from earwitness.sound.pulsing import find_peaks, quantile
from earwitness.sound.tone import ToneTrack, find_tones, track_tone
from earwitness.sound.tone_cells import ToneCells
from earwitness.sound.tone_signs import Tone

VERSION = "13"
# Of so many passages nothing that is weighed shows anything: they lie beneath other sound. Chosen with the ridge in
# `fitting/seal.py`, by the least log loss over five parts of its sweeps, each judged by weights of the other four [1].
UNHEARD = 0.08
VERDICTS = ("passage", "no-passage-heard")
DECIDES_DB = 3.0
_PLACE_DB = 4.0  # least height of a place over the dip beside it; of a faint tone half of its rise
_LEAST_SHARE, _WEAKER_DB = 0.35, 12.0  # less than the largest rise: may be the skirt or the beat of the larger place
_ALL_ALONG = 0.3  # share of the sweep
_FAINT_DB = 10.0
_SHORTEST_S, _LOWEST_RATE_HZ = 4.0, 4000.0
_BESIDE_S, _DRIFTS_HZ = 0.5, 300.0
_LINE_HZ = 50.0  # to either side: drawn as one


@dataclass(frozen=True)
class SealState:
    """What is known of the sweep: (seconds, metres) marks and its length; neither is needed to judge."""

    sweep_marks: tuple[tuple[float, float], ...] = ()
    sweep_length_m: float | None = None


def judge(heard: Heard, state: SealState | None = None, *, prior: Mapping[str, float] | None = None) -> Judgement:
    """`passage`, `no-passage-heard` or `inconclusive`, with the places: second, level over the floor, width.

    Parameters
    ----------
    heard : the sweep; with no samples the levels alone are judged.
    state : what is known of the sweep.
    prior : probability of each verdict before listening, by default the stored one [1].
    """
    stored, _ = fitted("seal")
    sounding = _sounding(heard)
    cells, tones = _listen(heard, sounding) if sounding else (None, ())
    # a passage may lie beneath a louder beeper: each tone is judged by itself, and the likeliest counts
    judged = []
    for measured in candidates(heard, tones):
        evidence = _evidence(measured)
        judged.append((weigh(prior or stored, evidence), evidence, measured))
    best, *others = sorted(range(len(judged)), key=lambda n: -judged[n][0]["passage"])
    probabilities, evidence, measured = judged[best]
    verdict, probability = decide(probabilities)
    track: ToneTrack | None = None
    places: tuple[Place, ...] = ()
    shown = best
    if cells and sounding:
        passed = [n for n in others if decide(judged[n][0])[0] == "passage"]
        steep = [n for n in passed if tones[n].course.box.steep]  # it is followed through all that it runs through
        near = [n for n in passed if abs(tones[n].tone_hz - tones[best].tone_hz) < _DRIFTS_HZ]
        followed = steep or [best, *near]
        shown = followed[0]
        track, *more = [_track(cells, tones[n], sounding.start / heard.rate_hz) for n in followed]
        places = _places(track)
        for other in more:
            places = _and_elsewhere(places, _places(other))
    if verdict == "passage" and track and not places:
        verdict = "inconclusive"
    if verdict == "no-passage-heard":
        places = ()
    settle = _settle(heard, measured) if verdict == "inconclusive" else None
    return Judgement(
        verdict,
        probability,
        probabilities,
        evidence,
        "seal",
        VERSION,
        settle=settle,
        places=places if verdict == "passage" else (),
        notes=_notes(heard, verdict, tones),
        traces=_traces(track, tones[shown], places) if track else (),
        measured=measured,
    )


def candidates(heard: Heard, tones: Sequence[Tone]) -> list[dict[str, float]]:
    """What is measured of the sweep with each of its tones; of the levels alone where there is none.

    Parameters
    ----------
    heard : the sweep.
    tones : the tones that come and go in it.
    """
    levels = _levels(heard)
    return [levels | signs(tone) for tone in tones] or [levels]


def measure(heard: Heard) -> list[dict[str, float]]:
    """The same of a sweep alone, for fitting.

    Parameters
    ----------
    heard : the sweep.
    """
    sounding = _sounding(heard)
    return candidates(heard, _listen(heard, sounding)[1] if sounding else ())


def _range(heard: Heard) -> tuple[float, float]:
    """Where the tone is looked for: the folded audio, or the ultrasound in which emitters work."""
    top = 0.45 * heard.rate_hz
    if heard.signal == "heterodyned":
        return 150.0, min(top, 10_000.0)
    return (20_000.0, min(top, 60_000.0)) if top > 25_000 else (500.0, top)


def _sounding(heard: Heard) -> slice | None:
    """What can be listened to; None if it is too little."""
    if "spectrum" in heard.spoiled or heard.rate_hz < _LOWEST_RATE_HZ:
        return None
    sounding = heard.sounding
    return sounding if sounding.stop - sounding.start >= _SHORTEST_S * heard.rate_hz else None


def _listen(heard: Heard, sounding: slice) -> tuple[ToneCells, tuple[Tone, ...]]:
    low, high = _range(heard)
    return find_tones(heard.samples[sounding], heard.rate_hz, low_hz=low, high_hz=high)


def _track(cells: ToneCells, tone: Tone, later_s: float) -> ToneTrack:
    track = track_tone(cells, tone)
    return replace(track, time_s=track.time_s + later_s, picture_time_s=track.picture_time_s + later_s)


def _places(track: ToneTrack) -> tuple[Place, ...]:
    hop, top = float(track.time_s[1] - track.time_s[0]), float(track.level_db.max())
    all_along = float(quantile(track.level_db, _ALL_ALONG))  # what comes through the wall sways by some decibels
    return tuple(
        Place(_middle_s(track, p.index), float(track.level_db[p.index]), p.width * hop)
        for p in find_peaks(track.level_db, min(0.5 * top, _PLACE_DB) if top > 0 else _PLACE_DB)
        if track.level_db[p.index] > max(all_along + _LEAST_SHARE * (top - all_along), top - _WEAKER_DB)
    )


def _and_elsewhere(places: tuple[Place, ...], others: tuple[Place, ...]) -> tuple[Place, ...]:
    """With those that another tone has elsewhere: an emitter that drifts is heard at each place by another one."""
    reach = {p.at_s: max(_BESIDE_S, p.width_s or 0.0) for p in places}
    new = (o for o in others if all(abs(o.at_s - at) > max(wide, o.width_s or 0.0) for at, wide in reach.items()))
    return tuple(sorted((*places, *new), key=lambda place: place.at_s))


def _middle_s(track: ToneTrack, top: int) -> float:
    """When the place is passed: at its top; of a faint one, whose top noise shifts about, in the middle of what stands
    over half of its height."""
    level = track.level_db
    if level[top] > _FAINT_DB:
        return float(track.time_s[top])
    under = np.flatnonzero(level < level[top] / 2)
    first, last = under[under < top].max(initial=-1) + 1, under[under > top].min(initial=len(level))
    weight = level[first:last] ** 2
    return float(track.time_s[first:last] @ weight / weight.sum())


def _levels(heard: Heard) -> dict[str, float]:
    levels: dict[str, float] = {}
    if heard.level_db is not None and heard.background_db is not None:
        over = heard.level_db - heard.background_db
        levels |= {"level-over-background": over} if math.isfinite(over) else {}
    if heard.level_db is not None and heard.reference_db is not None:
        levels["relative-to-open-db"] = heard.level_db - heard.reference_db
    return levels


def _evidence(measured: Mapping[str, float]) -> tuple[Evidence, ...]:
    found = []
    recorded = "tone-rise" in measured
    for row in fitted("seal")[1]:
        value = measured.get(row.code)
        if value is None:
            continue
        weight = row.weight(value)
        if row.code == "level-over-background" and (recorded or value < DECIDES_DB):
            weight = 0.0
        name, unit = NAMES[row.code]
        criterion = f"> {row.criterion:g} {unit}".rstrip()
        found.append(Evidence(row.code, name, value, unit, criterion, row.supports, weight))
    if recorded:
        name, unit = NAMES["unheard"]
        weight = unheard(found, *VERDICTS, UNHEARD)
        found.append(Evidence("unheard", name, UNHEARD, unit, "", VERDICTS[0], weight))
    return tuple(found)


def _settle(heard: Heard, measured: Mapping[str, float]) -> Sentence:
    if "tone-hz" not in measured:
        return say(
            "seal-no-sound",
            "There is no usable recording of the sweep ({seconds:.1f} s): record {needed:.0f} s or more along the seam "
            "with the emitter on.",
            seconds=heard.seconds,
            needed=_SHORTEST_S,
        )
    return say(
        "seal-faint",
        "Something near {hz:.0f} Hz comes and goes, but not clearly: sweep again more slowly and closer to the seam, "
        "and once with the emitter off.",
        hz=measured["tone-hz"],
    )


def _notes(heard: Heard, verdict: str, tones: Sequence[Tone]) -> tuple[Sentence, ...]:
    notes = []
    if heard.reference_db is not None and heard.level_db is not None:
        notes.append(
            say(
                "seal-against-open",
                "The strongest place reads {level:.0f} dB, {below:.0f} dB below the open enclosure; a level gives no "
                "size.",
                level=heard.level_db,
                below=heard.reference_db - heard.level_db,
            )
        )
    steady = [tone for tone in tones if tone.to_noise_db + tone.stays_db > CLEAR_DB]
    if verdict == "no-passage-heard" and steady:
        notes.append(
            say(
                "seal-through-wall",
                "A tone near {hz:.0f} Hz is heard evenly all along: it comes through the wall or from elsewhere, not "
                "at a place.",
                hz=max(steady, key=lambda tone: tone.to_noise_db).tone_hz,
            )
        )
    if verdict == "no-passage-heard" and heard.reference_db is None:
        notes.append(
            say(
                "seal-emitter-on", "This holds only if the emitter was on: hold the probe to the open door to prove it."
            )
        )
    return tuple(notes)


def _traces(track: ToneTrack, tone: Tone, places: tuple[Place, ...]) -> tuple[Trace, ...]:
    marks = tuple({"at_s": p.at_s, "level_db": p.level_db, "width_s": p.width_s, "kind": "place"} for p in places)
    keep = slice(None, None, max(1, len(track.time_s) // 1000))
    level = {
        "time_s": track.time_s[keep].astype(np.float32),
        "level_db": track.level_db[keep].astype(np.float32),
        "floor_db": np.zeros(len(track.time_s[keep]), np.float32),
    }
    picture = {
        "time_s": track.picture_time_s.astype(np.float32),
        "freq_hz": track.picture_hz.astype(np.float32),
        "power_db": track.picture_db,
    }
    hz, half = tone.tone_hz, tone.width_hz / 2
    band = {"low_hz": hz - half, "high_hz": hz + half} if half > _LINE_HZ else {"freq_hz": hz}
    where = () if tone.course.box.steep else (band | {"kind": "tone"},)  # it is all over the picture
    return Trace("level", level, marks), Trace("spectrogram", picture, (*marks, *where))
