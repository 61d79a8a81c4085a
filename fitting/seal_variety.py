"""What the tone test meets that is no emitter, written plainly in the recording's own samples: struck and played
things, engines that are revved or pass, horns, sirens, voices, noise that was faded; and faint or clear emitters in
plain noise beside them, so that not every plain recording is a decoy.

Only for fitting: the readings of `earwitness.simulate` hold few sounds of this kind, and weights that rest on one way
of writing the same physics lean on its habits. Shapes are drawn wide on purpose.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from earwitness.hearing.heard import Heard

Array = NDArray[np.float64]
Rng = np.random.Generator
Course = Callable[[Rng, Array, float], Array]
RATES_HZ = (8_000, 16_000, 22_050, 44_100)
LEAST_DB = 25.0
PASSAGES = 0.3  # of all


def struck(rng: Rng, t: Array, rate: float) -> Array:
    """Bells, bars, plates, drums: modes at no simple ratio, the higher ones gone sooner; once, or again and again."""
    base = 10 ** rng.uniform(2.2, 3.3)
    ratios = np.concatenate([[1.0], np.sort(rng.uniform(1.2, 12, int(rng.integers(0, 9))))])
    decay = 10 ** rng.uniform(-0.8, 0.9) * ratios ** -rng.uniform(0, 1)
    loud = rng.lognormal(0, 0.8, len(ratios))
    beat = rng.uniform(0, 6) * (rng.random(len(ratios)) < 0.3)  # two modes close together
    sound = np.zeros(len(t))
    for at in _times(rng, t):
        since = np.maximum(t - at, 0)
        blow = sum(
            a * np.exp(-since / d) * np.sin(2 * np.pi * base * r * since) * (1 + 0.6 * np.cos(2 * np.pi * b * since))
            for r, d, a, b in zip(ratios, decay, loud, beat, strict=True)
            if base * r < 0.45 * rate
        )
        sound += blow * (t >= at) * rng.lognormal(0, 0.4)
    return sound


def played(rng: Rng, t: Array, rate: float) -> Array:
    """Notes and chords with partials, held for a while, that swell or are let go; with or without vibrato."""
    base, sound = 10 ** rng.uniform(2.0, 2.9), np.zeros(len(t))
    partials = np.arange(1, int(rng.integers(2, 14)))
    fall, slow = rng.uniform(0.4, 2.0), rng.uniform(0.01, 1.5)
    vibrato, rate_hz = rng.uniform(0, 0.01) * (rng.random() < 0.5), rng.uniform(4, 7)
    one = rng.random() < 0.35
    for start in [rng.uniform(0, 0.3)] if one else np.arange(rng.uniform(0, 1), t[-1], 10 ** rng.uniform(-0.5, 0.6)):
        length = t[-1] if one else 10 ** rng.uniform(-0.5, 0.7)
        since = t - start
        swell = np.clip(since / slow, 0, 1) * np.clip((length - since) / max(slow, 0.05), 0, 1)
        for note in 2 ** (rng.choice([0, 3, 4, 5, 7, 9, 12, 16, 19], int(rng.integers(1, 4))) / 12):
            phase = 2 * np.pi * base * note * (t + vibrato / rate_hz * np.sin(2 * np.pi * rate_hz * t) / (2 * np.pi))
            for k in partials[partials * base * note < 0.45 * rate]:
                sound += swell * k**-fall * np.sin(k * phase + 6.28 * rng.random())
    return sound


def engine(rng: Rng, t: Array, rate: float) -> Array:
    """A motor that is started, revved, or goes by: many harmonics of a rate that glides, and roughness with them."""
    speed = 10 ** rng.uniform(1.3, 2.4) * np.exp(_wander(rng, t, rng.uniform(0.1, 1.0)) * rng.uniform(0.02, 0.6))
    turn, sound = 2 * np.pi * np.cumsum(speed) / rate, np.zeros(len(t))
    for k in range(1, int(rng.integers(6, 40))):
        sound += rng.lognormal(0, 0.8) * k ** -rng.uniform(0, 0.6) * np.sin(k * turn + 6.28 * rng.random())
    rough = rng.standard_normal(len(t)) * (1 + rng.uniform(0, 0.9) * np.sin(turn))
    sound = sound / sound.std() + rng.uniform(0.02, 1.5) * rough
    return sound * (_pass(rng, t) if rng.random() < 0.5 else np.exp(_wander(rng, t, 0.4) * rng.uniform(0, 1.0)))


def siren(rng: Rng, t: Array, rate: float) -> Array:
    """A howl or two notes in turn, with harmonics, near or going by."""
    base, depth, beat = 10 ** rng.uniform(2.4, 3.3), rng.uniform(0.05, 0.6), 10 ** rng.uniform(-0.8, 0.7)
    wave = np.sin(2 * np.pi * beat * t) if rng.random() < 0.6 else np.sign(np.sin(2 * np.pi * beat * t))
    phase = 2 * np.pi * np.cumsum(base * (1 + depth * wave)) / rate
    top = max(1, min(6, int(0.45 * rate / (base * (1 + depth)))))
    sound = sum(k ** -rng.uniform(0, 2) * np.sin(k * phase) for k in range(1, top + 1))
    return np.asarray(sound) * (_pass(rng, t) if rng.random() < 0.4 else 1.0)


def horn(rng: Rng, t: Array, rate: float) -> Array:
    """Horns, whistles, squealing brakes: a few notes at once, blown for a while, breath beneath. (One note alone that
    swells and fades is what a passage sounds like.)"""
    base, sound = rng.uniform(200, 0.15 * rate), np.zeros(len(t))
    glide = np.exp(0.05 * rng.standard_normal() * np.tanh((t - rng.uniform(0, t[-1])) / rng.uniform(0.1, 1)))
    phase = 2 * np.pi * np.cumsum(base * glide * (1 + 0.003 * _wander(rng, t, 3.0))) / rate
    for ratio in np.concatenate([[1.0], rng.uniform(1.1, 3.0, int(rng.integers(1, 5)))]):
        sound += rng.lognormal(0, 0.5) * np.sin(ratio * phase)
    blown = np.zeros(len(t))
    for at in _times(rng, t)[:4]:
        length, soft = 10 ** rng.uniform(-0.5, 0.6), 10 ** rng.uniform(-2, -0.3)
        blown = np.maximum(blown, np.clip((t - at) / soft, 0, 1) * np.clip((at + length - t) / soft, 0, 1))
    return (sound + rng.uniform(0, 0.6) * rng.standard_normal(len(t))) * blown


def voice(rng: Rng, t: Array, rate: float) -> Array:
    """Somebody speaks, calls or sings: harmonics of a pitch that glides, shaped by resonances, consonants, pauses."""
    pitch = rng.uniform(90, 400) * np.exp(0.2 * _wander(rng, t, 2.0))
    phase, sound = 2 * np.pi * np.cumsum(pitch) / rate, np.zeros(len(t))
    formants = rng.uniform(300, 3500, 3)
    for k in range(1, int(0.4 * rate / pitch.max())):
        sound += np.exp(-np.min(np.abs(k * pitch.mean() - formants)) / 300) * np.sin(k * phase)
    sound = sound / sound.std()
    spoken, at = np.zeros(len(t)), rng.uniform(0, 0.5)
    while at < t[-1]:
        length = 10 ** rng.uniform(-1, 0.2)
        inside = (t >= at) & (t < at + length)
        spoken[inside] = rng.lognormal(0, 0.5) * np.sin(np.pi * (t[inside] - at) / length)
        at += length * rng.uniform(1.0, 1.6) + rng.exponential(0.1)
    return sound * spoken + rng.uniform(0, 0.5) * rng.standard_normal(len(t)) * np.roll(spoken, int(0.1 * rate))


def beeper(rng: Rng, t: Array, rate: float) -> Array:
    """A truck that backs up: a tone and its harmonics, folded to anywhere, a beep or so a second, half of it silent; it
    stands there, comes nearer, goes away or by, which takes it a good part of the recording."""
    beeps = _beeps(rng, t, rate)
    return beeps / beeps.std() + 10 ** rng.uniform(-1, 0.6) * rng.standard_normal(len(t))


def _beeps(rng: Rng, t: Array, rate: float) -> Array:
    turn = (t * rng.uniform(0.7, 1.6) + rng.random()) % 1.0
    tones = rng.uniform(200, 0.45 * rate, int(rng.integers(1, 5)))
    sound = sum(rng.lognormal(0, 0.7) * np.sin(2 * np.pi * hz * t + 6.28 * rng.random()) for hz in tones)
    course = np.ones(len(t))
    if rng.random() < 0.8:
        nearest, passing = rng.uniform(-0.3, 1.3) * t[-1], rng.uniform(0.12, 0.6) * t[-1]
        course = 1 / np.sqrt(1 + ((t - nearest) / passing) ** 2) ** rng.uniform(1, 2)
    return np.asarray(sound) * (turn < rng.uniform(0.4, 0.6)) * course


def faded(rng: Rng, t: Array, rate: float) -> Array:
    """Wind, sea, rain, a crowd: noise in a band or two that swells, is faded in or cut off."""
    low, high = np.sort(10 ** rng.uniform(2.0, np.log10(0.48 * rate), 2))
    sos = signal.butter(2, (low, min(high * 1.3, 0.49 * rate)), "bandpass", fs=rate, output="sos")
    sound = np.asarray(signal.sosfilt(sos, rng.standard_normal(len(t))))
    sound = sound / sound.std() + 10 ** rng.uniform(-2, 0) * rng.standard_normal(len(t))
    if rng.random() < 0.3:
        sound += rng.uniform(0, 2) * np.sin(2 * np.pi * rng.uniform(200, 0.4 * rate) * t)
    course = np.exp(rng.uniform(0.3, 2.0) * _wander(rng, t, 10 ** rng.uniform(-1, 0.3)))
    return sound * course * _fade(rng, t)


def rustle(rng: Rng, t: Array, rate: float) -> Array:
    """A sleeve, a cable, breath on the probe: bursts of noise in the lower part of the band or somewhere in it."""
    return rng.standard_normal(len(t)) + 10 ** (rng.uniform(0, 25) / 20) * _bursts(rng, t, rate)


def _bursts(rng: Rng, t: Array, rate: float) -> Array:
    high = 10 ** rng.uniform(2.8, np.log10(0.4 * rate))
    band = (rng.uniform(0.02, 0.4) * high, high)
    sos = signal.butter(int(rng.integers(1, 4)), band, "bandpass", fs=rate, output="sos")
    noise = np.asarray(signal.sosfilt(sos, rng.standard_normal(len(t))))
    course = np.zeros(len(t))
    for at in rng.uniform(0, t[-1], int(rng.integers(1, 6))):
        length = 10 ** rng.uniform(-1, 0.1)
        course += rng.lognormal(0, 0.5) * np.exp(-(((t - at) / (length / 2)) ** 2)) * np.exp(_wander(rng, t, 8.0))
    return noise / noise.std() * course * np.sqrt((band[1] - band[0]) / (rate / 2))


def keys(rng: Rng, t: Array, rate: float) -> Array:
    """Keys, chains, tools: spells of quick blows, each ringing at some of many high modes."""
    modes = rng.uniform(300, 0.48 * rate, int(rng.integers(12, 40)))
    sound = rng.uniform(0.05, 1) * rng.standard_normal(len(t))
    for start in rng.uniform(0, t[-1], int(rng.integers(1, 5))):
        length, quick = rng.uniform(0.2, 1.6), rng.uniform(5, 25)
        for at in start + rng.uniform(0, length, max(2, int(quick * length))):
            since = np.maximum(t - at, 0)
            loud = rng.lognormal(0, 1, len(modes)) * (rng.random(len(modes)) < 0.6)
            decay = 10 ** rng.uniform(-2, -1, len(modes))
            ringing = (t >= at) & (since < 6 * decay.max())
            for a, hz, d in zip(loud, modes, decay, strict=True):
                sound[ringing] += a * np.exp(-since[ringing] / d) * np.sin(2 * np.pi * hz * since[ringing])
    return sound


def drifting(rng: Rng, t: Array, rate: float) -> Array:
    """A machine that whines evenly while its speed drifts: lines that glide and fade no more than some decibels."""
    return 10 ** (rng.uniform(0, 30) / 20) * _whine(rng, t, rate) + rng.standard_normal(len(t))


def _whine(rng: Rng, t: Array, rate: float) -> Array:
    """As loud as the noise of 200 Hz, where that has unit rms in all."""
    drift = 10 ** rng.uniform(-3.5, -1.5) * _wander(rng, t, 10 ** rng.uniform(-1.5, -0.5))
    sound = np.zeros(len(t))
    for hz in rng.uniform(300, 0.42 * rate, int(rng.integers(1, 6))):
        phase = 2 * np.pi * np.cumsum(np.clip(hz * (1 + drift), 50, 0.48 * rate)) / rate
        sound += rng.lognormal(0, 0.5) * np.exp(0.15 * _wander(rng, t, 0.5)) * np.sin(phase)
    return np.sqrt(200 / (rate / 2)) * sound / sound.std()


def hiss(rng: Rng, t: Array, rate: float) -> Array:
    """Noise alone, steady or passed: what a sweep along a tight seam records."""
    return rng.standard_normal(len(t)) * (1 + 10 ** rng.uniform(-1, 1) * _pass(rng, t) * (rng.random() < 0.5))


def wall(rng: Rng, t: Array, rate: float) -> Array:
    """An emitter that is heard through a thin wall all along: a direct part and waves of other ways, whose sum dips at
    irregular places (Rice), one tone of it otherwise than another."""
    direct, slow = 10 ** (rng.uniform(-3, 20) / 20), 10 ** rng.uniform(-1.3, 0.3)
    ways = [emitter(rng, t, rate, seed=int(rng.integers(1 << 30)))]
    if rng.random() < 0.3:
        ways += [rng.uniform(0.3, 1) * emitter(rng, t, rate, seed=int(rng.integers(1 << 30)))]
    sound = np.zeros(len(t))
    for way in ways:
        scattered = (_wander(rng, t, 1 / slow) + 1j * _wander(rng, t, 1 / slow)) / np.sqrt(2)
        sound += np.abs(direct + scattered) * way
    loud = 10 ** (rng.uniform(-3, 30) / 20) * np.sqrt(200 / (rate / 2)) / sound.std()
    return loud * sound + rng.standard_normal(len(t))


def emitter(rng: Rng, t: Array, rate: float, seed: int | None = None) -> Array:
    """An emitter that beats, warbles or is swept, or has more tones than one; unit rms while it sounds."""
    rng = rng if seed is None else np.random.default_rng(seed)
    beat = 10 ** rng.uniform(-0.1, 0.95)
    temper = str(rng.choice(["steady", "on-off", "warble", "swept", "many-tones", "chirp"]))
    turn = (t * beat + rng.random()) % 1.0
    hz = np.full(len(t), rng.uniform(400, 0.4 * rate))
    if temper == "warble":
        hz += np.where(turn < 0.5, 0.0, rng.uniform(60, 500))
    if temper == "swept":
        hz += rng.uniform(100, 900) * np.abs(2 * turn - 1)
    if temper == "chirp":  # over a good part of the band, again and again, up or down
        low, high = np.sort(rng.uniform(150, 0.45 * rate, 2))
        turn = (t * 10 ** rng.uniform(3.3, 4.3) / max(high - low, 500) + rng.random()) % 1.0
        hz = low + (high - low) * (turn if rng.random() < 0.5 else 1 - turn)
    sound = np.sqrt(2) * np.sin(2 * np.pi * np.cumsum(hz) / rate)
    if temper == "many-tones":
        for step in rng.uniform(-700, 700, int(rng.integers(1, 4))) * rng.choice([1, 1, 3]):
            tone = np.clip(hz[0] + step, 150, 0.45 * rate)
            sound = sound + rng.uniform(0.3, 1.5) * np.sin(2 * np.pi * tone * t + 6.28 * rng.random())
        sound = sound / sound.std()
    return sound * (turn < rng.uniform(0.3, 0.8)) if temper in ("on-off", "many-tones") else sound


DECOYS: dict[str, Course] = {
    "struck": struck, "played": played, "engine": engine, "siren": siren, "horn": horn, "voice": voice,
    "beeper": beeper, "faded": faded, "hiss": hiss, "wall": wall, "rustle": rustle,
    "keys": keys, "drifting": drifting,
}  # fmt: skip


def draw(rng: Rng) -> tuple[Heard, str, str]:
    """One recording of 4 to 16 s, its truth, and what was drawn."""
    rate = float(rng.choice(RATES_HZ))
    t = np.arange(round(rate * np.exp(rng.uniform(np.log(4.1), np.log(16))))) / rate
    floor = rng.standard_normal(len(t))
    if rng.random() < PASSAGES:
        width = rng.uniform(0.4, min(2.5, t[-1] / 5))
        places = rng.uniform(0.1, 0.9, int(rng.choice([1, 1, 2]))) * t[-1]
        course = np.sqrt(sum(1 / (1 + ((t - at) / (width / 2)) ** 2) for at in places))
        # below this energy over the noise's density nobody could tell it from chance
        over_db = max(rng.uniform(-4, 20), LEAST_DB - 10 * np.log10(200 * np.pi / 2 * width))
        over = 10 ** (over_db / 20) * np.sqrt(200 / (rate / 2))
        sound, truth, name = floor + over * course * emitter(rng, t, rate), "passage", "emitter"
        if rng.random() < 0.3:
            sound = sound + over * 10 ** (-rng.uniform(8, 25) / 20) * emitter(rng, t, rate)
        sound = _beneath(rng, t, rate, sound)
    else:
        name = str(rng.choice(list(DECOYS)))
        sound, truth = DECOYS[name](rng, t, rate), "no-passage-heard"
        sound = _beneath(rng, t, rate, sound) if name in ("wall", "hiss", "rustle") else sound
        sound = sound / max(float(sound.std()), 1e-9) + 10 ** (-rng.uniform(5, 60) / 20) * floor
        if rng.random() < 0.4:  # recordings of such things are faded in and out, floor and all
            sound = sound * _fade(rng, t)
    sound = sound * (10 ** rng.uniform(-1.3, -0.1) / np.abs(sound).max())
    return Heard(sound.astype(np.float32), rate), truth, name


def _beneath(rng: Rng, t: Array, rate: float, sound: Array) -> Array:
    """One in five sweeps is recorded while a truck backs up, fainter or louder than the emitter, in one of five
    something rustles, in one of five people talk or music plays, and in one of five a machine whines; the noise has
    unit rms."""
    if rng.random() < 0.2:
        beeps = _beeps(rng, t, rate)
        sound = sound + 10 ** (rng.uniform(-8, 20) / 20) * np.sqrt(200 / (rate / 2)) * beeps / beeps.std()
    if rng.random() < 0.2:
        sound = sound + 10 ** (rng.uniform(0, 25) / 20) * _bursts(rng, t, rate)
    if rng.random() < 0.2:
        talk = (voice if rng.random() < 0.5 else played)(rng, t, rate)
        sound = sound + 10 ** (rng.uniform(-8, 20) / 20) * np.sqrt(200 / (rate / 2)) * talk / talk.std()
    if rng.random() < 0.2:
        sound = sound + 10 ** (rng.uniform(-8, 25) / 20) * _whine(rng, t, rate)
    return sound


def _times(rng: Rng, t: Array) -> Array:
    """When it is struck or blown: once, in a rhythm, or at no particular times."""
    how = rng.random()
    if how < 0.35:
        return rng.uniform(0, 0.5, 1)
    gap = 10 ** rng.uniform(-0.7, 0.6)
    return np.arange(rng.uniform(0, gap), t[-1], gap)[:24] if how < 0.7 else rng.uniform(0, t[-1], rng.integers(2, 12))


def _pass(rng: Rng, t: Array) -> Array:
    return np.asarray(1 / np.sqrt(1 + ((t - rng.uniform(0, 1) * t[-1]) / rng.uniform(0.3, 3.0)) ** 2))


def _fade(rng: Rng, t: Array) -> Array:
    rise, fall = rng.uniform(0.05, 0.5, 2) * t[-1]
    course = np.clip(t / rise, 0, 1) * np.clip((t[-1] - t) / fall, 0, 1)
    return np.asarray(np.maximum(course, 10 ** rng.uniform(-4, -1)) ** rng.choice([0.5, 1.0, 2.0]))


def _wander(rng: Rng, t: Array, hz: float) -> Array:
    """A slow course of unit spread or so, that keeps near a frequency and below."""
    knots = rng.standard_normal(max(4, int(np.ceil(t[-1] * hz)) + 3))
    return np.asarray(np.interp(np.linspace(0, len(knots) - 1, len(t)), np.arange(len(knots)), knots))
