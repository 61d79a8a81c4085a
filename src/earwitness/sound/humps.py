"""Broad rises of an envelope spectrum: what impacts leave that lose count, a ball that turns over, strong slip.

Steady noise has some too: two of its frequencies beat at their distance, so with phases at random the power of a line
is the sum of the products of all pairs that far apart, the spectrum's correlation with itself (Rice, Bell Syst. Tech.
J. 24 (1945) 46-156). Two resonances, or one and a tone, so make a rise, and at the rates of a fast shaft a sharp one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.envelope import Whole
from earwitness.sound.orders import Lines, log10_chance, running

Array = NDArray[Any]

_WIDTHS = (0.012, 0.03)  # half widths over the frequency
_ASKED = 8.0  # nats of a rise from which it is asked whether steady noise would show it
_STEADY_HZ = 1.5  # how finely the spectrum is looked at for that


@dataclass(frozen=True)
class Hump:
    """A broad rise. score : -log10 of its chance, looks accounted for; energy : (views,) over its flanks."""

    hz: float
    score: float
    energy: Array


def steady_lines(whole: Whole, low_hz: float, high_hz: float, count: int, logged: bool = False) -> Array:
    """What steady noise with a band's spectrum shows in its squared envelope over its mean, or in the logarithm of it:
    the mean power at each line, of a resolution of 1.5 Hz.

    For Gaussian noise whose complex envelope correlates with itself by r over time, its square does by |r|², its
    logarithm by the dilogarithm of |r|² (the sum over k of |r|²ᵏ/k²), which makes rises at sums of distances too.

    Parameters
    ----------
    whole : Whole
    low_hz : float, of the band [Hz]
    high_hz : float [Hz]
    count : int, lines wanted, from 0 Hz on, spaced as the bins [1]
    logged : whether of the logarithm

    Returns
    -------
    (count,) [mean² of the square, nat² of the logarithm]
    """
    from scipy.fft import fft, ifft
    from scipy.special import spence

    size = whole.size[round(low_hz * whole.seconds) : round(high_hz * whole.seconds)]
    block = max(1, round(_STEADY_HZ * whole.seconds))
    blocks = np.square(size[: len(size) // block * block]).reshape(-1, block).mean(axis=1)
    correlation = np.square(np.abs(ifft(blocks, 2 ** math.ceil(math.log2(2 * max(len(blocks), 1))))))
    correlation /= max(float(correlation[0]), 1e-30)
    both = fft(spence(1 - correlation) if logged else correlation, norm="forward").real
    together = both[: max(len(blocks), 2)]
    together[0] = together[1]  # what a bin is with itself is no beat
    return np.interp(np.arange(count), np.arange(len(together)) * block, together)


def humps(
    lines: Lines,
    ranges_hz: Sequence[tuple[float, float]],
    avoid: NDArray[np.bool_] | None = None,
    steady: Callable[[int], Array | None] | None = None,
) -> list[Hump]:
    """The clearest broad rise of the envelope spectrum in each range (and at twice it).

    It must stand above the higher of its two flanks, since a slope is no hump, also of what is left over what steady
    noise would show; each line is cut to six times its local noise first, so that no single line makes one.

    Parameters
    ----------
    lines : Lines
    ranges_hz : (low, high) pairs in which the middle may lie [Hz]
    avoid : (n,) or None, lines that say nothing [truth]
    steady : of a view's number, what steady noise would show in it (`steady_lines`), None if no rise of it counts [1]
    """
    power = np.minimum(np.square(lines.amplitude), 6 * lines.noise)
    if avoid is not None:
        power[:, avoid] = lines.noise[:, avoid]
    power[lines.amplitude == 0] = 1e6  # a view that ends early has no flank there, and so no hump
    total = running(power)

    @cache
    def left_over(view: int) -> Array | None:
        noise = steady(view) if steady else np.ones(power.shape[1])
        return None if noise is None else running(power[view : view + 1] / np.maximum(noise, 1e-18))

    return [
        max((_hump(lines, total, low, high, width, left_over) for width in _WIDTHS), key=lambda hump: hump.score)
        for low, high in ranges_hz
    ]


def _hump(
    lines: Lines, total: Array, low_hz: float, high_hz: float, width: float, left_over: Callable[[int], Array | None]
) -> Hump:
    """The best hump of this half width (over its frequency), from running totals of the lines' power."""
    looks = max(3, math.ceil((high_hz / low_hz - 1) / width * 2) + 1)
    beside = np.array([1 - width, 1 - width / 2])
    candidates = np.concatenate([low_hz * beside, np.linspace(low_hz, high_hz, looks), high_hz * (2 - beside)])
    at = candidates / lines.step_hz
    chance, energy, used = _chances(total, at, width)
    for view in np.flatnonzero(chance.max(axis=1) > _ASKED):
        left = left_over(int(view))
        chance[view] = 0.0 if left is None else np.minimum(chance[view], _chances(left, at, width)[0][0])
    within = chance[:, 2:-2]
    within = np.where(within.max(axis=1) < chance.max(axis=1), 0.0, within.T).T  # else it stands beside the range
    view, best = np.unravel_index(int(within.argmax()), within.shape)
    decades = -float(log10_chance(within[view, best], np.array(used)))
    score = decades - math.log10(len(lines.names) * looks * len(_WIDTHS) / 2)
    return Hump(float(candidates[2 + best]), max(0.0, score), energy[:, 2 + best])


def _chances(total: Array, first: Array, width: float) -> tuple[Array, Array, int]:
    """How surprising the rises about these lines and twice them are [nat], their energy, and how many were in reach."""
    chance = np.zeros((len(total), len(first)))
    energy = np.zeros_like(chance)
    used = 0
    for harmonic in (1, 2):
        at = first * harmonic
        half = at * width
        if at.max() * (1 + 5 * width) + 2 >= total.shape[1] - 1 or half[0] < 2:
            break
        used += 1
        ratio, more = _rise(total, at, half)
        free = 2 * half / 1.5  # neighbours share the Hann window
        z = (np.cbrt(ratio) - 1) * np.sqrt(9 * free / 1.4)
        z = np.maximum(z, 0)
        chance += z * z / 2 + np.log1p(2.5 * z)
        energy += np.maximum(more, 0) * 2 * half
    return chance, energy, used


def _rise(total: Array, at: Array, half: Array) -> tuple[Array, Array]:
    """Mean power about `at` over that of the higher flank, and the difference."""
    middle = _mean(total, at - half, at + half)
    flank = np.maximum(_mean(total, at - 5 * half, at - 2 * half), _mean(total, at + 2 * half, at + 5 * half))
    return middle / np.maximum(flank, 1e-20), middle - flank


def _mean(total: Array, low: Array, high: Array) -> Array:
    first, stop = np.rint(low).astype(np.intp), np.rint(high).astype(np.intp) + 1
    return np.asarray((total[:, stop] - total[:, first]) / (stop - first))
