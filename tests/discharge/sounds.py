"""Discharges and look-alikes written down directly, without the project's simulator."""

from __future__ import annotations

import numpy as np

RATE = 48_000


def times(seconds: float, rate: float = RATE) -> np.ndarray:
    return np.arange(round(seconds * rate)) / rate


def noise(seconds: float, seed: int = 0, rate: float = RATE) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal(round(seconds * rate))


def listened(sound: np.ndarray, floor: float = 0.02, seed: int = 99) -> np.ndarray:
    """The sound beside a receiver's hiss, at a tenth of full scale."""
    sound = sound + floor * np.sqrt(np.mean(sound**2)) * np.random.default_rng(seed).standard_normal(len(sound))
    return (0.05 * sound / np.sqrt(np.mean(sound**2))).astype(np.float32)


def corona(seconds: float = 6.0, mains: float = 50.05, both: bool = True, rate: float = RATE) -> np.ndarray:
    voltage = np.sin(2 * np.pi * mains * times(seconds, rate))
    gate = np.maximum(-voltage - 0.6, 0) + (np.maximum(voltage - 0.6, 0) if both else 0)
    return listened(np.sqrt(gate) * noise(seconds, 1, rate))


def tracking(seconds: float = 8.0, mains: float = 50.05) -> np.ndarray:
    t = times(seconds)
    flank = ((2 * mains * t) % 1.0 > 0.15) & ((2 * mains * t) % 1.0 < 0.45)
    growth = 10 ** (1.2 * ((t / 1.7) % 1.0) - 1.2)
    return listened(flank * growth * noise(seconds, 2))


def arcing(seconds: float = 8.0, mains: float = 50.05) -> np.ndarray:
    rng = np.random.default_rng(3)
    t = times(seconds)
    level = np.zeros(len(t))
    for at in rng.uniform(0, seconds, 30):
        level[(t > at) & (t < at + rng.uniform(0.02, 0.12))] += rng.lognormal(0, 0.8)
    half = (2 * mains * t).astype(int)
    level *= rng.lognormal(0, 0.7, half[-1] + 1)[half] * ((2 * mains * t) % 1.0 > 0.4)
    return listened(level * noise(seconds, 4))


def hum(seconds: float = 6.0, mains: float = 50.0) -> np.ndarray:
    t = times(seconds)
    return listened(sum(np.cos(2 * np.pi * 2 * mains * k * t + k * k) / k for k in range(1, 9)), 0.1)


def pickup(seconds: float = 6.0, mains: float = 50.0) -> np.ndarray:
    t = times(seconds)
    return listened(sum(np.cos(2 * np.pi * mains * k * t + k) for k in (1, 2, 3, 5)), 0.3)


def folded_tones(seconds: float = 6.0, apart: float = 100.0) -> np.ndarray:
    """39.0 and 41.1 kHz about an oscillator at 40 kHz, from the ultrasound itself."""
    t = times(seconds)
    return listened(np.cos(2 * np.pi * 1000 * t) + np.cos(2 * np.pi * (1000 + apart) * t + 1), 0.1)


def beaten(hz: float, depth: float = 0.6, seconds: float = 8.0) -> np.ndarray:
    return listened((1 + depth * np.cos(2 * np.pi * hz * times(seconds))) * noise(seconds, 5))


def six_pulses(seconds: float = 6.0, mains: float = 50.0) -> np.ndarray:
    phase = (6 * mains * times(seconds)) % 1.0
    return listened(np.exp(-phase * 8) * noise(seconds, 6))


def dimmer(seconds: float = 6.0, mains: float = 50.05, over_db: float = 12.0) -> np.ndarray:
    """Two clicks a cycle, each like the last, above an oscillator at 38 kHz, timed to 20 microseconds: the phase of
    each is another, its course the same."""
    rng = np.random.default_rng(9)
    ring = sum(
        np.exp(-times(0.006) / 4e-4 + 2j * np.pi * hz * times(0.006) + 1j * hz) for hz in range(1500, 21_000, 1500)
    )
    sound = np.zeros(round(seconds * RATE), complex)
    for due in np.arange(0.004, seconds - 0.01, 1 / (2 * mains)):
        at = due + 2e-5 * rng.standard_normal()
        start = round(at * RATE)
        sound[start : start + len(ring)] += ring * np.exp(-2j * np.pi * 38_000 * at)
    clicks = sound.real / np.std(sound.real)
    return listened(clicks * 10 ** (over_db / 20) + noise(seconds, 10))


def laminations(deep: float, seconds: float = 6.0, mains: float = 50.0) -> np.ndarray:
    """Noise whose power swells and shrinks as a flux does."""
    return listened(np.sqrt(1 + deep * np.cos(4 * np.pi * mains * times(seconds))) * noise(seconds, 11))
