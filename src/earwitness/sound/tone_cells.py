"""The cells of a short-time spectrum over their noise, in which a tone is looked for (`tone_search`, `tone_swept`).

Turbulent noise is Gaussian, so each cell's power is exponentially distributed about a mean that changes slowly with
frequency and, where people talk or air is let off, quickly with time, but then for many frequencies at once: medians
over frequency and over time find that mean, and the cell over it has mean 1 in noise alone. What sounds for less than
about 60 ms in a band of 500 Hz is a knock (no emitter beats so short), and its cells are held down to the noise; so are
those of voices (`tone_crowd`).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import rank_filter

from earwitness.errors import InputError
from earwitness.sound.decimate import decimated
from earwitness.sound.hiss import power_frames
from earwitness.sound.tone_crowd import crowded, over_bins
from earwitness.sound.tone_hold import band_powers, hold_knocks, switched_bands
from earwitness.sound.tone_lines import slanted_lines

Array = NDArray[np.float64]
Cells32 = NDArray[np.float32]
Samples = NDArray[np.float32]

LONG_S, LONG_HOP_S = 0.128, 0.032  # to find and follow the tone: 8 Hz bins; a hop that folds no beat of 4 Hz
SHORT_S, SHORT_HOP_S = 0.032, 0.016  # to see its beat and the knocks
SOFT = 4.0  # times the noise: louder cells count by their logarithm
NOISE_LOG = 0.2063  # mean of log(1 + x/4) for x exponential of mean 1: e⁴ E1(4)
_BELOW_TOP_DB = 30.0  # outside the receiver's passband
_FLANK_DB = 7.0  # in 125 Hz: near it noise is louder than around it, and strays by more than noise
_RUMBLE_DB, _LEVEL_DB, _RUMBLE_CELLS = 4.0, 0.5, 4  # 500 Hz
_BAND_BINS = 256  # 2 kHz: all in it that rises at once is noise; a swept tone fills less than half of it
_QUIET_SHARE = 0.35
_LINE_BINS = 97  # a spectral line is what stands over the 750 Hz around it
_KNOCK_BINS, _KNOCK_FRAMES, _KNOCK_TIMES = 16, 4, 3.0  # 500 Hz, 64 ms
_MOSTLY = 0.5  # of the band
_BESIDE = 2  # frames on either side of a knock's, which its flank spoils
_FEW = 0.1  # of the frames: too few to tell the noise from
_HIDDEN = 0.95
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
    short_over : (short frames, short bins) the short frames over the noise's spectrum
    lines : (frames, short bins) what the loudest line through the middle of each frame holds (`tone_lines`)
    steepest, where : (frames,) what the loudest steep line holds, wherever it runs, and the short bin in its middle
    crowd : (frames, bands) where voices hide what else sounds (`tone_crowd`)
    """

    hz: Array
    power: Cells32
    over: Cells32
    noise: Cells32
    knocked: float
    short_hz: Array
    short: Cells32
    short_over: Cells32
    lines: Cells32
    steepest: Cells32
    where: NDArray[np.intp]
    crowd: NDArray[np.bool_]

    def heard(self, bins: slice) -> NDArray[np.bool_]:
        """(frames,) where no crowd hides the middle of these bins; everywhere, if one does nearly all along."""
        hidden = self.crowd[:, (bins.start + bins.stop) // 2 * self.crowd.shape[1] // len(self.hz)]
        return ~hidden if hidden.mean() < _HIDDEN else np.ones(len(hidden), bool)


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
    over, noise, density = _over_noise(power)
    cells = np.divide(short, np.interp(short_hz, hz, density), dtype=np.float32)
    short = np.asfortranarray(short)  # it is read a few bins at a time
    knocks, quick = _knocks(short, len(power))
    crowd = crowded(cells, len(power))
    talk = bool(crowd.any())
    if talk:
        louder = _taken_for_noise(over, crowd)
        over /= louder
        cells /= np.interp(short_hz, hz, louder).astype(np.float32)
        knocks |= over_bins(crowd, knocks.shape[1])
        quick |= over_bins(crowd, quick.shape[1])[np.clip((np.arange(len(quick)) - 3) // 2, 0, len(crowd) - 1)]
    band = np.clip((np.arange(len(hz)) * knocks.shape[1]) // len(hz), 0, knocks.shape[1] - 1)
    hold_knocks(over, knocks, band)
    if talk:  # between the lines of a voice it is quieter than noise
        over = np.where(over_bins(crowd, len(hz)), np.maximum(over, np.float32(SOFT * np.expm1(NOISE_LOG))), over)
    noise = _through_knocks(noise, knocks)
    lines, steepest, where = slanted_lines(cells, quick, soft=SOFT, noise_log=NOISE_LOG)
    if len(lines) != len(power):  # hops that are no whole number of samples
        there = np.minimum(np.arange(len(power)), len(lines) - 1)
        lines, steepest, where = lines[there], steepest[there], where[there]
    lines, knocked = np.asfortranarray(lines), float(knocks.mean())
    return ToneCells(hz, power, over, noise, knocked, short_hz, short, cells, lines, steepest, where, crowd)


def _spectra(
    samples: Samples, rate_hz: float, frame_s: float, hop_s: float, low_hz: float, high_hz: float
) -> tuple[Array, Cells32]:
    """Frequencies and power of the frames within a range."""
    hz, blocks = power_frames(samples, rate_hz, frame_s, hop_s)
    inside = slice(int(np.searchsorted(hz, low_hz)), int(np.searchsorted(hz, high_hz)))
    power = np.concatenate([block[:, inside] for block in blocks])
    return hz[inside], np.add(power, np.float32(_TINY), out=power)


def _passed(hz: Array, power: Cells32) -> tuple[Array, Cells32]:
    """Only what the receiver passes, if that is 500 Hz or more, without the flanks of a filter that cuts it off."""
    whole = power.shape[1] // 16 * 16
    parts = np.sort(power[::16, :whole].T.reshape(whole // 16, -1), axis=1)  # quicker than np.median
    cells, gusts = 10 * np.log10(parts[:, [parts.shape[1] // 2, 9 * parts.shape[1] // 10]].T)
    passed = np.flatnonzero(cells > cells.max() - _BELOW_TOP_DB)
    steps = np.diff(cells[passed[0] : passed[-1] + 1])
    first, last = int(passed[0]) + _flank(steps), int(passed[-1]) - _flank(-steps[::-1])
    first += _rumble(gusts[first : last + 1])
    kept = slice(first * 16, (last + 1) * 16)
    return (hz[kept], power[:, kept]) if kept.stop - kept.start >= 64 else (hz, power)


def _flank(steps: Array) -> int:
    """How many cells a filter's flank takes at an end of what is passed, from there on inward."""
    flank = int(np.argmin(np.append(steps, 0.0) > _FLANK_DB))
    return flank + (flank > 0)  # and that into which it runs out


def _rumble(gusts: Array) -> int:
    """How many cells at the low end stand over the 500 Hz above them: wind, a rubbing sleeve, a machine's rumble, that
    swell by themselves and are too narrow there to be told from a tone."""
    looked = min(_RUMBLE_CELLS, len(gusts) - _RUMBLE_CELLS)
    over = [float(gusts[k] - np.median(gusts[k + 1 : k + 1 + _RUMBLE_CELLS])) for k in range(looked)]
    return int(np.argmin([*(db > _LEVEL_DB for db in over), False])) if over and over[0] > _RUMBLE_DB else 0


def _over_noise(power: Cells32) -> tuple[Cells32, Cells32, Array]:
    """Each cell over the noise of its moment and its frequency; the noise's course in bands, its spectrum."""
    frames, bins = power.shape
    middle = _middle(power[::8]) + np.float32(_TINY)
    over = power / middle
    edges = np.linspace(0, bins, max(1, round(bins / _BAND_BINS)) + 1).astype(int)
    noise = np.empty((frames, len(edges) - 1), np.float32)
    for i, (low, high) in enumerate(pairwise(edges)):
        noise[:, i] = np.sort(over[:, low:high:2], axis=1)[:, int((high - low) // 2 * _QUIET_SHARE)]
    noise = np.maximum(noise, np.float32(_TINY))
    noise /= _middle(noise)
    centres = (edges[:-1] + edges[1:] - 1) / 2
    parts = [np.interp(np.arange(bins), centres, one) for one in np.eye(len(centres))]  # of each band in each bin
    over /= noise @ np.array(parts, np.float32)
    own = _middle(over[::4]) * middle
    # of the exponential: the median is ln 2 of the mean; the lower part of the bins looks through lines
    smooth = rank_filter(own.astype(np.float64), round(0.4 * _LINE_BINS), _LINE_BINS, mode="mirror") / np.log(2)
    over *= (middle / smooth).astype(np.float32)
    return over, noise, smooth


def _middle(rows: Cells32) -> Cells32:
    """The median over the first axis; quicker than np.median, and than to sort along that axis."""
    return np.sort(np.ascontiguousarray(rows.T), axis=1)[:, len(rows) // 2]


def _knocks(short: Cells32, frames: int) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """(frames, bands of 500 Hz) where a third of the power and more is shorter than 64 ms; and (short frames, short
    bins) where it is."""
    edges = np.linspace(0, short.shape[1], max(1, short.shape[1] // _KNOCK_BINS) + 1).astype(int)
    band = band_powers(short, edges)
    beside = _KNOCK_FRAMES - 1
    lasting = _running(np.minimum, np.pad(band, ((beside, beside), (0, 0)), mode="edge"), _KNOCK_FRAMES)
    lasting = _running(np.maximum, lasting, _KNOCK_FRAMES)
    excess = np.maximum(band - np.float32(_KNOCK_TIMES) * lasting, 0)
    window = np.hanning(9)[1:-1].astype(np.float32)  # the seven short frames within a long one
    within = np.minimum(round(LONG_HOP_S / SHORT_HOP_S) * np.arange(frames)[:, None] + np.arange(7), len(band) - 1)
    share = np.einsum("tkb,k->tb", excess[within], window) / np.einsum("tkb,k->tb", band[within], window)
    steady = ~switched_bands(short, band, edges)
    found = np.pad((share > 1 / 3) & steady, ((_BESIDE, _BESIDE), (0, 0)))
    quick = np.repeat((excess > band / 3) & steady, np.diff(edges), axis=1)
    return np.asarray(_running(np.maximum, found, 2 * _BESIDE + 1)), quick


def _taken_for_noise(over: Cells32, crowd: NDArray[np.bool_]) -> Cells32:
    """(bins,) how loud the noise is where nobody talks, over what was taken for it."""
    own = np.empty(over.shape[1])
    edges = np.linspace(0, over.shape[1], crowd.shape[1] + 1).astype(int)
    for k, (low, high) in enumerate(pairwise(edges)):
        quiet = ~crowd[:, k]
        own[low:high] = np.median(over[quiet if quiet.mean() > _FEW else slice(None), low:high], axis=0) / np.log(2)
    return rank_filter(own, _LINE_BINS // 2, _LINE_BINS, mode="mirror").astype(np.float32)


def _through_knocks(noise: Cells32, knocks: NDArray[np.bool_]) -> Cells32:
    """The noise's course, drawn through where most of a band knocks: a tone is not weaker because of a knock."""
    frames, bands = np.arange(len(noise)), noise.shape[1]
    edges = np.linspace(0, knocks.shape[1], bands + 1).astype(int)
    share = np.add.reduceat(knocks.astype(np.float32), edges[:-1], axis=1) / np.maximum(np.diff(edges), 1)
    for k, quiet in enumerate((share < _MOSTLY).T):
        if quiet.any() and not quiet.all():
            noise[:, k] = np.interp(frames, frames[quiet], noise[quiet, k])
    return noise


def _running(of: np.ufunc, values: NDArray[Any], count: int) -> NDArray[Any]:
    last = len(values) - count + 1
    out = values[:last].copy()
    for i in range(1, count):
        of(out, values[i : last + i], out=out)
    return out
