"""Traces made up for the tests of pictures and reports: shapes that a detector would hand over, from seeded noise."""

from __future__ import annotations

import numpy as np

from earwitness.hearing.evidence import Trace


def level(seed: int = 1, places: tuple[float, ...] = (4.2, 9.1)) -> Trace:
    rng = np.random.default_rng(seed)
    time = np.linspace(0, 14, 560, dtype=np.float32)
    bumps = sum(15 * np.exp(-0.5 * ((time - at) / 0.5) ** 2) for at in places)
    level_db = 31 + bumps + rng.normal(0, 0.6, time.size)
    marks = tuple({"at_s": at, "level_db": 46.0, "name": f"place {n}"} for n, at in enumerate(places, 1))
    arrays = {"time_s": time, "level_db": level_db.astype(np.float32), "floor_db": np.full(time.size, 31, np.float32)}
    return Trace("level", arrays, marks)


def spectrogram(seed: int = 2) -> Trace:
    rng = np.random.default_rng(seed)
    time, freq = np.linspace(0, 8, 750, dtype=np.float32), np.linspace(0, 24_000, 513, dtype=np.float32)
    swell = 18 * np.exp(-0.5 * ((time - 5.0) / 0.8) ** 2)
    power = rng.normal(-80, 3, (freq.size, time.size)) + swell[None, :] * (freq[:, None] > 1500)
    marks = ({"at_s": 5.0, "name": "loudest"}, {"low_hz": 1500.0, "high_hz": 20_000.0, "name": "band judged"})
    return Trace("spectrogram", {"time_s": time, "freq_hz": freq, "power_db": power.astype(np.float32)}, marks)


def envelope_spectrum(seed: int = 3, line_hz: float = 107.4) -> Trace:
    rng = np.random.default_rng(seed)
    freq = np.arange(0, 1000, 0.5, dtype=np.float32)
    amplitude = np.abs(rng.normal(0, 0.012, freq.size))
    for k, height in ((1, 0.21), (2, 0.12), (3, 0.07)):
        amplitude += height * np.exp(-0.5 * ((freq - k * line_hz) / 0.7) ** 2)
    marks = tuple(
        {"hz": k * line_hz, "tolerance_hz": 0.02 * k * line_hz, "name": f"outer race ×{k}", "found": k < 4}
        for k in (1, 2, 3, 4)
    )
    threshold = np.full(freq.size, 0.045, np.float32)
    return Trace(
        "envelope-spectrum", {"freq_hz": freq, "amplitude": amplitude.astype(np.float32), "threshold": threshold}, marks
    )


def mains_phase(seed: int = 4) -> Trace:
    rng = np.random.default_rng(seed)
    phase = np.arange(2.5, 360, 5, dtype=np.float32)
    shape = 1 + 2.2 * np.exp(-0.5 * ((phase - 60) / 18) ** 2) + 2.6 * np.exp(-0.5 * ((phase - 240) / 18) ** 2)
    level = (shape + rng.normal(0, 0.05, phase.size)).astype(np.float32)
    marks = ({"deg": 60.0, "name": "positive half"}, {"deg": 240.0, "name": "negative half"})
    return Trace("mains-phase", {"phase_deg": phase, "level": level, "low": level * 0.8, "high": level * 1.25}, marks)
