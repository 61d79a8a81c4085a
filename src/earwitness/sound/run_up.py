"""Shafts that run up, coast down or sway: the course of their speed, by the tones of their vibration, and what was
recorded over time laid over the shaft's turns instead, so that its lines are sharp again.

First by short spectra, in which the multiples of the speed are followed as one smooth path (Viterbi); then by the phase
of the clearest multiple (tacholess order tracking: Bonnardot and others, MSSP 19 (2005) 766-785; Urbanek and others,
MSSP 34 (2013) 13-27).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.envelope import Whole, hann
from earwitness.sound.mains import nominal_mains

Array = NDArray[Any]

_MULTIPLES = np.arange(1, 9)
_SLOPES = 0.08 * np.arange(-4, 5)  # of the speed from its middle to its end, ratio
_FARTHEST = 0.12  # how far the speed may go from such a straight course
_GRID = 0.005  # between the speeds tried, ratio
_FRAME_TURNS, _FRAMES_IN_ALL = 8.0, 16.0  # least of a short spectrum
_STEEPEST = 0.03  # change of speed from one short spectrum to the next, a third of one later
_STEP_COSTS = 0.15  # nats a grid step, in mean gain
_DEGREE = 5  # of the smooth course through the path
_ROUND = 0.12  # orders about a multiple whose phase is followed
_OFF = 0.025  # how far the mean speed may be from the one given
_STEADY = 0.004  # spread of the speed that is none


@dataclass(frozen=True)
class Course:
    """The shaft's turns at even steps over the recording. turns : (m,), rising; seconds : of the recording."""

    turns: Array
    seconds: float

    @property
    def mean_hz(self) -> float:
        return float(self.turns[-1] - self.turns[0]) / self.seconds

    @property
    def range_hz(self) -> tuple[float, float]:
        """Least and greatest speed."""
        speeds = np.diff(self.turns) * ((len(self.turns) - 1) / self.seconds)
        return float(speeds.min()), float(speeds.max())

    def over_turns(self, values: Array) -> Array:
        """What was taken at even steps of time, at as many even steps of the shaft's angle.

        Parameters
        ----------
        values : (n,) evenly over the recording [any]
        """
        n = len(values)
        grid = np.linspace(0, 1, len(self.turns))
        at = np.interp((np.arange(n) + 0.5) / n, (self.turns - self.turns[0]) / (self.turns[-1] - self.turns[0]), grid)
        return np.interp(at * n - 0.5, np.arange(n), values).astype(values.dtype)


def run_up(whole: Whole, near_hz: float, mains_hz: float | None) -> Course | None:
    """The likeliest course of the speed, or None where that is a steady one. It is a guess: whether the tones are
    clearer by it is to be asked (`turning_by_tones`).

    Parameters
    ----------
    whole : Whole
    near_hz : float, speed as given [Hz]
    mains_hz : float or None, whose tones are no shaft's; where unknown 50 and 60 [Hz]
    """
    slow = _below(whole, (_MULTIPLES[-1] + 4) * near_hz, mains_hz)
    turns = near_hz * whole.seconds
    if slow is None or turns < 2 * _FRAME_TURNS:
        return None
    u = np.linspace(-1, 1, 400)
    straight = [Course(turns / 2 * (u + slope * u * u / 2), whole.seconds) for slope in _SLOPES]
    over_turns = np.stack([course.over_turns(slow) for course in straight])
    best = int(_stand_out(over_turns, turns).argmax())
    course = straight[best]
    course = _then(course, _path(over_turns[best], whole.seconds, course.mean_hz))
    course = _by_phase(slow, course)
    speeds = np.diff(course.turns)
    sways = speeds.min() > 0 and speeds.std() > _STEADY * speeds.mean()
    return course if sways and abs(course.mean_hz / near_hz - 1) < _OFF else None


def _then(first: Course, second: Course) -> Course:
    """The course of what turns by `second` once laid over the turns of `first`."""
    reached = (first.turns - first.turns[0]) / (first.turns[-1] - first.turns[0])
    return Course(np.interp(reached, np.linspace(0, 1, len(second.turns)), second.turns), first.seconds)


def _below(whole: Whole, top_hz: float, mains_hz: float | None) -> Array | None:
    """The sound below a frequency, without the mains, at twice as many samples a second."""
    from scipy.fft import irfft, next_fast_len

    stop = int(top_hz * whole.seconds)
    if stop > 0.9 * len(whole.bins) or stop < 64:
        return None
    stop = next_fast_len(stop)
    bins = whole.bins[: stop + 1].copy()
    hz = np.arange(stop + 1) / whole.seconds
    for mains in nominal_mains(mains_hz):
        bins[np.abs(hz - np.maximum(np.round(hz / mains), 1) * mains) < 1.5 / whole.seconds] = 0
    return irfft(bins, 2 * stop)


