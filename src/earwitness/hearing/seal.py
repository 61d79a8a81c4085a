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
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from earwitness.hearing.evidence import Evidence, Judgement, Place, Trace, decide, fitted, weigh
from earwitness.hearing.heard import Heard
from earwitness.sentence import Sentence, say
from earwitness.sound.pulsing import find_peaks
from earwitness.sound.tone import ToneTrack, find_tone

VERSION = "3"
DECIDES_DB = 3.0
_PLACE_DB = 4.0  # least height of a place over the dip beside it; of a faint tone half of its rise
_LEAST_SHARE, _WEAKER_DB = 0.35, 12.0  # less than the largest rise: may be the skirt or the beat of the larger place
_ALL_ALONG = 0.3  # share of the sweep
_SHORTEST_S = 4.0
_CLEAR_DB, _SURE = 6.0, 2.0  # in a band of 200 Hz, and in deviates: from here on its beat and its flanks can be told
_BEATS = 0.2  # depth; an emitter that is on for four fifths of its beat has 0.25
_WARBLES_HZ = 30.0
_FASTEST_HZ = 10.0
_WIDE_HZ = 40.0  # a box that noise which changes its colour may fill
_FRONT_DB = 8.0
_COMPANY_HZ = 30.0
_BEEPS_HZ = (0.6, 1.8)  # of a vehicle that backs up: about once a second (practice)
_FADES_DB = 5.0
_MOST_OF_IT = 0.6  # of the sweep
_KNOCKS = 3.0  # depth of a beat that is on for a quarter of the time; knocks are shorter
_MANY = 4  # places
_LEAST_RISE_DB, _MOST_RISE_DB = -6.0, 20.0
_NAMES = {
    "tone-rise": ("assured rise of the tone along the sweep", "dB"),
    "clear-rise": ("assured rise of a clear tone, which whines and beepers have too", "dB"),
    "clear-deviate": ("clear tone that comes and goes, against chance", "standard deviations"),
    "wide-rise": ("rise of a wide band, which noise that changes its colour has too", "dB"),
    "stays": ("clear tone where it is weakest, under where it is loudest", "dB"),
    "unbeating": ("loudness in 200 Hz of a clear tone that neither beats nor warbles", "dB"),
    "front": ("rise within an eighth of a second of a tone without a regular beat", "dB"),
    "company": ("rise of another tone that comes and goes, far from it or at other times", "dB"),
    "beeps": ("rise of another tone with one that beeps about once a second, as a truck does", "dB"),
    "company-width": ("width of all else that rises with it, more than 1.8 kHz away", "Hz"),
    "fades": ("fall of the noise itself below its usual level", "dB"),
    "place-width": ("part of the sweep over which the tone is raised", ""),
    "knocks": ("depth of its beat, of knocks over 4", ""),
    "many-places": ("places at which it is raised", ""),
    "level-over-background": ("displayed level over the background", "dB"),
}


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
    track = _listen(heard)
    places = _places(track) if track else ()
    measured = _measure(heard, track)
    evidence = _evidence(measured)
    probabilities = weigh(prior or stored, evidence)
    verdict, probability = decide(probabilities)
    if verdict == "passage" and track and not places:
        verdict = "inconclusive"
    settle = _settle(heard, track) if verdict == "inconclusive" else None
    return Judgement(
        verdict,
        probability,
        probabilities,
        evidence,
        "seal",
        VERSION,
        settle=settle,
        places=places if verdict == "passage" else (),
        notes=_notes(heard, verdict, track),
        traces=_traces(track, places) if track else (),
        measured=measured,
    )


def _range(heard: Heard) -> tuple[float, float]:
    """Where the tone is looked for: the folded audio, or the ultrasound in which emitters work."""
    top = 0.45 * heard.rate_hz
    if heard.signal == "heterodyned":
        return 150.0, min(top, 10_000.0)
    return (20_000.0, min(top, 60_000.0)) if top > 25_000 else (500.0, top)


def _listen(heard: Heard) -> ToneTrack | None:
    if heard.seconds < _SHORTEST_S or "spectrum" in heard.spoiled or not np.any(heard.samples):
        return None
    low, high = _range(heard)
    sounding = heard.samples != 0  # digital silence at the ends is no quiet part of the sweep
    first, last = int(np.argmax(sounding)), len(sounding) - int(np.argmax(sounding[::-1]))
    if last - first < _SHORTEST_S * heard.rate_hz:
        return None
    track = find_tone(heard.samples[first:last], heard.rate_hz, low_hz=low, high_hz=high)
    later = first / heard.rate_hz
    return replace(track, time_s=track.time_s + later, picture_time_s=track.picture_time_s + later)


