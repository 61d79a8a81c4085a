"""Discharges and look-alikes written a second time, apart from `earwitness.simulate` and much plainer: noise under a
gate of the mains and a course over time, straight in the recording's own samples.

Only for fitting: weights that rest on two ways of writing the same physics lean on what both have in common. The
shapes are drawn wide on purpose (steep and blunt gates, short and long bursts, knocks and tones beside them). What the
mains drive and is no discharge is here too: laminations that swell, dimmers, thyristors, drivers of lamps.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from earwitness.hearing.discharge import ElectricalState
from earwitness.hearing.heard import Heard

Array = NDArray[np.float64]
Course = Callable[[np.random.Generator, Array, float], Array]
TRUTHS = ("corona", "tracking", "arcing", "mains-hum", "no-discharge-heard")
SHARES = (0.18, 0.2, 0.24, 0.16, 0.22)
RATES_HZ = (8_000, 16_000, 22_050, 32_000, 44_100, 48_000)
_CONTROL_HZ = 4000.0
_RING_S = 0.01


def corona(rng: np.random.Generator, t: Array, mains_hz: float) -> Array:
    """Power at the crests of one polarity or of both, every cycle nearly alike."""
    turn = mains_hz * t + rng.random()
    width = rng.uniform(0.03, 0.1)
    other = rng.choice([0.0, rng.uniform(0.1, 1.0)])
    gate = _bump(turn - 0.75, width) + other * _bump(turn - 0.25, width * rng.uniform(0.7, 1.0))
    return gate * _each(rng, turn, rng.uniform(0.0, 0.35)) * _drift(rng, t, rng.uniform(0, 0.35))


def tracking(rng: np.random.Generator, t: Array, mains_hz: float) -> Array:
    """Power on the rising flanks of both half cycles that grows for a while, lets go, rests, and grows again."""
    turn = 2 * (mains_hz * t + rng.random())
    gate = _bump(turn - rng.uniform(0.12, 0.42), rng.uniform(0.04, 0.16))
    if rng.random() < 0.3:  # anywhere on the flank alike
        gate = np.where(np.abs((turn % 1.0) - rng.uniform(0.2, 0.35)) < rng.uniform(0.12, 0.26), 1.0, 0.0)
    gate *= _each(rng, turn, rng.uniform(0.0, 1.0))  # few sparks in a half cycle or many
    missing = rng.choice([rng.uniform(0, 0.15), rng.uniform(0.15, 0.6)])
    gate *= _each(rng, turn, 1.0, lambda count: rng.random(count) > missing)
    course, start = np.zeros(len(t)), -rng.uniform(0, 3.0)
    span, shape, rest = 10 ** rng.uniform(-0.4, 0.75), rng.uniform(0.7, 3.0), rng.uniform(0, 1.0)
    fall, left, hold = 10 ** rng.uniform(-3, -1.1), rng.uniform(0, 0.05), rng.choice([0.0, rng.uniform(0, 0.4)])
    unlike = rng.uniform(0, 0.6)
    while start < t[-1]:
        length, top = span * rng.lognormal(0, unlike), rng.lognormal(0, 0.25)
        since, ends = t - start, length * (1 + hold)
        course += top * np.where((since >= 0) & (since < ends), np.clip(since / length, 0, 1) ** shape, 0)
        course += top * np.where(since >= ends, np.exp(-np.maximum(since - ends, 0) / fall), 0)
        start += ends + rest * span * rng.random()
    return gate * (course + left)


def arcing(rng: np.random.Generator, t: Array, mains_hz: float) -> Array:
    """Power that is there and not there: struck at any time, alight from milliseconds to a second, uneven while it
    burns; over in an instant or with a short tail. One in five climbs, stretches, breaks and is struck again."""
    turn = 2 * (mains_hz * t + rng.random())
    gate = _burning(rng, turn) * _each(rng, turn, rng.uniform(0.2, 1.0))
    gate *= _drift(rng, t, rng.uniform(0, 0.8), 15.0)
    if rng.random() < 0.2:
        return gate * _climbing(rng, t)
    on, duty = 10 ** rng.uniform(-2.3, -0.1), rng.uniform(0.1, 0.8)
    tail, uneven = rng.choice([1e-3, 10 ** rng.uniform(-2.5, -1.3)]), rng.uniform(0.1, 1.0)
    course, at = np.zeros(len(t)), -on * rng.random()
    while at < t[-1]:
        length, top = on * rng.lognormal(0, 0.6), rng.lognormal(0, uneven)
        since = t - at
        near = slice(max(0, int(at * _CONTROL_HZ)), max(0, int((at + length + 8 * tail) * _CONTROL_HZ) + 2))
        part = since[near]
        burst = np.where((part >= 0) & (part < length), 1.0, 0.0)
        course[near] += top * (burst + np.where(part >= length, np.exp(-np.maximum(part - length, 0) / tail), 0.0))
        at += length + rng.exponential(on * (1 - duty) / duty)
    return gate * course


def _burning(rng: np.random.Generator, turn: Array) -> Array:
    """Over a half cycle, most of which it fills: as the current goes, struck late and loud, or as if there were no
    zero."""
    kind = rng.integers(10)
    phase = turn % 1.0
    if kind == 0:
        return np.ones(len(turn))
    if kind < 6:
        return np.abs(np.sin(np.pi * turn)) ** 10 ** rng.uniform(-0.2, 0.4)
    since = phase - rng.uniform(0.1, 0.4)
    return np.where(since > 0, np.exp(-since / rng.uniform(0.2, 0.8)), rng.uniform(0, 0.2))


def _climbing(rng: np.random.Generator, t: Array) -> Array:
    """Struck with a crack many times as loud as what burns on, then longer and louder until it breaks."""
    course, at = np.zeros(len(t)), -rng.uniform(0, 1.0)
    span, crack, tail = 10 ** rng.uniform(-0.5, 0.3), 10 ** rng.uniform(0.7, 1.8), 10 ** rng.uniform(-2.5, -1.3)
    growth = rng.uniform(0.5, 3.0)
    while at < t[-1]:
        length = span * rng.lognormal(0, 0.4)
        since = t - at
        alight = (since >= 0) & (since < length)
        course += np.where(alight, np.exp(growth * (since / length - 1)), 0)
        course += np.where(since >= 0, crack * rng.lognormal(0, 0.4) * np.exp(-np.maximum(since, 0) / tail), 0)
        at += length + rng.exponential(0.05)
    return course


def _decoy(rng: np.random.Generator, t: Array, mains_hz: float) -> Array:
    """What is no discharge: nothing, a steady hiss, a fan, commutations, puffs of air."""
    kind = rng.choice(["nothing", "hiss", "fan", "commutation", "puffs"])
    if kind == "nothing":
        return np.zeros(len(t))
    if kind == "hiss":
        return _drift(rng, t, rng.uniform(0, 0.5))
    if kind == "fan":
        hz = 2 * mains_hz * (1 - rng.uniform(0.0065, 0.045))
        return (1 + rng.uniform(0.1, 1) * np.cos(2 * np.pi * hz * t)) ** 2
    if kind == "commutation":
        return np.exp(-((6 * mains_hz * t) % 1.0) * rng.uniform(2, 12)) * _drift(rng, t, 0.1)
    gap, decay = rng.uniform(0.25, 2.0), rng.uniform(0.03, 0.2)
    return np.exp(-((t / gap + rng.random()) % 1.0) * gap / decay)


COURSES: dict[str, Course] = {
    "corona": corona,
    "tracking": tracking,
    "arcing": arcing,
    "no-discharge-heard": _decoy,
}


def draw(rng: np.random.Generator) -> tuple[Heard, ElectricalState, str]:
    """A reading, what is known of the equipment, and the truth."""
    truth = str(rng.choice(TRUTHS, p=SHARES))
    rate = float(rng.choice(RATES_HZ))
    seconds = float(np.exp(rng.uniform(np.log(2.5), np.log(12.0))))
    nominal = float(rng.choice([50.0, 60.0]))
    mains = nominal * (1 + rng.uniform(-0.003, 0.003))
    count = round(seconds * rate)
    sound = _hall(rng, count, rate)
    if truth == "mains-hum":
        source = (_lines, _laminations, _buzz)[rng.integers(3)](rng, count, rate, 2 * mains)
    elif truth == "no-discharge-heard" and rng.random() < 0.45:
        source = (_switched, _switched, _driver)[rng.integers(3)](rng, count, rate, mains)
    else:
        power = COURSES[truth](rng, np.arange(round(seconds * _CONTROL_HZ)) / _CONTROL_HZ, mains)
        gate = np.interp(np.arange(count) / rate, np.arange(len(power)) / _CONTROL_HZ, np.sqrt(np.maximum(power, 0)))
        source = gate * _carrier(rng, count, rate)
        if truth == "arcing" and rng.random() < 0.3:
            source += rng.uniform(0.1, 1) * _rms(source) * _lines(rng, count, rate, 2 * mains)
    sound += 10 ** (rng.uniform(-3, 24) / 20) * source / (_rms(source) + 1e-12) * (1.0 if source.any() else 0.0)
    sound = _through(rng, sound, rate)
    sound = sound / (_rms(sound) + 1e-12) + 10 ** rng.uniform(-3, -1.5) * rng.standard_normal(count)
    sound *= 10 ** rng.uniform(-2.0, -0.8)
    heard = Heard(np.clip(sound, -1, 1).astype(np.float32), rate, "heterodyned")
    return heard, ElectricalState(nominal if rng.random() < 0.6 else None), truth


def _hall(rng: np.random.Generator, count: int, rate_hz: float) -> Array:
    """Noise of some colour and unit rms, in half of the cases tones, in a third knocks, in a fifth breaths."""
    sound = _carrier(rng, count, rate_hz)
    t = np.arange(count) / rate_hz
    if rng.random() < 0.5:
        for _ in range(int(rng.integers(1, 5))):
            sound += 10 ** rng.uniform(-1.3, 0) * np.cos(
                2 * np.pi * (rng.uniform(600, 0.45 * rate_hz) * t + rng.random())
            )
    if rng.random() < 0.33:
        for start in rng.uniform(0, count, int(rng.integers(1, 12))).astype(int):
            part = np.arange(min(count - start, round(0.3 * rate_hz))) / rate_hz
            ring = rng.choice([1.0, 0.0]) * np.cos(2 * np.pi * rng.uniform(600, 0.4 * rate_hz) * part)
            knock = 10 ** rng.uniform(0, 1.3) * np.exp(-part / 10 ** rng.uniform(-3, -1.3))
            sound[start : start + len(part)] += knock * (ring if ring.any() else rng.standard_normal(len(part)))
    if rng.random() < 0.2:
        sound += _breaths(rng, t) * _carrier(rng, count, rate_hz)
    return sound


def _breaths(rng: np.random.Generator, t: Array) -> Array:
    """Puffs of air, consonants, brushes: they swell in milliseconds or more and fade, at even times or at any."""
    often, swells, fades = rng.uniform(0.4, 5), 10 ** rng.uniform(-2.5, -1.2), 10 ** rng.uniform(-1.6, -0.5)
    uneven = rng.choice([0.0, 0.5])
    course, at = np.zeros(len(t)), rng.random() / often
    while at < t[-1]:
        since = np.maximum(t - at, 0)
        course += rng.lognormal(0, uneven) * (1 - np.exp(-since / swells)) * np.exp(-since / fades)
        at += (1 + uneven * rng.uniform(-1, 1)) / often
    return 10 ** rng.uniform(0, 1.3) * course


def _through(rng: np.random.Generator, sound: Array, rate_hz: float) -> Array:
    """What the receiver's audio lets pass: from 2.5 kHz up to all that the recording holds."""
    limit, steep = np.exp(rng.uniform(np.log(2500), np.log(rate_hz / 2))), rng.uniform(2, 8)
    hz = fft.rfftfreq(len(sound), 1 / rate_hz)
    return np.asarray(fft.irfft(fft.rfft(sound) / np.sqrt(1 + (hz / limit) ** (2 * steep)), len(sound)))


