"""Is this recording fit to be judged, and what does its fault spoil: the level, the spectrum, the rhythm?

Every test is relative to the recording itself, so that a gain changes nothing. `docs/fitness.md` gives each check's
measured false alarms and detections (`benchmarks/fitness.py`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from earwitness.sentence import say
from earwitness.sound.fitness_report import ALL, NONE, FitnessProblem, FitnessReport, Spoiled
from earwitness.sound.fitness_signs import _clipped, _mains_lines, _pumping, _speckle_db
from earwitness.sound.fitness_stream import Stream

__all__ = ["Examiner", "FitnessProblem", "FitnessReport", "examine"]
Samples = NDArray[np.float32]

NEEDED_S = {  # how long each kind must sound; bearings and gears also some turns
    "leak": 1.0,
    "seal": 2.0,
    "bearing": 0.8,  # rigs record a second at a time; of a slow shaft the turns count
    "gear": 2.0,
    "electrical": 1.2,  # parts 100 Hz from the second order of a two-pole motor at 98.3 Hz
    "valve": 1.0,
    "trap": 10.0,  # a cycle or two
    "other": 1.0,
}
NEEDED_TURNS = {"bearing": 6, "gear": 10}  # six turns are twenty blows and more on a race; lines of a gear part in ten
SHORTEST_S = 0.25  # below this nothing can be said
LOWEST_RATE_HZ = 8_000
LOWEST_DIRECT_RATE_HZ = 64_000  # a wide-band recording must reach past 30 kHz to hold what an airborne sensor hears
MISSING_S = {False: 0.02, True: 0.15}  # lossy codecs pad and trim
# Share of clipped samples from which the spectrum is no longer the sound's. Clipping changes only the moments that are
# too loud: noise of which 3 % is cut off loses 0.3 dB, and its distortion lies 22 dB below it (Bussgang, 1952), so a
# hiss stays one. Of tones clipping makes harmonics and sums: where tones are looked for, less is too much.
CLIPPED_SPECTRUM, CLIPPED_TONES = 3e-2, 1e-2
OF_TONES = ("seal", "other")
CLIPPED_RHYTHM = 0.1  # from here on blows no longer stand out of what is clipped between them
LAST_BITS = 0.02  # two steps of an 8-bit recorder: below this a flickering last bit is silence
NOISE_STEPS = 6  # noise of less than one step rms reaches no more
DC_SHARE = 0.5  # offset over the rms of the sound
FLAT_SHARE = 0.05
PUMPING_FALL_DB = 2.0
PUMPING_SHARE = 0.75
SPECKLE_DB = 6.3
PICKUP_SHARE = 1e-3
PICKUP_SPOILS = 0.1


@dataclass(frozen=True)
class _Asked:
    kind: str | None
    signal: Literal["heterodyned", "direct"]
    sensor: Literal["airborne", "contact"] | None
    lossy: bool
    frames_promised: int | None
    cut_short: bool
    mains_hz: float | None
    speed_hz: float | None


class Examiner:
    """The fitness check of one channel, fed block by block: `add` each block (n,), then `report()` once."""

    def __init__(
        self,
        rate_hz: float,
        *,
        kind: str | None = None,
        signal: Literal["heterodyned", "direct"] = "heterodyned",
        sensor: Literal["airborne", "contact"] | None = None,
        lossy: bool = False,
        frames_promised: int | None = None,
        cut_short: bool = False,
        mains_hz: float | None = None,
        speed_hz: float | None = None,
    ) -> None:
        self._asked = _Asked(kind, signal, sensor, lossy, frames_promised, cut_short, mains_hz, speed_hz)
        self._stream = Stream(rate_hz)

    def add(self, block: Samples) -> None:
        self._stream.add(block)

    def report(self) -> FitnessReport:
        self._stream.finish()
        stream, asked = self._stream, self._asked
        measures: dict[str, float] = {}
        problems = [p for check in _CHECKS for p in check(stream, asked, measures)]
        if any(p.spoils == ALL for p in problems):  # where nothing can be judged, the reason alone is worth saying
            problems = [p for p in problems if p.spoils == ALL or p.code == "truncated"]
        return FitnessReport(tuple(problems), stream.start, stream.stop, measures)


def examine(
    sound: Samples | Iterable[Samples],
    rate_hz: float,
    *,
    kind: str | None = None,
    signal: Literal["heterodyned", "direct"] = "heterodyned",
    sensor: Literal["airborne", "contact"] | None = None,
    lossy: bool = False,
    frames_promised: int | None = None,
    cut_short: bool = False,
    mains_hz: float | None = None,
    speed_hz: float | None = None,
) -> FitnessReport:
    """Examine one channel of a recording.

    Parameters
    ----------
    sound : (n,) float32, or blocks of it, full scale 1 [-]
    rate_hz : samples a second [Hz]
    kind : what it is to be judged as, for how long it must be
    signal, sensor : how it was taken
    lossy : the codec throws sound away
    frames_promised, cut_short : what the file's header claims, and whether the file itself shows a missing end
    mains_hz : nominal mains frequency where known [Hz]
    speed_hz : shaft speed where known [Hz]

    Examples
    --------
    >>> import numpy as np
    >>> noise = np.random.default_rng(0).standard_normal(32_000).astype(np.float32)
    >>> examine(0.1 * noise, 16_000).codes
    ()
    >>> examine(np.clip(noise, -1, 1), 16_000).codes
    ('clipped',)
    """
    examiner = Examiner(
        rate_hz,
        kind=kind,
        signal=signal,
        sensor=sensor,
        lossy=lossy,
        frames_promised=frames_promised,
        cut_short=cut_short,
        mains_hz=mains_hz,
        speed_hz=speed_hz,
    )
    for block in (sound,) if isinstance(sound, np.ndarray) else sound:
        examiner.add(block)
    return examiner.report()


Found = Iterable[FitnessProblem]
Check = Callable[[Stream, _Asked, dict[str, float]], Found]


def _length(stream: Stream, asked: _Asked, measures: dict[str, float]) -> Found:
    seconds = measures["seconds"] = stream.count / stream.rate_hz
    if stream.given == 0:
        yield FitnessProblem("empty", say("empty", "The recording holds no sound at all."), ALL)
        return
    missing = ((asked.frames_promised or 0) - stream.given) / stream.rate_hz
    if missing > MISSING_S[asked.lossy]:
        text = (
            "The file breaks off: {missing_s:.1f} s of {promised_s:.1f} s are missing. Only what is there was judged."
        )
        promised_s = (asked.frames_promised or 0) / stream.rate_hz
        yield FitnessProblem("truncated", say("truncated", text, missing_s=missing, promised_s=promised_s))
    elif asked.cut_short:
        text = "The file's end is missing. Only what is there was judged."
        yield FitnessProblem("truncated", say("truncated-end", text))
    if stream.count == 0:
        yield _silent()
        return
    needed = NEEDED_S.get(asked.kind or "other", 1.0)
    if asked.speed_hz and asked.kind in NEEDED_TURNS:
        needed = max(needed, NEEDED_TURNS[asked.kind] / asked.speed_hz)
    if seconds < SHORTEST_S:
        text = "The recording lasts {seconds:.2f} s; too short for any judgement. {needed_s:.0f} s and more would do."
        yield FitnessProblem("too-short", say("too-short", text, seconds=seconds, needed_s=max(1.0, needed)), ALL)
    elif seconds < needed * (1 - 1e-9):
        text = "The recording lasts {seconds:.1f} s; its rhythm needs {needed_s:.1f} s and more."
        yield FitnessProblem(
            "too-short", say("too-short-for-rhythm", text, seconds=seconds, needed_s=needed), frozenset({"rhythm"})
        )


def _silent() -> FitnessProblem:
    text = "The recording is silent. Check the cable, the recorder's input and its gain, and listen again."
    return FitnessProblem("silent", say("silent", text), ALL)


def _rate(stream: Stream, asked: _Asked, measures: dict[str, float]) -> Found:
    rate = stream.rate_hz
    if rate < LOWEST_RATE_HZ * (1 - 1e-9):
        text = "{rate_hz:.0f} samples a second are too few; 8,000 and more would do."
        yield FitnessProblem("wrong-rate", say("low-rate", text, rate_hz=rate), frozenset({"spectrum", "rhythm"}))
    airborne = asked.sensor != "contact" and asked.kind in ("leak", "seal", "electrical")
    if asked.signal == "direct" and airborne and rate < LOWEST_DIRECT_RATE_HZ:
        text = (
            "A direct recording at {rate_khz:.0f} kHz holds nothing above {top_khz:.0f} kHz, where this is listened "
            "for. Record the receiver's audio output, or at 96 kHz and more."
        )
        sentence = say("low-rate-direct", text, rate_khz=rate / 1e3, top_khz=rate / 2e3)
        yield FitnessProblem("wrong-rate", sentence, frozenset({"level", "spectrum"}))


def _loudness(stream: Stream, asked: _Asked, measures: dict[str, float]) -> Found:
    if not stream.count:
        return
    mean = stream.total / stream.count
    rms = float(np.sqrt(max(0.0, stream.squares / stream.count - (mean - stream.first) ** 2)))
    peak = max(stream.high.extreme, stream.low.extreme)
    measures |= {"rms": rms, "peak": peak, "offset": mean, "step": stream.step if np.isfinite(stream.step) else 0.0}
    swing = max(stream.most - mean, mean - stream.least)
    steps = 2 if rms > stream.step else NOISE_STEPS
    if rms == 0 or swing <= 1e-6 * peak or (swing < LAST_BITS and swing <= steps * stream.step):
        yield _silent()
        return
    if abs(mean) > DC_SHARE * rms:
        text = (
            "The recording stands {share:.0%} of its loudness off zero: a fault of the cable or the input. "
            "The offset was taken off before judging."
        )
        yield FitnessProblem("dc-offset", say("dc-offset", text, share=abs(mean) / rms))
    if stream.bad:
        text = "{count} samples are no numbers; they count as silence."
        yield FitnessProblem("not-numbers", say("not-numbers", text, count=stream.bad), frozenset({"rhythm"}))


def _clipping(stream: Stream, asked: _Asked, measures: dict[str, float]) -> Found:
    if not stream.count:
        return
    cut = _clipped(stream.high, stream.step) + _clipped(stream.low, stream.step)
    share = measures["clipped"] = cut / stream.count
    if cut:
        text = (
            "{share:.2g} % of the samples are clipped: the input was too loud. Its level and the ratio of peaks are "
            "not the sound's. Turn the recorder's input down and listen again."
        )
        spoils: set[Spoiled] = {"level"}
        most = CLIPPED_TONES if asked.kind in OF_TONES else CLIPPED_SPECTRUM
        spoils |= {"spectrum"} if share > most else set()
        spoils |= {"rhythm"} if share > CLIPPED_RHYTHM else set()
        yield FitnessProblem("clipped", say("clipped", text, share=100 * share), frozenset(spoils))


def _gaps(stream: Stream, asked: _Asked, measures: dict[str, float]) -> Found:
    measures["dropouts"] = float(stream.dropouts)
    if stream.dropouts:
        text = (
            "The sound breaks off {count} times ({total_ms:.0f} ms in all, first at {first_s:.2f} s): samples "
            "were lost while recording."
        )
        total = stream.dropped / stream.rate_hz
        sentence = say(
            "dropouts",
            text,
            count=stream.dropouts,
            total_ms=1e3 * total,
            first_s=(stream.first_dropout or 0) / stream.rate_hz,
        )
        lost: set[Spoiled] = {"rhythm"} if stream.dropped < FLAT_SHARE * stream.count else {"rhythm", "level"}
        yield FitnessProblem("dropouts", sentence, frozenset(lost))
    if stream.count and stream.flat > FLAT_SHARE * stream.count:
        text = (
            "{share:.0%} of the recording is digital silence between sounds: a gate, noise suppression or far too low "
            "a gain took the quiet part away."
        )
        sentence = say("gated", text, share=stream.flat / stream.count)
        yield FitnessProblem("noise-suppressed", sentence, frozenset({"level", "spectrum"}))


def _treatment(stream: Stream, asked: _Asked, measures: dict[str, float]) -> Found:
    if asked.lossy:
        text = "The recording was stored with a codec that throws sound away; its level cannot be compared with others."
        yield FitnessProblem("lossy-codec", say("lossy-codec", text), frozenset({"level"}))
    pumping = _pumping(np.concatenate(stream.power)) if stream.power else None
    if pumping is not None and pumping.events:
        measures |= {"pumping_db": pumping.fall_db, "pumping_share": pumping.share}
        if pumping.share >= PUMPING_SHARE and min(pumping.fall_db, pumping.recovery_db) > PUMPING_FALL_DB:
            text = (
                "After each loud event the background is {fall_db:.0f} dB lower and comes back slowly: automatic gain "
                "was on. Ratios inside the recording hold for short times only, its level not at all. Switch it off."
            )
            sentence = say("automatic-gain", text, fall_db=pumping.fall_db)
            yield FitnessProblem("automatic-gain", sentence, frozenset({"level"}))
    speckle = _speckle_db(np.concatenate(stream.frames)) if stream.frames else 0.0
    measures["speckle_db"] = speckle
    if speckle > SPECKLE_DB:
        text = (
            "Single cells of the spectrogram flicker by {speckle_db:.1f} dB where noise would by 5.6: noise "
            "suppression was on. It takes away the steady hiss that is listened for. Switch it off and listen again."
        )
        sentence = say("noise-suppressed", text, speckle_db=speckle)
        yield FitnessProblem("noise-suppressed", sentence, frozenset({"level", "spectrum"}))


def _pickup(stream: Stream, asked: _Asked, measures: dict[str, float]) -> Found:
    below_band = asked.signal == "heterodyned" or asked.sensor == "airborne"
    lines = _mains_lines(stream, asked.mains_hz) if below_band else None
    if lines is None or not measures.get("rms"):
        return
    share = measures["pickup"] = lines.share / measures["rms"] ** 2
    if share > PICKUP_SHARE:
        text = (
            "Narrow lines stand at {mains_hz:.2f} Hz and its multiples ({multiples}), below the receiver's band: the "
            "mains, picked up by the cable or heard as hum. It is no ultrasound and tells of no leak, passage or wear."
        )
        multiples = ", ".join(f"{k}×" for k in lines.multiples)
        sentence = say("mains-pickup", text, mains_hz=lines.mains_hz, multiples=multiples)
        yield FitnessProblem("mains-pickup", sentence, frozenset({"level"}) if share > PICKUP_SPOILS else NONE)


_CHECKS: tuple[Check, ...] = (_length, _rate, _loudness, _clipping, _gaps, _treatment, _pickup)
