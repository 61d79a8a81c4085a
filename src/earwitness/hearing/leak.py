"""Is it a leak? Steady or swept broadband hiss that stands above the background.

Gas that escapes through a small opening makes turbulent noise: broadband, Gaussian, without rhythm (Lighthill, Proc.
R. Soc. A 211 (1952) 564). What else is heard near by is not: machines whine, people talk, things knock, exhausts puff
in rhythm. `sound.hiss` finds the hiss beneath them; here it is held against the background, which may be

- the displayed level of the point against that of its surroundings, less what is not hiss in it;
- a recording of the background, band by band;
- the quiet parts of the sweep itself: the hiss rises and falls as the probe passes.

With none of the three a faint steady hiss may be the receiver's own: the answer is `inconclusive`. A level alone less
than 3 dB over background decides nothing (common practice). What hisses but swells to and fro many times a second (a
cicada, a fan, an air conditioner) is no jet, though one that beats out of time is asked about, and what hisses from one
moment to the next was switched, not passed.
What is puffed in rhythm is not the leak, and a display that was read anywhere along a sweep does not deny the place.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from earwitness.hearing.evidence import Evidence, Judgement, Place, decide, fitted, weigh
from earwitness.hearing.heard import Heard
from earwitness.hearing.hiss_heard import HissHeard
from earwitness.hearing.leak_words import DECIDES_DB, LONGER_S, LeakAccount
from earwitness.sentence import Sentence, say
from earwitness.sound.hiss import HOP_S, Hiss, ShortTimeBands, short_time_bands, steady_hiss
from earwitness.sound.loudness_beat import beat_wandering, loudness_beat
from earwitness.sound.pulsing import Peak, find_peaks, fronts, running_mean, running_quantile
from earwitness.sound.spectrum import averaged_spectrum

VERSION = "8"
_PLACE_DB = 4.0  # a rise of the hiss by this much is a place
_SWEEP_S = 2.5  # no probe is led past a source in less
_FLUTTER_DB = 1.3  # hiss itself does not flutter; what knocks beneath it makes it seem to by up to 0.8 dB
_NO_HISS_DB = -20.0
_SWITCHED_DB = 5.0  # within 0.1 s: at 0.5 m/s and 5 cm a probe that comes to a source hears 4.3
_SWITCHED = 0.7  # of its rise within half a second
_STAYS_DB, _STAYS_S = 3.0, 0.4
_BEATS = 0.4  # depth of a beat of the loudness
_WANDERS = 0.5  # of a beat's power, from where on it does not keep time
_MAY_BE_CENTRED_HZ = (25_000.0, 30_000.0, 35_000.0, 40_000.0)  # a receiver that is not known (common practice)
_DISPLAYED_HZ = 5_000.0  # to either side of its centre
_RESONANCE_DB = 1.0  # what a sensor's resonance, steeper than the bands, hides of the hiss
_MOSTLY_HISS_DB, _ALL_HISS_DB, _MOSTLY_PUFFS_DB = -20.0, -3.0, 6.0
_CUT_HISS_DB = -5.0  # hiss that was cut flat is hiss to a greater part
_NAMES = {
    "over-background": ("steady hiss over the background", "dB"),
    "stands-out": ("hiss over the background or over the quiet parts of the sweep, whichever is more", "dB"),
    "swept-rise": ("smooth rise of the hiss as the probe passes", "dB"),
    "hiss-share": ("hiss in all that is heard", "dB"),
    "puffs-over": ("puffs in rhythm over the hiss between them, where there is nothing else to compare", "dB"),
    "beats": ("depth to which its loudness beats, 30 to 400 times a second", ""),
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
    measured = _measure(heard, sound, state)
    evidence = _evidence(measured)
    probabilities = weigh(prior or stored, evidence)
    verdict, probability = decide(probabilities)
    places = _places(sound[1]) if sound else ()
    lifted = measured.get("level-over-background", 0.0) >= DECIDES_DB and _of_something_else(heard, sound)
    account, asked = LeakAccount(measured, sound.hiss if sound else None, lifted), None
    if verdict == "no-leak-heard":
        without, _ = decide(weigh(prior or stored, [e for e in evidence if e.code != "beats"]))
        asked = account.question(flutters=without == "leak" and _wanders(heard))
    if asked or account.level_of_else or _unreferenced(measured, sound):
        verdict = "inconclusive"
    return Judgement(
        verdict,
        probability,
        probabilities,
        evidence,
        "leak",
        VERSION,
        settle=(asked or account.settle()) if verdict == "inconclusive" else None,
        places=places if verdict != "no-leak-heard" else (),
        notes=_notes(verdict, state, sound, places),
        traces=sound.traces(sound.hiss.curve_db, places) if sound else (),
        measured=measured,
    )


def _range(heard: Heard) -> dict[str, float]:
    """Where a leak is listened for: all of the folded audio; of a direct recording its ultrasound, if it has any."""
    top = 0.45 * heard.rate_hz
    if heard.signal == "heterodyned":
        return {"low_hz": 150.0, "high_hz": min(top, 20_000.0)}
    return {"low_hz": 20_000.0 if top > 25_000 else 0.4 * top, "high_hz": min(top, 100_000.0)}


def _measure(heard: Heard, sound: HissHeard | None, state: LeakState) -> dict[str, float]:
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
    if hiss.share_db > _ALL_HISS_DB and measured["swept-rise"] < _PLACE_DB:  # else what beats may be beside the leak
        beats = loudness_beat(heard.samples, heard.rate_hz, steepness=_steepness(heard))
        measured |= {"beats": beats} if beats > _BEATS else {}
    passed = measured["swept-rise"] >= _PLACE_DB
    against = _over_background(heard, sound, measured, state)
    if against is not None and not (state.swept and passed and against < DECIDES_DB):  # a display may be of anywhere
        measured["over-background"] = against
    elif state.swept and heard.seconds >= _SWEEP_S and float(hiss.curve_db.max()) < _PLACE_DB:
        risen = measured["swept-rise"]  # all along the sweep nothing does, but hiss sways a little by itself
        measured["over-background"] = risen if risen > _PLACE_DB / 2 else 0.0
    if "over-background" in measured or passed:
        measured["stands-out"] = max(measured["swept-rise"], measured.get("over-background", -math.inf))
    elif hiss.bursts.rhythmic:  # nothing to hold it against but the puffs between which it is heard
        measured["puffs-over"] = _puffs_over_db(hiss, sound.bands)
    return measured


def _puffs_over_db(hiss: Hiss, bands: ShortTimeBands) -> float:
    """What is heard while puffs last, over the hiss between them."""
    widths = np.where(hiss.bands, np.diff(bands.edges_hz), 0.0)
    within = np.isin(bands.time_s, hiss.time_s[hiss.bursts.mask])
    return float(10 * np.log10((bands.power[within] @ widths).mean() / (10 ** (hiss.spectrum_db / 10) @ widths)))


def _swept_rise(heard: Heard, hiss: Hiss) -> float:
    """Rise over the quiet parts of a sweep, as far as it may be a source that the probe passes.

    Both flanks must be seen (what begins at its loudest and dies away was struck), none so steep that it was switched,
    the quiet parts must stay (a hall's noise does; what fades to nothing was faded), it must be hiss to a good part (a
    tone that swells drags its own skirts along), and hiss does not flutter.
    """
    if heard.seconds < _SWEEP_S:
        return 0.0
    curve = hiss.curve_db
    stays = float((curve < curve.min() + _STAYS_DB).sum()) * HOP_S >= _STAYS_S
    passed = [p for p in find_peaks(curve, _PLACE_DB / 2) if stays and not p.open_ended and not _switched(hiss, p)]
    rise = max((float(curve[p.index]) for p in passed), default=float(min(curve.max(), _PLACE_DB / 2)))
    hissing = min(1.0, max(0.0, (hiss.share_db - _NO_HISS_DB) / 8.0))
    return rise * hissing * _calm(hiss)


def _switched(hiss: Hiss, peak: Peak) -> bool:
    """Whether the hiss comes to a peak, or leaves it, faster than a hand moves a probe, or is switched on close by for
    longer than a puff."""
    reach = round(0.1 / HOP_S)
    near = slice(max(0, peak.index - 2 * peak.left - reach), peak.index + 2 * peak.right + reach + 1)
    level, on = hiss.edged_db[near], hiss.bursts.mask[near].astype(np.float64)
    if np.any(running_quantile(on, round(LONGER_S / HOP_S), 0) > 0):
        return True
    return any(len(fronts(course, reach, _SWITCHED_DB, _SWITCHED)) for course in (level, level[::-1]))


def _calm(hiss: Hiss) -> float:
    """1 for hiss that is steady within half a second, 0 for what flutters in all bands together: speech, flames."""
    return min(1.0, max(0.0, (_FLUTTER_DB - hiss.unsteady_db) / 0.5))


def _over_background(heard: Heard, sound: HissHeard, measured: Mapping[str, float], state: LeakState) -> float | None:
    hiss = sound.hiss
    background = _background(heard)
    # of what flutters only that part is steady hiss which is left between
    flutter = (1 - _calm(hiss)) * hiss.quiet_db
    ways = []
    over = measured.get("level-over-background")
    if over is not None:
        # the hiss's part of the level, against the hiss's part of the background where that was recorded
        own = background.share_db if background is not None else 0.0
        usual = min(over, over + _displayed_share_db(heard, hiss, sound.bands) + flutter - own)
        ways.append(_as_displayed(usual, usual - max(0.0, hiss.loudest_db), state))
    if background is not None and "level" not in heard.spoiled:
        both = hiss.bands | background.bands
        ways.append(float(np.quantile((hiss.spectrum_db - background.typical_db)[both], 0.75)) + flutter)
    return min(ways, default=None)


def _as_displayed(usual: float, least: float, state: LeakState) -> float:
    """A display is read off as it usually stood, or at its highest, of a sweep always so: where the two would decide
    differently, neither does."""
    if state.swept:
        return least
    return DECIDES_DB if least < DECIDES_DB < usual else usual


def _displayed_share_db(heard: Heard, hiss: Hiss, bands: ShortTimeBands) -> float:
    """Hiss in what the receiver's display counts: in folded audio all that is heard; of a wide-band recording the
    receiver's own band, and where that is not known the one that holds the least of it."""
    if heard.signal == "heterodyned":
        return hiss.share_db
    spectrum = averaged_spectrum(heard.samples, heard.rate_hz, resolution_hz=100.0)
    middles = (bands.edges_hz[1:] + bands.edges_hz[:-1]) / 2
    own = 10 ** (np.interp(spectrum.freqs_hz, middles, hiss.spectrum_db) / 10)
    least = hiss.share_db
    for centre in _MAY_BE_CENTRED_HZ if heard.centre_hz is None else (heard.centre_hz,):
        counted = np.abs(spectrum.freqs_hz - centre) <= _DISPLAYED_HZ
        if counted.any():
            everything = max(float(spectrum.density[counted].sum()), 1e-30)
            least = min(least, 10 * math.log10(float(own[counted].sum()) / everything + 1e-12) + _RESONANCE_DB)
    return least