def _carrier(rng: np.random.Generator, count: int, rate_hz: float) -> Array:
    """Noise through one broad resonance between two limits; unit rms."""
    spectrum = fft.rfft(rng.standard_normal(count))
    hz = fft.rfftfreq(count, 1 / rate_hz)
    centre, q = rng.uniform(0.05, 0.4) * rate_hz, rng.uniform(0.3, 3)
    spectrum /= np.sqrt(1 + (q * (hz - centre) / centre) ** 2)
    spectrum /= np.sqrt(1 + (hz / (rate_hz * rng.uniform(0.3, 0.5))) ** 16)
    spectrum[hz < rng.uniform(50, 400)] = 0
    noise = fft.irfft(spectrum, count)
    return noise / _rms(noise)


def _lines(rng: np.random.Generator, count: int, rate_hz: float, spacing_hz: float) -> Array:
    """Narrow lines twice the mains apart: multiples of it, or a ring that folded to anywhere; unit rms."""
    t = np.arange(count) / rate_hz
    first = spacing_hz if rng.random() < 0.5 else rng.uniform(500, 0.3 * rate_hz)
    sound = np.zeros(count)
    for order in range(int(rng.integers(4, 14))):
        hz = first + order * spacing_hz
        if hz < 0.45 * rate_hz:
            sound += rng.lognormal(-0.12 * order, 0.5) * np.cos(2 * np.pi * (hz * t + rng.random()))
    return sound / (_rms(sound) + 1e-12)


