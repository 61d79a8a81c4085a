"""What the reference cases of the tone search are made of."""

from __future__ import annotations

import numpy as np

from earwitness.sound.tone_search import Box, ToneCells, tone_cells


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


def swept_tone(at_s: float, seconds: float, rate_hz: float) -> ToneCells:
    """The cells of noise with a tone that runs from 2.0 to 2.4 kHz and back three times a second."""
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    hz = 2000.0 + 400.0 * np.abs(2 * ((3 * t) % 1.0) - 1)
    course = np.exp(-0.5 * ((t - at_s) / 0.4) ** 2)
    sound = 0.02 * np.random.default_rng(8).standard_normal(len(t))
    sound += 0.02 * course * np.sin(2 * np.pi * np.cumsum(hz) / rate_hz)
    return tone_cells(sound.astype(np.float32), rate_hz, low_hz=150.0, high_hz=7000.0)


def box_around(hz_bin: int, bins: int) -> Box:
    """A box of some bins of the long frames."""
    return Box(0.0, 0, slice(int(hz_bin), int(hz_bin + bins)), 32, swept=True)


def beeping_tone(hz: float, beat_hz: float, seconds: float, rate_hz: float) -> ToneCells:
    """The cells of a tone of amplitude 0.05 in faint noise, on for the first half of each beat; without a beat at 0."""
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    sound = 0.001 * np.random.default_rng(8).standard_normal(len(t))
    sound += 0.05 * np.sin(2 * np.pi * hz * t) * ((t * beat_hz) % 1.0 < 0.5)
    return tone_cells(sound.astype(np.float32), rate_hz, low_hz=150.0, high_hz=7000.0)


def square_level(frames: int, frames_a_beat: int, level: float) -> np.ndarray:
    """(frames,) a level for the first half of each beat, else 1."""
    return np.where(np.arange(int(frames)) % int(frames_a_beat) < frames_a_beat / 2, level, 1.0)
