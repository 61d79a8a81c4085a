"""The numbers that tell a discharge from hum and from ambient sound, and corona, tracking and arcing from each other.

Each is something that can be read off the two pictures: the spectrum of the loudness (how it beats) and the pattern
over one cycle of the mains. `hearing.discharge` says what each of them speaks for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.mains_phase import EnvelopeSpectrum, MainsLock, envelope_spectrum, folded, mains_lock
from earwitness.sound.modulation import Modulation, modulation

Array = NDArray[np.float32]

LOCKED_DB = 11.0  # a line this far over its local noise: 3e-6 of the lines of noise (exp(-12.6))
PICKUP_HZ = 300.0  # lines under this in folded audio come by the cable, not by the sound
_DB = 10 / np.log(10)


@dataclass(frozen=True)
class Listened:
    """What was measured of one recording: the modulation, its spectrum, the lock, the pattern, and the numbers."""

    modulation: Modulation
    spectrum: EnvelopeSpectrum
    lock: MainsLock
    pattern_db: Array
    spread_db: Array
    numbers: dict[str, float]


def _listen(samples: Array, rate_hz: float, nominal_hz: tuple[float, ...], direct: bool) -> Listened:
    """All numbers of a recording. Lines under 500 Hz are no part of the band; a recording with ultrasound of its own
    is judged above 12 kHz, where less of the plant is heard."""
    low = 12_000.0 if direct and rate_hz > 64_000 else 500.0
    sound = modulation(samples, rate_hz, low, min(0.47 * rate_hz, 110_000.0))
    spectrum = envelope_spectrum(sound.common, sound.frame_hz)
    lock = mains_lock(spectrum, nominal_hz)
    pattern, spread = folded(sound.common, sound.frame_hz, lock.mains_hz)
    numbers = {"lock": lock.over_noise_db, "off-mains": abs(lock.mains_hz / lock.nominal_hz - 1) * 100}
    numbers |= _of_the_beat(lock, pattern, sound)
    numbers |= _of_the_course(sound, lock)
    numbers |= _of_the_lines(sound, nominal_hz, direct)
    return Listened(sound, spectrum, lock, pattern * np.float32(_DB), spread * np.float32(_DB), numbers)


def _of_the_beat(lock: MainsLock, pattern: Array, sound: Modulation) -> dict[str, float]:
    """How the loudness beats: what other beat is stronger, how deep it goes, whether every sub-band takes part."""
    smooth = (np.roll(pattern, 1) + pattern + np.roll(pattern, -1)) / 3
    out = {
        "foreign": lock.foreign_db - lock.over_noise_db,
        "depth": float(smooth.max() - smooth.min()) * _DB,
        "together": _together(sound, lock.mains_hz),
    }
    if lock.over_noise_db > LOCKED_DB:
        out["six-pulse"] = lock.lines_db[6] - max(lock.lines_db[order] for order in (1, 2, 4))
        out["one-polarity"] = lock.lines_db[1] - lock.lines_db[2]
        half = smooth - smooth.mean()
        out["narrow"] = float(np.mean(half > 0.5 * half.max()))
    return out


def _together(sound: Modulation, mains_hz: float) -> float:
    """Share of the sub-bands whose pattern over the cycle is that of the others."""
    bands = np.log(sound.bands + np.float32(1e-3))
    turns = (np.arange(len(bands)) * (mains_hz / sound.frame_hz)) % 1.0
    index = np.minimum((turns * 36).astype(np.intp), 35)
    count = np.maximum(np.bincount(index, minlength=36), 1)
    patterns = np.stack([np.bincount(index, band, 36) / count for band in bands.T])
    patterns -= patterns.mean(axis=1, keepdims=True)
    others = patterns.sum(axis=0) - patterns
    norm = np.linalg.norm(patterns, axis=1) * np.linalg.norm(others, axis=1) + 1e-12
    return float(np.mean((patterns * others).sum(axis=1) / norm))


def _of_the_course(sound: Modulation, lock: MainsLock) -> dict[str, float]:
    """How the loudness goes over half cycles and over seconds: steady, growing and letting go, or in bursts."""
    halves = _means(np.exp(sound.common), sound.frame_hz / (2 * lock.mains_hz))
    if len(halves) < 20:
        return {}
    level = _DB * np.log(halves + 1e-6)
    tenths = _DB * np.log(_means(halves, 0.1 * 2 * lock.mains_hz) + 1e-6)
    local = np.interp(np.arange(len(level)), *_medians(level, 25))
    jumps = np.diff(level)
    steps = np.diff(tenths)
    numbers = {
        "swing": float(np.quantile(tenths, 0.95) - np.quantile(tenths, 0.05)),
        "irregular": float(np.quantile(level - local, 0.97)),
        "onsets": float(np.mean(jumps > 6.0)) * 2 * lock.mains_hz,
        "bursts": float(np.quantile(level, 0.98) - np.median(level)),
        "let-go": -float((steps**3).sum() / ((np.abs(steps) ** 3).sum() + 8.0 * len(steps))),
    }
    return numbers | {f"locked-{k}": v for k, v in numbers.items() if lock.over_noise_db > LOCKED_DB}


def _of_the_lines(sound: Modulation, nominal_hz: tuple[float, ...], direct: bool) -> dict[str, float]:
    """Narrow lines: how much of the sound they are, and whether they stand twice the mains apart."""
    hz, share = sound.lines.hz, sound.lines.share
    rest = max(1.0 - float(share.sum()), 1e-6)
    heard = hz >= (20.0 if direct else PICKUP_HZ)
    hz, share = hz[heard], share[heard]
    out = {"tonal": 10 * float(np.log10(share.sum() / rest + 1e-6)), "comb-lines": 0.0}
    strong = share > 0.003 * (share.max() if len(share) else 1.0)
    if strong.sum() >= 3:
        comb, number = max((_comb(hz[strong], share[strong], 2 * f) for f in nominal_hz), key=lambda found: found[1])
        out["comb-lines"] = number
        if number >= 2:
            out["comb-over-rest"] = 10 * float(np.log10(comb / rest))
            out["comb-over-lines"] = 10 * float(np.log10(comb / max(float(share.sum()) - comb, 1e-3 * comb)))
    return out


def _comb(hz: Array, share: Array, spacing: float) -> tuple[float, float]:
    """Power of the lines that stand `spacing` (within 1 %) apart, counted from any offset and mirrored about it
    (folding mirrors), and how many there are of them beyond those that fit by chance."""
    best, number = 0.0, 0.0
    reach = min(0.01, 0.25 * spacing / float(hz.max()))
    for ratio in np.linspace(1 - reach, 1 + reach, 81):
        period = spacing * ratio
        rest = hz % period
        for offset in (0.0, *rest[np.argsort(share)[-3:]].tolist()):
            near = np.minimum(_apart(rest, offset, period), _apart(rest, -offset, period)) < 1.2
            chance = (2.4 if offset == 0.0 else 4.8) / period * len(hz)
            count = float(near.sum()) - (1.0 if offset else 0.0) - chance
            if count > number + 1e-9:
                best, number = float(share[near].sum()), count
    return best, number


def _apart(rest: Array, offset: float, period: float) -> Array:
    distance = np.abs(rest - offset % period)
    return np.minimum(distance, period - distance)


def _means(values: Array, length: float) -> Array:
    """Means over successive stretches of `length` values, which need not be whole."""
    count = int(len(values) / length)
    edges = np.round(np.arange(count + 1) * length).astype(np.intp)
    sums = np.concatenate([[0.0], np.cumsum(values, dtype=np.float64)])
    return ((sums[edges[1:]] - sums[edges[:-1]]) / np.maximum(np.diff(edges), 1)).astype(np.float32)


def _medians(values: Array, size: int) -> tuple[Array, Array]:
    """Middles and medians of successive stretches of `size` values."""
    whole = len(values) // size * size
    if not whole:
        return np.array([0.0], np.float32), np.array([np.median(values)], np.float32)
    return (np.arange(size / 2, whole, size)).astype(np.float32), np.median(values[:whole].reshape(-1, size), axis=1)