def _laminations(rng: np.random.Generator, count: int, rate_hz: float, hum_hz: float) -> Array:
    """A core or a motor that rustles as its flux swells and shrinks: noise under a smooth swell, lines in it or not."""
    turn = hum_hz * np.arange(count) / rate_hz + rng.random()
    deep, sharper = 10 ** rng.uniform(-0.9, -0.05), rng.uniform(0, 0.12)
    swell = 1 + deep * (np.cos(2 * np.pi * turn) + sharper * np.cos(4 * np.pi * turn + 6.28 * rng.random()))
    sound = np.maximum(swell, 0) ** rng.choice([0.5, 1.0]) * _carrier(rng, count, rate_hz)
    hums = rng.random() < 0.5
    return sound + (10 ** rng.uniform(-1.5, 0) * _lines(rng, count, rate_hz, hum_hz) if hums else 0.0)


def _buzz(rng: np.random.Generator, count: int, rate_hz: float, hum_hz: float) -> Array:
    """What knocks or clicks each time alike and at the same moment: lines, through the receiver's oscillator too."""
    return _clicks(rng, count, rate_hz, hum_hz, 10 ** rng.uniform(-7, -6))


def _switched(rng: np.random.Generator, count: int, rate_hz: float, mains_hz: float) -> Array:
    """A dimmer, a thyristor or a rectifier: once, twice, six or twelve times a cycle, as exactly as it is timed."""
    pulses = int(rng.choice([1, 2, 2, 2, 6, 12]))
    return _clicks(rng, count, rate_hz, pulses * mains_hz, 10 ** rng.uniform(-5.1, -4.2), pulses)


