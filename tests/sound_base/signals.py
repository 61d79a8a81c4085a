"""Signals for the reference cases of levels, spectra, folding and bands."""

from __future__ import annotations

import numpy as np


def two_tones(*, first_hz: float, second_hz: float, seconds: float, rate_hz: float) -> np.ndarray:
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    return (0.4 * np.cos(2 * np.pi * first_hz * t) + 0.4 * np.cos(2 * np.pi * second_hz * t)).astype(np.float32)


def band_noise(*, low_hz: float, high_hz: float, seconds: float, rate_hz: float, seed: int = 0) -> np.ndarray:
    """Noise between two frequencies, 30 dB over white noise."""
    count = round(seconds * rate_hz)
    rng = np.random.default_rng(seed)
    spectrum = np.fft.rfft(rng.standard_normal(count))
    hz = np.fft.rfftfreq(count, 1 / rate_hz)
    spectrum[(hz < low_hz) | (hz > high_hz)] *= 10**-1.5
    return (0.05 * np.fft.irfft(spectrum, count)).astype(np.float32)


def one_bin(*, rows: int, count: int, row: int, at: int) -> np.ndarray:
    bins = np.zeros((rows, count), np.complex64)
    bins[row, at] = 1
    return bins


def beating_noise(*, beat_hz: float, depth: float, seconds: float, rate_hz: float, seed: int = 0) -> np.ndarray:
    """White noise whose power goes as 1 + depth cos(2 pi beat t)."""
    t = np.arange(round(seconds * rate_hz)) / rate_hz
    course = np.sqrt(1 + depth * np.cos(2 * np.pi * beat_hz * t))
    return (0.1 * np.random.default_rng(seed).standard_normal(len(t)) * course).astype(np.float32)
