"""How what beats with the mains goes on, from cycle to cycle and over seconds: the numbers that part corona, tracking
and arcing.

The strength of the beat is taken once a cycle, in the lower and in the upper half of the sub-bands, the middle one left
out (neighbours share some of their noise by the skirts of the frames' window). A discharge sounds in both halves, the
noise of one is not that of the other, and a knock rings in few: so only what both do together is counted (the mean
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
_CARRIES = 0.2  # of the strength in the sub-band that carries the beat best
_CARRIED = 4.0  # mean strength over its standard error: k cycles alike among silent ones have the root of k, so 16
_MOST = 6.0  # times its mean that one cycle counts at most
_STRETCH_S = 0.2
_LET_GO_STRETCH_S = 0.1  # the end is over within one
_LET_GO_NEEDS = 18  # stretches: growth over seconds is not seen in less
_RISE_CYCLES = 3
_RISE = 1.0  # natural logarithm of the strength: 4.3 dB
_RISE_SIGNIFICANCE = 3.5  # standard errors
_FULL = 0.4  # of the strength that every tenth cycle has: what creeps up starts below it
_CRACK = 1.4  # natural logarithm of the power: 6 dB
_CRACK_AFTER_S = 0.06
_BURST_OVER_QUIET = 6.0  # power of a burst's loudest moment over that of the middle one
_BURST_ENDS = 0.1  # of its loudest moment
_BURST_S = 0.3  # of a longer one, the first part
_EDGE_S, _BESIDE_S = 0.0015, 0.006  # a step across a frame, and what is looked at on either side of it
_WITHIN_BURST_S = 0.025  # dark for a cycle of the mains, and it is still the same
_MOST_BURSTS = 200
_LEAST_FRAMES = 4  # to have a shape


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
    } | _seconds(both, mains_hz)


def _strengths(sound: Modulation, mains_hz: float, turns: NDArray[np.float64], pattern: Array) -> tuple[Array, Array]:
    """Strength of the beat in each cycle: the power under the pattern's crests less that in its hollows, over its
    mean, in the sub-bands below the middle one and in those above it, of those that carry the beat at all: beside a
    narrow one there may be nothing but the receiver's noise."""
    shape = np.exp(pattern - pattern.max())
    shape = (shape - shape.mean()) / (np.abs(shape - shape.mean()).sum() + 1e-9) * len(shape)
    weight = shape[np.minimum((turns * len(shape)).astype(np.intp), len(shape) - 1)].astype(np.float32)
    length = sound.frame_hz / mains_hz
    carried = weight @ sound.bands
    carry = np.flatnonzero(carried > _CARRIES * carried.max())
    carry = carry if len(carry) > 1 else np.arange(len(carried))
    half, middle = len(carry) // 2, len(carry) % 2 if len(carry) > 3 else 0
    parts = (carry[:half], carry[half + middle :])
    halves = (_means(sound.bands[:, part].mean(axis=1) * weight, length) for part in parts)
    one, other = (half / (abs(float(half.mean())) + 1e-9) for half in halves)
    return np.clip(one, -_MOST, _MOST), np.clip(other, -_MOST, _MOST)


def _breadth(pattern: Array) -> float:
    """Mean power over one cycle in that of its loudest phase, both above its quietest: 0.5 for a sine."""
    power = np.exp((np.roll(pattern, 1) + pattern + np.roll(pattern, -1)) / 3)
    return float((power.mean() - power.min()) / (power.max() - power.min() + 1e-9))


def _unsteadiness(one: Array, other: Array) -> float:
    """Variation of the strength about its mean, as a share of it."""
    mean = max(float(one.mean() + other.mean()) / 2, 1e-9)
    return max(float(np.mean((one - one.mean()) * (other - other.mean()))), 0.0) ** 0.5 / mean


def _starts(strength: Array, noise: float) -> int:
    """How often the next three cycles are over 4.3 dB, and beyond chance, above the last three, and at once as strong
    as it gets: what is struck starts so, what grows does not."""
    strong = abs(float(np.quantile(strength, 0.9)))
    least = max(0.05 * strong, noise, 1e-9)
    sums = np.concatenate([[0.0], np.cumsum(strength, dtype=np.float64)])
    means = (sums[_RISE_CYCLES:] - sums[:-_RISE_CYCLES]) / _RISE_CYCLES
    before, after = means[:-_RISE_CYCLES], means[_RISE_CYCLES:]
    rise = np.log(np.maximum(after, least) / np.maximum(before, least))
    rise[(rise < _RISE) | (after - before < _RISE_SIGNIFICANCE * noise * np.sqrt(2 / _RISE_CYCLES))] = 0.0
    near = np.lib.stride_tricks.sliding_window_view(np.pad(rise, _RISE_CYCLES), 2 * _RISE_CYCLES + 1)
    return int(((rise > 0) & (rise >= near.max(axis=1)) & (after > _FULL * strong)).sum())


