"""Electrical discharge and its look-alikes, phased on the mains, through a receiver in plant noise.

Discharges are shot noise: pulses far shorter than the receiver can follow, each with its own phase, at a rate that
follows the voltage. Corona starts at the negative crest, at higher voltage at both; tracking sits on the rising
flanks, builds up and lets go; arcing comes in abrupt bursts that are struck anew in each half cycle or burn through.
Hum is the same movement each half cycle: lines, with nothing between.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from earwitness.hearing.discharge import ElectricalState
from earwitness.hearing.heard import Heard
from earwitness.simulate import noise
from earwitness.simulate.decoy import DECOYS, decoy_names
from earwitness.simulate.receiver import Audio, Band, Envelope, Receiver, random_receiver
from earwitness.simulate.simulated import Simulated

Array = NDArray[np.float64]
TRUTHS = ("corona", "tracking", "arcing", "mains-hum", "no-discharge-heard")
SHARES = (0.17, 0.17, 0.18, 0.15, 0.33)
# How often a discharge hums as well, and how loud at most [dB]: an arc's current heats the air twice a cycle.
HUMS = {"corona": (0.2, 0.0), "tracking": (0.1, 0.0), "arcing": (0.4, 8.0)}
_CONTROL_HZ = 8000.0


def corona(rng: np.random.Generator, seconds: float, band: Band, mains_hz: float) -> Envelope:
    """Pulses while the voltage is beyond the onset: of one polarity, or of both, unequal as a rule."""
    voltage = np.sin(2 * np.pi * _turns(seconds, mains_hz, rng))
    onset = rng.uniform(0.3, 0.9)
    second = 0.0 if rng.random() < 0.4 else rng.uniform(0.15, 1.0)
    power = rng.uniform(0.7, 2.0)
    rate = np.maximum(-voltage - onset, 0) ** power + second * np.maximum(voltage - onset, 0) ** power
    drift = np.exp(rng.uniform(0, 0.4) * _slow(rng, seconds, 0.3, len(rate)))
    return _shots(rng, rate * drift, 10 ** rng.uniform(1.0, 2.7), mains_hz, rng.uniform(0, 0.5), band, seconds)


def tracking(rng: np.random.Generator, seconds: float, band: Band, mains_hz: float) -> Envelope:
    """Pulses on the rising flanks of both half cycles, growing until the path dries out and the sound lets go."""
    turns = _turns(seconds, mains_hz, rng)
    half = (2 * turns) % 1.0  # 0 at a zero of the voltage, 0.5 at its crest
    middle, width = rng.uniform(0.2, 0.42), rng.uniform(0.06, 0.14)
    rate = np.exp(-0.5 * ((half - middle) / width) ** 2)
    rate *= np.where(turns % 1.0 < 0.5, 1.0, rng.uniform(0.6, 1.0))
    rate *= _each_half_cycle(rng, turns, rng.uniform(0.1, 0.5))
    course, at = np.zeros(len(rate)), -rng.uniform(0, 1) * 2.0
    grow = 10 ** rng.uniform(-0.4, 0.5)
    while at < seconds:
        length = grow * rng.lognormal(0, 0.25)
        t = np.arange(len(rate)) / _CONTROL_HZ - at
        inside = (t >= 0) & (t < length)
        course[inside] = np.exp(rng.uniform(1.8, 4.5) * (t[inside] / length - 1))
        at += length + rng.uniform(0.02, 0.4) * grow
    course += rng.uniform(0, 0.03)
    return _shots(rng, rate * course, 10 ** rng.uniform(1.0, 2.3), mains_hz, rng.uniform(0.2, 0.7), band, seconds)


def arcing(rng: np.random.Generator, seconds: float, band: Band, mains_hz: float) -> Envelope:
    """Bursts at no particular time and of no particular strength, each abrupt, struck anew after every zero,
    from single cracks to arcs that burn on for a second and flutter."""
    turns = _turns(seconds, mains_hz, rng)
    half = (2 * turns) % 1.0
    struck = rng.uniform(0.1, 0.5)
    gate = np.where(half > struck, np.sin(np.pi * half), rng.uniform(0, 0.3))
    if rng.random() < 0.2:  # a fault to which the load gives no zero: nothing of the mains in it
        gate = np.ones(len(turns))
    gate *= _each_half_cycle(rng, turns, rng.uniform(0.5, 1.2))
    course = np.zeros(len(turns))
    often, long = 10 ** rng.uniform(0.1, 1.1), 10 ** rng.uniform(-2, 0)
    often *= min(1.0, 0.5 / (often * long))  # what burns on burns half of the time
    for at in np.sort(rng.uniform(0, seconds, 3 + rng.poisson(often * seconds))):
        length = long * rng.lognormal(0, 0.7)
        first, last = int(at * _CONTROL_HZ), int((at + length) * _CONTROL_HZ) + 1
        course[first:last] += rng.lognormal(0, 1.0)
    course *= np.exp(rng.uniform(0, 1.0) * _slow(rng, seconds, 10.0, len(course)))
    return _shots(rng, gate * course, 10 ** rng.uniform(1.0, 2.5), mains_hz, rng.uniform(0.5, 1.0), band, seconds)


def hum(rng: np.random.Generator, seconds: float, band: Band, mains_hz: float) -> Envelope:
    """A loose part that knocks twice a cycle, always alike: it rings, as lines twice the mains apart."""
    ring_hz, wide = band.centre_hz + rng.uniform(-2e3, 2e3), rng.uniform(150, 900)
    period = 2 * mains_hz
    orders = np.arange(np.floor((ring_hz - 3 * wide) / period), np.ceil((ring_hz + 3 * wide) / period) + 1)
    sound = band.silence(seconds)
    for order in orders:
        strength = np.exp(-0.5 * ((order * period - ring_hz) / wide) ** 2) * rng.lognormal(0, 0.5)
        sound += np.float32(strength) * band.tone(order * period, seconds, rng.uniform(0, 6.28))
    return noise._unit(sound)


def audible_hum(
    rng: np.random.Generator, samples: Audio, rate_hz: float, mains_hz: float, louder_db: float = 18.0
) -> Audio:
    """The hum of a core as such, five to eleven even multiples of the mains, laid into what was recorded."""
    t = np.arange(len(samples)) / rate_hz
    orders = 1 + np.arange(int(rng.integers(5, 12)))
    wave = np.zeros(len(samples))
    for order in orders:
        strength = order ** -rng.uniform(0.3, 1.2) * rng.lognormal(0, 0.4)
        wave += strength * np.cos(2 * np.pi * (2 * mains_hz * order * t + rng.random()))
    rms = np.sqrt(np.mean(samples**2)) + 1e-9
    wave *= rms * 10 ** (rng.uniform(louder_db - 20, louder_db) / 20) / np.sqrt(np.mean(wave**2))
    return np.clip(samples + wave, -1, 1).astype(np.float32)


SOURCES: dict[str, Callable[[np.random.Generator, float, Band, float], Envelope]] = {
    "corona": corona,
    "tracking": tracking,
    "arcing": arcing,
    "mains-hum": hum,
}


def draw(rng: np.random.Generator, *, held_out: bool = False) -> Simulated:
    """An electrical reading out of the variety. Held out: decoys, receivers, lengths and faint sources that the fit
    does not see."""
    truth = str(rng.choice(TRUTHS, p=SHARES))
    receiver = _receiver(rng, held_out)
    seconds = float(np.exp(rng.uniform(np.log(3.0 if not held_out else 2.5), np.log(12.0))))
    if receiver.signal == "direct":
        seconds = min(seconds, 3.0)
    mains = float(rng.choice([50.0, 60.0]) * (1 + 0.0015 * np.clip(rng.standard_normal(), -3, 3)))
    band = receiver.band
    over_db = float(rng.uniform(-4, 24))
    name = truth
    around = noise.plant_noise(rng, seconds, band, parts=_around(rng, held_out))
    if truth == "no-discharge-heard":
        name = str(rng.choice(["nothing", *decoy_names(held_out=held_out)]))
        source = DECOYS[name](rng, seconds, band, mains) if name != "nothing" else band.silence(seconds)
    else:
        source = SOURCES[truth](rng, seconds, band, mains)
    sound = around + np.float32(10 ** (over_db / 20)) * source
    sound *= np.float32(10 ** (rng.uniform(-30, -8) / 20) / (np.sqrt(np.mean(np.abs(sound) ** 2)) + 1e-9))
    if truth == "mains-hum" and rng.random() < 0.5 and receiver.rate_hz <= 48_000:
        quiet = around * np.float32(10 ** (rng.uniform(-40, -15) / 20))
        samples, name = audible_hum(rng, receiver.hear_band(quiet, rng), receiver.rate_hz, mains), "audible-hum"
    else:
        samples = receiver.hear_band(sound, rng)
        if truth in HUMS and rng.random() < HUMS[truth][0]:
            samples = audible_hum(rng, samples, receiver.rate_hz, mains, HUMS[truth][1])
    heard = Heard(samples, receiver.rate_hz, receiver.signal, centre_hz=receiver.centre_hz)
    variety = {"source": name, "over_db": over_db, "signal": receiver.signal, "rate_hz": receiver.rate_hz}
    variety |= {"seconds": seconds, "mains_hz": mains, "agc": receiver.agc is not None}
    return Simulated(heard, _state(rng, truth, mains), truth, (), variety)


def _receiver(rng: np.random.Generator, held_out: bool) -> Receiver:
    """Held out: 11,025 and 250,000 samples a second, and oscillators over 42 kHz."""
    while True:
        receiver = random_receiver(rng, direct=bool(rng.random() < 0.15), agc=bool(rng.random() < 0.15))
        kept = receiver.rate_hz in (11_025, 250_000) or receiver.centre_hz > 42e3
        if held_out or not kept:
            return receiver


def _around(rng: np.random.Generator, held_out: bool) -> list[str]:
    """The hall and up to two things in it; of what is held out as a decoy, nothing."""
    others = ["whine", "clatter", "reversing-beeper", "babble"]
    if held_out:
        others += ["exhaust-puffs", "compressor-rumble"]
    return ["ambience", *(str(n) for n in rng.choice(others, int(rng.integers(0, 3)), replace=False))]


def _state(rng: np.random.Generator, truth: str, mains: float) -> ElectricalState:
    nominal = 50.0 if mains < 55 else 60.0
    high = [3_300.0, 6_600.0, 11_000.0, 20_000.0, 33_000.0]
    voltages = high if truth == "corona" else [230.0, 400.0, 690.0, *high]
    voltage = float(rng.choice(voltages)) if rng.random() < 0.5 else None
    return ElectricalState(nominal if rng.random() < 0.6 else None, voltage, "sinusoidal" if voltage else None)


def _turns(seconds: float, mains_hz: float, rng: np.random.Generator) -> Array:
    """The mains in turns at the control rate, from any phase, its frequency wandering by a few hundredths of a per
    cent."""
    count = round(seconds * _CONTROL_HZ)
    wander = 2e-4 * _slow(rng, seconds, 0.1, count)
    return rng.random() + np.cumsum(mains_hz * (1 + wander)) / _CONTROL_HZ


def _slow(rng: np.random.Generator, seconds: float, hz: float, count: int) -> Array:
    course = noise._wander(rng, seconds, hz)
    return np.interp(np.linspace(0, len(course) - 1, count), np.arange(len(course)), course)


def _each_half_cycle(rng: np.random.Generator, turns: Array, spread: float) -> Array:
    """A strength of its own for each half cycle, log-normal."""
    index = (2 * turns).astype(int) - int(2 * turns[0])
    return rng.lognormal(0, spread, index[-1] + 1)[index]


def _shots(
    rng: np.random.Generator, rate: Array, per_cycle: float, mains_hz: float, spread: float, band: Band, seconds: float
) -> Envelope:
    """Pulses at random times whose rate follows `rate`, `per_cycle` of them a cycle on the average, log-normal in
    strength, random in phase; unit rms."""
    count = band.count(seconds)
    course = noise._spread(rate, count)
    expected = course * (per_cycle * mains_hz / band.rate_hz / max(float(course.mean()), 1e-12))
    pulses = rng.poisson(np.minimum(expected, 50.0))
    at = np.flatnonzero(pulses)
    sound = band.silence(seconds)
    strength = np.sqrt(pulses[at]) * rng.lognormal(0, spread, len(at))
    sound[at] = strength * np.exp(2j * np.pi * rng.random(len(at)))
    return noise._unit(sound)