def _path(slow: Array, seconds: float, near_hz: float) -> Course:
    """By short spectra: the smooth path of speeds whose multiples stand out most."""
    rate_hz = len(slow) / seconds
    frame = int(max(_FRAME_TURNS / near_hz, seconds / _FRAMES_IN_ALL) * rate_hz)
    hop = max(frame // 3, 1)
    starts = np.arange(0, max(len(slow) - frame, 0) + 1, hop)
    window = hann(frame)
    gain = _gain(np.stack([slow[s : s + frame] for s in starts]) * window, 3 * frame)
    steps = int(np.log1p(_FARTHEST) / _GRID)
    speeds = near_hz * np.exp(_GRID * np.arange(-steps, steps + 1))
    at = np.rint(speeds[:, None] * _MULTIPLES * (3 * frame / rate_hz)).astype(np.intp)
    stands = gain[:, np.minimum(at, gain.shape[1] - 1)].mean(axis=2)
    most = max(1, round(_STEEPEST / _GRID))
    costs = _STEP_COSTS * np.abs(np.arange(-most, most + 1))
    padded, came = np.full(len(speeds) + 2 * most, -np.inf), []
    reached = np.lib.stride_tricks.sliding_window_view(padded, 2 * most + 1)
    best = stands[0]
    for here in stands[1:]:
        padded[most:-most] = best
        moves = reached - costs
        came.append(moves.argmax(axis=1) - most)
        best = moves.max(axis=1) + here
    path = [int(best.argmax())]
    for back in reversed(came):
        path.append(path[-1] + int(back[path[-1]]))
    middle_s = (starts + frame / 2) / rate_hz
    u = 2 * middle_s / seconds - 1
    fit = np.polynomial.Polynomial.fit(u, speeds[path[::-1]], min(_DEGREE, max(len(u) // 3, 0)), domain=[-1, 1])
    t = np.linspace(-1, 1, 2 * int(rate_hz * seconds / 8) + 2)
    t_held = np.clip(t, u[0], u[-1])  # beyond the first and last spectrum it goes on as steeply as there
    speed = fit(t_held) + fit.deriv()(t_held) * (t - t_held)
    turns = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2) * seconds / (len(t) - 1)])
    return Course(turns, seconds)


def _by_phase(slow: Array, course: Course) -> Course:
    """The course corrected by the phase of the multiple that stands out most."""
    turned = course.over_turns(slow)
    total = course.turns[-1] - course.turns[0]
    bins = np.fft.fft(turned)
    half = max(2, round(_ROUND * total))
    clear = []
    for k in _MULTIPLES:
        middle = round(k * total)
        if middle + 4 * half >= len(bins) // 2:
            break
        power = np.square(np.abs(bins[middle - 4 * half : middle + 4 * half + 1]))
        clear.append(power[3 * half : 5 * half + 1].sum() / max(power.sum(), 1e-30) * np.sqrt(k))
    if not clear:
        return course
    clearest = 1 + int(np.argmax(clear))
    at = round(clearest * total)
    kept = np.zeros_like(bins)
    taper = np.hanning(2 * half + 3)[1:-1]
    kept[at - half : at + half + 1] = bins[at - half : at + half + 1] * taper
    angle = np.unwrap(np.angle(np.fft.ifft(kept))) / (2 * np.pi)
    even = np.linspace(0, total, len(turned), endpoint=False)  # the shaft's angle as assumed
    off = angle / clearest - even
    true = course.turns - course.turns[0]
    return Course(true + np.interp(true, even, off - off[0]), course.seconds)


def _gain(sound: Array, padded: int) -> Array:
    """How far each line stands over its spectrum's geometric mean, in nats; 0 where it does not."""
    from scipy.fft import rfft

    says = np.log(np.abs(rfft(sound, padded)) + np.float32(1e-20)) * 2
    return np.maximum(says - says.mean(axis=-1, keepdims=True), 0)


def _stand_out(sounds: Array, turns: float) -> Array:
    """How far over the noise the multiples of a speed stand in each, sum in nats, the best speed near by."""
    count = sounds.shape[-1]
    gain = _gain(sounds * hann(count), count)
    tried = turns * np.arange(0.95, 1.05, 0.1 / max(turns, 20.0))
    at = np.rint(tried[:, None] * _MULTIPLES).astype(np.intp)
    return np.asarray(gain[:, np.minimum(at, gain.shape[1] - 1)].sum(axis=2).max(axis=1))
