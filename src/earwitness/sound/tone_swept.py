"""Where a swept tone may come and go: for an eighth of a second it keeps to a slanted line (`tone_lines`).

The mean of the loudest line of a band over a box of time is held against the same band's other times, the looks taken
off (Cramer 1946, 28.6). What runs through kilohertz in a tenth of a second has left a band before it is told from a
knock there; it is looked for, and followed, through all frequencies at once.
"""

from __future__ import annotations

from functools import reduce

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.pulsing import quantile, running_mean
from earwitness.sound.tone_cells import SOFT, Cells32, ToneCells
from earwitness.sound.tone_search import LEAST_SPREAD, Box, chance_deviate

Array = NDArray[np.float64]

_BANDS = (16, 32, 64)  # short bins: 0.5, 1 and 2 kHz
_BOX_FRAMES = (16, 32, 64)  # 0.5 to 2 s
_EVERY = 4  # frames from box to box
_USUAL = 0.6  # a place is louder than its band is in this part of the time
_CANDIDATES = 2  # of each width
_CORRELATED = 2.4  # frames that tell as much as one
_SELDOM, _STRAYS = 0.05, 0.05  # in a twentieth of noise the loudest steep line holds so many nats less than usual
_STEEP_LINE = 0.6  # nats: in noise the loudest of a moment seldom holds so much
_STEEP_FRAMES = 9  # a note that begins is in four
_STEEP_REACH, _NOISE_HZ = 10, 200.0  # short bins that it crosses in 32 ms, to either side
_FILLS_ITS_LINE = 0.7  # nats: each cell is four times the noise; of voices, keys and music no half second holds more