def _clicks(
    rng: np.random.Generator, count: int, rate_hz: float, often_hz: float, jitter_s: float, different: int = 1
) -> Array:
    """Rings of the same parts, multiplied by an oscillator; `different` kinds of click take turns, nearly alike."""
    seconds = count / rate_hz
    at = np.arange(rng.random(), seconds * often_hz) / often_hz
    at = at + 2e-4 / often_hz * np.cumsum(_drift(rng, at, 1.0) - 1.0) + jitter_s * rng.standard_normal(len(at))
    loud = (1 - 0.5 * rng.random(different) ** 2)[np.arange(len(at)) % different] * rng.lognormal(0, 0.04, len(at))
    place = np.clip(at * rate_hz, 0, count - 2)
    first, part = place.astype(int), place % 1.0
    train = np.zeros(count, complex)
    pulses = loud * np.exp(-2j * np.pi * rng.uniform(25e3, 45e3) * at)
    np.add.at(train, first, (1 - part) * pulses)
    np.add.at(train, first + 1, part * pulses)
    t = np.arange(round(_RING_S * rate_hz)) / rate_hz
    ring = np.zeros(len(t), complex)
    for hz in rng.uniform(0.03, 0.42, int(rng.integers(1, 8))) * rate_hz:
        tone = np.exp(2j * np.pi * (hz * t + rng.random()) - t / 10 ** rng.uniform(-3.8, -2.8))
        ring += rng.lognormal(0, 0.5) * tone
    size = fft.next_fast_len(count + len(ring))
    return np.asarray(fft.ifft(fft.fft(train, size) * fft.fft(ring, size)).real[:count])


def _driver(rng: np.random.Generator, count: int, rate_hz: float, mains_hz: float) -> Array:
    """A lamp's driver or a charger: dithered tones of its switching, as loud as the rectified mains are high."""
    t = np.arange(count) / rate_hz
    swell = 1 + rng.uniform(0.05, 1.0) * np.cos(4 * np.pi * mains_hz * t + 6.28 * rng.random())
    dither = rng.uniform(20, 600) * _drift(rng, t, 1.0, rng.uniform(20, 400))
    sound = np.zeros(count)
    for order in range(1, int(rng.integers(2, 5))):
        phase = np.cumsum(rng.uniform(0.05, 0.4) * rate_hz + order * dither) / rate_hz
        sound += rng.lognormal(0, 0.5) * np.cos(2 * np.pi * (phase + rng.random()))
    return sound * swell


def _bump(turn: Array, width: float) -> Array:
    """Once a turn, about a whole number of turns."""
    return np.exp(-0.5 * ((turn - np.round(turn)) / width) ** 2)


def _each(rng: np.random.Generator, turn: Array, spread: float, drawn: Callable[[int], Array] | None = None) -> Array:
    """One number to each turn: log-normal of this spread, or as drawn."""
    index = np.floor(turn).astype(int) - int(np.floor(turn[0]))
    count = int(index[-1]) + 1
    return (drawn(count) if drawn else rng.lognormal(0, spread, count))[index]


def _drift(rng: np.random.Generator, t: Array, spread: float, hz: float = 0.4) -> Array:
    """A course that wanders about one, about `hz` times a second."""
    knots = rng.standard_normal(int(t[-1] * hz) + 3)
    return np.exp(spread * np.interp(t * hz, np.arange(len(knots)), knots))


def _rms(sound: Array) -> float:
    return float(np.sqrt(np.mean(np.square(sound))))