def _bursts(sound: Modulation, cracks: NDArray[np.intp]) -> dict[str, float]:
    """Of the bursts that begin with a crack: how long they last, and where in that time the middle of their power is.
    A spark burns on and is over, a blow rings down, a puff of air fades; a knock of two hard parts is over in
    milliseconds."""
    quiet = float(np.exp(np.median(sound.common)))
    power = np.convolve(np.exp(sound.common), np.full(3, 1 / 3, np.float32), "same")
    span, first_part, gap = (round(s * sound.frame_hz) for s in (_BURST_S, _CRACK_AFTER_S, _WITHIN_BURST_S))
    lasts, middles = [], []
    for crack in cracks:
        part = power[max(0, crack - 2) : crack + span] - quiet
        loudest = float(part[:first_part].max())
        if loudest < (_BURST_OVER_QUIET - 1) * quiet:
            continue
        loud = np.flatnonzero(part > _BURST_ENDS * loudest)
        end = np.flatnonzero(np.diff(loud, append=len(power) + gap) > gap)[0]
        burst = np.maximum(part[loud[0] : loud[end] + 1], 0)
        lasts.append(len(burst) / sound.frame_hz)
        if len(burst) >= _LEAST_FRAMES:
            at = (np.arange(len(burst)) + 0.5) / len(burst)
            middles.append(float((burst * at).sum() / burst.sum()))
    numbers = {"lasts": 1000 * float(np.median(lasts)) if lasts else 0.0}
    return numbers | ({"burns-on": float(np.median(middles))} if middles else {})


def _edges(sound: Modulation, cycles: Array, middle: float, length: float) -> dict[str, float]:
    """What part of its height a burst (cycles 5 dB over the middle one) both gains and loses at once, in dB of the
    power over 6 ms: a spark is there and gone. A voice swells and fades, a puff or a blow fades, a spark that creeps
    over a surface grows."""
    beside, step = (round(s * sound.frame_hz) for s in (_BESIDE_S, _EDGE_S))
    sums = np.concatenate([[0.0], np.cumsum(np.exp(sound.common), dtype=np.float64)])
    mean = _DB * np.log((sums[beside:] - sums[:-beside]) / beside + 1e-9)
    change = mean[beside + step :] - mean[: -beside - step]
    loud = np.concatenate([[False], cycles > middle + 5.0, [False]])
    first, last = np.flatnonzero(~loud[:-1] & loud[1:]), np.flatnonzero(loud[:-1] & ~loud[1:])
    parts = []
    for start, end in (np.stack([first, last], axis=1)[:_MOST_BURSTS] * length).astype(np.intp):
        reach = round(length)
        height = mean[max(0, start - beside // 2) : end].max() - middle
        rise = change[max(0, start - reach - beside) : start + reach - beside].max(initial=0.0)
        fall = -change[max(0, end - reach - beside) : end + reach - beside].min(initial=0.0)
        parts.append(min(rise, fall) / height)
    return {"edges": float(np.median(parts))} if parts else {}


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


def _seconds(strength: Array, mains_hz: float) -> dict[str, float]:
    """Over stretches of 0.2 s: how far the strength swings, and whether it grows more often than it shrinks; over
    stretches of half of that, whether it grows slowly and falls at once."""
    if len(strength) < 5 * _STRETCH_S * mains_hz:
        return {}
    level = _levels(_means(strength, _STRETCH_S * mains_hz))
    steps = np.diff(level)
    numbers = {
        "growth": float(((steps > 0.4).sum() - (steps < -0.4).sum()) / np.sqrt(len(steps))),
        "swing": float(np.quantile(level, 0.9) - np.quantile(level, 0.15)),
    }
    fine = np.diff(_levels(_means(strength, _LET_GO_STRETCH_S * mains_hz)))
    if len(fine) + 1 < _LET_GO_NEEDS:
        return numbers
    up, down = float(fine[fine > 0].sum()), -float(fine[fine < 0].sum())
    both = min(up, down) / (max(up, down) + 1e-9)  # what only fades lets nothing go
    return numbers | {"let-go": -both * float((fine**3).sum() / ((np.abs(fine) ** 3).sum() + 8.0 * len(fine)))}


def _levels(course: Array) -> Array:
    """In dB over a twentieth of what is strong: less than that is not told from nothing."""
    least = 0.05 * abs(float(np.quantile(course, 0.9))) + 1e-9
    return np.asarray(_DB * np.log(np.maximum(course, least) / least), np.float32)


def _means(values: Array, length: float) -> Array:
    """Means over successive stretches of `length` values, which need not be whole."""
    edges = np.round(np.arange(int(len(values) / length) + 1) * length).astype(np.intp)
    sums = np.add.reduceat(values[: edges[-1]], edges[:-1], axis=0)
    counts = np.diff(edges).astype(np.float32).reshape(-1, *[1] * (values.ndim - 1))
    return np.asarray(sums / counts, dtype=np.float32)
