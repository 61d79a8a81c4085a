"""Where many lines stand side by side at once: voices, whose harmonics fill two kilohertz with a dozen of them.

An emitter has one tone, or a few, and moves through at most some hundred hertz within 32 ms; what has a line in most
quarters of a kilohertz at the same time is somebody who speaks. A voice hides an emitter as a knock does, and its lines
come and go as an emitter's do.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter, uniform_filter1d

from earwitness.sound.pulsing import quantile

Cells32 = NDArray[np.float32]

_BLOCK, _BLOCKS, _MOST = 8, 9, 4.5  # short bins: 250 Hz; so many blocks, over 2 kHz; a line in more of them than these
_BAND, _QUIET = 8, 0.35  # blocks over which the noise of the moment is told, from the quieter part of their cells
_STANDS_OUT = 5.0  # times the noise of its moment: in noise alone one cell in 150
_BESIDE, _VALLEY = 2, 4.0  # 6 dB over what lies so many bins to either side: noise and what is swept seldom fall so far
_USUAL = 0.7  # lines that are there for more of the time are a machine's
_FRAMES = 5  # and two to either side: a syllable begins and ends softly


def crowded(short: Cells32, frames: int) -> NDArray[np.bool_]:
    """(frames, bands of 250 Hz) where so many lines stand within 2 kHz.

    Parameters
    ----------
    short : (short frames, short bins) cells over the noise's spectrum [1].
    frames : how many long frames there are: each has seven short ones, two apart.
    """
    blocks = short.shape[1] // _BLOCK
    cells = short[:, : blocks * _BLOCK]
    crowd = _in_most(cells > _STANDS_OUT)
    maybe = crowd.any(axis=1)  # in noise alone hardly ever
    if maybe.any():
        moment = _over_moment(cells[maybe])
        lines = _lines(moment)
        crowd[maybe] = _in_most(lines)
        if crowd.any():
            lines &= moment > _STANDS_OUT * quantile(_over_moment(cells[::4]), _USUAL).astype(np.float32)
            crowd[maybe] = _in_most(lines)
    if not crowd.any():
        return np.zeros((frames, crowd.shape[1]), bool)
    within = np.minimum(2 * np.arange(frames)[:, None] + np.arange(7), len(short) - 1)
    return np.asarray(maximum_filter(crowd[within].any(axis=1), (_FRAMES, 2 * _BLOCKS + 1)))


def over_bins(crowd: NDArray[np.bool_], count: int) -> NDArray[np.bool_]:
    """(frames, count) the same for so many bins or bands over the same frequencies.

    Parameters
    ----------
    crowd : (frames, bands) as of `crowded` [yes or no].
    count : how many.
    """
    return crowd[:, np.arange(count) * crowd.shape[1] // count]


def _in_most(there: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """(short frames, blocks) whether there is one in most of the blocks around."""
    some = (np.ascontiguousarray(there).view(np.uint64) != 0).astype(np.float32)  # of eight bytes at once
    return np.asarray(uniform_filter1d(some, _BLOCKS, axis=1, mode="constant") * _BLOCKS > _MOST)


def _over_moment(cells: Cells32) -> Cells32:
    """Cells over the noise of their moment in bands of 2 kHz, where that is louder than usual: what is let off or
    knocks has no lines."""
    bands = max(1, cells.shape[1] // (_BAND * _BLOCK))
    edges = np.linspace(0, cells.shape[1], bands + 1).astype(int)
    noise = np.empty((len(cells), bands), np.float32)
    for k, (low, high) in enumerate(pairwise(edges)):
        noise[:, k] = np.sort(cells[:, low:high], axis=1)[:, int(_QUIET * (high - low))]
    return np.asarray(cells / np.repeat(np.maximum(noise / np.float32(-np.log(1 - _QUIET)), 1), np.diff(edges), axis=1))


def _lines(cells: Cells32) -> NDArray[np.bool_]:
    """Where a cell stands out of its moment, and of those beside it."""
    last = cells.shape[1] - _BESIDE
    inner = cells[:, _BESIDE:last]
    found = np.zeros(cells.shape, bool)
    found[:, _BESIDE:last] = (
        (inner > _STANDS_OUT)
        & (inner > cells[:, _BESIDE - 1 : last - 1])
        & (inner >= cells[:, _BESIDE + 1 : last + 1])
        & (inner > _VALLEY * cells[:, : last - _BESIDE])
        & (inner > _VALLEY * cells[:, 2 * _BESIDE :])
    )
    return found
