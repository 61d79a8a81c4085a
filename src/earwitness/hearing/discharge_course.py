"""How what beats with the mains goes on, from cycle to cycle and over seconds: the numbers that part corona, tracking
and arcing.

The strength of the beat is taken once a cycle, in two halves of the sub-bands. A discharge sounds in both, the noise
of one is not that of the other, and a knock rings in few: so only what both halves do together is counted (the mean
product of the two, which noise does not raise). What does not beat takes no part: clatter beside a steady corona does
not look like tracking, nor a steady hiss over tracking like corona.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.modulation import Modulation

Array = NDArray[np.float32]

_DB = 10 / np.log(10)
_LEAST_CYCLES = 40
_EDGE = 4  # cycles at either end that may hold what was put there in place of lines
_CARRIED = 4.0  # mean strength over its standard error: k cycles alike among silent ones have the root of k, so 16
_MOST = 6.0  # times its mean that one cycle counts at most
_STRETCH_S = 0.2
_LET_GO_NEEDS = 18  # stretches: growth over seconds is not seen in less
_RISE_CYCLES = 3
_RISE = 1.0  # natural logarithm of the strength: 4.3 dB
_RISE_SIGNIFICANCE = 3.5  # standard errors
_CRACK = 1.4  # natural logarithm of the power: 6 dB
_CRACK_AFTER_S = 0.06


def _of_the_beats_course(
    sound: Modulation, mains_hz: float, turns: NDArray[np.float64], pattern: Array
) -> dict[str, float]:
    """Numbers of the course of the beat; none where too few cycles carry it: a few knocks beat with anything."""
    one, other = (half[_EDGE:-_EDGE] for half in _strengths(sound, mains_hz, turns, pattern))
    both = np.asarray((one + other) / 2, np.float32)
    if len(both) < _LEAST_CYCLES or both.mean() < _CARRIED * both.std() / np.sqrt(len(both)):
        return {}
    noise = float(np.median(np.abs(one - other))) / (2 * 0.6745)  # of one cycle's mean strength
    return {
        "unsteady": _unsteadiness(one, other),
        "broad": _breadth(pattern),
        "starts": _starts(both, noise) / (len(both) / mains_hz),
    } | _seconds(_means(both, _STRETCH_S * mains_hz))


def _strengths(sound: Modulation, mains_hz: float, turns: NDArray[np.float64], pattern: Array) -> tuple[Array, Array]:
    """Strength of the beat in each cycle: the power under the pattern's crests less that in its hollows, over its
    mean, in every other sub-band and in those between."""
    shape = np.exp(pattern - pattern.max())
    shape = (shape - shape.mean()) / (np.abs(shape - shape.mean()).sum() + 1e-9) * len(shape)
    weight = shape[np.minimum((turns * len(shape)).astype(np.intp), len(shape) - 1)].astype(np.float32)
    length = sound.frame_hz / mains_hz
    halves = (_means(sound.bands[:, i::2].mean(axis=1) * weight, length) for i in (0, 1))
    one, other = (half / (abs(float(half.mean())) + 1e-9) for half in halves)
    return np.clip(one, -_MOST, _MOST), np.clip(other, -_MOST, _MOST)


def _breadth(pattern: Array) -> float:
    """Mean power over one cycle in that of its loudest phase, both above its quietest: 0.5 for a sine."""
    power = np.exp((np.roll(pattern, 1) + pattern + np.roll(pattern, -1)) / 3)
    return float((power.mean() - power.min()) / (power.max() - power.min() + 1e-9))


def _unsteadiness(one: Array, other: Array) -> float:
    """Variation of the strength about its mean, as a share of it."""
    return max(float(np.mean((one - one.mean()) * (other - other.mean()))), 0.0) ** 0.5


def _starts(strength: Array, noise: float) -> int:
    """How often the next three cycles are over 4.3 dB, and beyond chance, above the last three."""
    least = max(0.05 * abs(float(np.quantile(strength, 0.9))), noise, 1e-9)
    sums = np.concatenate([[0.0], np.cumsum(strength, dtype=np.float64)])
    means = (sums[_RISE_CYCLES:] - sums[:-_RISE_CYCLES]) / _RISE_CYCLES
    before, after = means[:-_RISE_CYCLES], means[_RISE_CYCLES:]
    rise = np.log(np.maximum(after, least) / np.maximum(before, least))
    rise[(rise < _RISE) | (after - before < _RISE_SIGNIFICANCE * noise * np.sqrt(2 / _RISE_CYCLES))] = 0.0
    near = np.lib.stride_tricks.sliding_window_view(np.pad(rise, _RISE_CYCLES), 2 * _RISE_CYCLES + 1)
    return int(((rise > 0) & (rise >= near.max(axis=1))).sum())


def _cracks(sound: Modulation) -> NDArray[np.intp]:
    """Frames from which the sound is at once 6 dB louder than it was at any moment of the last 60 ms."""
    span = round(_CRACK_AFTER_S * sound.frame_hz)
    level = sound.common
    if len(level) < 4 * span:
        return np.zeros(0, np.intp)
    loudest = _running_maximum(level, span)
    over = np.flatnonzero(level[span:] - loudest[: len(level) - span] > _CRACK)
    return over[np.diff(over, prepend=-span) >= span] + span


def _running_maximum(values: Array, span: int) -> Array:
    """Maximum of the `span` values from each on."""
    reach = 1
    while 2 * reach <= span:
        values = np.maximum(values[: len(values) - reach], values[reach:])
        reach *= 2
    return np.asarray(np.maximum(values[: len(values) - (span - reach)], values[span - reach :]), np.float32)


def _seconds(course: Array) -> dict[str, float]:
    """Over stretches of 0.2 s: how far the strength swings, and whether it grows slowly and falls at once."""
    if len(course) < 5:
        return {}
    least = 0.05 * abs(float(np.quantile(course, 0.9))) + 1e-9
    level = _DB * np.log(np.maximum(course, least) / least)
    steps = np.diff(level)
    let_go = -float((steps**3).sum() / ((np.abs(steps) ** 3).sum() + 8.0 * len(steps)))
    slow = {} if len(course) < _LET_GO_NEEDS else {"let-go": let_go}
    slow |= {"growth": float(((steps > 0.4).sum() - (steps < -0.4).sum()) / np.sqrt(len(steps)))}
    return slow | {"swing": float(np.quantile(level, 0.9) - np.quantile(level, 0.15))}


def _means(values: Array, length: float) -> Array:
    """Means over successive stretches of `length` values, which need not be whole."""
    edges = np.round(np.arange(int(len(values) / length) + 1) * length).astype(np.intp)
    sums = np.add.reduceat(values[: edges[-1]], edges[:-1], axis=0)
    counts = np.diff(edges).astype(np.float32).reshape(-1, *[1] * (values.ndim - 1))
    return np.asarray(sums / counts, dtype=np.float32)
