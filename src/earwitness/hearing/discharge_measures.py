"""The numbers that tell a discharge from hum and from ambient sound, and corona, tracking and arcing from each other.

Each is something that can be read off the two pictures: the spectrum of the loudness (how it beats) and the pattern
over one cycle of the mains. `hearing.discharge` says what each of them speaks for.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from earwitness.hearing.discharge_course import _bursts, _cracks, _edges, _means, _of_the_beats_course
from earwitness.hearing.discharge_pulses import _of_the_pulses
from earwitness.sound.mains import GRIDS_HZ
from earwitness.sound.mains_phase import EnvelopeSpectrum, MainsLock, envelope_spectrum, folded, mains_lock, mains_turns
from earwitness.sound.modulation import Modulation, modulation

Array = NDArray[np.float32]

LOCKED_DB = 11.0  # a line this far over its local noise: 3e-6 of the lines of noise (exp(-12.6))
BURSTS_NEED_S = 2.5  # fewer bursts than come in this are anything: a latch, a word, a thing that fell
RHYTHM_LINES = 5
OF_BURSTS = ("spread-out", "edges", "in-all-bands", "lasts", "burns-on")
_BURST_DB = 6.0  # loudest cycles over the middle one, from which they are bursts
_COMB = 3.5  # lines twice the mains apart beyond chance, from which they are a hum's
_OFF = 0.01  # of the spacing: what a mains may be off nominal
_ROW = 25.0  # spacings: over more, a hundredth off is a quarter of one
_NEAR_HZ = 1.0  # so near to its place a line of a hum stands
_MAINS = 2.0  # mains that lines may be of
_PAIR_OFF = 0.005  # of the spacing: the beat is where the tones say
PICKUP_HZ = 300.0  # what the cable picks up has most of its lines below
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
    return _read(modulation(samples, rate_hz, low, min(0.47 * rate_hz, 110_000.0)), nominal_hz, direct)


def _read(sound: Modulation, nominal_hz: tuple[float, ...], direct: bool) -> Listened:
    """The numbers of a modulation."""
    beat, loud = _loud_parts(sound)
    spectrum = envelope_spectrum(beat, sound.frame_hz)
    lock = mains_lock(spectrum, nominal_hz)
    turns = mains_turns(beat, sound.frame_hz, lock.mains_hz)
    pattern, spread = folded(beat, turns, loud)
    lines = _of_the_lines(sound, nominal_hz, direct)
    of_tones = lines["comb-lines"] < _COMB and _pair_db(sound, 2 * lock.mains_hz) > 0
    numbers = {"lock": min(0.0, _locked_db(lock)) if of_tones else _locked_db(lock)}
    numbers |= _of_the_beat(lock, pattern, sound, turns, loud)
    numbers |= _of_the_course(sound, lock)
    if numbers["lock"] > LOCKED_DB:
        course = _of_the_beats_course(sound, lock.mains_hz, turns, pattern)
        of_beat = course | _of_the_lock(lock) | _of_the_pulses(sound, lock.mains_hz, turns, pattern)
        numbers |= of_beat if course else {"lock": 0.0}
    numbers |= lines
    if numbers["lock"] <= LOCKED_DB:  # with a beat of the mains its course tells the kind, without one the bursts do
        numbers |= {f"faint-{code}": numbers[code] for code in OF_BURSTS if code in numbers}
    return Listened(sound, spectrum, lock, pattern * np.float32(_DB), spread * np.float32(_DB), numbers)


def _locked_db(lock: MainsLock) -> float:
    """How far the beat at once, twice and four times the mains stands out, all lines together; less where it is the
    by-product of a beat that is more than 3 dB stronger: six pulses a cycle, or one that is not of the mains. Where a
    rhythm of its own has many lines and stronger ones, some of them stand at the mains by chance."""
    over = _together_db(sorted((lock.lines_db[order] for order in (1, 2, 4)), reverse=True))
    if lock.foreign_lines >= RHYTHM_LINES and lock.foreign_db > over:
        return over - lock.foreign_db
    stronger = max(lock.lines_db[6], lock.foreign_db) - over
    return over - max(0.0, stronger - 3.0)


def _together_db(lines_db: list[float]) -> float:
    """The line of noise that would be as rare as the strongest of these, or as the strongest two or all of them
    together: the power of k lines of noise is gamma distributed, and there are three pairs to choose from."""
    power = 10 ** (np.array(lines_db) / 10)
    rare = power[0]
    for k in range(2, len(power) + 1):
        both = power[:k].sum()
        rare = max(rare, both - np.log(sum(both**j / math.factorial(j) for j in range(k))) - np.log(3))
    return 10 * float(np.log10(rare))


def _loud_parts(sound: Modulation) -> tuple[Array, Array]:
    """The common level less its course over 60 ms, and how much each moment counts: all alike in a steady sound, the
    bursts alone in one that comes in bursts, so that what sounds between them does not hide their beat."""
    level = sound.common
    span = round(0.06 * sound.frame_hz)
    course = _running_mean(level, span)
    inner = course[2 * span : -2 * span] if len(course) > 8 * span else course  # at the ends lines leave their mean
    quiet, top = np.quantile(inner[:: span // 4], [0.2, 0.99])
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
    """How the loudness beats: whether another beat is stronger and no chance, how deep it goes, whether every sub-band
    takes part."""
    smooth = (np.roll(pattern, 1) + pattern + np.roll(pattern, -1)) / 3
    return {
        "foreign": min(lock.foreign_db - lock.over_noise_db, lock.foreign_db - LOCKED_DB),
        "foreign-lines": float(lock.foreign_lines),
        "depth": float(smooth.max() - smooth.min()) * _DB,
        "together": _alike(folded(np.log(sound.bands + np.float32(1e-3)), turns, loud)[0]),
    }


def _of_the_lock(lock: MainsLock) -> dict[str, float]:
    """How far from nominal the mains would be, and how the beats once, twice and six times a cycle stand."""
    return {
        "off-mains": abs(lock.mains_hz / lock.nominal_hz - 1) * 100,
        "six-pulse": lock.lines_db[6] - max(lock.lines_db[order] for order in (1, 2, 4)),
        "one-polarity": lock.lines_db[1] - lock.lines_db[2],
    }


def _alike(courses: Array) -> float:
    """Mean correlation of each column to the sum of the others."""
    own = courses - courses.mean(axis=0)
    others = own.sum(axis=1, keepdims=True) - own
    norm = np.linalg.norm(own, axis=0) * np.linalg.norm(others, axis=0) + 1e-12
    return float(np.mean((own * others).sum(axis=0) / norm))


def _of_the_course(sound: Modulation, lock: MainsLock) -> dict[str, float]:
    """How the loudness goes over cycles of the mains, whether it beats with them or not: in bursts or evenly."""
    length = sound.frame_hz / lock.mains_hz  # whole cycles: where one polarity discharges, every other half is quiet
    cycles = _means(np.exp(sound.common), length)
    if len(cycles) < 20:
        return {}
    level = _DB * np.log(cycles + 1e-6)
    middle = np.median(level)
    bursts = float(np.sort(level)[-min(4, len(level) // 4)] - middle)
    if sound.seconds < BURSTS_NEED_S:
        return {"few-bursts": bursts}
    throughout = float(np.median([part.max() for part in np.array_split(level, 8)]) - middle)
    cracks = _cracks(sound)
    numbers = {
        "bursts": bursts,
        "spread-out": throughout / max(bursts, _BURST_DB),
        "cracks": len(cracks) / sound.seconds,
        "in-all-bands": _alike(np.log(_means(sound.bands, length) + 1e-3)),
    }
    return numbers | _bursts(sound, cracks) | _edges(sound, level, float(middle), length)


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
    every = {*GRIDS_HZ, *nominal_hz}  # lines say of themselves which mains they are of, whatever was stated
    lines, number, mains = max(((*_comb(hz, share, 2 * f), f) for f in sorted(every)), key=lambda found: found[1])
    if not direct and (hz[lines] > PICKUP_HZ).sum() < 2 and _of_the_cable(hz, mains):
        return out
    out["comb-lines"] = number
    comb = float(share[lines].sum())
    out["tones"] = 10 * float(np.log10((share.sum() - comb) / rest + 1e-6))
    if number >= _COMB:
        out["comb-over-rest"] = 10 * float(np.log10(comb / rest))
    return out


def _of_the_cable(hz: Array, mains_hz: float) -> bool:
    """Whether lines stand at the mains itself or at three times it: a cable picks up the field, and what moves with
    the field's square does so twice a cycle."""
    turn = hz[hz < PICKUP_HZ] / mains_hz
    odd = np.round(turn) % 2 == 1
    return bool((np.abs(turn - np.round(turn))[odd] < 0.03).any())


