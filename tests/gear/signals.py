"""Gears in closed form: what their strength does over time, and sound made of it."""

from __future__ import annotations

import numpy as np

from earwitness.hearing.heard import Heard


def turns(*, speed_hz: float, seconds: float, rate_hz: float, sway: float = 0.0) -> np.ndarray:
    """Turns of a shaft whose speed sways by this share, once in ten seconds."""
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    return np.cumsum(speed_hz * (1 + sway * np.sin(0.2 * np.pi * t))) / rate_hz


def meshing_power(
    *, speed_hz: float, teeth: int, depth: float, seconds: float, rate_hz: float, sway: float = 0.0
) -> np.ndarray:
    """Squared envelope of noise that swells with each meeting of teeth."""
    angle = turns(speed_hz=speed_hz, seconds=seconds, rate_hz=rate_hz, sway=sway)
    noise = np.random.default_rng(3).exponential(1.0, len(angle))
    return (noise * (1 + depth * np.cos(2 * np.pi * teeth * angle))).astype(np.float32)


def meshing(
    *,
    swell: float,
    uneven: float,
    speed_hz: float = 24.0,
    teeth: int = 31,
    mate: int | None = None,
    rate_hz: float = 24_000.0,
    sway: float = 0.0,
) -> Heard:
    """Noise that swells with each meeting of teeth, unevenly round the named wheel and its mate."""
    angle = turns(speed_hz=speed_hz, seconds=10.0, rate_hz=rate_hz, sway=sway)
    round_wheel = 1 + uneven * np.cos(2 * np.pi * angle)
    if mate:
        round_wheel = round_wheel + uneven * np.cos(2 * np.pi * angle * teeth / mate)
    level = np.maximum(1 + swell * round_wheel * np.cos(2 * np.pi * teeth * angle), 0.05)
    noise = np.random.default_rng(5).standard_normal(len(angle))
    return Heard((0.1 * level * noise).astype(np.float32), rate_hz, sensor="contact")


def tones(*, sides: float, growth: float, speed_hz: float = 24.0, teeth: int = 31) -> Heard:
    """An accelerometer's: three tones of the mesh, the later ones `growth` of the first, modulated by the shaft."""
    angle = turns(speed_hz=speed_hz, seconds=10.0, rate_hz=25_600.0)
    swing = 1 + np.sqrt(2) * sides * np.cos(2 * np.pi * angle)
    wave = sum(a * swing * np.cos(2 * np.pi * k * teeth * angle + k) for k, a in ((1, 1.0), (2, growth), (3, growth)))
    noise = np.random.default_rng(6).standard_normal(len(angle))
    return Heard((0.1 * wave + 0.05 * noise).astype(np.float32), 25_600.0, "direct", "contact")


def wandering(*, seed: int, sway: float, speed_hz: float = 5.0, teeth: int = 31) -> Heard:
    """Six seconds of a slow sound gear's mesh and two multiples, even and clean, at a speed that wanders."""
    rng, count = np.random.default_rng(seed), 72_000
    drift = np.interp(np.arange(count) / count, np.linspace(0, 1, 13), rng.standard_normal(13)) * sway
    angle = np.cumsum(speed_hz * (1 + drift)) / 12_000.0
    wave = sum(a * np.sin(2 * np.pi * k * teeth * angle) for k, a in ((1, 0.3), (2, 0.2), (3, 0.12)))
    return Heard((wave + 0.002 * rng.standard_normal(count)).astype(np.float32), 12_000.0, "direct", "contact")
