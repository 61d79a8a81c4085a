"""Signals in closed form for the reference cases."""

from __future__ import annotations

import numpy as np


def am_tone(*, carrier_hz: float, modulation_hz: float, depth: float, seconds: float, rate_hz: float) -> np.ndarray:
    """(1 + m·cos 2πFt)·cos 2πf0t, at half scale of 1 + m."""
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    tone = (1 + depth * np.cos(2 * np.pi * modulation_hz * t)) * np.cos(2 * np.pi * carrier_hz * t)
    return (tone / (1 + depth)).astype(np.float32)


def tone(*, hz: float, seconds: float, rate_hz: float, amplitude: float = 0.5) -> np.ndarray:
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    return (amplitude * np.sin(2 * np.pi * hz * t)).astype(np.float32)


def noise(*, seconds: float, rate_hz: float, rms: float = 0.1, seed: int = 0) -> np.ndarray:
    return (rms * np.random.default_rng(seed).standard_normal(round(seconds * rate_hz))).astype(np.float32)


def constant(*, value: float, count: int) -> np.ndarray:
    return np.full(count, value, dtype=np.float32)
