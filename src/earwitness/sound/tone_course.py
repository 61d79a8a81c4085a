"""One candidate for a tone, followed along a sweep: how far it surely rises over what may be left of it elsewhere.

The course of a box is the mean of log(1 + cell/4) in it, its noise taken from boxes beside it, over a window that holds
a whole beat. What counts is the rise of the tone itself that can be relied on: the least that its top can be, given the
looks, over the most that may remain of it elsewhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.pulsing import quantile, running_mean, running_quantile
from earwitness.sound.tone_beat import beat_depth, beat_period, short_course
from earwitness.sound.tone_cells import LONG_HOP_S, SOFT, Cells32, ToneCells
from earwitness.sound.tone_search import BIN_WIDTH, LEAST_SPREAD, OVERLAP, Box, chance_deviate
from earwitness.sound.tone_swept import swept_course

Array = NDArray[np.float64]

RESTS = 0.15  # share of the time in which a tone that comes and goes is least
_DRIFT_BINS = 6
_KNOCKS = {0.4: 5.0, 1.0: 15.0}  # depth within so many seconds: on for a fifth of the time: 4; knocks are shorter
_KNOCK_DB = -3.0  # what a rise of knocks counts
# a tone whose beat is not known may be silent for so long; one that runs through all frequencies is out of hearing for
# less, or it would not be followed
_UNSURE_BEAT_S, _TURNS_S = 1.5, 0.6
_CLEAR = 0.48  # nats over the noise
_AUDIBLE = {True: 0.23, False: 0.05}  # from here on a line, or a swept tone, may show its beat
_POSITIONS = 100  # looks for each independent one: three lengths, three widths, and boxes that overlap
_COLOUR = 0.044  # nats: noise changes its colour along a sweep by a decibel, which a wide box takes for a tone
_EVERY = 3  # frames
_SMOOTHED = 1.65  # frames overlap and are smoothed: their means spread by so much more than single ones would
_SWEPT_BINS = 38  # 300 Hz
_BOUND = 2.0  # standard errors
_NOTHING_LEFT, _LEAST_HOLDS_DB = 0.01, -20.0
_TINY = 1e-20
_QUICK, _SLOW = 3, 47  # frames: what is a beat, and what is the way past a place


@dataclass(frozen=True)
class Course:
    """The log of one box along the recording, what it is in noise, and what its rise amounts to.

    box, hz : the box and its middle
    log, noise_log : nats, frame by frame, and in noise
    short : its strongest line in the short frames, and noise there, with what it may run over beside it
    beat_s : its beat; 0 where none is found
    within, top : frames of the window in which it is loudest, and their middle
    deviate : standard normal deviate of its rise, looks taken off
    rise_db : the assured rise, with the noise reckoned in the way that makes it less; less for knocks
    at_most_db : the same, whichever way the noise is reckoned
    holds_db : the least of it that is surely left elsewhere, over the most it may be at its top; -20: maybe nothing
    raised : share of the sweep in which it stands at more than half of its height
    """

    box: Box
    hz: float
    log: Array
    noise_log: float
    short: tuple[Array, Array]
    beat_s: float
    top: int
    within: slice
    deviate: float
    rise_db: float
    at_most_db: float
    holds_db: float
    raised: float

    @property
    def quick(self) -> Array:
        """Its beat alone, of unit length."""
        beat = running_mean(self.log, _QUICK) - running_mean(self.log, _SLOW)
        return np.asarray(beat / (np.linalg.norm(beat) + _TINY))


def follow(cells: ToneCells, box: Box) -> Course:
    """The course of a box along the whole recording.

    Parameters
    ----------
    cells : the recording's cells.
    box : where a tone may come and go.
    """
    if box.swept:
        (log, *beside), noise_log, spread = swept_course(cells, box)
    else:
        (log, noise_log, spread), beside = _log_course(cells, box, _DRIFT_BINS), []
    if box.line and running_mean(log, box.frames).max() - noise_log < _CLEAR:
        log, noise_log, spread = _log_course(cells, box, 0)
    audible = running_mean(log, box.frames).max() - noise_log > _AUDIBLE[box.line]
    short = short_course(cells, around(cells, box))
    beat_s = beat_period(*(short_course(cells, box) if box.wide else short)) if audible else 0.0
    frames = len(log)
    window = whole_beats(float(box.frames), beat_s, frames / 2)
    mean = _over_window(log, window)
    sure = max(spread, LEAST_SPREAD) / np.sqrt(window)
    looks = chance_deviate(
        _POSITIONS * frames / window * cells.over.shape[1] / box.width,
        window / OVERLAP * max(1.0, box.width / BIN_WIDTH),
    )
    colour = _COLOUR if box.wide else 0.0
    floor = np.expm1(noise_log)
    least = np.expm1(mean - looks * sure - colour) - floor
    anywhere = reduce(np.maximum, (_over_window(other, window) for other in beside), mean)
    most = np.maximum(np.expm1(anywhere) - floor, 0) + sure * np.exp(noise_log)
    # a tone is not weaker because air is let off over it, nor louder because all fades in with it
    noise = np.exp(_over_window(np.log(noise_of(cells, box)), window))
    believed = least * np.minimum(noise, 1.0)
    gap = round((0.5 * beat_s if beat_s else _TURNS_S if box.steep else _UNSURE_BEAT_S) / LONG_HOP_S)
    top = int(np.argmax(believed))
    low, high = sorted(_rise_db(float(at[top]), over, gap) for at, over in ((least, most), (believed, most * noise)))
    closed = running_quantile(mean, gap, 1.0)
    usual = max(float(quantile(closed, RESTS)), noise_log)
    middle = top + round(window / 2)
    if high > 0:
        share = _no_knocks(short, middle, beat_s)
        low, high = (min(rise, rise * share + _KNOCK_DB * (1 - share)) for rise in (low, high))
    within = slice(top, top + max(1, round(window)))
    deviate = float((mean[top] - colour - usual) / sure - looks)
    raised = float((mean - noise_log > 0.5 * (mean[top] - noise_log)).mean())
    hz = float(cells.hz[box.bins.start] + cells.hz[box.bins.stop - 1]) / 2
    surely = (np.expm1(mean[top] + _BOUND * sure) - floor, np.expm1(closed - _BOUND * sure) - floor)
    holds = _holds_db(*surely, noise, top)
    return Course(box, hz, log, noise_log, short, beat_s, middle, within, deviate, low, high, holds, raised)


def whole_beats(frames: float, beat_s: float, most: float = float("inf")) -> float:
    """So many frames or a little more, that hold a whole number of beats: a mean over one beat and a half rises and
    falls with the beat itself.

    Parameters
    ----------
    frames : at least so many, if that leaves no more than `most` [frames].
    beat_s : the beat, 0 where there is none [s].
    most : not more than these, unless a beat is longer [frames].
    """
    beat = beat_s / LONG_HOP_S
    if beat <= 1:
        return min(frames, most)
    return float(min(max(min(np.ceil(frames / beat), most // beat), 1) * beat, max(most, 1)))


def noise_of(cells: ToneCells, box: Box) -> Array:
    """(frames,) the noise's course in the band of 2 kHz in which a box lies, 1 in its middle."""
    bands = cells.noise.shape[1]
    return cells.noise[:, min(box.bins.start * bands // len(cells.hz), bands - 1)].astype(np.float64)


def around(cells: ToneCells, box: Box) -> Box:
    """With what a swept tone may run over beside it: leaving a box is no silence."""
    if not box.wide:
        return box
    reach = slice(max(0, box.bins.start - _SWEPT_BINS), min(box.bins.stop + _SWEPT_BINS, cells.over.shape[1]))
    return replace(box, bins=reach)


def _no_knocks(short: tuple[Array, Array], middle: int, beat_s: float) -> float:
    """How far its beat may be an emitter's, 0 to 1: knocks are shorter than any part of a beat."""
    share = 1.0
    for reach_s, deepest in _KNOCKS.items():
        depth = beat_depth(*short, middle, max(reach_s, 0.5 * beat_s))
        share *= min(1.0, deepest / max(depth, 1e-9)) ** 2
    return share


def _rise_db(least: float, most: Array, gap: int) -> float:
    """The least at the top over the most in the parts of the sweep where it rests, gaps of the beat closed."""
    rest = max(float(quantile(running_quantile(most, gap, 1.0), RESTS)), _TINY)
    return 10 * math.log10(max(least / rest, 1e-3))


def _holds_db(most: float, least: Array, noise: Array, top: int) -> float:
    """With the noise reckoned in the way that makes it less."""
    left = min(float(quantile(least, RESTS)), float(quantile(least * noise, RESTS)) / min(float(noise[top]), 1.0))
    return 10 * math.log10(left / most) if most > 0 and left > _NOTHING_LEFT * most else _LEAST_HOLDS_DB


def _over_window(values: Array, frames: float) -> Array:
    """Running means over a window that need not be a whole number of frames."""
    whole, part = int(frames), frames % 1
    total = np.concatenate([[0.0], values, [0.0]]).cumsum()
    last = int(len(values) - frames) + 1
    sums = (1 - part) * total[whole : whole + last] + part * total[whole + 1 : whole + 1 + last] - total[:last]
    return np.asarray(sums / frames)


def _log_course(cells: ToneCells, box: Box, drift: int) -> tuple[Array, float, float]:
    """The box frame by frame, and the mean and spread of boxes beside it, the quieter half of them believed, which
    every third frame tells as well.

    A clear line is followed within the drift, one that is faint would drown in the noise of so many bins.
    """
    over, width = cells.over, box.width
    drift *= box.line
    lows = [box.bins.start + turn * (width + 2 * drift + 4) - drift for turn in (0, 1, -1, 2, -2, 3, -3)]
    (low, high), *spans = [(low, low + width + 2 * drift) for low in lows]
    own = over[:, max(0, low) : high]
    log = _course(_logs(np.concatenate([own[:1], own, own[-1:]]), 1, drift), drift).astype(np.float64)
    spans = [one for one in spans if one[0] >= 0 and one[1] < over.shape[1]]
    if not spans:
        return log, float(np.median(log)), float(log.std())
    first = min(low for low, _ in spans)
    logs = _logs(over[:, first : max(high for _, high in spans)], _EVERY, drift)
    beside = np.stack([_course(logs[low - first : high - first - (drift > 0)], drift) for low, high in spans])
    quiet = beside[np.argsort(beside.mean(axis=1), kind="stable")[: max(1, len(beside) // 2)]]
    heard = quiet[:, cells.heard(box.bins)[1:-1:_EVERY]]
    return log, float(heard.mean()), float(heard.std()) * _SMOOTHED


def _logs(over: Cells32, every: int, drift: int) -> Cells32:
    """(bins, frames - 2) the log of the cells, smoothed over three frames: that of a beat of 4 Hz has harmonics up to
    the frames' rate; and of two neighbouring bins, where a line may drift from one to the other."""
    smooth = over[:-2:every] + 2 * over[1:-1:every] + over[2::every]
    if drift:
        smooth = 0.5 * (smooth[:, 1:] + smooth[:, :-1])
    return np.log1p(np.ascontiguousarray(smooth.T) * np.float32(0.25 / SOFT))


def _course(logs: Cells32, drift: int) -> Cells32:
    """(frames,) the loudest of the bins that a line may drift through, the mean of others."""
    return np.asarray(logs.max(axis=0) if drift else logs.mean(axis=0))
