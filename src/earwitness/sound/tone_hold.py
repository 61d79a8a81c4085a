"""How the cells of a short-time spectrum are held down where something knocks.

What knocks in a band hides what else sounds there, but does not end it: a line that stands before and after the knock
is kept through it, all else is held down to the noise. And what comes back in an even beat on a few neighbouring
frequencies is no knock but a tone that is switched on and off quickly: blows come at no particular times, and motors
and drums, which do keep time, fill the band.
"""

from __future__ import annotations

from functools import reduce
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft
from scipy.ndimage import uniform_filter1d

from earwitness.sound.pulsing import quantile

Cells32 = NDArray[np.float32]
Index = NDArray[np.intp]

_BEFORE = 4  # frames before and after a knock
_LINE_LASTS = 4.0  # times the noise, before and after: in noise alone one cell in ten thousand
_BEAT = slice(6, 26)  # short frames: 0.1 to 0.4 s; slower beats are on for longer than a knock
_KEEPS_TIME = 0.5  # autocorrelation of an even beat; of ten knocks at random, 0.3 at the most
_FEWEST = 0.01  # of the short frames
_RESTS = 0.25  # share of the time in which the band is quiet
_LINE, _ONE_LINE = 5, 0.8  # short bins that hold a line, and how much of its band's power they hold at least


def hold_knocks(over: Cells32, knocks: NDArray[np.bool_], band: NDArray[np.intp]) -> Cells32:
    """Hold the cells of knocks down to the noise, in place; a line to its mean before or after, the lesser.

    Parameters
    ----------
    over : (frames, bins) cells over their noise [1].
    knocks : (frames, bands) where something knocks [yes or no].
    band : (bins,) the band of each bin, rising [index].
    """
    if not knocks.any():
        return over
    edges = np.searchsorted(band, np.arange(knocks.shape[1] + 1))
    bands, turns = np.nonzero(np.diff(knocks, axis=0, prepend=False, append=False).T)
    of, start, stop = bands[::2], turns[::2], turns[1::2]
    frames, share = _beside(of, start, stop, len(over))
    each = np.searchsorted(of, np.arange(knocks.shape[1] + 1))
    for k in np.flatnonzero(np.diff(each)):
        near, own = over[:, edges[k] : edges[k + 1]], slice(each[k], each[k + 1])
        lasting = (share[:, own, None] @ near[frames[:, own]])[:, :, 0].min(axis=0)
        most = np.where(lasting > _LINE_LASTS, lasting, np.float32(1.0))
        held = np.flatnonzero(knocks[:, k])
        near[held] = np.minimum(near[held], np.repeat(most, (stop - start)[own], axis=0))
    return over


def _beside(of: Index, start: Index, stop: Index, count: int) -> tuple[Index, Cells32]:
    """(2, knocks, 4) the frames before and after each knock, up to the next one in its band, and what each of them
    counts in their mean; 0 where there is none."""
    new = np.diff(of, prepend=-1, append=-1) != 0
    before = np.where(new[:-1], 0, np.roll(stop, 1))
    after = np.where(new[1:], count, np.roll(start, -1))
    first = np.stack([np.maximum(before, start - _BEFORE), stop])
    last = np.stack([start, np.minimum(after, stop + _BEFORE)])
    frames = first[..., None] + np.arange(_BEFORE)
    share = (frames < last[..., None]) / np.maximum(last - first, 1)[..., None]
    return np.minimum(frames, count - 1), share.astype(np.float32)


def band_powers(short: Cells32, edges: NDArray[np.intp]) -> Cells32:
    """(short frames, bands) the sum of each band.

    Parameters
    ----------
    short : (short frames, short bins) power [full scale² / Hz].
    edges : (bands + 1,) first short bin of each band, and the end of the last [index].
    """
    return np.stack([short[:, low:high].sum(axis=1) for low, high in pairwise(edges)], axis=1)


def switched_bands(short: Cells32, powers: Cells32, edges: NDArray[np.intp]) -> NDArray[np.bool_]:
    """(bands,) in which a tone is switched on and off quickly, in an even beat.

    Parameters
    ----------
    short : (short frames, short bins) power [full scale² / Hz].
    powers : (short frames, bands) the sum of each band.
    edges : (bands + 1,) first short bin of each band, and the end of the last [index].
    """
    found = np.zeros(len(edges) - 1, bool)
    usual = quantile(powers, _RESTS)
    clear = powers > 4 * usual
    often = np.flatnonzero(clear.sum(axis=0) >= max(_FEWEST * len(powers), 8))
    level = np.log(np.maximum(powers[:, often] / (2 * usual[often]), 1))
    level -= uniform_filter1d(level, _BEAT.stop, axis=0, mode="constant")
    size = next_fast_len(2 * len(level), real=True)
    course = irfft(np.abs(rfft(level, size, axis=0)) ** 2, size, axis=0)[: _BEAT.stop]
    for k in often[course[_BEAT].max(axis=0) >= _KEEPS_TIME * course[0]]:
        low, high = edges[k], edges[k + 1]
        lines = reduce(np.add, (short[:, low + i : high - _LINE + 1 + i] for i in range(_LINE)))
        share = lines.max(axis=1, initial=0) / powers[:, k]
        found[k] = bool(quantile(share[clear[:, k]], 0.5) > _ONE_LINE)
    return found
