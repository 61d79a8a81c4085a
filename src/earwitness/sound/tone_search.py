"""Where in a sweep a tone may come and go: the cells of a short-time spectrum over their noise, and boxes of them.

Turbulent noise is Gaussian, so each cell's power is exponentially distributed about a mean that changes slowly with
frequency and, where people talk or air is let off, quickly with time, but then for many frequencies at once: medians
over frequency and over time find that mean, and the cell over it has mean 1 in noise alone. What sounds for less than
about 60 ms in a band of 500 Hz is a knock (no emitter beats so short), and its cells are held down to the noise. The
mean of log(1 + cell/4) over a box of time and frequency is then held against what the same frequencies have at other
times, with the number of looks taken off (Cramer 1946, 28.6): the logarithm lets few loud cells count little.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import rank_filter

from earwitness.errors import InputError
from earwitness.sound.decimate import decimated
from earwitness.sound.hiss import power_frames
from earwitness.sound.tone_hold import hold_knocks, switched_bands
from earwitness.sound.tone_lines import slanted_lines

Array = NDArray[np.float64]
Cells32 = NDArray[np.float32]
Samples = NDArray[np.float32]

LONG_S, LONG_HOP_S = 0.128, 0.032  # to find and follow the tone: 8 Hz bins; a hop that folds no beat of 4 Hz
SHORT_S, SHORT_HOP_S = 0.032, 0.016  # to see its beat and the knocks
SOFT = 4.0  # times the noise: louder cells count by their logarithm
NOISE_LOG = 0.2063  # mean and spread of log(1 + x/4) for x exponential of mean 1: e⁴ E1(4); by quadrature
NOISE_SPREAD = 0.1763
NOISE_SKEWNESS = 1.29
_BELOW_TOP_DB = 30.0  # outside the receiver's passband
_BAND_BINS = 256  # 2 kHz: all in it that rises at once is noise; a swept tone fills less than half of it
_QUIET_SHARE = 0.35
_LINE_BINS = 97  # a spectral line is what stands over the 750 Hz around it
_KNOCK_BINS, _KNOCK_FRAMES, _KNOCK_TIMES = 16, 4, 3.0  # 500 Hz, 64 ms
_MOSTLY = 0.5  # of the band
_BESIDE = 2  # frames on either side of a knock's, which its flank spoils
_BLOCK = 8  # frames taken together
BIN_WIDTH = 1.5  # of Hann's window
OVERLAP = 1.92  # so many of Hann's frames that overlap by three quarters tell as much as one (Welch 1967)
NARROW = 5  # bins: up to here a steady line, which may drift (a probe led at 0.4 m/s hears 40 kHz moved by 47 Hz)
_BOX_BLOCKS = (2, 4, 8, 12)  # 0.5 to 3 s
_BOX_BINS = (2, 5, 21)  # a steady line, one that drifts, one that warbles
# a place is louder than its frequency is in half of the time, or, where a box may fall between two beats, in three
# quarters, below which noise lies by 0.67 spreads
_USUAL = {False: (0.75, np.float32(0.67)), True: (0.5, np.float32(0.0))}
_WHOLE_BEAT = 4  # blocks
_CANDIDATES = 8
_SKIRT_BINS, _LOUDER = 8, 0.7  # a line 64 Hz away, so many nats louder: 3 dB
_TRIES = 48
_ONE_SOUND, _OF_ONE_SOUND = 0.9, 2  # correlation of two courses; so many of them are followed
_TINY = 1e-20


@dataclass(frozen=True)
class ToneCells:
    """The short-time spectra of a recording, and the cells over their noise.

    hz : (bins,) of the long frames
    power : (frames, bins) full scale² / Hz
    over : (frames, bins) the cell over its noise, knocks held down
    noise : (frames, bands) the noise's course in bands of 2 kHz, 1 in its middle
    knocked : share of the cells that were held down
    short_hz, short : the short frames: (short bins,) and (short frames, short bins)
    flat : (short frames, short bins) log of the short frames over the noise's spectrum
    lines : (frames, short bins) what the loudest line through the middle of each frame holds (`tone_lines`)
    """

    hz: Array
    power: Cells32
    over: Cells32
    noise: Cells32
    knocked: float
    short_hz: Array
    short: Cells32
    flat: Cells32
    lines: Cells32


@dataclass(frozen=True)
class Box:
    """A box in which frequencies are louder than at other times: standard normal deviate with the looks taken off,
    its middle frame, its bins, its frames."""

    deviate: float
    frame: int
    bins: slice
    frames: int
    swept: bool = False


def tone_cells(samples: Samples, rate_hz: float, *, low_hz: float, high_hz: float) -> ToneCells:
    """The cells of a recording over their noise, within a range of frequencies and the receiver's passband.

    Parameters
    ----------
    samples : (n,) at least 2 s [full scale 1].
    rate_hz : sampling rate [Hz].
    low_hz : lower end of the range to look in [Hz].
    high_hz : its upper end, at most half the rate [Hz].

    Raises
    ------
    InputError
        if there is less than 2 s.
    """
    if len(samples) < 2 * rate_hz:
        raise InputError("samples", f"{len(samples) / rate_hz:.2f} s", "at least 2 s")
    samples, rate_hz = decimated(samples, rate_hz, high_hz)
    hz, power = _passed(*_spectra(samples, rate_hz, LONG_S, LONG_HOP_S, low_hz, high_hz))
    short_hz, short = _spectra(samples, rate_hz, SHORT_S, SHORT_HOP_S, float(hz[0]), float(hz[-1]) + 1.0)
    short = np.asfortranarray(short)  # it is read a few bins at a time
    over, noise, density = _over_noise(power)
    knocks, quick = _knocks(short, len(power))
    band = np.clip((np.arange(len(hz)) * knocks.shape[1]) // len(hz), 0, knocks.shape[1] - 1)
    hold_knocks(over, knocks, band)
    noise = _through_knocks(noise, knocks)
    flat = np.log(short / np.interp(short_hz, hz, density).astype(np.float32))
    lines = slanted_lines(flat, quick, soft=SOFT, noise_log=NOISE_LOG)
    if len(lines) != len(power):  # hops that are no whole number of samples
        lines = lines[np.minimum(np.arange(len(power)), len(lines) - 1)]
    return ToneCells(hz, power, over, noise, float(knocks.mean()), short_hz, short, flat, lines)


def strongest_boxes(over: Cells32) -> list[Box]:
    """The boxes that surely rise the most over what is left of them at other times, no two at one frequency.

    Parameters
    ----------
    over : (frames, bins) cells over their noise, with mean 1 in noise alone [1].
    """
    found: list[tuple[float, Box, Cells32]] = []
    count = len(over) // _BLOCK
    logs = np.log1p(over / np.float32(SOFT))
    blocks = logs[: count * _BLOCK].reshape(count, _BLOCK, -1).mean(axis=1)
    total = np.zeros((count, over.shape[1] + 1))
    np.cumsum(blocks, axis=1, out=total[:, 1:])
    for width in (w for w in _BOX_BINS if w <= over.shape[1] // 4):
        step = max(1, width // 4)
        narrow = ((total[:, width:] - total[:, :-width])[:, ::step] / width).astype(np.float32)
        courses = narrow - narrow.mean(axis=0)
        courses /= np.linalg.norm(courses, axis=0) + np.float32(_TINY)
        for long in (n for n in _BOX_BLOCKS if n <= count // 2):
            means = _box_means(narrow, long)
            share, below = _USUAL[long > _WHOLE_BEAT]
            usual = round(share * (len(means) - 1))
            frames = _BLOCK * long / OVERLAP
            degrees = frames * max(1.0, width / BIN_WIDTH)
            spread = np.float32(NOISE_SPREAD / np.sqrt(degrees))
            ranked = np.sort(means, axis=0)
            rest, top = np.maximum(ranked[usual] - below * spread, NOISE_LOG), ranked[-1]
            looks = chance_deviate(means.size * step / width * 2 / long, degrees)
            assured = _assured(top - np.float32(looks) * spread, rest, spread)
            alike = np.zeros(assured.size, int)
            wanted = _CANDIDATES // 2
            for _ in range(_TRIES):
                column = int(np.argmax(assured))
                if not wanted or assured[column] == -np.inf:
                    break
                first = int(np.argmax(means[:, column]))
                low, clear = column * step, (2 * width + 8) // step
                if _skirt(blocks[first : first + long], low, width):
                    assured[column] = -np.inf
                    continue
                wanted -= 1
                frame = round((first + long / 2) * _BLOCK)
                deviate = float((top[column] - rest[column]) / spread) - looks
                box = Box(deviate, frame, slice(low, low + width), long * _BLOCK)
                found.append((float(assured[column]), box, courses[:, column]))
                alike += found[-1][2] @ courses > _ONE_SOUND
                assured[alike >= _OF_ONE_SOUND] = -np.inf
                assured[max(0, column - clear) : column + clear + 1] = -np.inf
    found.sort(key=lambda one: -one[0])
    return _apart(found)[:_CANDIDATES]


def _skirt(blocks: Cells32, low: int, width: int) -> bool:
    """Whether a line close beside a box is louder than all within: what switches on and off has flanks."""
    first = max(0, low - _SKIRT_BINS)
    there = blocks[:, first : low + width + _SKIRT_BINS].mean(axis=0)
    return bool(there.max() > there[low - first : low - first + width].max() + _LOUDER)


def _apart(found: Sequence[tuple[float, Box, Cells32]]) -> list[Box]:
    """No two at one frequency, and few of those that keep time with one another: the lines of a beeper are one
    sound."""
    kept: list[Box] = []
    courses: list[Cells32] = []
    for _, box, course in found:
        near = [
            n for n, k in enumerate(kept) if box.bins.stop + 4 >= k.bins.start and box.bins.start <= k.bins.stop + 4
        ]
        if near and box.deviate > kept[near[0]].deviate:  # the same tone, better seen
            kept[near[0]] = box
        elif not near and sum(bool(course @ other > _ONE_SOUND) for other in courses) < _OF_ONE_SOUND:
            kept.append(box)
            courses.append(course)
    return kept


def _assured(least: Cells32, rest: Cells32, spread: np.float32) -> Cells32:
    """What surely stands over the noise, over the most of it that may be left at other times: a loud beeper differs
    from time to time by many deviates, but not by much in power."""
    noise = np.expm1(NOISE_LOG)
    return np.asarray((np.expm1(least) - noise) / (np.expm1(rest) - noise + spread), np.float32)


def chance_deviate(looks: float, degrees: float) -> float:
    """The largest deviate to expect of noise alone in so many looks, each the mean of so many logs of cells.

    sqrt(2 ln M), and what the skewness of the logs adds (Cornish & Fisher 1938, first term).

    Parameters
    ----------
    looks : independent looks, over 1 [1].
    degrees : independent cells in each [1].
    """
    normal = float(np.sqrt(2 * np.log(looks)))
    return normal + NOISE_SKEWNESS / 6 * (normal**2 - 1) / float(np.sqrt(degrees))


def _box_means(blocks: Cells32, long: int) -> Cells32:
    last = len(blocks) - long + 1
    means = blocks[:last].copy()
    for i in range(1, long):
        means += blocks[i : last + i]
    return means / np.float32(long)


def _spectra(
    samples: Samples, rate_hz: float, frame_s: float, hop_s: float, low_hz: float, high_hz: float
) -> tuple[Array, Cells32]:
    """Frequencies and power of the frames within a range."""
    hz, blocks = power_frames(samples, rate_hz, frame_s, hop_s)
    inside = slice(int(np.searchsorted(hz, low_hz)), int(np.searchsorted(hz, high_hz)))
    power = np.concatenate([block[:, inside] for block in blocks])
    return hz[inside], np.add(power, np.float32(_TINY), out=power)


def _passed(hz: Array, power: Cells32) -> tuple[Array, Cells32]:
    """Only what the receiver passes, if that is 500 Hz or more."""
    whole = power.shape[1] // 16 * 16
    parts = np.sort(power[::8, :whole].T.reshape(whole // 16, -1), axis=1)  # quicker than np.median
    cells = 10 * np.log10(parts[:, parts.shape[1] // 2])
    passed = np.flatnonzero(cells > cells.max() - _BELOW_TOP_DB)
    kept = slice(int(passed[0]) * 16, (int(passed[-1]) + 1) * 16)
    return (hz[kept], power[:, kept]) if kept.stop - kept.start >= 64 else (hz, power)


def _over_noise(power: Cells32) -> tuple[Cells32, Cells32, Array]:
    """Each cell over the noise of its moment and its frequency; the noise's course in bands, its spectrum."""
    frames, bins = power.shape
    half = len(power[::4]) // 2
    middle = np.sort(power[::4], axis=0)[half] + np.float32(_TINY)
    over = power / middle
    edges = np.linspace(0, bins, max(1, bins // _BAND_BINS) + 1).astype(int)
    noise = np.empty((frames, len(edges) - 1), np.float32)
    for i, (low, high) in enumerate(pairwise(edges)):
        noise[:, i] = np.sort(over[:, low:high], axis=1)[:, int((high - low) * _QUIET_SHARE)]
    noise = np.maximum(noise, np.float32(_TINY))
    noise /= np.median(noise, axis=0)
    centres = (edges[:-1] + edges[1:] - 1) / 2
    parts = [np.interp(np.arange(bins), centres, one) for one in np.eye(len(centres))]  # of each band in each bin
    over /= noise @ np.array(parts, np.float32)
    own = np.sort(over[::2], axis=0)[frames // 4] * middle
    # of the exponential: the median is ln 2 of the mean; the lower part of the bins looks through lines
    smooth = rank_filter(own.astype(np.float64), round(0.4 * _LINE_BINS), _LINE_BINS, mode="mirror") / np.log(2)
    over *= (middle / smooth).astype(np.float32)
    return over, noise, smooth


def _knocks(short: Cells32, frames: int) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """(frames, bands of 500 Hz) where a third of the power and more is shorter than 64 ms; and (short frames, short
    bins) where it is."""
    edges = np.linspace(0, short.shape[1], max(1, short.shape[1] // _KNOCK_BINS) + 1).astype(int)
    band = np.add.reduceat(short, edges[:-1], axis=1)
    beside = _KNOCK_FRAMES - 1
    lasting = _running(np.minimum, np.pad(band, ((beside, beside), (0, 0)), mode="edge"), _KNOCK_FRAMES)
    lasting = _running(np.maximum, lasting, _KNOCK_FRAMES)
    excess = np.maximum(band - np.float32(_KNOCK_TIMES) * lasting, 0)
    window = np.hanning(9)[1:-1].astype(np.float32)  # the seven short frames within a long one
    within = np.minimum(round(LONG_HOP_S / SHORT_HOP_S) * np.arange(frames)[:, None] + np.arange(7), len(band) - 1)
    share = np.einsum("tkb,k->tb", excess[within], window) / np.einsum("tkb,k->tb", band[within], window)
    steady = ~switched_bands(short, edges)
    found = np.pad((share > 1 / 3) & steady, ((_BESIDE, _BESIDE), (0, 0)))
    quick = np.repeat((excess > band / 3) & steady, np.diff(edges), axis=1)
    return np.asarray(_running(np.maximum, found, 2 * _BESIDE + 1)), quick


def _through_knocks(noise: Cells32, knocks: NDArray[np.bool_]) -> Cells32:
    """The noise's course, drawn through where most of a band knocks: a tone is not weaker because of a knock."""
    frames, bands = np.arange(len(noise)), noise.shape[1]
    edges = np.linspace(0, knocks.shape[1], bands + 1).astype(int)
    for k in range(bands):
        quiet = knocks[:, edges[k] : max(edges[k + 1], edges[k] + 1)].mean(axis=1) < _MOSTLY
        if quiet.any():
            noise[:, k] = np.interp(frames, frames[quiet], noise[quiet, k])
    return noise


def _running(of: np.ufunc, values: NDArray[Any], count: int) -> NDArray[Any]:
    last = len(values) - count + 1
    out = values[:last].copy()
    for i in range(1, count):
        of(out, values[i : last + i], out=out)
    return out
