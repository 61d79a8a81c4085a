"""The numbers that tell a discharge from hum and from ambient sound, and corona, tracking and arcing from each other.

Each is something that can be read off the two pictures: the spectrum of the loudness (how it beats) and the pattern
over one cycle of the mains. `hearing.discharge` says what each of them speaks for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.mains_phase import EnvelopeSpectrum, MainsLock, envelope_spectrum, folded, mains_lock, mains_turns
from earwitness.sound.modulation import Modulation, modulation

Array = NDArray[np.float32]

LOCKED_DB = 11.0  # a line this far over its local noise: 3e-6 of the lines of noise (exp(-12.6))
BURSTS_NEED_S = 2.0  # fewer bursts than come in this are anything: a latch, a word, a thing that fell
LET_GO_NEEDS = 18  # stretches of 0.2 s: growth over seconds is not seen in less
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
    beat, loud = _loud_parts(sound)
    spectrum = envelope_spectrum(beat, sound.frame_hz)
    lock = mains_lock(spectrum, nominal_hz)
    turns = mains_turns(beat, sound.frame_hz, lock.mains_hz)
    pattern, spread = folded(beat, turns, loud)
    numbers = {"lock": _locked_db(lock)}
    numbers |= _of_the_beat(lock, pattern, sound, turns, loud)
    numbers |= _of_the_course(sound, lock, pattern, turns)
    numbers |= _of_the_lines(sound, nominal_hz, direct)
    if numbers["lock"] > LOCKED_DB and numbers["comb-lines"] > 3.5:
        numbers["locked-comb-over-rest"] = numbers["comb-over-rest"]
    return Listened(sound, spectrum, lock, pattern * np.float32(_DB), spread * np.float32(_DB), numbers)


def _locked_db(lock: MainsLock) -> float:
    """How far the beat at once, twice and four times the mains stands out; less where it is the by-product of a beat
    that is more than 3 dB stronger: six pulses a cycle, or one that is not of the mains."""
    stronger = max(lock.lines_db[6], lock.foreign_db) - lock.over_noise_db
    return lock.over_noise_db - max(0.0, stronger - 3.0)


def _loud_parts(sound: Modulation) -> tuple[Array, Array]:
    """The common level less its course over 60 ms, and how much each moment counts: all alike in a steady sound, the
    bursts alone in one that comes in bursts, so that what sounds between them does not hide their beat."""
    level = sound.common
    span = round(0.06 * sound.frame_hz)
    course = _running_mean(level, span)
    quiet, top = np.quantile(course[:: span // 4], [0.2, 0.99])
    full = max(float(top - quiet) / 2, 6.0 / _DB)
    loud = np.clip((course - quiet) / full, 0, 1) if top - quiet > 6.0 / _DB else np.ones_like(level)
    return (level - course) * loud, loud.astype(np.float32)


def _running_mean(values: Array, span: int) -> Array:
    sums = np.concatenate([[0.0], np.cumsum(values, dtype=np.float64)])
    at = np.arange(len(values))
    first, last = np.maximum(at - span // 2, 0), np.minimum(at + span // 2 + 1, len(values))
    return ((sums[last] - sums[first]) / (last - first)).astype(np.float32)


def _of_the_beat(
    lock: MainsLock, pattern: Array, sound: Modulation, turns: NDArray[np.float64], loud: Array
) -> dict[str, float]:
    """How the loudness beats: what other beat is stronger, how deep it goes, whether every sub-band takes part."""
    smooth = (np.roll(pattern, 1) + pattern + np.roll(pattern, -1)) / 3
    out = {
        "foreign": lock.foreign_db - lock.over_noise_db,
        "depth": float(smooth.max() - smooth.min()) * _DB,
        "together": _alike(folded(np.log(sound.bands + np.float32(1e-3)), turns, loud)[0]),
    }
    if _locked_db(lock) > LOCKED_DB:
        out["off-mains"] = abs(lock.mains_hz / lock.nominal_hz - 1) * 100
        out["six-pulse"] = lock.lines_db[6] - max(lock.lines_db[order] for order in (1, 2, 4))
        out["one-polarity"] = lock.lines_db[1] - lock.lines_db[2]
    return out


def _alike(courses: Array) -> float:
    """Mean correlation of each column to the sum of the others."""
    own = courses - courses.mean(axis=0)
    others = own.sum(axis=1, keepdims=True) - own
    norm = np.linalg.norm(own, axis=0) * np.linalg.norm(others, axis=0) + 1e-12
    return float(np.mean((own * others).sum(axis=0) / norm))


def _of_the_course(sound: Modulation, lock: MainsLock, pattern: Array, turns: NDArray[np.float64]) -> dict[str, float]:
    """How the loudness goes over cycles of the mains and over seconds: steady, growing and letting go, or in bursts."""
    length = sound.frame_hz / lock.mains_hz  # whole cycles: where one polarity discharges, every other half is quiet
    power = np.exp(sound.common)
    cycles = _means(power, length)
    if len(cycles) < 20:
        return {}
    level = _DB * np.log(cycles + 1e-6)
    local = np.interp(np.arange(len(level)), *_medians(level, 13))
    bands = _means(sound.bands, length)
    abrupt = _abrupt(level)
    numbers = (
        {}
        if sound.seconds < BURSTS_NEED_S
        else {
            "irregular": float(np.quantile(level - local, 0.97)),
            "onsets": abrupt * lock.mains_hz,
            "ends": _abrupt(level[::-1]) * lock.mains_hz,
            "bursts": float(np.sort(level)[-min(4, len(level) // 4)] - np.median(level)),
            "in-all-bands": _alike(np.log(bands + 1e-3)),
        }
    )
    if _locked_db(lock) > LOCKED_DB:
        numbers |= {f"locked-{code}": numbers[code] for code in ("bursts", "irregular") if code in numbers}
        numbers |= _of_the_beats_course(power, sound.frame_hz, turns, pattern)
    return numbers


def _abrupt(level: Array) -> float:
    """Part of the cycles that begin a burst at once: 8 dB up to within 3 dB of what the next 60 ms hold."""
    ahead = np.lib.stride_tricks.sliding_window_view(level[1:], 3).max(axis=1)
    before, after = level[: len(ahead)], level[1 : len(ahead) + 1]
    return float(np.mean((after - before > 8.0) & (after > ahead - 3.0)))


def _of_the_beats_course(power: Array, frame_hz: float, turns: NDArray[np.float64], pattern: Array) -> dict[str, float]:
    """How the part of the power that beats with the mains goes over seconds. What does not beat takes no part, so that
    clatter beside a steady corona does not look like tracking, nor a steady hiss over tracking like corona."""
    shape = np.exp(pattern - pattern.max())
    shape = (shape - shape.mean()) / (np.abs(shape - shape.mean()).sum() + 1e-9) * len(shape)
    index = np.minimum((turns * len(shape)).astype(np.intp), len(shape) - 1)
    limit = 20 * float(np.median(power)) + 20 * float(np.mean(power))
    beating = np.minimum(power, limit) * shape[index]
    course = _means(beating, 0.2 * frame_hz)
    if len(course) < 5:
        return {}
    top = float(np.quantile(course, 0.9))
    least = 0.05 * abs(top) + 1e-9
    level = _DB * np.log(np.maximum(course, least) / least)
    steps = np.diff(level)
    let_go = -float((steps**3).sum() / ((np.abs(steps) ** 3).sum() + 8.0 * len(steps)))
    slow = {} if len(course) < LET_GO_NEEDS else {"let-go": let_go}
    return slow | {
        "swing": float(np.quantile(level, 0.9) - np.quantile(level, 0.15)),
        "wobble": float(np.std(course) / (np.mean(course) + 1e-9)),
    }


def _of_the_lines(sound: Modulation, nominal_hz: tuple[float, ...], direct: bool) -> dict[str, float]:
    """Narrow lines: how much of the sound they are, and whether they stand twice the mains apart."""
    hz, share = sound.lines.hz, sound.lines.share
    rest = max(1.0 - float(share.sum()), 1e-6)
    tonal = 10 * float(np.log10(share.sum() / rest + 1e-6))
    out = {"tonal": tonal, "tones": tonal, "comb-lines": 0.0}
    strong = share > 0.003 * (share.max() if len(share) else 1.0)
    hz, share = hz[strong], share[strong]
    if len(hz) < 3:
        return out
    near = max((_comb(hz, share, 2 * f) for f in nominal_hz), key=lambda found: found[1])
    lines, number = near
    if not direct and (hz[lines] > PICKUP_HZ).sum() < 2:
        return out  # pickup of the cable
    out["comb-lines"] = number
    comb = float(share[lines].sum())
    out["tones"] = 10 * float(np.log10((share.sum() - comb) / rest + 1e-6))
    if number >= 2:
        out["comb-over-rest"] = 10 * float(np.log10(comb / rest))
        out["comb-over-lines"] = 10 * float(np.log10(comb / max(float(share.sum()) - comb, 1e-3 * comb)))
    return out


def _comb(hz: Array, share: Array, spacing: float) -> tuple[NDArray[np.bool_], float]:
    """The lines that stand `spacing` (within 1 %) apart, counted from zero or from a strong line and mirrored about it
    (folding mirrors), and how many there are of them beyond chance, over the spread of what chance would give."""
    reach = min(0.01, 0.25 * spacing / float(hz.max()))
    period = (spacing * np.linspace(1 - reach, 1 + reach, 81))[:, None, None]
    strongest = hz[np.argsort(share)[-3:]]
    offset = np.concatenate([np.zeros((81, 1, 1)), strongest[None, :, None] % period], axis=1)
    near = (_apart(hz, offset, period) < 1.0) | (_apart(hz, -offset, period) < 1.0)
    chance = np.array([2.0, 4.0, 4.0, 4.0])[: near.shape[1]] / spacing * len(hz)
    counted = (near.sum(axis=2) - np.array([0.0, 1.0, 1.0, 1.0])[: near.shape[1]] - chance) / np.sqrt(1 + chance)
    best = np.unravel_index(int(np.argmax(counted)), counted.shape)
    return near[best], max(float(counted[best]), 0.0)


def _apart(hz: Array, offset: NDArray[np.float64], period: NDArray[np.float64]) -> NDArray[np.float64]:
    """Distance to the nearest whole multiple of `period` from `offset`."""
    turn = (hz - offset) / period
    return np.abs(turn - np.round(turn)) * period


def _means(values: Array, length: float) -> Array:
    """Means over successive stretches of `length` values, which need not be whole."""
    edges = np.round(np.arange(int(len(values) / length) + 1) * length).astype(np.intp)
    sums = np.add.reduceat(values[: edges[-1]], edges[:-1], axis=0)
    counts = np.diff(edges).astype(np.float32).reshape(-1, *[1] * (values.ndim - 1))
    return np.asarray(sums / counts, dtype=np.float32)


def _medians(values: Array, size: int) -> tuple[Array, Array]:
    """Middles and medians of successive stretches of `size` values."""
    whole = len(values) // size * size
    if not whole:
        return np.array([0.0], np.float32), np.array([np.median(values)], np.float32)
    return (np.arange(size / 2, whole, size)).astype(np.float32), np.median(values[:whole].reshape(-1, size), axis=1)