def swept_boxes(cells: ToneCells) -> list[Box]:
    """The boxes in which a tone stands out of its band the least likely by chance, no two at one frequency.

    Parameters
    ----------
    cells : the short-time spectra of a recording.
    """
    found: list[tuple[float, float, int, int, int]] = []
    most = cells.lines.shape[1] // 12 * 4  # a third, so that there is as much beside it
    for width in sorted({min(w, most) for w in _BANDS if most}):
        step = width // 4
        loudest = _loudest(cells.lines, width, step)
        middles = np.arange(loudest.shape[1]) * step + width // 2
        loudest = _as_usual(loudest, cells.crowd[:, middles * cells.crowd.shape[1] // cells.lines.shape[1]])
        spread = max(float(quantile(loudest.std(axis=0), 0.5)), LEAST_SPREAD)
        whole = len(loudest) // _EVERY * _EVERY
        means, long = reduce(np.add, (loudest[i:whole:_EVERY] for i in range(_EVERY))) / np.float32(_EVERY), _EVERY
        while 2 * long <= min(_BOX_FRAMES[-1], len(loudest) // 3):
            means, long = (means[: -long // _EVERY] + means[long // _EVERY :]) / 2, 2 * long
            if long not in _BOX_FRAMES:
                continue
            usual = round(_USUAL * (len(means) - 1))
            rest = np.partition(means, usual, axis=0)[usual]
            degrees = long / _CORRELATED
            looks = chance_deviate(len(loudest) / long * loudest.shape[1], degrees)
            best = (means.max(axis=0) - np.maximum(rest, quantile(rest, 0.5))) / (spread / np.sqrt(degrees)) - looks
            for _ in range(_CANDIDATES):
                column = int(np.argmax(best))
                middle = int(np.argmax(means[:, column])) * _EVERY + long / 2
                found.append((float(best[column]), middle, column * step, width, long))
                best[max(0, column - 4) : column + 5] = -np.inf
    kept: list[tuple[float, float, int, int, int]] = []
    for one in sorted(found, reverse=True):
        low, width = one[2:4]
        if all(low + width <= k[2] or low >= k[2] + k[3] for k in kept):
            kept.append(one)
    return [_box(cells, *one) for one in kept[:_CANDIDATES]]


def steep_boxes(cells: ToneCells) -> list[Box]:
    """The box over all frequencies in which a steep line stands out of other times, if there is one.

    Parameters
    ----------
    cells : the short-time spectra of a recording.
    """
    course = _seen(cells, cells.steepest)
    rest = float(quantile(course, _SELDOM)) + _STRAYS
    found = []
    for long in (n for n in _BOX_FRAMES if n <= len(course) // 3):
        means = np.convolve(course, np.full(long, 1 / long), "valid")
        top = int(np.argmax(means))
        if means[top] > _FILLS_ITS_LINE:
            looks = chance_deviate(len(course) / long, long / _CORRELATED)
            deviate = (means[top] - rest) / _STRAYS * np.sqrt(long / _CORRELATED) - looks
            whole = slice(0, len(cells.hz))
            found.append(Box(float(deviate), top + long // 2, whole, long, swept=True, steep=True))
    return sorted(found, key=lambda box: -box.deviate)[:1]


def swept_course(cells: ToneCells, box: Box) -> tuple[list[Array], float, float]:
    """What the loudest line of a band holds, for each long frame, over the same in the bands beside it, the quieter
    half of them believed: of the box, and of bands that reach half a width to either side (a line that drifts out of
    the box has not faded); with the mean and spread of noise. Of a steep one the tone along it, over noise of 200 Hz.

    Parameters
    ----------
    cells : the short-time spectra of a recording.
    box : as of `swept_boxes` or `steep_boxes`.

    Returns
    -------
    (frames,) each, its own first; then what noise holds, and how much that strays [nats].
    """
    if box.steep:
        return _steep_course(cells)
    low = int(np.searchsorted(cells.short_hz, cells.hz[box.bins.start]))
    width = int(np.searchsorted(cells.short_hz, cells.hz[box.bins.stop - 1])) - low
    last = cells.short.shape[1] - width
    lows = [low, max(0, low - width // 2), min(last, low + width // 2)]
    lows += [low + turn * width for turn in (1, -1, 2, -2, 3, -3) if 0 <= low + turn * width <= last]
    courses = [cells.lines[:, at : at + width].max(axis=1).astype(np.float64) for at in lows]
    heard = cells.heard(box.bins)
    courses = [*_as_usual(np.stack(courses, axis=1), np.repeat(~heard[:, None], len(courses), axis=1)).T]
    beside = sorted(courses[3:], key=lambda course: float(course.mean()))
    quiet = np.stack(beside[: max(1, len(beside) // 2)])[:, heard]
    return courses[:3], float(quiet.mean()), float(quiet.std()) * float(np.sqrt(_CORRELATED))


def _steep_course(cells: ToneCells) -> tuple[list[Array], float, float]:
    """The tone in the middle of the loudest steep line of each moment, if that is more than noise, and the noise of
    200 Hz, over that noise."""
    reach = np.arange(-_STEEP_REACH, _STEEP_REACH + 1)
    bins = np.clip(cells.where[:, None] + reach, 0, cells.short_over.shape[1] - 1)
    frames = np.minimum(2 * np.arange(len(bins)) + 3, len(cells.short_over) - 1)
    added = cells.short_over[frames[:, None], bins].sum(axis=1, dtype=np.float64) - len(reach)
    in_200_hz = added * float(cells.short_hz[1] - cells.short_hz[0]) / _NOISE_HZ
    runs = running_mean(cells.steepest, _STEEP_FRAMES) > _STEEP_LINE
    tone = np.where(runs, np.maximum(in_200_hz, 0), 0)
    course = _seen(cells, np.log1p((1 + tone) / SOFT))
    return [course], float(np.log1p(1 / SOFT)), _STRAYS * float(np.sqrt(_CORRELATED))


def _seen(cells: ToneCells, course: NDArray[np.floating]) -> Array:
    """A course through all frequencies, where a crowd hides it as it else usually is."""
    hidden = np.asarray(cells.crowd.any(axis=1))
    return np.asarray(_as_usual(course[:, None], hidden[:, None])[:, 0], dtype=np.float64)


def _as_usual(courses: NDArray[np.floating], hidden: NDArray[np.bool_]) -> NDArray[np.floating]:
    """(frames, courses) where a crowd hides one, it is as it else usually is: of many lines of noise the loudest is
    louder than noise."""
    if not hidden.any():
        return courses
    seen = np.sort(np.where(hidden, np.inf, courses), axis=0)
    usual = np.take_along_axis(seen, (~hidden).sum(axis=0, keepdims=True) // 2, axis=0)
    return np.where(hidden, np.where(np.isfinite(usual), usual, 0), courses)


def _box(cells: ToneCells, deviate: float, middle: float, low: int, width: int, long: int) -> Box:
    """In bins of the long spectra."""
    first, last = np.searchsorted(cells.hz, cells.short_hz[[low, low + width - 1]])
    return Box(deviate, round(middle), slice(int(first), int(last) + 1), long, swept=True)


def _loudest(lines: Cells32, width: int, step: int) -> Cells32:
    """(frames, bands) the loudest line in each band; a band is a whole number of steps."""
    whole = lines.shape[1] // step * step
    steps = reduce(np.maximum, (lines[:, i:whole:step] for i in range(step)))
    last, beside = steps.shape[1] - width // step + 1, range(1, width // step)
    return np.asarray(reduce(np.maximum, (steps[:, i : last + i] for i in beside), steps[:, :last]))
