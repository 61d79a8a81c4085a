"""The clock of a pair of gears: which angle the wheels are at, from their sound alone.

The speed written on a machine is off by its slip, and sways. It is followed from moment to moment by the lines that the
pair must have (the mesh, each wheel's multiples), up to 3 % on either side; then set finer by the phase of the finest
of those lines that stands out, instead of by a pulse on the shaft (Bonnardot et al., MSSP 19 (2005) 766-785).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.envelope import medians

Array = NDArray[Any]

COMB = 15  # multiples of a wheel's speed looked at
_FARTHEST = 0.03  # the true speed may be so far from the written one
_USUAL_SLIP = 0.004
_SWAYS = 0.002  # a second: how fast the speed may change
_STANDS = 8.0  # times its noise, from which a line can set the clock
_CHANGE = 3.0  # nats: one change out of some twenty
_CYCLES = 25.0  # of a line within a moment, from which its phase is finer a clock than its frequency


@dataclass(frozen=True)
class Pair:
    """Two wheels: the speed of the named one, its teeth, and how many turns the mate makes to one of it."""

    speed_hz: float
    teeth: int | None = None
    ratio: float | None = None

    @property
    def wheels(self) -> tuple[float, ...]:
        """Turns of each known wheel to one of the named."""
        return (1.0, self.ratio) if self.ratio else (1.0,)


@dataclass(frozen=True)
class Clock:
    """turns : of the named wheel, at each sample; rate_hz : samples a second; locked : whether a line's phase could set
    it."""

    turns: Array
    rate_hz: float
    locked: bool

    @property
    def span(self) -> float:
        return float(self.turns[-1] - self.turns[0])

    def reaches(self, turns: Array) -> Array:
        """When it stands at so many turns [s]."""
        return (np.interp(turns, self.turns, np.arange(len(self.turns))) + 0.5) / self.rate_hz

    def corrected(self, ratio: float) -> Clock:
        return Clock(self.turns[0] + (self.turns - self.turns[0]) * ratio, self.rate_hz, self.locked)


def clock_of(power: Array, rate_hz: float, top_hz: float, pair: Pair, wave: Array | None = None) -> Clock:
    """The angle of the named wheel over time, by how the strength of the sound comes and goes.

    Parameters
    ----------
    power : (n,) strength of the sound [any power]
    rate_hz : float, samples of it a second [Hz]
    top_hz : float, fastest swelling that it shows [Hz]
    pair : Pair
    wave : (n,) the sound itself, if it is a sensor's own, where the mesh may stand as a tone; or None [full scale 1]
    """
    power = power - power.mean()
    mesh = np.array([k * pair.teeth for k in (1, 2)] if pair.teeth else [])
    mesh = mesh[mesh < top_hz / pair.speed_hz]
    orders = np.unique([k * wheel for wheel in pair.wheels for k in range(1, COMB + 1)] + list(mesh))
    orders = orders[(orders < top_hz / pair.speed_hz) | (orders == orders[0])]
    moment_s = max(math.sqrt(1 / (_SWAYS * orders.max() * pair.speed_hz)), 3 / pair.speed_hz)
    size = int(min(moment_s * rate_hz, len(power) / 3)) // 2 * 2
    parts = [(power, orders[orders * pair.speed_hz > 3 * rate_hz / size])]
    if wave is not None:
        parts.append((wave, mesh))
    course, finest = _followed(parts, size, pair.speed_hz * size / rate_hz)
    middle_s = (np.arange(len(course)) * (size // 2) + size / 2) / rate_hz
    time_s = (np.arange(len(power)) + 0.5) / rate_hz
    course = np.convolve(np.pad(course, 1, mode="edge"), [0.25, 0.5, 0.25], "valid")
    turns = np.cumsum(np.interp(time_s, middle_s, course)) * (pair.speed_hz / rate_hz)
    if finest is None:
        return Clock(turns, rate_hz, False)
    part, order = finest
    turning = _turned(parts[part][0], order * turns)
    phase = np.unwrap(np.angle(_moments(turning, size).sum(axis=1))) / (2 * np.pi * order)
    return Clock(turns + np.interp(time_s, middle_s, phase), rate_hz, True)


def _turned(x: Array, turns: Array) -> Array:
    """x · exp(-2πi turns)"""
    angle = (2 * np.pi * np.remainder(turns, 1.0)).astype(np.float32)
    out = np.empty(len(x), np.complex64)
    np.multiply(x, np.cos(angle), out=out.real)
    np.multiply(x, -np.sin(angle), out=out.imag)
    return out


def _moments(x: Array, size: int) -> Array:
    """Overlapping by half, through a Hann window."""
    return np.lib.stride_tricks.sliding_window_view(x, size)[:: size // 2] * np.hanning(size).astype(np.float32)


def _followed(parts: list[tuple[Array, Array]], size: int, turns: float) -> tuple[Array, tuple[int, float] | None]:
    """Speed in each moment of `size` samples (`turns` written turns) over the written one; and the finest line that
    stands out, with the part that it stands out in. parts : each a course over time and the orders of its lines.

    It is the path along which all lines together stand out most. A change costs what choosing among so many is worth,
    and a nat for each step aside; far from the written speed costs more than near it.
    """
    step = 0.4 / (turns * max(orders.max(initial=1.0) for _, orders in parts))
    scales = 1 + step * np.arange(-math.ceil(_FARTHEST / step), math.ceil(_FARTHEST / step) + 1)
    score: Any = 0.0
    told = []
    for course, orders in parts:
        at = np.rint(np.multiply.outer(orders * turns, scales)).astype(np.intp)
        said = _said(_moments(course, size), int(at.max(initial=0)) + 1)
        at = np.minimum(at, said.shape[1] - 1)
        score = score + np.zeros((len(said), len(scales)), dtype=np.float32)
        for index in at:
            score += said[:, index]
        told.append((said, at))
    score[0] -= 6 * np.log1p(np.square((scales - 1) / _USUAL_SLIP))
    path = _best_path(score, math.ceil(0.002 / step))
    clear = []
    for number, ((_, orders), (said, at)) in enumerate(zip(parts, told, strict=True)):
        level = np.median(said[np.arange(len(said))[:, None], at[:, path].T], axis=0)
        apart = np.diff(orders, prepend=-np.inf, append=np.inf) * turns > 2.5  # from its neighbours, to be heard alone
        fine = (level > math.log1p(_STANDS)) & apart[:-1] & apart[1:] & (orders * turns > _CYCLES)
        clear += [(float(order), number) for order in orders[fine]]
    return scales[path], max(clear)[::-1] if clear else None


def _said(moments: Array, count: int) -> Array:
    """How far each of the first `count` lines of each moment stands over its neighbourhood: ln of 1 + power over the
    noise's."""
    lines = _lines(moments, min(-(-count // 32), (moments.shape[1] // 2 + 1) // 32) * 32)
    power = np.square(np.abs(lines))
    noise = np.repeat(medians(power.reshape(len(power), -1, 32)), 32, axis=1) / math.log(2)
    return np.log1p(power[:, : noise.shape[1]] / np.maximum(noise, 1e-30)).astype(np.float32)


def _lines(moments: Array, count: int) -> Array:
    """The first lines of each: two moments at once, as real and imaginary part, for a length of large prime factors
    takes a complex transform anyhow (Press et al., Numerical Recipes, 3rd ed. 2007, 12.3)."""
    from scipy.fft import fft

    pairs = np.zeros((-(-len(moments) // 2), moments.shape[1]), np.complex64)
    pairs.real = moments[::2]
    pairs.imag[: len(moments) // 2] = moments[1::2]
    both = fft(pairs, axis=1, overwrite_x=True)
    there, back = both[:, :count], both[:, -np.arange(count)].conj()
    lines = np.stack([there + back, -1j * (there - back)], axis=1) / 2
    return np.asarray(lines.reshape(-1, count)[: len(moments)])


def _best_path(score: Array, reach: int) -> NDArray[np.intp]:
    """Through (moments, candidates), the path of the greatest sum; more than `reach` aside is none."""
    count, aside = score.shape[1], abs(np.arange(-reach, reach + 1))
    cost = aside + np.where(aside > 0, _CHANGE, 0.0)
    padded, came = np.full(count + 2 * reach, -np.inf), []
    reached = np.lib.stride_tricks.sliding_window_view(padded, count)
    total = score[0]
    for row in score[1:]:
        padded[reach : reach + count] = total
        shifted = reached - cost[:, None]
        choice = shifted.argmax(axis=0)
        came.append(np.arange(count) + choice - reach)
        total = shifted[choice, np.arange(count)] + row
    path = [int(total.argmax())]
    for back in reversed(came):
        path.append(int(back[path[-1]]))
    return np.array(path[::-1])
