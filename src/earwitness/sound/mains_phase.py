"""What a modulation has to do with the mains: its frequency found within its tolerance, the strength of the lines at
its multiples, and the pattern over one cycle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from earwitness.errors import InputError
from earwitness.sound.mains import GRIDS_HZ

Array = NDArray[np.float32]

TOLERANCE = 0.01  # of the nominal frequency: EN 50160:2010, 4.2.1, synchronous grids (99.5 % of a year)
ORDERS = (1, 2, 3, 4, 6)
PHASES = 36  # ten degrees each
_SEGMENT_S = 10.0  # over longer spans the mains' own wander would smear the lines
_SIDE_BANDS_HZ = 6.0  # what comes and goes with the mains' beat stands this near to it
_NO_NOISE = 17.0  # over the noise: one line of 25 million of noise (exp(-17))
_FOLLOW_S = 3.0
_SIDE_LOBES = 1e-6  # of the strongest line: what the window leaves of it beside it is no noise to stand out of


@dataclass(frozen=True)
class EnvelopeSpectrum:
    """Power spectrum of a modulation.

    hz, power : (lines,); power over the local noise, so that noise alone has a mean of about 1
    amplitude : (lines,) amplitude over the mean level
    resolution_hz : one over the length that was transformed
    segments : how many spectra were averaged
    """

    hz: Array
    power: Array
    amplitude: Array
    resolution_hz: float
    segments: int


@dataclass(frozen=True)
class MainsLock:
    """How a modulation stands to the mains.

    mains_hz : the frequency found within the tolerance of `nominal_hz`
    nominal_hz : the nominal frequency that fits better of those asked
    over_noise_db : the strongest of the lines at 1, 2 and 4 times the mains over the local noise
    lines_db : by order, each line over the local noise
    foreign_db : the strongest line of 15 … 450 Hz that is no multiple of the mains, over the local noise
    foreign_hz : where that line stands
    foreign_lines : how many lines of 15 … 450 Hz, 6 Hz and more from every multiple of the mains, no noise explains
    """

    mains_hz: float
    nominal_hz: float
    over_noise_db: float
    lines_db: dict[int, float]
    foreign_db: float
    foreign_hz: float
    foreign_lines: int = 0


def envelope_spectrum(level: Array, frame_hz: float) -> EnvelopeSpectrum:
    """Spectrum of a course of level (linear or logarithmic) over its local noise.

    Parameters
    ----------
    level : array, shape (n,), any measure of level over time [1]
    frame_hz : float, values a second [Hz]

    Raises
    ------
    InputError : fewer than 64 values

    Notes
    -----
    Hann window, segments of 10 s half overlapping; the noise is the median of the neighbourhood (±12 Hz) over ln 2, the
    ratio of mean to median of exponentially distributed power (Harris, Proc. IEEE 66 (1978) 51-83, for the window).
    """
    from scipy import fft

    if len(level) < 64:
        raise InputError("level", len(level), "at least 64 values")
    size = min(len(level), round(_SEGMENT_S * frame_hz))
    count = 1 if size == len(level) else -(-(len(level) - size) * 2 // size) + 1
    starts = np.linspace(0, len(level) - size, count).round().astype(int)
    window = np.hanning(size).astype(np.float32)
    padded = fft.next_fast_len(2 * size, real=True)
    power = np.zeros(padded // 2 + 1, np.float32)
    for start in starts:
        part = level[start : start + size]
        spectrum = fft.rfft((part - part.mean()) * window, padded)
        power += spectrum.real**2 + spectrum.imag**2
    power /= count
    keep = round(min(0.48 * frame_hz, 960.0) * padded / frame_hz)
    width = frame_hz / padded
    amplitude = 2 * np.sqrt(power[:keep]) / window.sum()
    noise = np.maximum(_local_noise(power, width), np.float32(_SIDE_LOBES) * power[: keep + 1].max())
    return EnvelopeSpectrum(
        (np.arange(keep) * width).astype(np.float32),
        power[:keep] / noise[:keep],
        amplitude.astype(np.float32),
        frame_hz / size,
        count,
    )


def _local_noise(power: Array, width: float) -> Array:
    """Median over about 24 Hz over ln 2, in steps of half of that, drawn out linearly."""
    span = max(24, round(24.0 / width))
    whole = len(power) // (span // 2) - 1
    if whole < 2:
        return np.full(len(power), np.median(power) / np.log(2) + 1e-30, np.float32)
    views = np.lib.stride_tricks.sliding_window_view(power, span)[:: span // 2]
    middles = span / 2 + np.arange(len(views)) * (span // 2)
    noise = np.median(views, axis=1) / np.log(2) + 1e-30
    return np.exp(np.interp(np.arange(len(power)), middles, np.log(noise))).astype(np.float32)


def mains_lock(spectrum: EnvelopeSpectrum, nominal_hz: Sequence[float] = GRIDS_HZ) -> MainsLock:
    """The mains frequency that the lines of a modulation fit best, and how far they stand out.

    Parameters
    ----------
    spectrum : the modulation's, from `envelope_spectrum`
    nominal_hz : sequence of float, the nominal frequencies that may be [Hz]

    Raises
    ------
    InputError : no nominal frequency, or one outside 10 … 450 Hz

    Notes
    -----
    Maximum of the sum over the orders 1, 2, 3, 4 and 6 of the logarithm of each line over its noise: the harmonic
    product (Noll, Proc. Symp. Computer Processing in Communications, 1970, 779-797) within ±1 % (EN 50160).
    """
    if len(nominal_hz) == 0 or not all(10.0 <= f <= 450.0 for f in nominal_hz):
        raise InputError("nominal_hz", list(nominal_hz), "one or more frequencies of 10 to 450 Hz")
    found = max((_best(spectrum, float(f)) for f in nominal_hz), key=lambda best: best[0])
    _, mains, nominal = found
    lines = {order: 10 * float(np.log10(_line(spectrum, order * mains))) for order in ORDERS}
    hz = spectrum.hz
    distance = np.abs(hz / mains - np.round(hz / mains)) * mains
    clear = (hz >= 15) & (hz <= 450) & (distance > max(2.5 * spectrum.resolution_hz, 0.004 * mains))
    at = int(np.argmax(np.where(clear, spectrum.power, 0)))
    foreign = float(spectrum.power[at]) + 1e-9
    over = max(lines[order] for order in (1, 2, 4))
    apart = (hz >= 15) & (hz <= 450) & (distance > max(2.5 * spectrum.resolution_hz, _SIDE_BANDS_HZ))
    beyond = np.flatnonzero(apart & (spectrum.power > _NO_NOISE))
    count = int((np.diff(hz[beyond], prepend=-np.inf) > 2.5 * spectrum.resolution_hz).sum())
    return MainsLock(mains, nominal, over, lines, 10 * float(np.log10(foreign)), float(hz[at]), count)


def _best(spectrum: EnvelopeSpectrum, nominal: float) -> tuple[float, float, float]:
    step = spectrum.resolution_hz / 12
    reach = max(TOLERANCE * nominal, step)
    candidates = nominal + np.arange(-np.floor(reach / step), np.floor(reach / step) + 1) * step
    score = np.zeros(len(candidates))
    for order in ORDERS:
        if order * nominal * (1 + TOLERANCE) < spectrum.hz[-1]:
            at = np.interp(order * candidates, spectrum.hz, spectrum.power)
            score += np.log1p(at) * (2.0 if order == 2 else 1.0)
    best = int(np.argmax(score))
    return float(score[best]), _refined(spectrum, float(candidates[best]), nominal), nominal


def _refined(spectrum: EnvelopeSpectrum, mains: float, nominal: float) -> float:
    """The frequency moved to the very peak of its strongest line, within the tolerance."""
    peaks = []
    for order in (1, 2, 4):
        near = np.flatnonzero(np.abs(spectrum.hz - order * mains) <= 1.5 * spectrum.resolution_hz)
        if len(near):
            top = near[int(np.argmax(spectrum.power[near]))]
            peaks.append((float(spectrum.power[top]), float(spectrum.hz[top]) / order))
    peak = max(peaks)[1] if peaks else mains
    return peak if abs(peak / nominal - 1) <= TOLERANCE else mains


def _line(spectrum: EnvelopeSpectrum, hz: float) -> float:
    """Power over noise at `hz`, half a resolution to either side allowed; 1 on the skirt of a stronger line."""
    distance = np.abs(spectrum.hz - hz)
    near = distance <= 0.5 * spectrum.resolution_hz
    if not near.any():
        return 1e-9
    here = float(spectrum.power[near].max()) + 1e-9
    skirt = float(spectrum.power[distance <= 2.5 * spectrum.resolution_hz].max()) > 2.0 * here
    return min(here, 1.0) if skirt else here


def folded(level: Array, turns: NDArray[np.float64], weight: Array | None = None) -> tuple[Array, Array]:
    """Courses of level folded over one cycle of the mains: mean and spread in each ten degrees of it.

    Parameters
    ----------
    level : array, shape (n,) or (n, k), level over time, or k of them [1]
    turns : array, shape (n,), phase of the mains at each value, from `mains_turns` [turns, 0 to 1]
    weight : array, shape (n,), how much each value counts [1]; by default all alike

    Returns
    -------
    mean, spread : (36,) or (36, k) mean and standard deviation over the cycles, the first value centred on 5 degrees.
        The recording's own start is degree 0: where the voltage stood then is not known from the sound.

    Raises
    ------
    InputError : not one phase to each value

    Notes
    -----
    Phase-resolved pattern as in IEC 60270:2000, annex D (there of charge, here of sound).
    """
    if len(turns) != len(level):
        raise InputError("turns", len(turns), f"one phase to each value of level, {len(level)}")
    levels = level[:, None] if level.ndim == 1 else level
    index = np.minimum((turns * PHASES).astype(np.intp), PHASES - 1)
    counted = np.ones(len(levels), np.float32) if weight is None else weight
    total = np.maximum(np.bincount(index, counted, PHASES), 1e-9)
    mean = np.stack([np.bincount(index, one * counted, PHASES) / total for one in levels.T], axis=1)
    squares = np.stack([np.bincount(index, one * one * counted, PHASES) / total for one in levels.T], axis=1)
    spread = np.sqrt(np.maximum(squares - mean**2, 0))
    shape = (PHASES,) if level.ndim == 1 else (PHASES, levels.shape[1])
    return mean.astype(np.float32).reshape(shape), spread.astype(np.float32).reshape(shape)


def mains_turns(level: Array, frame_hz: float, mains_hz: float) -> NDArray[np.float64]:
    """Phase of the mains at each value of a level that beats with it, in turns from the recording's start.

    Parameters
    ----------
    level : array, shape (n,), level over time about its mean [1]
    frame_hz : float, values a second [Hz]
    mains_hz : float, mean frequency of the mains [Hz]

    Returns
    -------
    turns : (n,) 0 … 1; over more than 6 s it follows the mains' wander by the line at twice the mains, 3 s at a time.

    Raises
    ------
    InputError : mains_hz not positive
    """
    if not mains_hz > 0:
        raise InputError("mains_hz", mains_hz, "over 0 Hz")
    turns = np.arange(len(level)) * (mains_hz / frame_hz)
    size = round(_FOLLOW_S * frame_hz)
    count = len(level) // size
    if count >= 2:
        beat = (level * np.exp(-4j * np.pi * turns))[: count * size].reshape(count, size).sum(axis=1)
        lead = np.unwrap(np.angle(beat)) / (4 * np.pi)
        turns = turns + np.interp(np.arange(len(level)), (np.arange(count) + 0.5) * size, lead - lead[0])
    return np.asarray(turns % 1.0, np.float64)