def _places(track: ToneTrack) -> tuple[Place, ...]:
    hop, top = float(track.time_s[1] - track.time_s[0]), float(track.level_db.max())
    all_along = float(np.quantile(track.level_db, _ALL_ALONG))  # what comes through the wall sways by some decibels
    return tuple(
        Place(float(track.time_s[p.index]), float(track.level_db[p.index]), p.width * hop)
        for p in find_peaks(track.level_db, min(0.5 * top, _PLACE_DB) if top > 0 else _PLACE_DB)
        if track.level_db[p.index] > max(all_along + _LEAST_SHARE * (top - all_along), top - _WEAKER_DB)
    )


def _measure(heard: Heard, track: ToneTrack | None) -> dict[str, float]:
    measured: dict[str, float] = {}
    if heard.level_db is not None and heard.background_db is not None:
        over = heard.level_db - heard.background_db
        measured |= {"level-over-background": over} if math.isfinite(over) else {}
    if heard.level_db is not None and heard.reference_db is not None:
        measured["relative-to-open-db"] = heard.level_db - heard.reference_db
    if track is None:
        return measured
    measured["tone-rise"] = min(max(track.rise_db, _LEAST_RISE_DB), _MOST_RISE_DB)
    measured["tone-deviate"] = track.deviate
    measured["tone-hz"] = track.tone_hz
    measured["to-noise-db"] = track.to_noise_db
    measured["beat-hz"] = track.beat_hz
    return measured | _against(track, measured["tone-rise"])


def _against(track: ToneTrack, rise_db: float) -> dict[str, float]:
    """What speaks of other things than an emitter, each measured only where there is something of it: a faint tone has
    neither flanks nor a beat to look at, and its rise alone counts."""
    found: dict[str, float] = {}
    regular = 0 < track.beat_hz < _FASTEST_HZ
    if track.width_hz > _WIDE_HZ and not track.swept:
        found["wide-rise"] = rise_db
    if track.to_noise_db > _CLEAR_DB and track.deviate > _SURE:
        found["clear-rise"] = rise_db
        found["clear-deviate"] = track.deviate
        found["stays"] = track.steady_db - track.to_noise_db
        if not (regular or track.beat_depth > _BEATS or track.wander_hz > _WARBLES_HZ):
            found["unbeating"] = track.to_noise_db
        if not regular and track.front_db > _FRONT_DB:
            found["front"] = track.front_db
    if track.company:
        found["company"] = track.company_db
        if _BEEPS_HZ[0] < track.beat_hz < _BEEPS_HZ[1]:
            found["beeps"] = track.company_db
    if track.deviate > _SURE and track.company_hz > _COMPANY_HZ:
        found["company-width"] = track.company_hz
    if track.fades_db > _FADES_DB:
        found["fades"] = track.fades_db
    share = float((track.level_db > track.level_db.max() / 2).mean())
    if share > _MOST_OF_IT:
        found["place-width"] = share
    if track.beat_depth > _KNOCKS:
        found["knocks"] = track.beat_depth
    places = len(_places(track))
    if places >= _MANY:
        found["many-places"] = float(places)
    return found


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
        name, unit = _NAMES[row.code]
        criterion = f"> {row.criterion:g} {unit}".rstrip()
        found.append(Evidence(row.code, name, value, unit, criterion, row.supports, weight))
    return tuple(found)


def _settle(heard: Heard, track: ToneTrack | None) -> Sentence:
    if track is None:
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
        hz=track.tone_hz,
    )


def _notes(heard: Heard, verdict: str, track: ToneTrack | None) -> tuple[Sentence, ...]:
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
    if verdict == "no-passage-heard" and track is not None and track.steady_db > 6.0:
        notes.append(
            say(
                "seal-through-wall",
                "A tone near {hz:.0f} Hz is heard evenly all along: it comes through the wall or from elsewhere, not "
                "at a place.",
                hz=track.tone_hz,
            )
        )
    if verdict == "no-passage-heard" and heard.reference_db is None:
        notes.append(
            say(
                "seal-emitter-on", "This holds only if the emitter was on: hold the probe to the open door to prove it."
            )
        )
    return tuple(notes)


def _traces(track: ToneTrack, places: tuple[Place, ...]) -> tuple[Trace, ...]:
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
    tone = {"freq_hz": track.tone_hz, "width_hz": track.width_hz, "kind": "tone"}
    return Trace("level", level, marks), Trace("spectrogram", picture, (*marks, tone))
