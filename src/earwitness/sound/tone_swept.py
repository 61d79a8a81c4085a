"""Where a swept tone may come and go: it fills no one line, but in each short frame it stands out of its band.

A tone that runs over some hundred hertz several times a second spreads over all cells of a long frame and is lost
there; within 32 ms it keeps to a few. So in each short frame the loudest cell of a band is held against the mean of
the band (both as logarithms). What all the band does together, an outlet's hiss, a change of the noise's colour,
cancels; what lasts less than 64 ms, a knock, is taken out by a running minimum and maximum (an opening, Serra 1982).
The mean of that over a box of time is held against the same band's other times, the looks taken off (Cramer 1946,
28.6).
"""

from __future__ import annotations

from functools import reduce

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.tone_search import (
    LONG_HOP_S,
    SHORT_HOP_S,
    Box,
    Cells32,
    ToneCells,
    chance_deviate,
)

Array = NDArray[np.float64]

_BANDS = (16, 32)  # short bins: 0.5 and 1 kHz
_LASTS = 4  # short frames: what is shorter is a knock
_BOX_FRAMES = (32, 64, 128)  # short frames: 0.5 to 2 s
_EVERY = 8  # short frames from box to box
_USUAL = 0.6  # a place is louder than its band is in this part of the time
_CANDIDATES = 2  # of each width
_CORRELATED = 4.0  # short frames that tell as much as one, once opened
_ALIKE = float(np.log(2.0))  # where the loudest cell stands no higher than noise has it: one to one
_SMOOTHED = 1.54  # what that makes of the spread of long frames' means


def swept_boxes(cells: ToneCells) -> list[Box]:
    """The boxes in which a tone stands out of its band the least likely by chance, no two at one frequency.

    Parameters
    ----------
    cells : the short-time spectra of a recording.
    """
    found: list[Box] = []
    for width in (w for w in _BANDS if w <= cells.short.shape[1] // 3):
        step = width // 4
        stands = _opened(_over_band(cells.flat, width, step))
        spread = float(np.median(stands.std(axis=0)))
        total = np.pad(np.cumsum(stands, axis=0, dtype=np.float64), ((1, 0), (0, 0)))
        for long in (n for n in _BOX_FRAMES if n <= len(stands) // 3):
            means = ((total[long:] - total[:-long]) / long)[::_EVERY]
            usual = round(_USUAL * (len(means) - 1))
            rest = np.partition(means, usual, axis=0)[usual]
            degrees = long / _CORRELATED
            looks = chance_deviate(len(stands) / long * stands.shape[1], degrees)
            best = (means.max(axis=0) - np.maximum(rest, np.median(rest))) / (spread / np.sqrt(degrees)) - looks
            for _ in range(_CANDIDATES):
                column = int(np.argmax(best))
                middle = int(np.argmax(means[:, column])) * _EVERY + long / 2
                found.append(_box(cells, float(best[column]), middle, column * step, width, long))
                best[max(0, column - 4) : column + 5] = -np.inf
    found.sort(key=lambda box: -box.deviate)
    kept: list[Box] = []
    for box in found:
        if all(box.bins.stop < k.bins.start or box.bins.start > k.bins.stop for k in kept):
            kept.append(box)
    return kept[:_CANDIDATES]


def swept_course(cells: ToneCells, box: Box) -> tuple[list[Array], float, float]:
    """How far the loudest cell stands over its band, for each long frame, over the same in the bands beside it, the
    quieter half of them believed: of the box, and of bands that reach half a width to either side (a line that drifts
    out of the box has not faded); with the mean and spread of noise."""
    low = int(np.searchsorted(cells.short_hz, cells.hz[box.bins.start]))
    width = int(np.searchsorted(cells.short_hz, cells.hz[box.bins.stop - 1])) - low
    last = cells.short.shape[1] - width
    lows = [low, max(0, low - width // 2), min(last, low + width // 2)]
    lows += [low + turn * width for turn in (1, -1, 2, -2, 3, -3) if 0 <= low + turn * width <= last]
    bands = [cells.flat[:, at : at + width] for at in lows]
    stands = _opened(np.stack([band.max(axis=1) - band.mean(axis=1) for band in bands], axis=1)).T
    frames = np.minimum(round(LONG_HOP_S / SHORT_HOP_S) * np.arange(len(cells.over)) + 3, len(stands[0]) - 2)
    courses = [(0.25 * (s[frames - 1] + s[frames + 1]) + 0.5 * s[frames]).astype(np.float64) for s in stands]
    quiet = np.stack(sorted(courses[3:], key=lambda course: float(course.mean()))[: max(1, (len(courses) - 3) // 2)])
    return [course - quiet.mean() + _ALIKE for course in courses[:3]], _ALIKE, float(quiet.std()) * _SMOOTHED


def _box(cells: ToneCells, deviate: float, middle: float, low: int, width: int, long: int) -> Box:
    """In frames and bins of the long spectra."""
    ratio = round(LONG_HOP_S / SHORT_HOP_S)
    first = int(np.searchsorted(cells.hz, cells.short_hz[low]))
    last = int(np.searchsorted(cells.hz, cells.short_hz[low + width - 1])) + 1
    return Box(deviate, round(middle / ratio), slice(first, last), long // ratio, swept=True)


def _over_band(logs: Cells32, width: int, step: int) -> Cells32:
    """(frames, bands) the loudest cell's log over the mean log of its band; a band is a whole number of steps."""
    steps = logs[:, : logs.shape[1] // step * step].reshape(len(logs), -1, step)
    loudest, total = steps.max(axis=2), steps.sum(axis=2)
    last, beside = loudest.shape[1] - width // step + 1, range(1, width // step)
    return np.asarray(
        reduce(np.maximum, (loudest[:, i : last + i] for i in beside), loudest[:, :last])
        - sum((total[:, i : last + i] for i in beside), total[:, :last]) / np.float32(width)
    )


def _opened(stands: Cells32) -> Cells32:
    beside = _LASTS - 1
    padded = np.pad(stands, ((beside, beside), (0, 0)), mode="edge")
    for of in (np.minimum, np.maximum):
        out = padded[: len(padded) - beside].copy()
        for i in range(1, _LASTS):
            of(out, padded[i : len(padded) - beside + i], out=out)
        padded = out
    return padded
