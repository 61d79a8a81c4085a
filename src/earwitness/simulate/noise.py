"""What else sounds in a plant: the parts an inspector's source is buried in, each from its mechanism.

Every part is `(rng, seconds, band) -> (n,) complex64`, the envelope in `band`, of unit rms over the recording;
`plant_noise` mixes a few. Things below the ultrasonic range reach it only by their high harmonics and their impacts,
so tones are laid directly where the band can hear them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from earwitness.simulate.receiver import Band, Envelope

Part = Callable[[np.random.Generator, float, Band], Envelope]
_CONTROL_HZ = 1000.0  # rate at which slow modulations are drawn


def ambience(rng: np.random.Generator, seconds: float, band: Band) -> Envelope:
    """The hall itself: broadband, falling with frequency, rising and falling slowly by a few dB."""
    spectrum = fft.fft(band.noise(rng, seconds))
    hz = np.abs(fft.fftfreq(len(spectrum), 1 / band.rate_hz) + band.centre_hz) + 100.0
    spectrum *= ((hz / band.centre_hz) ** -rng.uniform(0.3, 1.5)).astype(np.float32)
    noise = fft.ifft(spectrum)
    return _unit(noise * _spread(10 ** (rng.uniform(0, 3) * _wander(rng, seconds, 0.5) / 20), len(noise)))


def whine(rng: np.random.Generator, seconds: float, band: Band) -> Envelope:
    """Fans, gears, drives: one to eight tones that drift together, some flanked by side-bands of a shaft."""
    sound = band.silence(seconds)
    for _ in range(int(rng.integers(1, 5))):
        hz = band.somewhere(rng)
        strength = 10 ** (rng.uniform(-20, 0) / 20)
        sound += np.float32(strength) * band.tone(hz, seconds, rng.uniform(0, 2 * np.pi))
        if rng.random() < 0.3:
            shaft = rng.uniform(8, 60)
            for side in (-shaft, shaft):
                sound += np.float32(0.4 * strength) * band.tone(hz + side, seconds, rng.uniform(0, 2 * np.pi))
    drift_hz = rng.uniform(0, 15) * _wander(rng, seconds, 0.3)
    turn = np.cumsum(_spread(drift_hz, len(sound)), dtype=np.float64) * (2 * np.pi / band.rate_hz)
    return _unit(sound * _phasor(turn))


def two_tones(rng: np.random.Generator, seconds: float, band: Band, *, apart_hz: float | None = None) -> Envelope:
    """Two steady tones on either side of the centre that fold to `apart_hz` from each other (100 or 120 Hz if None):
    a false mains line without a discharge."""
    apart = float(rng.choice([100.0, 120.0])) if apart_hz is None else apart_hz
    low = rng.uniform(300, min(3000.0, 0.3 * band.rate_hz))
    tones = band.tone(band.centre_hz - low, seconds, rng.uniform(0, 2 * np.pi))
    tones = tones + rng.uniform(0.4, 1) * band.tone(band.centre_hz + low + apart, seconds, rng.uniform(0, 2 * np.pi))
    return _unit(tones)


def babble(rng: np.random.Generator, seconds: float, band: Band) -> Envelope:
    """People talking: hissed consonants, three to six syllables a second and talker, with pauses."""
    control = max(1, round(seconds * _CONTROL_HZ))
    level = np.zeros(control)
    for _ in range(int(rng.integers(2, 7))):
        at = rng.uniform(0, 0.3)
        while at < seconds:
            length = rng.uniform(0.04, 0.18)
            start, stop = round(at * _CONTROL_HZ), min(control, round((at + length) * _CONTROL_HZ))
            shape = np.hanning(max(3, round(length * _CONTROL_HZ)))[: stop - start]
            level[start : start + len(shape)] += rng.lognormal(0, 0.7) * shape
            at += length + (rng.exponential(0.12) if rng.random() > 0.12 else rng.uniform(0.3, 1.5))
    return _unit(band.noise(rng, seconds) * _spread(level, band.count(seconds)))


def clatter(rng: np.random.Generator, seconds: float, band: Band) -> Envelope:
    """Things that knock together at no particular time: ringing blows of very unequal strength."""
    sound = band.silence(seconds)
    modes = [band.somewhere(rng) for _ in range(6)]
    for at in rng.uniform(0, seconds, 1 + rng.poisson(10 ** rng.uniform(-0.3, 1.3) * seconds)):
        blow = band.ring(
            rng.choice(modes) + rng.normal(0, 50), 10 ** rng.uniform(-3.3, -1.7), rng.uniform(0, 2 * np.pi)
        )
        _add(sound, blow * np.float32(rng.lognormal(0, 1)), round(at * band.rate_hz))
    return _unit(sound)


def exhaust_puffs(rng: np.random.Generator, seconds: float, band: Band) -> Envelope:
    """Valves and cylinders letting off air in the machine's rhythm: hiss that starts at once and dies away."""
    control = max(1, round(seconds * _CONTROL_HZ))
    period, decay = rng.uniform(0.25, 3.0), rng.uniform(0.03, 0.3)
    level = np.zeros(control)
    t = np.arange(round(6 * decay * _CONTROL_HZ)) / _CONTROL_HZ
    puff = (1 - np.exp(-t / rng.uniform(0.001, 0.01))) * np.exp(-t / decay)
    jitter = rng.uniform(0, 0.03)
    for at in np.arange(rng.uniform(0, min(period, 0.5 * seconds)), seconds, period):
        start = max(0, round((at + jitter * period * rng.standard_normal()) * _CONTROL_HZ))
        stop = min(control, start + len(puff))
        if start < stop:
            level[start:stop] += rng.lognormal(0, 0.15) * puff[: stop - start]
    return _unit(band.noise(rng, seconds) * _spread(level, band.count(seconds)))


