"""Signals in closed form for the cases of envelopes, bearings and gears."""

from __future__ import annotations

import numpy as np

from earwitness.hearing.bearing_heard import CageHeard, FamiliesHeard
from earwitness.hearing.bearing_sound import BearingSound
from earwitness.hearing.geometry import Expected, defect_orders, expected_given
from earwitness.hearing.heard import Heard
from earwitness.sound.envelope import Whole, whole_spectrum
from earwitness.sound.orders import Lines, running
from earwitness.sound.turning import tones


def am_tone_power(*, modulation_hz: float, depth: float, seconds: float, rate_hz: float) -> np.ndarray:
    """Squared envelope of (1 + m·cos 2πFt)·carrier."""
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    return ((1 + depth * np.cos(2 * np.pi * modulation_hz * t)) ** 2).astype(np.float32)


def rayleigh(*, count: int, scale: float) -> np.ndarray:
    return np.random.default_rng(2).rayleigh(scale, count).astype(np.float32)


def spectrum_of_noise(*, seconds: float, rate_hz: float) -> Whole:
    samples = np.random.default_rng(3).standard_normal(round(seconds * rate_hz)).astype(np.float32)
    return whole_spectrum(samples, rate_hz)


def spikes(*, seconds: float, rate_hz: float, per_second: float, height: float) -> np.ndarray:
    power = np.random.default_rng(4).exponential(1.0, round(seconds * rate_hz)).astype(np.float32)
    at = (np.arange(round(seconds * per_second)) + 0.5) / per_second
    for offset in range(8):
        power[(at * rate_hz).astype(int) + offset] += height
    return power


def struck(
    *,
    rate_hz: float,
    seconds: float,
    blow_hz: float,
    ring_hz: float,
    noise: float = 0.3,
    swing_hz: float = 0.0,
    slip: float = 0.002,
    seed: int = 0,
    blow_at: np.ndarray | None = None,
) -> np.ndarray:
    """Blows at blow_hz that ring at ring_hz in noise, weighed by a load zone turning at swing_hz."""
    rng = np.random.default_rng(seed)
    count = round(seconds * rate_hz)
    at = np.cumsum((1 + slip * rng.standard_normal(int(seconds * blow_hz))) / blow_hz) if blow_at is None else blow_at
    at = at[at < seconds - 0.01]
    strength = np.ones(len(at))
    if swing_hz:
        strength = np.maximum(np.cos(2 * np.pi * swing_hz * at), 0.05)
    train = np.zeros(count)
    np.add.at(train, (at * rate_hz).astype(int), strength)
    t = np.arange(round(0.006 * rate_hz)) / rate_hz
    ring = np.exp(-t / 0.0008) * np.sin(2 * np.pi * ring_hz * t)
    return (0.2 * np.convolve(train, ring)[:count] + 0.1 * noise * rng.standard_normal(count)).astype(np.float32)


def shaken(
    *, speed_hz: float, seconds: float, rate_hz: float = 24000.0, course: float = 0.0, multiples: int = 8
) -> tuple[np.ndarray, np.ndarray]:
    """Tones at the multiples of a shaft's speed that runs up evenly by ± course about speed_hz, and its turns."""
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    turns = speed_hz * (t + course * (t * t / seconds - t))
    return sum(0.02 / k * np.cos(2 * np.pi * k * turns + k) for k in range(1, multiples + 1)), turns


def shaken_whole(*, speed_hz: float, seconds: float, course: float = 0.0) -> Whole:
    tones, _ = shaken(speed_hz=speed_hz, seconds=seconds, rate_hz=3000.0, course=course)
    noise = 0.01 * np.random.default_rng(6).standard_normal(len(tones))
    return whole_spectrum((tones + noise).astype(np.float32), 3000.0)


def tones_of_a_shaft(*, speed_hz: float, seconds: float) -> Lines:
    return tones(shaken_whole(speed_hz=speed_hz, seconds=seconds), 500.0)


