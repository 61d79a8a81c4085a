"""Straight lines in a spectrogram: how much each slanted line through a cell holds.

A tone that runs over some hundred hertz several times a second spreads over all cells of a long frame and is lost
there; within 32 ms it keeps to a few, and from frame to frame it moves on evenly. So cells are added up along straight
lines of several slopes through 128 ms, and the line that holds the most counts (a Radon transform of the spectrogram:
Wood & Barry 1994). One that runs through kilohertz in a tenth of a second is smeared over many cells, but is in all of
the line's frames.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

Cells32 = NDArray[np.float32]
Steps = NDArray[np.uint16]

_BLOCK, _AROUND = 8, 9  # short bins, and so many times as many: 2 kHz
_EULER = 0.5772  # the mean log of an exponential lies by so much under the log of its mean
_REACH = 3  # short frames to either side
_RISES = (0, 1, 3, 6, 9, 12)  # bins that a line rises or falls in as many frames: up to 7.8 kHz in a second
_STEEP = (16, 24, 32)  # up to 21 kHz in a second; what runs so fast through a band is as short there as a knock
_AT_MOST = 1.0  # nats: a knock is in two or three frames of a steep line, and may not fill it
_STEPS, _LOUDEST = 500, 6e7  # a nat in whole numbers, half as long to read; no seven cells overflow these


def slanted_lines(
    cells: Cells32, knocks: NDArray[np.bool_], *, soft: float, noise_log: float
) -> tuple[Cells32, Cells32, NDArray[np.intp]]:
    """(frames, short bins) the most that any straight line through the middle of each seven short frames, two apart,
    holds: the mean of log(1 + cell/soft), seven short frames being one long frame; (frames,) the most that any
    steep line holds, wherever it runs; and (frames,) the bin in its middle.

    Each cell is taken over the mean of the 2 kHz around it in its own frame: what all the band does together, an
    outlet's hiss, cancels. Knocks are held down to the noise; along steep lines no cell counts for much.

    Parameters
    ----------
    cells : (short frames, short bins) cells over the noise's spectrum, 8 short bins or more [1].
    knocks : (short frames, short bins) where something knocks [yes or no].
    soft : times the noise from where on a cell counts by its logarithm [1].
    noise_log : mean of log(1 + cell/soft) in noise [nats].
    """
    usual = np.exp(_around(np.log(cells)) + np.float32(_EULER + np.log(soft)))
    bands = np.minimum(np.arange(cells.shape[1]) // _BLOCK, usual.shape[1] - 1)
    over = cells / usual[:, bands]
    logs = np.log1p(np.minimum(over, np.float32(_LOUDEST), out=over), out=over)
    logs *= np.float32(_STEPS)
    steps, noise = np.rint(logs, out=logs).astype(np.uint16), round(noise_log * _STEPS)
    quick = _along(np.minimum(steps, round(_AT_MOST * _STEPS)), _STEEP, noise)
    steps[knocks] = noise
    most = _along(steps, _RISES, noise)
    where = quick.argmax(axis=1)
    nats = np.float32(1 / (_STEPS * (2 * _REACH + 1)))
    return np.maximum(most, quick) * nats, quick[np.arange(len(quick)), where] * nats, where


def _around(flat: Cells32) -> Cells32:
    """(short frames, blocks of bins) the mean of the nine blocks around."""
    blocks = flat.shape[1] // _BLOCK
    means = flat[:, : blocks * _BLOCK].reshape(-1, _BLOCK) @ np.full(_BLOCK, 1 / _BLOCK, np.float32)
    return means.reshape(-1, blocks) @ uniform_filter1d(np.eye(blocks, dtype=np.float32), _AROUND, axis=0)


def _along(cells: Steps, rises: Sequence[int], noise: int) -> Steps:
    """The most that a line of any of these slopes, up or down, holds in all its frames."""
    frames, bins = (len(cells) - 2 * _REACH + 1) // 2, cells.shape[1]
    wide = max(rises)
    width = bins + wide
    padded = np.full((2, frames + _REACH + 2, width), noise, np.uint16)  # even and odd frames, row after row
    for first in (0, 1):
        rows = cells[first : 2 * (frames + _REACH) : 2]
        padded[first, : len(rows), wide:] = rows
    even, odd = padded.reshape(2, -1)
    last = frames * width - wide  # a line that leaves its row finds the noise between it and the next
    most = np.zeros((frames, width), np.uint16)
    found = most.ravel()[:last]
    for rise in sorted({sign * r for r in rises for sign in (1, -1)}):
        at = [wide + round(rise * (frame - _REACH) / _REACH) for frame in range(_REACH)]
        later = 2 * width + round(4 * rise / _REACH)  # three frames before a middle are those after an earlier one
        half = even[at[0] :][: last + later] + odd[at[1] :][: last + later]
        half += even[width + at[2] :][: last + later]
        np.maximum(found, half[:last] + half[later:], out=found)
    found += odd[width + wide :][:last]
    return most[:, :bins]