def _pair_db(sound: Modulation, spacing: float) -> float:
    """The weaker of two lone tones `spacing` apart over all that is no line. They beat with each other, and automatic
    gain makes all else beat with them."""
    hz, share = sound.lines.hz, sound.lines.share
    apart = np.abs(np.abs(hz[:, None] - hz) - spacing) < _PAIR_OFF * spacing
    weaker = float(np.where(apart, np.minimum(share[:, None], share), 0.0).max(initial=1e-6))
    return 10 * float(np.log10(weaker / max(1.0 - float(share.sum()), 1e-6)))


def _comb(hz: Array, share: Array, spacing: float) -> tuple[NDArray[np.bool_], float]:
    """The lines that stand `spacing` (within 1 %) apart, counted from zero or from a strong line, mirrored about it or
    not (folding mirrors), and how far beyond chance their number is, in standard deviations: the root of the Poisson
    deviance (McCullagh & Nelder, Generalized Linear Models, 1989, sect. 2.3), less what so many looks at spacing and
    offset find anyway. A hum's lines come in a row: one that has no neighbour at once or twice the spacing is a tone of
    something else, and so is one so far off that it would fit any spacing."""
    gaps = np.abs(hz[:, None] - hz) / spacing
    in_row = ((np.abs(gaps - 1) < 0.015) | (np.abs(gaps - 2) < 0.025)).any(axis=1)
    strong = hz[in_row][np.argsort(share[in_row])[-3:]]
    found, most = in_row & False, 0.0
    for start, ways in ((0.0, 1), *((float(line), ways) for line in strong for ways in (1, 2))):
        row = in_row & (np.abs(hz - start) < _ROW * spacing)
        if row.sum() < 3:
            continue
        far = float((hz[row] + start if ways == 2 else np.abs(hz[row] - start)).max())
        reach = min(_OFF, spacing / (4 * far))
        period = (spacing * np.linspace(1 - reach, 1 + reach, 81))[:, None]
        near = row & (_apart(hz, start, period) < _NEAR_HZ)
        if ways == 2:
            near |= row & (_apart(hz, -start, period) < _NEAR_HZ)
        chance = ways * 2 * _NEAR_HZ / spacing * float(row.sum())
        count = np.maximum(near.sum(axis=1) - (start > 0), chance)  # the one that it is counted from says nothing
        looks = _MAINS * ways * (1 + reach * far / _NEAR_HZ)
        beyond = 2 * (count * np.log(count / chance) - (count - chance) - np.log(looks))
        best = int(np.argmax(beyond))
        if beyond[best] > most**2:
            found, most = near[best], float(np.sqrt(beyond[best]))
    return found, most


def _apart(hz: Array, offset: float, period: NDArray[np.float64]) -> NDArray[np.float64]:
    """Distance to the nearest whole multiple of `period` from `offset`."""
    turn = (hz - offset) / period
    return np.abs(turn - np.round(turn)) * period