def faint_lines(*, order: int, sides: int, ratio: float, seed: int) -> Lines:
    """Noise lines of mean power 1 up to 800 Hz; on `order` harmonics of 237 Hz and `sides` lines 31 Hz apart to either
    side of each a tone of so many times the noise's power."""
    rng = np.random.default_rng(seed)
    lines = (rng.standard_normal(8001) + 1j * rng.standard_normal(8001)) / np.sqrt(2)
    for harmonic in range(1, order + 1):
        for side in range(-sides, sides + 1):
            lines[round(10 * (237 * harmonic + 31 * side))] += np.sqrt(ratio) * np.exp(2j * np.pi * rng.random())
    return Lines.seen_in([("one", np.abs(lines).astype(np.float32))], 0.1)


def with_a_rise(*, at_hz: float) -> Lines:
    """Noise lines that are twice as large ± 2 % about at_hz."""
    hz = np.arange(8000) * 0.1
    level = np.where(np.abs(hz / at_hz - 1) < 0.02, 2.0, 1.0)
    amplitude = level * np.random.default_rng(2).rayleigh(1, len(hz))
    return Lines.seen_in([("one", amplitude.astype(np.float32))], 0.1)


def two_bands(*, apart_hz: float, wide_hz: float) -> Whole:
    """Two seconds of which only two even bands have strength."""
    hz = np.arange(4000) / 2
    inside = ((hz >= 90) & (hz < 90 + wide_hz)) | ((hz >= 90 + apart_hz) & (hz < 90 + apart_hz + wide_hz))
    return Whole(inside.astype(np.complex64), 2.0)


def comb(*, at_hz: float) -> Lines:
    """Ten seconds' noise lines, and eight lines far above them at the multiples of at_hz."""
    amplitude = np.random.default_rng(4).rayleigh(0.01, 12000)
    amplitude[np.rint(at_hz * 10 * np.arange(1, 9)).astype(int)] = 1.0
    return Lines.seen_in([("one", amplitude.astype(np.float32))], 0.1)


def no_families(*, turning_hz: float) -> FamiliesHeard:
    return FamiliesHeard({}, turning_hz, 0.0, CageHeard(0.4 * turning_hz, 0.0, 0.0, 0), avoid=np.zeros(12000, bool))


def pair(*, first: float, second: float) -> tuple[float, float]:
    return first, second


def drive_end() -> Expected:
    """The drive-end bearing of the CWRU rig."""
    return expected_given(defect_orders(9, 7.94e-3, 39.04e-3))


def sound_of_blows(*, blow_hz: float, seconds: float, limit_hz: float = 750.0, **more: float) -> BearingSound:
    samples = struck(rate_hz=24000, seconds=seconds, blow_hz=blow_hz, ring_hz=5200, **more)
    return BearingSound.of(samples, 24000, limit_hz, 650.0)


def heard_blows(*, blow_hz: float, seconds: float, **more: float) -> Heard:
    samples = struck(rate_hz=24000, seconds=seconds, blow_hz=blow_hz, ring_hz=5200, **more)
    return Heard(samples, 24000.0, "direct", "contact")


def heard_noise(*, seconds: float) -> Heard:
    rng = np.random.default_rng(9)
    return Heard((0.1 * rng.standard_normal(round(seconds * 24000))).astype(np.float32), 24000.0, "direct", "contact")


def lines_of_blows(*, blow_hz: float, seconds: float, limit_hz: float, **more: float) -> Lines:
    return sound_of_blows(blow_hz=blow_hz, seconds=seconds, limit_hz=limit_hz, **more).lines


def no_lines(*, count: int, step_hz: float) -> Lines:
    empty = np.zeros((1, count), dtype=np.float32)
    return Lines(empty, empty, empty + 1, step_hz, ("none",))


def running_of(*, count: int, places: np.ndarray, energies: np.ndarray) -> np.ndarray:
    """Running totals of lines of these energies at these places."""
    lines = np.zeros(count)
    lines[np.asarray(places, dtype=int)] = energies
    return running(lines)