def reversing_beeper(rng: np.random.Generator, seconds: float, band: Band) -> Envelope:
    """A truck backing up: a tone, mostly on for half of a second-long beat, heard by its high harmonics."""
    base = rng.uniform(1000, 2800)
    top = 0.35 * min(band.rate_hz, 16e3)
    orders = np.arange(np.ceil((band.centre_hz - top) / base), np.floor((band.centre_hz + top) / base) + 1)
    sound = band.silence(seconds)
    for order in orders[orders > 0]:
        sound += np.float32(1 / order) * band.tone(order * base, seconds, rng.uniform(0, 2 * np.pi))
    beat, start = rng.uniform(0.8, 1.6), rng.random()
    on = ((np.arange(round(seconds * _CONTROL_HZ)) / _CONTROL_HZ * beat + start) % 1.0) < rng.uniform(0.4, 0.6)
    return _unit(sound * _spread(np.convolve(on, np.full(10, 0.1), "same"), len(sound)))


def compressor_rumble(rng: np.random.Generator, seconds: float, band: Band) -> Envelope:
    """A piston or screw machine near by: noise that swells with each stroke, its speed not quite constant."""
    stroke_hz = rng.uniform(8, 60)
    turn = np.cumsum(stroke_hz * (1 + 0.01 * _wander(rng, seconds, 0.5))) / _CONTROL_HZ
    level = np.ones(len(turn))
    for order in range(1, 4):
        level += rng.uniform(0, 0.5) / order * np.cos(2 * np.pi * (order * turn + rng.random()))
    return _unit(band.noise(rng, seconds) * _spread(np.maximum(level, 0.05), band.count(seconds)))


def modulated_noise(rng: np.random.Generator, seconds: float, band: Band, *, at_hz: float | None = None) -> Envelope:
    """Noise with a beat of its own near the mains' but not of it: air conditioners, cicadas. Waxes and wanes."""
    beat = rng.uniform(60, 180) if at_hz is None else at_hz
    turn = np.cumsum(beat * (1 + rng.uniform(0, 0.01) * _wander(rng, seconds, 1.0))) / _CONTROL_HZ
    level = 1 + rng.uniform(0.2, 0.9) * np.cos(2 * np.pi * turn)
    level *= 10 ** (rng.uniform(0, 6) * _wander(rng, seconds, 0.5) / 20)
    return _unit(band.noise(rng, seconds) * _spread(level, band.count(seconds)))


PARTS: dict[str, Part] = {
    "ambience": ambience,
    "whine": whine,
    "two-tones": two_tones,
    "babble": babble,
    "clatter": clatter,
    "exhaust-puffs": exhaust_puffs,
    "reversing-beeper": reversing_beeper,
    "compressor-rumble": compressor_rumble,
    "modulated-noise": modulated_noise,
}


def plant_noise(
    rng: np.random.Generator, seconds: float, band: Band, *, parts: Sequence[str] | None = None
) -> Envelope:
    """A mixture of unit rms: the hall, and up to three other parts (or those named) within 15 dB of each other."""
    if parts is None:
        others = [name for name in PARTS if name not in ("ambience", "two-tones")]
        parts = ["ambience", *rng.choice(others, int(rng.integers(0, 4)), replace=False)]
    sound = band.silence(seconds)
    for name in parts:
        sound += PARTS[name](rng, seconds, band) * np.float32(10 ** (rng.uniform(-15, 0) / 20))
    return _unit(sound)


def _wander(rng: np.random.Generator, seconds: float, hz: float) -> NDArray[np.float64]:
    """A smooth random course of unit scale at the control rate, changing about `hz` times a second."""
    count = max(2, round(seconds * _CONTROL_HZ))
    knots = rng.standard_normal(max(3, int(seconds * hz) + 3))
    smooth = np.convolve(np.repeat(knots, 8), np.hanning(18)[1:-1] / 8.5, "same")
    return np.interp(np.linspace(0, len(smooth) - 1, count), np.arange(len(smooth)), smooth)


def _spread(control: NDArray[np.floating], count: int) -> NDArray[np.float32]:
    """A slow course stretched over `count` samples."""
    at = np.linspace(0, len(control) - 1, count, dtype=np.float32)
    low = np.minimum(at.astype(np.int32), len(control) - 2)
    part = at - low
    course = np.asarray(control, np.float32)
    return course[low] * (1 - part) + course[low + 1] * part


def _phasor(turn: NDArray[np.floating]) -> Envelope:
    phase = np.remainder(turn, 2 * np.pi).astype(np.float32)
    out = np.empty(len(phase), np.complex64)
    out.real, out.imag = np.cos(phase), np.sin(phase)
    return out


def _add(sound: Envelope, part: Envelope, start: int) -> None:
    stop = min(len(sound), start + len(part))
    if start < stop:
        sound[start:stop] += part[: stop - start]


def _unit(sound: NDArray) -> Envelope:
    flat = np.ascontiguousarray(sound, dtype=np.complex64).view(np.float32)
    rms = float(np.sqrt(2 * np.mean(np.square(flat)))) if len(flat) else 0.0
    return np.asarray(sound * np.float32(1 / rms) if rms else sound, np.complex64)
