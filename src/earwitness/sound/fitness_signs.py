"""Signs of what was done to a recording before it came here, read from a finished `Stream`.

Each is a plain number; `fitness` holds the thresholds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from earwitness.sound.fitness_stream import HOP_S, Plateau, Stream
from earwitness.sound.mains import nominal_mains

Track = NDArray[np.float64]
_BESIDE = round(0.07 / HOP_S)  # how much of the quiet is looked at before and after a loud event


def _clipped(side: Plateau, step: float) -> int:
    """Samples cut off at one side, 0 if that side looks natural.

    A natural peak is round: three samples at its very top never fall off steeply on both sides, and fewer samples
    stand at the extreme itself than in the 3 % below it. (A tone in step with the sampling has pairs or singles
    only.)
    """
    fine = step < 0.01 * side.extreme
    mixed = sum(n >= 2 for n in (side.singles, side.pairs, side.longer)) >= 2
    piled = fine and mixed and side.at > 8 + 0.5 * side.near
    return side.at if (side.longer >= 2 or piled) and step < 0.1 * side.extreme else 0


@dataclass(frozen=True)
class Pumping:
    """How the quiet parts behave around loud ones."""

    events: int
    fall_db: float  # quiet before minus quiet just after, median
    recovery_db: float  # quiet later minus quiet just after, median
    share: float  # of the events, in which both are more than 1 dB


def _pumping(power: Track) -> Pumping:
    """Automatic gain betrays itself by the background: it is lower just after a loud event than before it, and comes
    back slowly. Reverberation does the opposite."""
    nothing = Pumping(0, 0.0, 0.0, 0.0)
    if len(power) < 100:
        return nothing
    level = 10 * np.log10(power + 1e-12 * float(power.max()) + 1e-30)
    low, high = np.quantile(level, [0.05, 0.98])
    if high - low < 6:
        return nothing
    loud = level > low + 0.6 * (high - low)
    edges = np.diff(loud.astype(np.int8), prepend=0, append=0)
    start, stop = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    if len(start) > 1:  # events that stand closer than 60 ms are one
        apart = start[1:] - stop[:-1] >= round(0.06 / HOP_S)
        start, stop = start[np.concatenate(([True], apart))], stop[np.concatenate((apart, [True]))]
    smooth = np.convolve(level, np.full(5, 0.2), "same")
    falls, recoveries = [], []
    for i in range(min(len(start), 400)):
        quiet_from = stop[i - 1] if i else 0
        quiet_to = start[i + 1] if i + 1 < len(start) else len(level)
        if start[i] - quiet_from < _BESIDE + 8 or quiet_to - stop[i] < _BESIDE + 8:
            continue
        before = smooth[start[i] - 4 - _BESIDE : start[i] - 4]
        after = smooth[stop[i] + 4 : stop[i] + 4 + _BESIDE]
        later = smooth[stop[i] + 4 : min(quiet_to - 4, stop[i] + round(1.5 / HOP_S))]
        falls.append(float(before.min() - after.min()))
        recoveries.append(float(np.mean(later[-5:]) - np.mean(after[:5])))
    if len(falls) < 3:
        return nothing
    fall, recovery = np.asarray(falls), np.asarray(recoveries)
    share = float(np.mean((fall > 1) & (recovery > 1)))
    return Pumping(len(fall), float(np.median(fall)), float(np.median(recovery)), share)


_BESIDE_BINS = 3  # nearer cells share the window's main lobe


def _speckle_db(frames: NDArray[np.float32]) -> float:
    """How unevenly single cells of the spectrogram flicker, in dB: 5.6 for noise of any colour and loudness
    (the logarithm of an exponential variate), more where a suppressor opened and closed the cells one by one.

    Each cell is compared with one beside it in the same frame: what comes and goes (a leak swept past, a blow, a door)
    lifts both, and cancels. A codec drops quiet cells beneath loud ones, so the louder half must flicker as well.
    """
    if len(frames) < 12:
        return 0.0
    mean = frames.mean(axis=0)
    carried = mean > 1e-6 * float(mean.max())
    carried[:2] = False
    if np.count_nonzero(carried) < 16:
        return 0.0
    level = 10 * np.log10(frames + 1e-9 * mean + np.float32(1e-30))
    flicker = np.std(level[:, _BESIDE_BINS:] - level[:, :-_BESIDE_BINS], axis=0) / np.sqrt(2)
    loud = carried & (mean >= np.median(mean[carried]))
    both = [flicker[cells[_BESIDE_BINS:] & cells[:-_BESIDE_BINS]] for cells in (carried, loud)]
    return float(min(np.median(part) if len(part) else 0.0 for part in both))


_LEAST_LINE = 5e-5  # of the recording's power, in one line


@dataclass(frozen=True)
class MainsLines:
    """Narrow lines at exact multiples of one frequency near the mains, in the recording itself."""

    mains_hz: float
    multiples: tuple[int, ...]
    share: float  # of the recording's power


def _mains_lines(stream: Stream, mains_hz: float | None) -> MainsLines | None:
    """The comb of lines at multiples of a frequency within 1 % of the mains, if there is one."""
    slow = np.concatenate(stream.slow) if stream.slow else np.zeros(0, np.float32)
    rate = stream.rate_hz / stream.slow_by
    if len(slow) < 1.5 * rate:
        return None
    window = np.hanning(len(slow))
    size = fft.next_fast_len(2 * len(slow), real=True)
    spectrum = fft.rfft((slow - slow.mean()) * window, size)
    power = (spectrum.real**2 + spectrum.imag**2) / np.sum(window) ** 2
    bin_hz = rate / size
    floor = _local_floor(power, round(40 / bin_hz)) + _LEAST_LINE * stream.squares / stream.count / 40
    best: MainsLines | None = None
    top = int(0.45 * rate)
    for nominal in nominal_mains(mains_hz):
        for f in np.arange(0.99 * nominal, 1.01 * nominal, bin_hz / 8):
            multiples, share = _comb(power, floor, f / bin_hz, top / f)
            if multiples[:1] in ((1,), (2,)) and len([k for k in multiples if k <= 6]) >= 2:
                found = MainsLines(float(f), multiples, 2 * share)
                if best is None or (len(multiples), share) > (len(best.multiples), best.share / 2):
                    best = found
    return best


def _comb(power: Track, floor: Track, spacing: float, most: float) -> tuple[tuple[int, ...], float]:
    """Which multiples of `spacing` (in bins) carry a narrow line 16 dB over the noise beside it; the lines' power."""
    found, share = [], 0.0
    for k in range(1, min(12, int(most)) + 1):
        at = round(k * spacing)
        if at + 12 >= len(power) or power[at] < 40 * floor[at]:
            continue
        beside = max(float(power[at - 12 : at - 7].max()), float(power[at + 8 : at + 13].max()))
        peak = float(power[at - 1 : at + 2].max())
        if power[at] >= 0.6 * peak and beside < 0.05 * peak:
            found.append(k)
            share += peak
    return tuple(found), share


def _local_floor(power: Track, width: int) -> Track:
    """Median of the spectrum over stretches of `width` bins, joined by straight lines."""
    width = max(8, width)
    blocks = max(1, len(power) // width)
    medians = np.median(power[: blocks * width].reshape(blocks, -1), axis=1) if len(power) >= width else [power.mean()]
    at = (np.arange(blocks) + 0.5) * width
    return np.interp(np.arange(len(power)), at, medians) + 1e-30
