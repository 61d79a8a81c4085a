"""How the cells of a short-time spectrum are held down where something knocks.

What knocks in a band hides what else sounds there, but does not end it: a line that stands before and after the knock
is kept through it, all else is held down to the noise. And what comes back in an even beat on a few neighbouring
frequencies is no knock but a tone that is switched on and off quickly: blows come at no particular times, and motors
and drums, which do keep time, fill the band.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Cells32 = NDArray[np.float32]

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
    for k in np.flatnonzero(knocks.any(axis=0)):
        bins = slice(int(np.searchsorted(band, k)), int(np.searchsorted(band, k, "right")))
        edges = np.flatnonzero(np.diff(knocks[:, k].astype(np.int8), prepend=0, append=0)).reshape(-1, 2)
        nexts = [*edges[1:, 0], len(over)]
        ended = 0
        for (start, stop), following in zip(edges, nexts, strict=True):
            before = over[max(ended, start - _BEFORE) : start, bins]
            after = over[stop : min(following, stop + _BEFORE), bins]
            held = over[start:stop, bins]
            if len(before) and len(after):
                lasting = np.minimum(before.mean(axis=0), after.mean(axis=0))
                np.minimum(held, np.where(lasting > _LINE_LASTS, lasting, np.float32(1.0)), out=held)
            else:
                np.minimum(held, np.float32(1.0), out=held)
            ended = stop
    return over


def switched_bands(short: Cells32, edges: NDArray[np.intp]) -> NDArray[np.bool_]:
    """(bands,) in which a tone is switched on and off quickly, in an even beat.

    Parameters
    ----------
    short : (short frames, short bins) power [full scale² / Hz].
    edges : (bands + 1,) first short bin of each band, and the end of the last [index].
    """
    found = np.zeros(len(edges) - 1, bool)
    for k, (low, high) in enumerate(pairwise(edges)):
        cells = short[:, low:high]
        power = cells.sum(axis=1)
        usual = np.quantile(power, _RESTS)
        loud = np.flatnonzero(power > 4 * usual)
        if len(loud) < max(_FEWEST * len(power), 8):
            continue
        level = np.log(np.maximum(power / (2 * usual), 1)).astype(np.float64)
        level -= np.convolve(level, np.full(_BEAT.stop, 1 / _BEAT.stop), "same")
        spectrum = np.abs(np.fft.rfft(level, 2 * len(level))) ** 2
        course = np.fft.irfft(spectrum)[: _BEAT.stop]
        if course[_BEAT].max() < _KEEPS_TIME * course[0]:
            continue
        total = np.cumsum(cells[loud], axis=1)
        line = (total[:, _LINE:] - total[:, :-_LINE]).max(axis=1) / total[:, -1] if high - low > _LINE else 1.0
        found[k] = bool(np.median(line) > _ONE_LINE)
    return found