def _background(heard: Heard) -> Hiss | None:
    samples = heard.background
    if samples is None or len(samples) < 0.5 * heard.rate_hz or not np.any(samples):
        return None
    return steady_hiss(short_time_bands(samples, heard.rate_hz, **_range(heard)))


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


def _of_something_else(heard: Heard, sound: HissHeard | None) -> bool:
    """Whether a recording too spoiled to be weighed shows all the same that it was no hiss that lifted the display: a
    beeper that was cut flat has harmonics, but no hiss."""
    if sound is not None:
        return False
    unsound = HissHeard.of(replace(heard, spoiled=frozenset()), 0.5, **_range(heard))
    return unsound is not None and unsound.hiss.share_db < _CUT_HISS_DB


def _unreferenced(measured: Mapping[str, float], sound: HissHeard | None) -> bool:
    """A steady hiss with nothing to hold it against may be the receiver's own, and one that rises for no clear reason
    may be a leak."""
    if sound is None:
        return measured.get("level-over-background", 0.0) < DECIDES_DB
    if "stands-out" in measured or measured.get("puffs-over", 0.0) >= _MOSTLY_PUFFS_DB:
        return False
    return measured["hiss-share"] > _MOSTLY_HISS_DB or float(sound.hiss.curve_db.max()) >= _PLACE_DB


def _steepness(heard: Heard) -> int:
    return 1 if heard.signal == "heterodyned" else 2


def _wanders(heard: Heard) -> bool:
    """Whether the beat of its loudness does not keep time."""
    return beat_wandering(heard.samples, heard.rate_hz, steepness=_steepness(heard)) > _WANDERS


def _places(hiss: Hiss) -> tuple[Place, ...]:
    level = running_mean(hiss.raw_db, 9) - np.quantile(hiss.raw_db, 0.2)
    return tuple(
        Place(float(hiss.time_s[p.index]), float(level[p.index]), p.width * HOP_S)
        for p in find_peaks(hiss.curve_db, _PLACE_DB)
    )


def _notes(verdict: str, state: LeakState, sound: HissHeard | None, places: tuple[Place, ...]) -> tuple[Sentence, ...]:
    notes = []
    bursts = sound[1].bursts if sound else None
    if bursts is not None and bursts.maybe_rhythmic:
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
