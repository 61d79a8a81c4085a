"""Broad rises of an envelope spectrum: what impacts leave that lose count, a ball that turns over, strong slip."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from earwitness.sound.orders import Lines, log10_chance, running

Array = NDArray[Any]

_WIDTHS = (0.012, 0.03)  # half widths over the frequency


@dataclass(frozen=True)
class Hump:
    """A broad rise. score : -log10 of its chance, looks accounted for; energy : (views,) over its flanks."""

    hz: float
    score: float
    energy: Array


def humps(lines: Lines, ranges_hz: Sequence[tuple[float, float]], avoid: NDArray[np.bool_] | None = None) -> list[Hump]:
    """The clearest broad rise of the envelope spectrum in each range (and at twice it).

    It must stand above the higher of its two flanks, since a slope is no hump; each line is cut to six times its local
    noise first, so that no single line makes one.

    Parameters
    ----------
    lines : Lines
    ranges_hz : (low, high) pairs in which the middle may lie [Hz]
    avoid : (n,) or None, lines that say nothing [truth]
    """
    power = np.minimum(np.square(lines.amplitude), 6 * lines.noise)
    if avoid is not None:
        power[:, avoid] = lines.noise[:, avoid]
    power[lines.amplitude == 0] = 1e6  # a view that ends early has no flank there, and so no hump
    total = running(power)
    return [
        max((_hump(lines, total, low, high, width) for width in _WIDTHS), key=lambda hump: hump.score)
        for low, high in ranges_hz
    ]


def _hump(lines: Lines, total: Array, low_hz: float, high_hz: float, width: float) -> Hump:
    """The best hump of this half width (over its frequency), from running totals of the lines' power."""
    looks = max(3, math.ceil((high_hz / low_hz - 1) / width * 2) + 1)
    beside = np.array([1 - width, 1 - width / 2])
    candidates = np.concatenate([low_hz * beside, np.linspace(low_hz, high_hz, looks), high_hz * (2 - beside)])
    last = total.shape[1] - 1
    chance = np.zeros((len(lines.names), len(candidates)))
    energy = np.zeros_like(chance)

    used = 0
    for harmonic in (1, 2):
        at = candidates * harmonic / lines.step_hz
        half = at * width
        if at.max() * (1 + 5 * width) + 2 >= last or half[0] < 2:
            break
        used += 1
        ratio, more = _rise(total, at, half)
        free = 2 * half / 1.5  # neighbours share the Hann window
        z = (np.cbrt(ratio) - 1) * np.sqrt(9 * free / 1.4)
        z = np.maximum(z, 0)
        chance += z * z / 2 + np.log1p(2.5 * z)
        energy += np.maximum(more, 0) * 2 * half
    within = chance[:, 2:-2]
    within = np.where(within.max(axis=1) < chance.max(axis=1), 0.0, within.T).T  # else it stands beside the range
    view, best = np.unravel_index(int(within.argmax()), within.shape)
    decades = -float(log10_chance(within[view, best], np.array(used)))
    score = decades - math.log10(len(lines.names) * looks * len(_WIDTHS) / 2)
    return Hump(float(candidates[2 + best]), max(0.0, score), energy[:, 2 + best])


def _rise(total: Array, at: Array, half: Array) -> tuple[Array, Array]:
    """Mean power about `at` over that of the higher flank, and the difference."""
    middle = _mean(total, at - half, at + half)
    flank = np.maximum(_mean(total, at - 5 * half, at - 2 * half), _mean(total, at + 2 * half, at + 5 * half))
    return middle / np.maximum(flank, 1e-20), middle - flank


def _mean(total: Array, low: Array, high: Array) -> Array:
    first, stop = np.rint(low).astype(np.intp), np.rint(high).astype(np.intp) + 1
    return np.asarray((total[:, stop] - total[:, first]) / (stop - first))
