"""What the reference cases of the tone search are made of."""

from __future__ import annotations

import numpy as np


def bright_box(frames: int, bins: int, frame: int, bin: int, long: int, wide: int, level: float) -> np.ndarray:
    """(frames, bins) of ones, as noise would be on average, but for a box at `level`."""
    over = np.ones((int(frames), int(bins)), np.float32)
    over[int(frame) : int(frame + long), int(bin) : int(bin + wide)] = level
    return over


def tone_at_a_place(hz: float, at_s: float, seconds: float, rate_hz: float) -> np.ndarray:
    """Noise, and a tone that grows and fades as 1/(1 + ((t - at)/0.5)²) in power."""
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    course = 1 / np.sqrt(1 + ((t - at_s) / 0.5) ** 2)
    sound = 0.02 * np.random.default_rng(8).standard_normal(len(t)) + 0.05 * course * np.sin(2 * np.pi * hz * t)
    return sound.astype(np.float32)
