"""The beat of a tone, seen in the short frames of its cells: how long it is, and how deep.

An emitter beats, warbles or is swept half a time to nine times a second. What is on for a share d of its beat has a
level whose variance over its squared mean is (1 - d)/d: 1 for half of the time, 4 for a fifth.
"""

from __future__ import annotations

from functools import reduce

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from earwitness.sound.pulsing import quantile, running_mean
from earwitness.sound.tone_cells import LONG_HOP_S, SHORT_HOP_S, ToneCells
from earwitness.sound.tone_search import Box

Array = NDArray[np.float64]

_SLOWEST_S = 1.4  # longest beat
_DRIFT_HZ = 24.0
_NOISE_FRAMES = 9  # over which the noise beside it is read
_TINY = 1e-20


def short_course(cells: ToneCells, box: Box) -> tuple[Array, Array]:
    """The strongest line of a box in the short frames, and what noise alone gives there.

    Parameters
    ----------
    cells : the recording's cells.
    box : the frequencies to look at.

    Returns
    -------
    (short frames,) each [full scale² / Hz].
    """
    step = float(cells.short_hz[1] - cells.short_hz[0])
    drift = _DRIFT_HZ if box.line else 0.0
    low = max(0, int((cells.hz[box.bins.start] - drift - cells.short_hz[0]) / step))
    high = min(int((cells.hz[box.bins.stop - 1] + drift - cells.short_hz[0]) / step) + 1, cells.short.shape[1])
    span = high - low + 3
    tone = cells.short[:, low:high].max(axis=1).astype(np.float64)
    turns = [turn for turn in (1, -1, 2, -2) if 0 <= low + turn * span < cells.short.shape[1] - (high - low)]
    if not turns:
        return tone, np.full(len(tone), float(np.median(tone)))
    lines = np.array([cells.short[:, low + turn * span :][:, : high - low].max(axis=1) for turn in turns], float)
    lines = uniform_filter1d(lines, _NOISE_FRAMES, mode="nearest")
    near = [reduce(np.minimum, lines[[abs(turn) == far for turn in turns]]) for far in {abs(turn) for turn in turns}]
    return tone, np.asarray(sum(near) / len(near))


def beat_depth(tone: Array, beside: Array, top: int, reach_s: float) -> float:
    """Depth of the beat around a moment: variance of the level over its squared mean, noise taken off [1].

    Parameters
    ----------
    tone : (short frames,) the tone with its noise, as of `short_course` [full scale² / Hz].
    beside : (short frames,) the noise [full scale² / Hz].
    top : the moment, in long frames.
    reach_s : how far to look to either side [s].
    """
    near = _near(top, reach_s)
    noise = float(quantile(beside[near], 0.5)) + _TINY
    net = np.maximum(tone[near] - noise, 0.0)
    own = float(net.mean())
    mean = max(own, 0.5 * noise)
    spread = float(net @ net) / len(net) - own**2 - 0.2 * (2 * mean * noise + noise**2)
    return float(max(spread, 0.0) / mean**2)


def beating(
    cells: ToneCells, box: Box, top: int, reach_s: float, *, short: tuple[Array, Array] | None = None
) -> tuple[float, float]:
    """Depth of the beat and wandering of the frequency around a moment.

    Parameters
    ----------
    cells : the recording's cells.
    box : the tone's frequencies.
    top : the moment, in long frames.
    reach_s : how far to look to either side [s].
    short : what `short_course` says of the box, if that was asked before [full scale² / Hz].

    Returns
    -------
    as `beat_depth` [1], and the spread of the strongest line, 15 % to 85 % [Hz].
    """
    tone, beside = short or short_course(cells, box)
    near = _near(top, reach_s)
    strong = np.flatnonzero(tone[near] > 3 * (float(quantile(beside[near], 0.5)) + _TINY))
    wander = 0.0
    if len(strong) >= 8:
        around = np.abs(cells.short_hz - cells.hz[box.bins].mean()) < 600.0
        tops = cells.short_hz[around][np.argmax(cells.short[near][:, around][strong], axis=1)]
        wander = float(quantile(tops, 0.85) - quantile(tops, 0.15))
    return beat_depth(tone, beside, top, reach_s), wander


def _near(top: int, reach_s: float) -> slice:
    """The short frames to either side of a long one."""
    centre, reach = round(top * LONG_HOP_S / SHORT_HOP_S), round(reach_s / SHORT_HOP_S)
    return slice(max(0, centre - reach), centre + reach + 1)


def beat_period(tone: Array, beside: Array) -> float:
    """The first strong peak of the autocorrelation of the level [s], at most 1.4; 0 where there is none.

    Parameters
    ----------
    tone : (short frames,) the tone with its noise, as of `short_course` [full scale² / Hz].
    beside : (short frames,) the noise [full scale² / Hz].
    """
    course = 10 * np.log10(np.maximum(tone - beside, 0.3 * beside) + _TINY)
    course = course - running_mean(course, round(_SLOWEST_S / SHORT_HOP_S))
    longest = min(round(_SLOWEST_S / SHORT_HOP_S), len(course) // 2)
    if longest < 6 or not np.any(course):
        return 0.0
    # each lag over the same stretch, the last `longest` frames left out of the one
    kept = course[: len(course) - longest]
    corrected = np.correlate(course, kept, "valid") / max(float(kept @ kept), _TINY)
    dip = int(np.argmax(corrected < 0.05))
    if dip == 0:
        return 0.0
    inner = corrected[1:-1]
    tops = np.flatnonzero((inner >= corrected[:-2]) & (inner > corrected[2:])) + 1
    tops = tops[tops > dip]
    if not len(tops) or corrected[tops].max() < 0.3:
        return 0.0
    at = int(tops[np.argmax(corrected[tops] > 0.8 * corrected[tops].max())])
    before, here, after = corrected[at - 1 : at + 2]
    return float(at + 0.5 * (before - after) / (before - 2 * here + after - _TINY)) * SHORT_HOP_S
