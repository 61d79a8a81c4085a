"""Sounds that are nothing of any kind, and traps: what stands near twice the mains and is not of it, what is of the
mains and no discharge, tones that fold, things that beep. Each from its mechanism, as a part of `simulate.noise`."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from earwitness.hearing.heard import Heard
from earwitness.simulate import noise
from earwitness.simulate.receiver import Band, Envelope, random_receiver
from earwitness.simulate.simulated import Simulated

Decoy = Callable[[np.random.Generator, float, Band, float], Envelope]  # the last number: the mains frequency [Hz]


def air_conditioner(rng: np.random.Generator, seconds: float, band: Band, mains_hz: float) -> Envelope:
    """A two-pole motor's fan: noise that swells at twice the shaft's speed, 1.5 to 4 % under twice the mains."""
    shaft = mains_hz * (1 - rng.uniform(0.0145, 0.04))
    return _beaten(rng, seconds, band, 2 * shaft, rng.uniform(0.2, 0.8), harmonics=2)


def cicada(rng: np.random.Generator, seconds: float, band: Band, mains_hz: float) -> Envelope:
    """Tymbals that click in two bands of noise, 72.8 times a second and its double, in and out of song."""
    del mains_hz
    turn = np.cumsum(72.8 * (1 + 0.004 * noise._wander(rng, seconds, 2.0))) / 1000.0
    second = rng.uniform(0.2, 1.0)
    level = np.exp(6 * (np.cos(2 * np.pi * turn) - 1)) + second * np.exp(6 * (np.cos(2 * np.pi * (turn + 0.5)) - 1))
    song = 1 + 0.5 * np.clip(noise._wander(rng, seconds, 0.5), -1.5, 1.5)
    return _shaped(rng, seconds, band, level * song)


def rectifier(rng: np.random.Generator, seconds: float, band: Band, mains_hz: float) -> Envelope:
    """A three-phase bridge: six commutations a cycle, each a short ring of the same parts, some a little stronger."""
    ring = band.ring(band.somewhere(rng), rng.uniform(1e-4, 6e-4), rng.uniform(0, 6.28))
    sound = band.silence(seconds)
    uneven = 1 + rng.uniform(0, 0.12) * rng.standard_normal(6)
    period = 1 / (6 * mains_hz)
    for i, at in enumerate(np.arange(rng.uniform(0, period), seconds, period)):
        strength = np.float32(uneven[i % 6] * rng.lognormal(0, 0.05))
        turn = np.complex64(np.exp(2j * np.pi * rng.random()))
        noise._add(sound, ring * strength * turn, max(0, round((at + rng.normal(0, 2e-5)) * band.rate_hz)))
    return noise._unit(sound)


def pwm_drive(rng: np.random.Generator, seconds: float, band: Band, mains_hz: float) -> Envelope:
    """A frequency converter: multiples of its switching rate, each flanked at even multiples of what it puts out."""
    switching = rng.uniform(2e3, 16e3)
    out = rng.uniform(10, 0.95 * mains_hz)
    sound = band.silence(seconds)
    low, high = band.centre_hz - band.rate_hz / 2, band.centre_hz + band.rate_hz / 2
    for order in range(max(1, int(low / switching)), int(high / switching) + 1):
        for side in (-4, -2, 0, 2, 4):
            strength = 10 ** (rng.uniform(-20, 0) / 20) / (1 + abs(side) / 2)
            tone = band.tone(order * switching + side * out, seconds, rng.uniform(0, 6.28))
            sound += np.float32(strength) * tone
    return noise._unit(sound)


def siren(rng: np.random.Generator, seconds: float, band: Band, mains_hz: float) -> Envelope:
    """A howl that goes up and down, with its harmonics."""
    del mains_hz
    base, sweep, rate = band.somewhere(rng), rng.uniform(200, 900), rng.uniform(0.2, 4)
    t = band.times(seconds)
    turn = 2 * np.pi * ((base - band.centre_hz) * t) - sweep / rate * np.cos(2 * np.pi * rate * t)
    return noise._unit(noise._phasor(turn) + np.float32(0.3) * noise._phasor(1.05 * turn))


def hiss(rng: np.random.Generator, seconds: float, band: Band, mains_hz: float) -> Envelope:
    """A steady flow of air: broadband, nothing in it that beats."""
    del mains_hz
    return noise.ambience(rng, seconds, band)


def impacts(rng: np.random.Generator, seconds: float, band: Band, mains_hz: float) -> Envelope:
    """A bearing or a cam close by: rings at a rate that is no multiple of the mains, with a little slip."""
    rate = rng.uniform(20, 180)
    if abs(rate / mains_hz - round(rate / mains_hz)) < 0.03:
        rate *= 1.06
    ring = band.ring(band.somewhere(rng), rng.uniform(2e-4, 1e-3))
    sound = band.silence(seconds)
    for at in np.cumsum(rng.normal(1 / rate, 0.01 / rate, round(seconds * rate))):
        turn = np.complex64(np.exp(2j * np.pi * rng.random()) * rng.lognormal(0, 0.3))
        noise._add(sound, ring * turn, max(0, round(at * band.rate_hz)))
    return noise._unit(sound)


def voices(rng: np.random.Generator, seconds: float, band: Band, mains_hz: float) -> Envelope:
    """One person who speaks: gliding harmonics of a voice, hissed consonants, pauses."""
    del mains_hz
    count = round(seconds * 1000)
    pitch = rng.uniform(90, 260) * np.exp(0.15 * noise._wander(rng, seconds, 3.0))
    turn = noise._spread(np.cumsum(pitch) / 1000.0 % 1e6, band.count(seconds)) * np.float32(2 * np.pi)
    voiced = sum(noise._phasor(turn * k) / np.float32(k**0.7) for k in range(1, 14))
    spoken, hissed = np.zeros(count), np.zeros(count)
    at = 0.0
    while at < seconds:
        length = rng.uniform(0.06, 0.25)
        course = spoken if rng.random() < 0.7 else hissed
        start = round(at * 1000)
        shape = rng.lognormal(0, 0.6) * np.hanning(round(length * 1000))[: max(0, count - start)]
        course[start : start + len(shape)] += shape
        at += length * rng.uniform(0.7, 1.2) + (rng.uniform(0.2, 1.0) if rng.random() < 0.15 else 0.0)
    hiss = band.noise(rng, seconds) * noise._spread(hissed, band.count(seconds))
    return noise._unit(voiced * noise._spread(spoken, band.count(seconds)) + np.float32(0.7) * hiss)


def struck(rng: np.random.Generator, seconds: float, band: Band, mains_hz: float) -> Envelope:
    """Drums, bells, cymbals, tools laid down: blows in a rhythm or alone, each with few modes or very many."""
    del mains_hz
    modes = [(band.somewhere(rng), 10 ** rng.uniform(-2.3, 0.0)) for _ in range(int(rng.choice([1, 3, 12, 60])))]
    sound = band.silence(seconds)
    blow = sum(
        np.float32(rng.lognormal(0, 0.7)) * band.ring(hz, decay, rng.uniform(0, 6.28), seconds) for hz, decay in modes
    )
    often = rng.uniform(0.1, 6)
    steady = rng.random() < 0.5
    times = np.arange(0, seconds, 1 / often) if steady else rng.uniform(0, seconds, 1 + rng.poisson(often * seconds))
    for at in times[:40]:
        noise._add(sound, np.asarray(blow, np.complex64) * np.float32(rng.lognormal(0, 0.5)), round(at * band.rate_hz))
    return noise._unit(sound)


def click(rng: np.random.Generator, seconds: float, band: Band, mains_hz: float) -> Envelope:
    """A switch, a shutter, a latch: a few sharp broadband blows close together, and silence."""
    del mains_hz
    level = np.zeros(round(seconds * 1000))
    start = rng.uniform(0, seconds)
    for at in start + rng.uniform(0, 0.5, int(rng.integers(1, 5))):
        t = np.arange(len(level)) / 1000 - at
        level += np.where(t >= 0, np.exp(-np.maximum(t, 0) / 10 ** rng.uniform(-3, -1.3)), 0) * rng.lognormal(0, 0.7)
    return _shaped(rng, seconds, band, level + 1e-4)


def engine(rng: np.random.Generator, seconds: float, band: Band, mains_hz: float) -> Envelope:
    """A saw, a motor, a horn: a dozen and more harmonics of its own rate, which drifts, and broadband roughness."""
    base = rng.uniform(30, 400)
    if abs(base / mains_hz - round(base / mains_hz)) < 0.03:
        base *= 1.07
    turn = np.cumsum(base * (1 + rng.uniform(0, 0.01) * noise._wander(rng, seconds, 0.3))) / 1000.0
    fine = noise._spread(turn, band.count(seconds)) * np.float32(2 * np.pi)
    first = int(rng.integers(-12, 3))
    sound = sum(
        np.float32(rng.lognormal(0, 0.7)) * noise._phasor(fine * k + np.float32(rng.uniform(0, 6.28)))
        for k in range(first, first + int(rng.integers(8, 24)))
    )
    rough = _beaten(rng, seconds, band, base, rng.uniform(0, 0.6), harmonics=2)
    return noise._unit(noise._unit(np.asarray(sound)) + np.float32(10 ** (rng.uniform(-20, 6) / 20)) * rough)


def _without_mains(part: noise.Part) -> Decoy:
    def decoy(rng: np.random.Generator, seconds: float, band: Band, mains_hz: float) -> Envelope:
        del mains_hz
        return part(rng, seconds, band)

    return decoy


def two_tones(rng: np.random.Generator, seconds: float, band: Band, mains_hz: float) -> Envelope:
    """Two steady ultrasonic tones that fold to twice the mains from each other."""
    return noise.two_tones(rng, seconds, band, apart_hz=2 * mains_hz)


DECOYS: dict[str, Decoy] = {
    "air-conditioner": air_conditioner,
    "cicada": cicada,
    "rectifier": rectifier,
    "pwm-drive": pwm_drive,
    "siren": siren,
    "hiss": hiss,
    "impacts": impacts,
    "voices": voices,
    "struck": struck,
    "click": click,
    "engine": engine,
    "two-tones": two_tones,
    "whine": _without_mains(noise.whine),
    "reversing-beeper": _without_mains(noise.reversing_beeper),
    "clatter": _without_mains(noise.clatter),
    "babble": _without_mains(noise.babble),
    "exhaust-puffs": _without_mains(noise.exhaust_puffs),
    "compressor-rumble": _without_mains(noise.compressor_rumble),
}
HELD_OUT = frozenset({"cicada", "siren", "compressor-rumble", "exhaust-puffs"})  # no weight is fitted on these


def decoy_names(*, held_out: bool) -> list[str]:
    """The decoys that may be drawn: with `held_out` all, else those that weights may be fitted on."""
    return [name for name in DECOYS if held_out or name not in HELD_OUT]


def _beaten(
    rng: np.random.Generator, seconds: float, band: Band, beat_hz: float, depth: float, harmonics: int
) -> Envelope:
    turn = np.cumsum(beat_hz * (1 + rng.uniform(0, 3e-4) * noise._wander(rng, seconds, 0.3))) / 1000.0
    level = np.ones(len(turn))
    for order in range(1, harmonics + 1):
        level += depth / order**2 * np.cos(2 * np.pi * (order * turn + rng.random()))
    return _shaped(rng, seconds, band, np.maximum(level, 0.02))


def _shaped(rng: np.random.Generator, seconds: float, band: Band, level: np.ndarray) -> Envelope:
    """Noise under a course of level at the control rate of `simulate.noise`."""
    return noise._unit(band.noise(rng, seconds) * noise._spread(level, band.count(seconds)))


def draw(rng: np.random.Generator, *, held_out: bool = False) -> Simulated:
    """A reading in which there is nothing of any kind: a decoy, or none, in a hall. Its truth is `nothing`."""
    receiver = random_receiver(rng, direct=bool(rng.random() < 0.12), agc=bool(rng.random() < 0.15))
    seconds = float(np.exp(rng.uniform(np.log(2.5), np.log(8.0)))) if receiver.signal == "heterodyned" else 2.5
    name = str(rng.choice([n for n in decoy_names(held_out=held_out) if n != "impacts"]))
    sound = DECOYS[name](rng, seconds, receiver.band, float(rng.choice([50.0, 60.0])))
    sound += np.float32(10 ** (-rng.uniform(0, 25) / 20)) * noise.ambience(rng, seconds, receiver.band)
    sound *= np.float32(10 ** (rng.uniform(-30, -8) / 20) / (np.sqrt(np.mean(np.abs(sound) ** 2)) + 1e-9))
    heard = Heard(receiver.hear_band(sound, rng), receiver.rate_hz, receiver.signal, centre_hz=receiver.centre_hz)
    return Simulated(heard, None, "nothing", (), {"source": name, "signal": receiver.signal})
